"""Line-up by frame: decoded frames of two buses paired by identifier and order, each laid start on start."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.bus_frames import BusFrame
from loomlight.signal.capture import Channel
from loomlight.signal.laid import Laid
from loomlight.signal.laid_fit import laid_fit
from loomlight.signal.lineup import LineUp, refused
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.spans import joined, spans_of

Row = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Piece = tuple[float, float, float, float]

FEWEST_PAIRS = 3
MOST_STRETCH = 0.15
"""A bus clock may be off by 14 % where it is set by the sync field (LIN 2.2A, section 6.3: up to ±14 %)."""
ANCHORS = 12
"""Frames of the suspect whose partners are tried, spread over the capture."""
NEAR_SHARE = 0.25
"""Of the usual distance between frames: how far a frame may stand from its place in the schedule."""
IN_TIME_SHARE = 0.6
"""Share of the frames that must stand in their places for one shift to lay them all (common practice, no source)."""
LIKE_THE_BEST = 0.95
SAMPLED, LOOKED_AT = 512, 64
"""Frames of a long capture that a shift is tried with at first, and shifts that are then tried with all."""
BEFORE_BITS = 0.3
"""A word's piece begins this much before its edge, so that the edge is inside."""
IDLE_BITS = 20.0
"""Of the resting line after the last frame that are laid with it."""
LEAST_FIT, LEAST_SURENESS = 0.4, 0.4


@dataclass(frozen=True, eq=False)
class FramePairs:
    """Which frame of the suspect stands with which of the known-good.

    Attributes
    ----------
    own, other : ndarray of int64, shape (n,)
        Indices of the paired frames; ``own`` ascends.
    in_time : bool
        Whether they stand in one schedule; if not, they were paired by their order alone.
    share : float
        Share of the frames that could have a partner and have one, 0 to 1.
    repeats_s : float or None
        Known-good seconds after which the schedule fits again, and the frames' data do not tell which is right.
    """

    own: Indices
    other: Indices
    in_time: bool
    share: float
    repeats_s: float | None


@dataclass(frozen=True, eq=False)
class _Bus:
    """What is asked of one bus's readable frames."""

    frames: tuple[BusFrame, ...]
    starts_s: Row
    identifiers: Indices
    said: Indices
    next_s: Row

    @property
    def bit_s(self) -> float:
        return float(np.median([one.bit_s for one in self.frames]))


def line_up_by_frame(
    suspect: Channel,
    good: Channel,
    frames: Sequence[BusFrame],
    good_frames: Sequence[BusFrame],
    progress: Progress = unwatched,
) -> LineUp:
    """Lay two buses over each other frame by frame, whatever they say.

    Frames with the same identifier are paired where one shift brings most of them onto each other (the same schedule),
    else in their order. Each word of a pair (break, byte) is laid start on start; only words that say the same are
    compared. Shift and stretch are fitted over the pairs, frames out of their place left out.

    Parameters
    ----------
    suspect, good : Channel
        Form ``even``.
    frames, good_frames : sequence of BusFrame
        As read off the two channels.
    progress : Progress
        0 to 1.

    Returns
    -------
    LineUp
        Refused with fewer than 3 pairs, a stretch beyond ±15 %, or no likeness.

    Notes
    -----
    ``fit`` is taken over the words that say the same. ``sureness`` is the share of the frames that found a partner, times
    the chance that n pairs with the same identifiers are no accident, 1 - cⁿ, c being how often two frames drawn at
    random from the two buses carry the same identifier (held between 0.1 and 0.7).
    """
    own, other = _bus(frames), _bus(good_frames)
    for bus, channel in ((own, suspect), (other, good)):
        if len(bus.frames) < FEWEST_PAIRS:
            return _refused(
                f"{channel.name!r} has {len(bus.frames)} frames whose identifier can be read; 3 are needed."
            )
    stretch = other.bit_s / own.bit_s
    rates = f"{1 / own.bit_s:.0f} and {1 / other.bit_s:.0f} bit/s"
    if abs(stretch - 1.0) > MOST_STRETCH:
        return _refused(f"The bit rates differ too much to lay bit on bit: {rates}.", stretch=stretch)
    pairs = paired(own.frames, other.frames)
    progress(0.3)
    if pairs.own.size < FEWEST_PAIRS:
        return _refused(
            f"Only {pairs.own.size} frames of the two carry the same identifier; 3 are needed. Their bit shapes can still be "
            "read side by side.",
            stretch=stretch,
        )
    return _laid_out(suspect, good, (own, other), pairs, progress)


