"""One toothed-wheel channel, read: teeth, turns, speed, and what each tooth looks like over many turns."""

from dataclasses import dataclass, field, replace

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.pulse_train import Averaged, Train, read_train
from loomlight.signal.resample import instants
from loomlight.signal.samples import BLOCK, Times
from loomlight.signal.wheel_pattern import Wheel, common_wheel
from loomlight.signal.wheel_teeth import Row, Teeth, learnt, teeth_of
from loomlight.signal.wheel_turns import Turns, lay_turns
from loomlight.signal.wheel_uneven import UnevenWheel, uneven_wheel

STILL_PITCHES = 4.0
"""So many usual intervals, beside the wheel's own gap, without an edge: the signal is lost, or the wheel stands."""
STOPPING = 1.4
"""A wheel that stops makes its last intervals longer by at least this, from the tenth last to the last."""
NEIGHBOURS = 9
UNEVEN_SHARE, OFF = 0.25, 0.12
"""Intervals that are further than the second from whole pitches are no tooth's; more than the first share: no even wheel."""
FEW_POSITIONS = 12
RARE, OFTEN = 0.35, 0.6
LEAST_KNOWN = 0.9


@dataclass(frozen=True)
class Lost:
    """A stretch without the signal.

    Attributes
    ----------
    start_s, stop_s : float
        Seconds on the channel's axis.
    level : float
        Where the wire stood, in the channel's unit.
    at_end, at_begin : bool
        It lasts to the capture's end, or from its begin.
    stops : bool
        The wheel came to rest, or started: its speed shows that.
    """

    start_s: float
    stop_s: float
    level: float
    at_end: bool
    at_begin: bool
    stops: bool


@dataclass(frozen=True, eq=False)
class WheelReading:
    """What one channel shows.

    Attributes
    ----------
    train : Train
        Its edges.
    rising : bool
        Direction of the edges that the teeth are counted by.
    teeth : Teeth or None
        None with fewer than six edges.
    wheel : Wheel or None
        What stands on the wheel by design, as far as it is known.
    seen : Wheel or None
        What was learnt from the capture.
    missing, extra : tuple of int
        Positions at which a tooth lacks in every turn, or stands too many.
    known_by : str
        "given", "common", "learnt", or empty.
    turns : Turns or None
        Edges laid on the wheel.
    heights : ndarray, shape (turns, positions)
        Peak to peak around each tooth; not-a-number where it has none.
    widths : ndarray, shape (turns, positions)
        Share of the pitch for which the wire is high at each tooth; only where it switches.
    lost : tuple of Lost
        Stretches without the signal.
    uneven : UnevenWheel or None
        For a wheel whose teeth are of unlike widths.
    design : Wheel or None
        The wheel as it was given or is common, where no gap of the capture is as that wheel's: a tooth beside it lacks.
    """

    train: Train
    rising: bool
    teeth: Teeth | None
    wheel: Wheel | None
    seen: Wheel | None
    missing: tuple[int, ...]
    extra: tuple[int, ...]
    known_by: str
    turns: Turns | None
    heights: Row = field(repr=False)
    widths: Row = field(repr=False)
    lost: tuple[Lost, ...] = ()
    uneven: UnevenWheel | None = None
    design: Wheel | None = None

    @property
    def swings(self) -> bool:
        """Whether the sensor swings about a level, as an inductive one does."""
        return self.train.manner == "swings"

    @property
    def pitch_s(self) -> float | None:
        """Usual time from tooth to tooth, seconds."""
        return float(np.median(self.teeth.pitch_s)) if self.teeth is not None else None

    def rpm(self) -> tuple[Times, Row] | None:
        """Speed at each tooth, turns a minute; None where the wheel's positions are not known."""
        if self.teeth is None or self.wheel is None:
            return None
        times_s = 0.5 * (self.teeth.times_s[1:] + self.teeth.times_s[:-1])
        apart = np.diff(self.teeth.times_s) / self.teeth.steps
        return times_s, 60.0 / (apart * self.wheel.positions)


