"""The pattern of a toothed wheel, learnt from the intervals between its teeth, and each turn laid on it."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.samples import Times

Row = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

NEIGHBOURS = 9
SPLIT, SPLIT_SUM = 0.75, 0.2
"""Two intervals below the first share of a pitch that make one pitch together, to the second: an edge too many between."""
LEAST_TURNS = 2
COVERED = 0.3
"""Of the capture lies in whole turns of the pattern, or it is none."""
AGREE = 0.6
MOST_POSITIONS = 400
VOTE_SHARE, LEAST_VOTE_SHARE = 0.7, 0.4
"""A turn that is voted for this often beside the best is taken where it is the shorter; a common wheel with fewer, too."""
PRESENT = 0.5
GAP_MOST = 6
"""More pitches without a tooth are no wheel's gap but a lost signal."""

COMMON = ((60, (2,)), (36, (1,)), (36, (2,)), (24, (1,)), (24, (2,)), (12, (1,)), (30, (1,)), (60, (2, 2)), (48, (3,)))
"""Positions a turn, and teeth left out at each gap, evenly apart (listed by open engine controllers; common practice)."""
UNEVEN = ((36, (13, 14, 16, 17, 34, 35), "36-2-2-2"),)


@dataclass(frozen=True)
class Wheel:
    """What stands on a wheel.

    Attributes
    ----------
    positions : int
        Teeth that a turn would have without gaps.
    absent : tuple of int
        Positions without a tooth, counted from the first tooth after the longest gap.
    """

    positions: int
    absent: tuple[int, ...]

    @property
    def name(self) -> str:
        """``60-2``; gaps in their order."""
        gaps = _gaps(self.positions, self.absent)
        return "-".join(str(one) for one in (self.positions, *(length for _, length in gaps)))

    @property
    def gaps(self) -> tuple[int, ...]:
        """Teeth left out at each gap."""
        return tuple(length for _, length in _gaps(self.positions, self.absent))


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
        again = sum(np.isin(at[gap] + turns * positions, at[gap]).astype(int) for turns in (-2, -1, 1, 2))
        gap, again = gap[again > 0], again[again > 0]
        if gap.size < LEAST_TURNS:
            continue
        # Two gaps alike (a tooth is lost on a wheel of single gaps) begin two different turns: only one of them counts.
        firsts = _chained(gap + 1, at, positions, begin=int(np.argmax(again)))
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


def turned_home(wheel: Wheel) -> Wheel:
    """The same wheel counted from behind its longest gap; of several, behind the one after the longest row of teeth."""
    gaps = _gaps(wheel.positions, wheel.absent)
    if not gaps:
        return wheel
    ends = [(begin + length) % wheel.positions for begin, length in gaps]

    def row_before(place: int) -> int:
        begin, previous = gaps[place][0], ends[place - 1]
        return int((begin - previous) % wheel.positions)

    best = max(range(len(gaps)), key=lambda place: (gaps[place][1], row_before(place), -place))
    home = ends[best]
    return Wheel(wheel.positions, tuple(sorted((one - home) % wheel.positions for one in wheel.absent)))


def common_wheel(positions: int, absent: tuple[int, ...]) -> tuple[Wheel, tuple[int, ...], tuple[int, ...]] | None:
    """The common wheel that this one comes nearest to, with at most two teeth too few or too many.

    Returns
    -------
    Wheel, missing, extra
        Positions count as on the common wheel; None where none comes near.
    """
    own = set(absent)
    best: tuple[int, Wheel, tuple[int, ...], tuple[int, ...]] | None = None
    for wheel in common_wheels():
        if wheel.positions != positions:
            continue
        for turn in range(positions):
            there = {(one + turn) % positions for one in wheel.absent}
            missing, extra = own - there, there - own
            wrong = len(missing) + len(extra)
            if wrong <= 2 and (best is None or wrong < best[0]) and len(extra) < len(there):
                best = (
                    wrong,
                    wheel,
                    tuple(sorted((one - turn) % positions for one in missing)),
                    tuple(sorted((one - turn) % positions for one in extra)),
                )
    return best[1:] if best is not None else None


def common_wheels() -> tuple[Wheel, ...]:
    """Wheels in common use."""
    found = []
    for positions, gaps in COMMON:
        row = positions // len(gaps)
        absent = [
            place * row + row - length + away for place, length in enumerate(gaps) for away in range(length)
        ]
        found.append(turned_home(Wheel(positions, tuple(absent))))
    found += [turned_home(Wheel(positions, absent)) for positions, absent, _ in UNEVEN]
    return tuple(found)