def _laid_out(
    suspect: Channel, good: Channel, buses: tuple[_Bus, _Bus], pairs: FramePairs, progress: Progress
) -> LineUp:
    own, other = buses
    lag_s, stretch = _fitted(own.starts_s[pairs.own], other.starts_s[pairs.other], pairs, other.bit_s / own.bit_s)
    laid = _laid(own, other, pairs, (lag_s, stretch))
    found = LineUp(
        accepted=False,
        by="frame",
        lag_s=lag_s,
        stretch=stretch,
        fit=0.0,
        sureness=0.0,
        polarity=1,
        overlap_s=0.0,
        repeats_s=pairs.repeats_s,
        gain=1.0,
        offset=0.0,
        reason="",
        laid=laid,
    )
    fit = laid_fit(suspect, good, found, progress)
    sureness = pairs.share * (1.0 - _same_by_chance(own, other) ** pairs.own.size)
    accepted = fit.likeness >= LEAST_FIT and sureness >= LEAST_SURENESS
    return replace(
        found,
        accepted=accepted,
        fit=abs(fit.likeness),
        sureness=sureness,
        overlap_s=fit.overlap_s,
        gain=fit.gain,
        offset=fit.offset,
        reason=_reason(accepted, fit.likeness, pairs, other.bit_s / own.bit_s),
    )


def _reason(accepted: bool, likeness: float, pairs: FramePairs, bit_ratio: float) -> str:
    how = (
        "one schedule fits them"
        if pairs.in_time
        else "their schedules differ, so each was laid by itself, in the order of its identifier"
    )
    told = f"{pairs.own.size} frames paired by identifier, {pairs.share:.0%} of those that could be; {how}."
    if abs(bit_ratio - 1.0) >= 0.005:
        longer = "longer" if bit_ratio > 1.0 else "shorter"
        told += f" The known-good's bits are {abs(bit_ratio - 1.0):.1%} {longer}."
    if pairs.repeats_s is not None:
        told += f" The schedule repeats every {in_words(pairs.repeats_s, 's')}; the nearest place was taken."
    if accepted:
        return told
    if likeness < LEAST_FIT:
        return f"The paired frames do not look alike (fit {max(likeness, 0.0):.2f}). {told}"
    return f"Too few frames found their partner. {told}"


def _bus(frames: Sequence[BusFrame]) -> _Bus:
    places = [place for place, one in enumerate(frames) if one.identifier is not None]
    known = tuple(frames[place] for place in places)
    last_s = frames[-1].stop_s + IDLE_BITS * frames[-1].bit_s if frames else 0.0
    starts_s = np.array([*(one.start_s for one in frames), last_s])
    return _Bus(
        known,
        np.array([one.start_s for one in known], dtype=np.float64),
        np.array([one.identifier for one in known], dtype=np.int64),
        np.array([hash(tuple(word.says for word in one.words)) for one in known], dtype=np.int64),
        starts_s[np.array(places, dtype=np.int64) + 1],
    )


def paired(frames: Sequence[BusFrame], good_frames: Sequence[BusFrame]) -> FramePairs:
    """Pair frames of the same identifier: in one schedule where most of them stand in it, else in their order.

    Parameters
    ----------
    frames, good_frames : sequence of BusFrame
        In order; those without an identifier are left out, and the indices count those with one.
    """
    own, other = _bus(frames), _bus(good_frames)
    best = _in_time(own, other)
    if best is not None and best.own.size >= FEWEST_PAIRS and best.share >= IN_TIME_SHARE:
        return best
    return _in_order(own, other)


def _in_order(own: _Bus, other: _Bus) -> FramePairs:
    mine: list[int] = []
    theirs: list[int] = []
    for identifier in np.intersect1d(own.identifiers, other.identifiers).tolist():
        first, second = (np.flatnonzero(bus.identifiers == identifier).tolist() for bus in (own, other))
        # The shorter side begins again: any frame of one identifier may be held against any other.
        mine += first
        theirs += [second[number % len(second)] for number in range(len(first))]
    order = np.argsort(np.array(mine, dtype=np.int64), kind="stable")
    share = len(mine) / max(own.identifiers.size, 1)
    return FramePairs(
        np.array(mine, dtype=np.int64)[order], np.array(theirs, dtype=np.int64)[order], False, share, None
    )