def read_wheel(
    channel: Channel,
    given: Wheel | None,
    progress: Progress = unwatched,
    *,
    gaps_known: bool = False,
    train: Train | None = None,
    even: bool = False,
) -> WheelReading | None:
    """Read a channel; None where no sample is a number.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    given : Wheel or None
        The wheel as a person knows it; its single gap, where it has one, counts from its end.
    progress : Progress
        0 to 1.
    gaps_known : bool
        The given wheel has no other gap than its own; else the capture's gaps are taken for made so.
    train : Train or None
        Its edges, where they were found already.
    even : bool
        The wheel is known to have no gap: what lacks is missing.
    """
    train = train if train is not None else read_train(channel, part(progress, 0.0, 0.6))
    if train is None:
        return None
    rising, teeth, seen = _better_direction(train) if not even else (True, teeth_of(train.like(rising=True)), None)
    empty = np.empty((0, 0))
    if teeth is None:
        return WheelReading(train, rising, None, given, None, (), (), "given" if given else "", None, empty, empty)
    if not even and (seen is None or seen.positions <= FEW_POSITIONS) and given is None and _is_uneven(teeth):
        uneven = uneven_wheel(train.at_s, train.rising)
        reading = WheelReading(train, rising, teeth, None, None, (), (), "", None, empty, empty, uneven=uneven)
        return replace(reading, lost=_lost(channel, reading, part(progress, 0.6, 1.0)))
    wheel, missing, extra, known_by = _by_design(seen, given, gaps_known=gaps_known)
    turns = lay_turns(teeth, wheel) if wheel is not None else None
    design = None
    if turns is None and seen is not None and wheel is not None and seen != wheel:
        turns, design = lay_turns(teeth, seen), wheel
        wheel = seen
    if turns is not None and wheel is not None and turns.count >= 2:
        missing, extra = _in_most_turns(turns, wheel, extra)
    reading = WheelReading(train, rising, teeth, wheel, seen, missing, extra, known_by, turns, empty, empty)
    reading = replace(reading, design=design)
    reading = replace(reading, lost=_lost(channel, reading, part(progress, 0.6, 0.7)))
    if turns is None or not turns.count:
        return reading
    heights = _heights(channel, train, turns, part(progress, 0.7, 1.0))
    widths = _widths(train, turns, rising=rising) if not reading.swings else empty
    return replace(reading, heights=heights, widths=widths)


def _is_uneven(teeth: Teeth) -> bool:
    """Whether many intervals are no whole multiples of their neighbours'."""
    share = np.diff(teeth.times_s) / teeth.pitch_s
    off = np.abs(share - np.round(share)) > OFF
    return float(off.mean()) + teeth.extra_s.size / teeth.times_s.size > UNEVEN_SHARE


def _better_direction(train: Train) -> tuple[bool, Teeth | None, Wheel | None]:
    """Edges of the direction whose gaps are the truer multiples of a pitch: an inductive sensor's steep crossings."""
    found = []
    for rising in (False, True):
        teeth = teeth_of(train.like(rising=rising))
        seen = learnt(teeth) if teeth is not None else None
        if teeth is not None:
            found.append((_unlikely(train, teeth, seen), rising, teeth, seen))
    if not found:
        return False, None, None
    best = min(found, key=lambda one: one[0])
    return best[1:]


def _unlikely(train: Train, teeth: Teeth, seen: Wheel | None) -> tuple[float, ...]:
    """The lower, the likelier: the flat of a gap is crossed at no clear moment in the wrong direction, or once too often."""
    if seen is None:
        return (1.0, 0.0, 0.0, 0.0)
    near = common_wheel(seen.positions, seen.absent)
    wrong = len(near[1]) + len(near[2]) if near is not None else 3
    unclear = teeth.unclear if train.manner == "swings" else 0.0
    return (0.0, float(unclear > 0.3), float(wrong), -float(sum(seen.gaps)), unclear)