def _gaps(positions: int, absent: tuple[int, ...]) -> list[tuple[int, int]]:
    """Begin and length of each run of absent positions, round the wheel."""
    gone = np.zeros(positions, bool)
    gone[list(absent)] = True
    if gone.all() or not gone.any():
        return []
    begins = np.flatnonzero(gone & ~np.roll(gone, 1)).tolist()
    found = []
    for begin in begins:
        length = 1
        while gone[(begin + length) % positions]:
            length += 1
        found.append((begin, length))
    return found


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
    steps = wheel.positions - 1 - max((one for one in range(wheel.positions) if one not in wheel.absent))
    firsts = _references(teeth, wheel, steps + 1)
    if firsts is None:
        return None
    at = np.concatenate([[0.0], np.cumsum(np.diff(teeth.times_s) / teeth.pitch_s)])
    place = np.empty(at.size)
    turn0 = 0.0
    lead = max(int(np.ceil(at[firsts[0]] / wheel.positions)), 0)
    steps_at = np.concatenate([[0], np.cumsum(teeth.steps)]).astype(np.float64)
    place[: firsts[0] + 1] = lead * wheel.positions + steps_at[: firsts[0] + 1] - steps_at[firsts[0]]
    turn0 = float(lead * wheel.positions)
    for begin, end in zip(firsts[:-1].tolist(), firsts[1:].tolist(), strict=True):
        whole_steps = steps_at[end] - steps_at[begin]
        if whole_steps % wheel.positions == 0 and whole_steps:
            place[begin : end + 1] = turn0 + steps_at[begin : end + 1] - steps_at[begin]
            turn0 += whole_steps
            continue
        length = at[end] - at[begin]
        turns = max(round(length / wheel.positions), 1)
        share = (at[begin : end + 1] - at[begin]) / length
        place[begin : end + 1] = turn0 + share * turns * wheel.positions
        turn0 += turns * wheel.positions
    place[firsts[-1] :] = turn0 + steps_at[firsts[-1] :] - steps_at[firsts[-1]]
    return _as_turns(teeth, wheel, place)


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
    scores = np.array([_gaps_agree(teeth, at, first, wheel) for first in candidates.tolist()])
    places = at[candidates]
    for turn in (-wheel.positions, wheel.positions):
        # A lost tooth can look like the gap; the gap itself comes again a turn before and after.
        nearest = np.clip(np.searchsorted(places, places + turn), 1, max(places.size - 1, 1))
        off = [np.abs(places[np.minimum(nearest - back, places.size - 1)] - places - turn) for back in (0, 1)]
        scores += 0.2 * (np.minimum(*off) <= 1)
    candidates, scores = candidates[scores >= AGREE], scores[scores >= AGREE]
    return _chained(candidates, at, wheel.positions, begin=int(np.argmax(scores))) if candidates.size else None


def _chained(candidates: Whole, at: Whole, positions: int, *, begin: int = 0) -> Whole:
    """Those that follow each other by whole turns, from the one at ``begin`` both ways; behind a slip the next far enough on."""
    ahead = _one_way(candidates[begin:], at[candidates[begin:]], positions)
    behind = _one_way(candidates[begin::-1], -at[candidates[begin::-1]], positions)
    found: Whole = np.unique(np.concatenate([ahead, behind]))
    return found


def _one_way(candidates: Whole, at: Whole, positions: int) -> Whole:
    kept = [0]
    while True:
        apart = at - at[kept[-1]]
        ahead = apart > 0.6 * positions
        if not ahead.any():
            return candidates[kept]
        whole = np.abs(apart / positions - np.round(apart / positions)) * positions <= 2.0
        near = ahead & whole & (apart < 4.5 * positions)
        kept.append(int(np.argmax(near if near.any() else ahead)))


def _gaps_agree(teeth: Teeth, at: Whole, first: int, wheel: Wheel) -> float:
    """Share of the gaps of the turn on either side that stand where the wheel has them."""
    gaps = _gaps(wheel.positions, wheel.absent)
    if len(gaps) < 2:
        return 1.0
    hits = wanted = 0
    for shift in (0, -wheel.positions):
        for begin, length in gaps:
            before = at[first] + shift + begin - 1
            index = int(np.searchsorted(at, before))
            if before < 0 or before >= at[-1]:
                continue
            wanted += 1
            hits += bool(index < teeth.steps.size and at[index] == before and teeth.steps[index] == length + 1)
    return (hits + 0.5) / (wanted + 0.5) * min(wanted / len(gaps) / 2.0, 1.0) ** 0.25


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


def _usual(apart: Row) -> Row:
    """Median of each interval's neighbourhood of nine; with more gaps than teeth there, the shorter ones."""
    # Mirrored at the ends: a gap there must not be repeated until it looks usual.
    padded = np.pad(apart, NEIGHBOURS // 2, mode="reflect")
    usual: Row = np.median(np.lib.stride_tricks.sliding_window_view(padded, NEIGHBOURS), axis=1)
    return usual
