"""Edges of a toothed wheel as teeth, and the wheel's pattern learnt from the intervals between them."""

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.samples import Times
from loomlight.signal.wheel_pattern import Wheel, common_wheel, turned_home

Row = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
NEIGHBOURS = 9
SPLIT, SPLIT_SUM = 0.75, 0.2
"""Two intervals below the first share of a pitch that make one pitch together, to the second: an edge too many between."""
LEAST_TURNS = 2
COVERED = 0.3
"""Of the capture lies in whole turns of the pattern, or it is none."""
MOST_POSITIONS = 400
MOST_LEARNT = 20_000
"""Teeth that a pattern is learnt from."""
VOTE_SHARE, LEAST_VOTE_SHARE = 0.7, 0.4
"""A turn that is voted for this often beside the best is taken where it is the shorter; a common wheel with fewer, too."""
PRESENT = 0.5
GAP_MOST = 6
"""More pitches without a tooth are no wheel's gap but a lost signal."""


@dataclass(frozen=True, eq=False)
class Teeth:
    """Edges of one direction as positions on a wheel.

    Attributes
    ----------
    times_s : ndarray, shape (n,)
        Edges of teeth, those too many left out.
    pitch_s : ndarray, shape (n - 1,)
        Usual interval of one pitch around each interval.
    steps : ndarray of int64, shape (n - 1,)
        Pitches from each edge to the next.
    extra_s : ndarray
        Edges between two teeth.
    """

    times_s: Times = field(repr=False)
    pitch_s: Row = field(repr=False)
    steps: Whole = field(repr=False)
    extra_s: Times = field(repr=False)
    unclear: float
    """How far the longer intervals are from whole pitches, in the mean."""


def teeth_of(edges_s: Times) -> Teeth | None:
    """Intervals as whole pitches; None with fewer than six edges."""
    if edges_s.size < 6:
        return None
    apart = np.diff(edges_s)
    pitch = _usual(apart)
    share = apart / pitch
    both = share[:-1] + share[1:]
    short = (share[:-1] < SPLIT) & (share[1:] < SPLIT) & (np.abs(both - 1.0) < SPLIT_SUM)
    # Three intervals that make one pitch have two edges too many: each pair is looked at by itself.
    middle = np.flatnonzero(short) + 1
    extra = np.zeros(edges_s.size, bool)
    extra[middle] = True
    tiny = share < 0.4
    extra[np.flatnonzero(tiny & ~np.append(short, False) & ~np.append(False, short)) + 1] = True
    kept = edges_s[~extra]
    apart = np.diff(kept)
    if apart.size < 5:
        return None
    pitch = _usual(apart)
    share = apart / pitch
    steps = np.maximum(np.round(share), 1).astype(np.int64)
    long = (share > 1.5) & (share < GAP_MOST + 1.5)
    unclear = float(np.abs(share - steps)[long].mean()) if long.any() else 0.0
    pitch = _usual(apart / steps)
    return Teeth(kept, pitch, np.maximum(np.round(apart / pitch), 1).astype(np.int64), edges_s[extra], unclear)