def _by_design(
    seen: Wheel | None, given: Wheel | None, *, gaps_known: bool
) -> tuple[Wheel | None, tuple[int, ...], tuple[int, ...], str]:
    """The wheel as it was made, and what the capture has otherwise."""
    alike = seen is not None and given is not None and seen.positions == given.positions
    if given is not None and (gaps_known or not alike):
        if seen is None or not alike:
            return given, (), (), "given"
        return given, *_beside(seen, given), "given"
    if seen is None:
        return None, (), (), ""
    near = common_wheel(seen.positions, seen.absent)
    if near is None:
        return seen, (), (), "learnt"
    wheel, missing, extra = near
    return wheel, missing, extra, "common"


def _in_most_turns(turns: Turns, wheel: Wheel, extra: tuple[int, ...]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """What a signal that comes and goes leaves out here and there is no tooth of the wheel's."""
    share = np.isfinite(turns.times_s[turns.whole]).mean(axis=0)
    positions = wheel.positions
    away = [np.abs((turns.extra_at - one + 0.5 * positions) % positions - 0.5 * positions) for one in extra]
    return (
        tuple(one for one in np.flatnonzero(share < RARE).tolist() if one not in wheel.absent),
        tuple(one for one, row in zip(extra, away, strict=True) if (row < 0.4).sum() >= OFTEN * turns.count),
    )


def _beside(seen: Wheel, wheel: Wheel) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Positions of ``wheel`` that lack a tooth or have one too many on the wheel that was seen, best turn of it."""
    best: tuple[int, tuple[int, ...], tuple[int, ...]] | None = None
    for turn in range(wheel.positions):
        there = {(one + turn) % wheel.positions for one in seen.absent}
        missing, extra = there - set(wheel.absent), set(wheel.absent) - there
        if best is None or len(missing) + len(extra) < best[0]:
            best = len(missing) + len(extra), tuple(sorted(missing)), tuple(sorted(extra))
    assert best is not None
    return best[1], best[2]


def against(reading: WheelReading, good: WheelReading) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
    """Teeth that lack or are too many beside the known-good's wheel; None where the two cannot be held together."""
    if reading.seen is None or good.seen is None or reading.seen.positions != good.seen.positions:
        return None
    design = good.wheel or good.seen
    return (reading.missing, reading.extra) if design == reading.wheel else _beside(reading.seen, design)


def _lost(channel: Channel, reading: WheelReading, progress: Progress) -> tuple[Lost, ...]:
    """Stretches without edges that are no gap of the wheel."""
    teeth = reading.teeth
    assert teeth is not None
    widest = max(reading.wheel.gaps, default=0) if reading.wheel is not None and reading.wheel.absent else 0
    bar = STILL_PITCHES + widest
    edges = reading.train.at_s
    pitch = teeth.pitch_s
    if reading.uneven is not None:
        bar, pitch = 1.5, np.full(pitch.size, float(np.median(reading.uneven.turn_s)))
    usual = float(np.median(pitch))
    apart = np.diff(edges)
    local = pitch[np.clip(np.searchsorted(teeth.times_s, edges[:-1]) - 1, 0, pitch.size - 1)]
    before = np.minimum.reduce([_shifted(local, -NEIGHBOURS), local, _shifted(local, NEIGHBOURS)])
    found = []
    for place in np.flatnonzero(apart > bar * before).tolist():
        found.append(_lost_between(channel, reading, float(edges[place]), float(edges[place + 1])))
    first_s, last_s = float(edges[0]), float(edges[-1])
    if first_s - channel.start_s > (bar + 3.0) * pitch[0]:
        found.insert(0, _lost_between(channel, reading, channel.start_s, first_s))
    if channel.stop_s - last_s > (bar + 3.0) * pitch[-1]:
        found.append(_lost_between(channel, reading, last_s, channel.stop_s))
    progress(1.0)
    return tuple(one for one in found if one.stop_s - one.start_s > 0.5 * usual and np.isfinite(one.level))


def _shifted(row: Row, by: int) -> Row:
    return (
        np.concatenate([np.full(min(by, row.size), row[0]), row[:-by]])
        if by > 0
        else np.concatenate([row[-by:], np.full(min(-by, row.size), row[-1])])
    )


def _lost_between(channel: Channel, reading: WheelReading, start_s: float, stop_s: float) -> Lost:
    teeth = reading.teeth
    assert teeth is not None
    assert channel.step_s is not None
    at_begin, at_end = start_s <= channel.start_s, stop_s >= channel.stop_s
    edge = float(np.median(teeth.pitch_s))
    inner = (start_s + (0 if at_begin else min(edge, 0.3 * (stop_s - start_s))), stop_s)
    first = int(np.clip((inner[0] - channel.start_s) / channel.step_s, 0, channel.intervals - 1))
    last = int(np.clip((inner[1] - channel.start_s) / channel.step_s, first + 1, channel.intervals))
    values = instants(channel, first, min(last, first + BLOCK))
    known = np.isfinite(values)
    # What was not acquired is no lost signal.
    level = float(np.median(values[known])) if known.size and known.mean() >= LEAST_KNOWN else float("nan")
    stops = False
    apart = np.diff(teeth.times_s) / teeth.steps
    if not at_begin:
        here = int(np.searchsorted(teeth.times_s, start_s, side="right")) - 1
        row = apart[max(here - 10, 0) : here]
        stops = row.size >= 5 and float(np.median(row[-3:])) > STOPPING * float(np.median(row[:3]))
    if not at_end and not stops:
        here = int(np.searchsorted(teeth.times_s, stop_s, side="left"))
        row = apart[here : here + 10]
        stops = at_begin and row.size >= 5 and float(np.median(row[:3])) > STOPPING * float(np.median(row[-3:]))
    return Lost(start_s, stop_s, level, at_end, at_begin, stops)


def _heights(channel: Channel, train: Train, turns: Turns, progress: Progress) -> Row:
    """Peak to peak over one pitch about each tooth, read in order, a stretch of teeth at a time."""
    flat = turns.times_s.ravel()
    known = np.flatnonzero(np.isfinite(flat))
    heights = np.full(flat.size, np.nan)
    if known.size < 3:
        return heights.reshape(turns.times_s.shape)
    pitch = turns.pitch_s.ravel()[known]
    begins, ends = flat[known] - 0.5 * pitch, flat[known] + 0.5 * pitch
    assert channel.step_s is not None
    smooth = train.step_s > 1.5 * channel.step_s
    row = Averaged(channel, train.step_s) if smooth else None
    step_s = train.step_s if smooth else channel.step_s
    origin = row.start_s if row is not None else channel.start_s
    size = row.size if row is not None else channel.intervals
    first = np.clip(np.ceil((begins - origin) / step_s), 0, size - 1).astype(np.int64)
    last = np.clip(np.floor((ends - origin) / step_s) + 1, first + 1, size).astype(np.int64)
    place = 0
    while place < known.size:
        progress(place / known.size)
        stop = max(int(np.searchsorted(last, first[place] + BLOCK)), place + 1)
        low, high = int(first[place:stop].min()), int(last[place:stop].max())
        values = row.block(low, high) if row is not None else instants(channel, low, high)
        bounds = np.column_stack([first[place:stop], last[place:stop]]).ravel() - low
        # A last sentinel: the end of the last stretch may be the end of the row.
        padded = np.append(values, values[-1:])
        heights[known[place:stop]] = (np.maximum.reduceat(padded, bounds) - np.minimum.reduceat(padded, bounds))[::2]
        place = stop
    return heights.reshape(turns.times_s.shape)


def _widths(train: Train, turns: Turns, *, rising: bool) -> Row:
    """Share of the pitch between the edge that is counted and the other one behind it."""
    flat = turns.times_s.ravel()
    widths = np.full(flat.size, np.nan)
    known = np.flatnonzero(np.isfinite(flat))
    other = train.like(rising=not rising)
    behind = np.searchsorted(other, flat[known], side="right")
    inside = behind < other.size
    known, behind = known[inside], behind[inside]
    widths[known] = (other[behind] - flat[known]) / turns.pitch_s.ravel()[known]
    return widths.reshape(turns.times_s.shape)