def _in_time(own: _Bus, other: _Bus) -> FramePairs | None:
    """The shift that brings most frames onto one of their identifier, and among equals the most that say the same."""
    near_s = NEAR_SHARE * float(np.median(np.diff(other.starts_s))) if other.starts_s.size > 1 else 0.0
    some = np.unique(np.linspace(0, own.starts_s.size - 1, SAMPLED).astype(np.int64))
    few = _Bus((), own.starts_s[some], own.identifiers[some], own.said[some], own.next_s[some])
    tried: list[_Tried] = []
    for stretch in sorted({1.0, other.bit_s / own.bit_s}):
        lags = _lags(own, other, stretch, near_s)
        rough = np.array([_tried(few, other, lag_s, stretch, near_s).score for lag_s in lags.tolist()])
        for place in np.argsort(-rough, kind="stable")[:LOOKED_AT].tolist():
            found = _tried(own, other, float(lags[place]), stretch, near_s)
            if found.own.size >= FEWEST_PAIRS:
                tried.append(found)
    if not tried:
        return None
    top = max(one.score for one in tried)
    best = min((one for one in tried if one.score >= top - 1e-9), key=lambda one: abs(one.lag_s))
    equal = [one for one in tried if one.share >= LIKE_THE_BEST * best.share and one.same >= LIKE_THE_BEST * best.same]
    return FramePairs(best.own, best.other, True, best.share, _period(np.array([one.lag_s for one in equal]), near_s))


@dataclass(frozen=True, eq=False)
class _Tried:
    """One shift: the pairs that it makes, the share of those that could be, and the share that says the same."""

    lag_s: float
    own: Indices
    other: Indices
    share: float
    same: float

    @property
    def score(self) -> float:
        return self.own.size * (1.0 + 0.5 * self.same)


def _tried(own: _Bus, other: _Bus, lag_s: float, stretch: float, near_s: float) -> _Tried:
    there_s = lag_s + stretch * own.starts_s
    place = np.clip(np.searchsorted(other.starts_s, there_s), 1, max(other.starts_s.size - 1, 1))
    before = np.abs(other.starts_s[place - 1] - there_s) <= np.abs(other.starts_s[place] - there_s)
    nearest = place - before
    inside = (there_s >= other.starts_s[0] - near_s) & (there_s <= other.starts_s[-1] + near_s)
    near = np.abs(other.starts_s[nearest] - there_s) <= near_s
    mine = np.flatnonzero(inside & near & (other.identifiers[nearest] == own.identifiers))
    theirs, first = np.unique(nearest[mine], return_index=True)
    mine = mine[first]
    same = float((own.said[mine] == other.said[theirs]).mean()) if mine.size else 0.0
    return _Tried(lag_s, mine, theirs, mine.size / max(int(inside.sum()), 1), same)


def _lags(own: _Bus, other: _Bus, stretch: float, near_s: float) -> Row:
    """Shifts worth trying: each anchor on each frame of its identifier, near-equal ones once."""
    count = ANCHORS if other.starts_s.size <= SAMPLED else 2
    anchors = np.unique(np.linspace(0, own.starts_s.size - 1, count).astype(np.int64))
    found = [
        other.starts_s[other.identifiers == own.identifiers[anchor]] - stretch * own.starts_s[anchor]
        for anchor in anchors.tolist()
    ]
    lags = np.sort(np.concatenate(found))
    if not lags.size:
        return lags
    groups = np.concatenate([[0], np.cumsum(np.diff(lags) > 0.25 * near_s)])
    middle: Row = np.bincount(groups, weights=lags) / np.bincount(groups)
    return middle


def _period(lags: Row, near_s: float) -> float | None:
    if lags.size < 2:
        return None
    apart = np.diff(np.unique(lags))
    apart = apart[apart > near_s]
    return float(np.median(apart)) if apart.size else None


def _fitted(own_s: Row, other_s: Row, pairs: FramePairs, bit_ratio: float) -> tuple[float, float]:
    """Shift and stretch over all pairs by least squares, frames out of their place left out."""
    if not pairs.in_time:
        return float(other_s[0] - bit_ratio * own_s[0]), bit_ratio
    if own_s.size < 2 * FEWEST_PAIRS:
        nearer = min((1.0, bit_ratio), key=lambda one: float(np.ptp(other_s - one * own_s)))
        return float(np.median(other_s - nearer * own_s)), nearer
    half = own_s.size // 2
    # Theil 1950, Sen 1968, each frame with the one half the capture on: half of them may be wrong.
    slope = float(np.median((other_s[half : 2 * half] - other_s[:half]) / (own_s[half : 2 * half] - own_s[:half])))
    rest = other_s - slope * own_s
    off = np.abs(rest - np.median(rest))
    kept = off <= max(3.0 * 1.4826 * float(np.median(off)), 1e-12)
    middle = float(own_s[kept].mean())
    spread = own_s[kept] - middle
    slope = float((spread * other_s[kept]).sum() / max(float(np.square(spread).sum()), 1e-300))
    return float(other_s[kept].mean()) - slope * middle, slope


