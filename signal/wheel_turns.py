"""Edges of a toothed wheel laid on its turns."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.samples import Times
from loomlight.signal.wheel_pattern import Wheel, gaps_of
from loomlight.signal.wheel_teeth import Row, Teeth, Whole, chained

AGREE = 0.6
NEAR_DESIGN = (0.62, 1.45)
"""Of the design's interval: a lost tooth makes it at least 1.5, beside a gap of two 1.33."""


@dataclass(frozen=True, eq=False)
class Turns:
    """Edges laid on the wheel, turn by turn.

    Attributes
    ----------
    times_s : ndarray, shape (turns, positions)
        Time of each tooth's edge; not-a-number where none was seen.
    expected_s : ndarray, shape (turns, positions)
        Where it was seen, or would have been between its neighbours; not-a-number outside the capture.
    whole : ndarray of bool, shape (turns,)
        Turns that lie within the capture from begin to end.
    extra_s : ndarray
        Edges that lie on no tooth.
    extra_at : ndarray
        Their positions on the wheel, in pitches.
    """

    times_s: Row = field(repr=False)
    expected_s: Row = field(repr=False)
    whole: npt.NDArray[np.bool_] = field(repr=False)
    extra_s: Times = field(repr=False)
    extra_at: Row = field(repr=False)

    @property
    def count(self) -> int:
        """Whole turns."""
        return int(self.whole.sum())

    @property
    def pitch_s(self) -> Row:
        """Length of a pitch about each position, seconds, shape (turns, positions); not-a-number outside the capture."""
        flat = self.expected_s.ravel()
        known = np.isfinite(flat)
        pitch = np.full(flat.size, np.nan)
        pitch[known] = np.gradient(flat[known])
        return pitch.reshape(self.expected_s.shape)


def lay_turns(teeth: Teeth, wheel: Wheel) -> Turns | None:
    """Give each edge its turn and its position; None where the wheel's gap was never seen.

    Each stretch from one gap to the next is as many turns as it is nearest to; within it edges go to the nearest position
    by the intervals' own pitches, so that an edge lost or too many moves nothing behind it.
    """
    steps = wheel.positions - 1 - max(one for one in range(wheel.positions) if one not in wheel.absent)
    firsts = _references(teeth, wheel, steps + 1)
    if firsts is None:
        return None
    pitches = np.diff(teeth.times_s) / teeth.pitch_s
    at = np.concatenate([[0.0], np.cumsum(pitches)])
    steps_at = np.concatenate([[0], np.cumsum(teeth.steps)]).astype(np.float64)
    design = _design_steps(wheel)
    place = np.empty(at.size)
    first, last = int(firsts[0]), int(firsts[-1])
    lead = max(int(np.ceil(at[first] / wheel.positions)), 0)
    turn0 = float(lead * wheel.positions)
    # Before the first turn the design runs backwards from its end.
    back = _as_designed(pitches[:first][::-1], design[::-1])
    place[: first + 1] = turn0 - (back[::-1] if back is not None else steps_at[first] - steps_at[: first + 1])
    for begin, end in zip(firsts[:-1].tolist(), firsts[1:].tolist(), strict=True):
        designed = _as_designed(pitches[begin:end], design)
        if designed is None or (end - begin) % design.size:
            whole_steps = steps_at[end] - steps_at[begin]
            designed = steps_at[begin : end + 1] - steps_at[begin]
            if whole_steps % wheel.positions or not whole_steps:
                length = at[end] - at[begin]
                turns = max(round(length / wheel.positions), 1)
                designed = (at[begin : end + 1] - at[begin]) / length * turns * wheel.positions
        place[begin : end + 1] = turn0 + designed
        turn0 += float(designed[-1])
    on = _as_designed(pitches[last:], design)
    place[last:] = turn0 + (on if on is not None else steps_at[last:] - steps_at[last])
    return _as_turns(teeth, wheel, place)


def _design_steps(wheel: Wheel) -> Row:
    """Pitches from each standing tooth to the next, from the first of a turn to that of the next."""
    standing = np.array([one for one in range(wheel.positions) if one not in wheel.absent] + [wheel.positions])
    steps: Row = np.diff(standing).astype(np.float64)
    return steps