def learnt(teeth: Teeth) -> Wheel | None:
    """The pattern that the turns have in common; None without gaps, or with fewer than two turns."""
    if teeth.steps.size > MOST_LEARNT:
        steps = slice(0, MOST_LEARNT)
        teeth = replace(
            teeth, times_s=teeth.times_s[: MOST_LEARNT + 1], pitch_s=teeth.pitch_s[steps], steps=teeth.steps[steps]
        )
    at = np.concatenate([[0], np.cumsum(teeth.steps)])
    gap = np.flatnonzero((teeth.steps >= 2) & (teeth.steps <= GAP_MOST + 1))
    if gap.size < 2:
        return None
    votes: dict[int, float] = {}
    for away in range(1, 13):
        if away >= gap.size:
            break
        same = teeth.steps[gap[:-away]] == teeth.steps[gap[away:]]
        apart = (at[gap[away:]] - at[gap[:-away]])[same]
        for distance, count in zip(*np.unique(apart, return_counts=True), strict=True):
            if distance <= MOST_POSITIONS:
                votes[int(distance)] = votes.get(int(distance), 0.0) + float(count)
    if not votes:
        return None
    # A longer turn has fewer chances to be voted for in the same capture.
    whole = int(at[-1])
    chances = {one: count / (whole - one) for one, count in votes.items() if 1.5 * one <= whole}
    most = max(chances.values(), default=0.0)
    likely: Wheel | None = None
    for positions in sorted(one for one, count in chances.items() if count >= LEAST_VOTE_SHARE * most):
        found = _present(teeth, at, positions)
        if found is None:
            continue
        near = common_wheel(found.positions, found.absent)
        if near is not None and not near[1] and not near[2]:
            return found
        if likely is None and chances[positions] >= VOTE_SHARE * most:
            likely = found
    return likely


def _present(teeth: Teeth, at: Whole, positions: int) -> Wheel | None:
    """What stands where, on turns counted from the gap that comes most regularly."""
    longest = teeth.steps[(teeth.steps >= 2) & (teeth.steps <= GAP_MOST + 1)]
    for steps in sorted(set(longest.tolist()), reverse=True):
        gap = np.flatnonzero(teeth.steps == steps)
        again = np.zeros(gap.size, np.int64)
        for turns in (-2, -1, 1, 2):
            again += np.isin(at[gap] + turns * positions, at[gap])
        gap, again = gap[again > 0], again[again > 0]
        if gap.size < LEAST_TURNS:
            continue
        # Two gaps alike (a tooth is lost on a wheel of single gaps) begin two different turns: only one of them counts.
        firsts = chained(gap + 1, at, positions, begin=int(np.argmax(again)))
        seen = np.zeros(positions)
        turns = 0
        for first in firsts.tolist():
            stop = int(np.searchsorted(at, at[first] + positions))
            if stop >= at.size or at[stop] != at[first] + positions or teeth.steps[stop - 1] != steps:
                continue
            turns += 1
            seen[at[first:stop] - at[first]] += 1
        if not turns or turns * positions < COVERED * (at[-1] - positions):
            continue
        absent = tuple(np.flatnonzero(seen < PRESENT * turns).tolist())
        return turned_home(Wheel(positions, absent))
    return None


def chained(candidates: Whole, at: Whole, positions: int, *, begin: int = 0) -> Whole:
    """Those that follow each other by whole turns, from the one at ``begin`` both ways; behind a slip the next far enough on."""
    ahead = _one_way(candidates[begin:], at[candidates[begin:]], positions)
    behind = _one_way(candidates[begin::-1], -at[candidates[begin::-1]], positions)
    found: Whole = np.unique(np.concatenate([ahead, behind]))
    return found


def _one_way(candidates: Whole, at: Whole, positions: int) -> Whole:
    kept, here = [0], 0
    while True:
        first = int(np.searchsorted(at, at[here] + 0.6 * positions, side="right"))
        if first >= at.size:
            return candidates[kept]
        last = max(int(np.searchsorted(at, at[here] + 4.5 * positions)), first + 1)
        turns = (at[first:last] - at[here]) / positions
        whole = np.abs(turns - np.round(turns)) * positions <= 2.0
        here = first + (int(np.argmax(whole)) if whole.any() else 0)
        kept.append(here)


def _usual(apart: Row) -> Row:
    """Median of each interval's neighbourhood of nine; with more gaps than teeth there, the shorter ones."""
    # Mirrored at the ends: a gap there must not be repeated until it looks usual.
    padded = np.pad(apart, NEIGHBOURS // 2, mode="reflect")
    usual: Row = np.median(np.lib.stride_tricks.sliding_window_view(padded, NEIGHBOURS), axis=1)
    return usual