def _laid(own: _Bus, other: _Bus, pairs: FramePairs, line: tuple[float, float]) -> Laid:
    """Each word of each pair start on start, as long as both say nothing else; the idle line after a frame with its last.

    In one schedule the rest is laid by the schedule: a frame that cannot be read is shown with what should stand there, and
    its header compared.
    """
    pieces: list[Piece] = []
    fair: list[tuple[float, float]] = []
    for i, j in zip(pairs.own.tolist(), pairs.other.tolist(), strict=True):
        mine, theirs = own.frames[i], other.frames[j]
        ratio = theirs.bit_s / mine.bit_s
        lead_s = BEFORE_BITS * mine.bit_s
        for number in range(min(len(mine.words), len(theirs.words))):
            here, there = mine.words[number], theirs.words[number]
            rooms = _room(mine, number, own.next_s[i]), _room(theirs, number, other.next_s[j]) / ratio
            start_s, stop_s = here.start_s - lead_s, here.start_s + min(rooms) - lead_s
            if stop_s > start_s:
                pieces.append((start_s, stop_s, there.start_s - ratio * lead_s, ratio))
                if here.says == there.says:
                    fair.append((start_s, stop_s if pairs.in_time else min(stop_s, here.stop_s + mine.bit_s)))
    if pairs.in_time:
        pieces = _filled(pieces, other, line)
        fair += _unread(own, other, pairs, line)
    starts = np.column_stack([own.starts_s[pairs.own], other.starts_s[pairs.other]])
    laid = np.array(pieces, dtype=np.float64).reshape(-1, 4)
    return Laid(laid, joined(spans_of(fair), 0.0), starts, pairs.in_time)


def _filled(pieces: list[Piece], other: _Bus, line: tuple[float, float]) -> list[Piece]:
    """Between the pieces, and to either end of the known-good, by the one line of time."""
    lag_s, stretch = line
    begin_s, end_s = ((at_s - lag_s) / stretch for at_s in (other.starts_s[0], other.next_s[-1]))
    bounds = [begin_s, *(at_s for piece in sorted(pieces) for at_s in piece[:2]), end_s]
    gaps = [
        (start_s, stop_s, lag_s + stretch * start_s, stretch)
        for start_s, stop_s in zip(bounds[::2], bounds[1::2], strict=True)
        if stop_s > start_s
    ]
    return sorted([*pieces, *gaps])


def _unread(own: _Bus, other: _Bus, pairs: FramePairs, line: tuple[float, float]) -> list[tuple[float, float]]:
    """Headers that the schedule wants where the suspect has no readable frame, on the suspect's axis."""
    lag_s, stretch = line
    found = []
    for j in np.setdiff1d(np.arange(len(other.frames)), pairs.other).tolist():
        words = other.frames[j].words
        header = [one for one in words if one.talker == words[0].talker]
        start_s, stop_s = ((at_s - lag_s) / stretch for at_s in (header[0].start_s, header[-1].stop_s))
        between = own.starts_s[0] <= start_s and stop_s <= own.starts_s[-1]  # beyond, the schedule is only guessed
        if between and not any(one.start_s < stop_s and one.stop_s > start_s for one in own.frames):
            found.append((start_s, stop_s))
    return found


def _room(frame: BusFrame, number: int, next_s: float) -> float:
    """Seconds from the start of a word to that of the next, or of the next frame."""
    words = frame.words
    stop_s = words[number + 1].start_s if number + 1 < len(words) else next_s
    return float(stop_s - words[number].start_s)


def _same_by_chance(own: _Bus, other: _Bus) -> float:
    shared = np.intersect1d(own.identifiers, other.identifiers)
    chance = sum(float((own.identifiers == one).mean()) * float((other.identifiers == one).mean()) for one in shared)
    return min(max(chance, 0.1), 0.7)


def _refused(reason: str, *, stretch: float = 1.0) -> LineUp:
    return refused("frame", reason, stretch=stretch if math.isfinite(stretch) else 1.0)