def _as_designed(pitches: Row, design: Row) -> Row | None:
    """Positions of edges that follow the design one for one; None where an interval is not the design's.

    A wheel that speeds up and slows down within a turn, as on cranking, stretches its gap: rounding alone may miss it.
    """
    wanted = np.resize(design, pitches.size) if pitches.size else pitches
    share = pitches / wanted
    if share.size and not (share.min() > NEAR_DESIGN[0] and share.max() < NEAR_DESIGN[1]):
        return None
    return np.concatenate([[0.0], np.cumsum(wanted)])


def _references(teeth: Teeth, wheel: Wheel, steps: int) -> Whole | None:
    """Edges that begin a turn: behind the longest gap, told from its equals by the row of teeth before it."""
    if not wheel.absent:
        at = np.concatenate([[0], np.cumsum(teeth.steps)])
        wanted = np.arange(0, int(at[-1]) + 1, wheel.positions)
        found: Whole = np.flatnonzero(np.isin(at, wanted))
        return found if found.size else None
    at = np.concatenate([[0], np.cumsum(teeth.steps)])
    candidates = np.flatnonzero(teeth.steps == steps) + 1
    if not candidates.size:
        return None
    scores = _gaps_agree(teeth, at, candidates, wheel)
    places = at[candidates]
    for turn in (-wheel.positions, wheel.positions):
        # A lost tooth can look like the gap; the gap itself comes again a turn before and after.
        nearest = np.clip(np.searchsorted(places, places + turn), 1, max(places.size - 1, 1))
        off = [np.abs(places[np.minimum(nearest - back, places.size - 1)] - places - turn) for back in (0, 1)]
        scores += 0.2 * (np.minimum(*off) <= 1)
    candidates, scores = candidates[scores >= AGREE], scores[scores >= AGREE]
    return chained(candidates, at, wheel.positions, begin=int(np.argmax(scores))) if candidates.size else None


def _gaps_agree(teeth: Teeth, at: Whole, firsts: Whole, wheel: Wheel) -> Row:
    """Share of the gaps of the turn on either side that stand where the wheel has them, for each edge that may begin one."""
    gaps = gaps_of(wheel.positions, wheel.absent)
    if len(gaps) < 2:
        return np.ones(firsts.size)
    hits, wanted = np.zeros(firsts.size), np.zeros(firsts.size)
    for shift in (0, -wheel.positions):
        for begin, length in gaps:
            before = at[firsts] + shift + begin - 1
            inside = (before >= 0) & (before < at[-1])
            index = np.clip(np.searchsorted(at, before), 0, teeth.steps.size - 1)
            wanted += inside
            hits += inside & (at[index] == before) & (teeth.steps[index] == length + 1)
    share: Row = (hits + 0.5) / (wanted + 0.5) * np.minimum(wanted / len(gaps) / 2.0, 1.0) ** 0.25
    return share


def _as_turns(teeth: Teeth, wheel: Wheel, place: Row) -> Turns:
    nearest = np.round(place).astype(np.int64)
    away = np.abs(place - nearest)
    turns = int(nearest[-1] // wheel.positions) + 1
    times = np.full(turns * wheel.positions, np.nan)
    order = np.argsort(-away, kind="stable")  # the nearest one is written last
    times[nearest[order]] = teeth.times_s[order]
    kept = times[nearest] == teeth.times_s
    standing = np.ones(wheel.positions, bool)
    standing[list(wheel.absent)] = False
    wanted = np.tile(standing, turns)
    on_none = ~wanted[nearest]
    lost = ~kept
    extra_s = np.concatenate([teeth.extra_s, teeth.times_s[lost | (on_none & kept)]])
    numbers = np.arange(times.size, dtype=np.float64)
    seen = np.isfinite(times)
    expected = np.interp(numbers, numbers[seen], times[seen], left=np.nan, right=np.nan)
    extra_at = np.interp(extra_s, times[seen], numbers[seen]) % wheel.positions
    times[~wanted] = np.nan
    shape = (turns, wheel.positions)
    whole = np.isfinite(expected.reshape(shape)[:, 0])
    whole[:-1] &= np.isfinite(expected[wheel.positions :: wheel.positions])
    whole[-1] = False
    return Turns(times.reshape(shape), expected.reshape(shape), whole, extra_s, extra_at)
