"""Two time cursors over all lanes, and two level cursors in each lane."""

from loomlight.signal.crossings import levels_between, nearest_crossing, next_crossing
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane, Trace

Pair = tuple[float | None, float | None]
NONE: Pair = (None, None)
SNAP_PIXELS = 6.0
TIME_NAMES, LEVEL_NAMES = "AB", "CD"


class Cursors:
    """Where the cursors stand.

    Attributes
    ----------
    times : tuple
        A and B, seconds on the picture's axis; None where not set.
    levels : dict
        C and D by lane key, in the lane's unit.
    """

    def __init__(self) -> None:
        self.times: Pair = NONE
        self.levels: dict[str, Pair] = {}

    def set_time(self, number: int, at_s: float | None) -> None:
        """Put one time cursor somewhere."""
        self.times = (at_s, self.times[1]) if number == 0 else (self.times[0], at_s)

    def level_pair(self, key: str) -> Pair:
        """Level cursors of a lane."""
        return self.levels.get(key, NONE)

    def set_level(self, key: str, number: int, value: float | None) -> None:
        """Put one level cursor somewhere."""
        pair = self.level_pair(key)
        self.set_levels(key, (value, pair[1]) if number == 0 else (pair[0], value))

    def set_levels(self, key: str, pair: Pair) -> None:
        """Put both level cursors of a lane somewhere, or take them away."""
        if pair == NONE:
            self.levels.pop(key, None)
        else:
            self.levels[key] = pair


class Snapping:
    """What cursors snap to: edges in time, state levels and limits in value. It keeps the levels of the view at hand."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, float, float], tuple[float, float] | None] = {}

    def states(self, trace: Trace, scale: Scale) -> tuple[float, float] | None:
        """Low and high state of a trace in the view, as it is drawn; None where it does not go between two."""
        own_s = sorted(trace.lag_s + trace.stretch * one for one in (scale.start_s, scale.stop_s))
        key = (id(trace.channel), own_s[0], own_s[1])
        if key not in self._known:
            self._known = dict(list(self._known.items())[-8:])
            self._known[key] = levels_between(trace.channel, *own_s)
        found = self._known[key]
        return (-found[1], -found[0]) if found is not None and trace.upside_down else found

    def time(self, lane: Lane, scale: Scale, at_s: float) -> float:
        """The edge nearest to a time, within a few pixels; else the time itself."""
        reach_s = SNAP_PIXELS * (scale.stop_s - scale.start_s) / max(scale.rect.width(), 1.0)
        near = [at_s + 2 * reach_s]
        for trace in lane.traces:
            level = self._middle(trace, scale)
            if level is None:
                continue
            found = nearest_crossing(
                trace.channel, level, trace.lag_s + trace.stretch * at_s, abs(trace.stretch) * reach_s
            )
            if found is not None:
                near.append(trace.on_picture(found))
        best = min(near, key=lambda one: abs(one - at_s))
        return best if abs(best - at_s) <= reach_s else at_s

    def next_time(self, lane: Lane, scale: Scale, at_s: float, *, forward: bool) -> float | None:
        """The next edge of a lane's uppermost trace, or the one before."""
        trace = lane.traces[-1]
        level = self._middle(trace, scale)
        if level is None:
            return None
        ahead = forward == (trace.stretch > 0)
        found = next_crossing(trace.channel, level, trace.lag_s + trace.stretch * at_s, forward=ahead)
        return None if found is None else trace.on_picture(found)

    def level(self, lane: Lane, scale: Scale, value: float) -> float:
        """The state level or limit nearest to a value, within a few pixels; else the value itself."""
        reach = SNAP_PIXELS * (scale.high - scale.low) / max(scale.rect.height(), 1.0)
        near = [line.value for line in lane.lines]
        for trace in lane.traces:
            near += self.states(trace, scale) or ()
        best = min(near, key=lambda one: abs(one - value), default=value)
        return best if abs(best - value) <= reach else value

    def _middle(self, trace: Trace, scale: Scale) -> float | None:
        """Half way between the states, in the channel's own sign."""
        states = self.states(trace, scale)
        return None if states is None else (-1.0 if trace.upside_down else 1.0) * 0.5 * (states[0] + states[1])
