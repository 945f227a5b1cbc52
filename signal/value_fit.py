"""Gain, offset and likeness of two channels laid on each other at a known lag."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.correlate import Row
from loomlight.signal.progress import Progress
from loomlight.signal.resample import PIECE, SNAP, averaged, instants
from loomlight.signal.samples import Wave

FLAT_SHARE = 1e-9
"""A variance below this share of the mean square is rounding, not signal."""


@dataclass(frozen=True)
class ValueFit:
    """suspect ≈ gain · good + offset over the overlap, and their likeness there.

    Attributes
    ----------
    gain, offset : float
        By least squares; a flat suspect has gain 0, beside a flat known-good the gain is taken as 1.
    likeness : float
        Correlation coefficient, -1 to 1; 0 where one of them is flat.
    overlap_s : float
        Seconds that both cover.
    """

    gain: float
    offset: float
    likeness: float
    overlap_s: float


def value_fit(suspect: Channel, good: Channel, *, lag_s: float, step_s: float, progress: Progress) -> ValueFit:
    """Fit the suspect's values to the known-good's over the stretch that both cover.

    Parameters
    ----------
    suspect, good : Channel
        Form ``even`` or ``pairs``.
    lag_s : float
        ``t_good = lag_s + t_suspect``.
    step_s : float
        Common step, at least the coarser of the two.
    progress : Progress
        0 to 1.
    """
    start_s = max(suspect.start_s, good.start_s - lag_s)
    overlap_s = max(0.0, min(suspect.stop_s, good.stop_s - lag_s) - start_s)
    if int(overlap_s / step_s) < 2:
        return ValueFit(1.0, 0.0, 0.0, 0.0)
    sums = np.zeros(6)
    levels: tuple[float, float] | None = None
    for a, b in _pieces(suspect, good, start_s, int(overlap_s / step_s), lag_s, step_s, progress):
        # All from the first piece's levels: float32 products of a large offset would hold nothing of a small signal.
        levels = levels or (_level(a), _level(b))
        here = _sums(a, b, levels)
        if not np.isfinite(here).all():
            known = np.isfinite(a) & np.isfinite(b)
            here = _sums(a[known], b[known], levels)
        sums += here
    level_a, level_b = levels or (0.0, 0.0)
    return _from_sums(*sums.tolist(), level_a=level_a, level_b=level_b, overlap_s=overlap_s)


def _pieces(
    suspect: Channel, good: Channel, start_s: float, total: int, lag_s: float, step_s: float, progress: Progress
) -> Iterator[tuple[Wave | Row, Wave | Row]]:
    """Both channels on the common step, piece by piece."""
    assert suspect.step_s is not None
    assert good.step_s is not None
    steps_agree = abs(suspect.step_s / step_s - 1.0) * total < SNAP and abs(good.step_s / step_s - 1.0) * total < SNAP
    if steps_agree:
        yield from _same_steps(suspect, good, lag_s, progress)
        return
    for first in range(0, total, PIECE):
        progress(first / total)
        many = min(PIECE, total - first)
        at_s = start_s + first * step_s
        yield (
            averaged(suspect, step_s=step_s, start_s=at_s, count=many),
            averaged(good, step_s=step_s, start_s=lag_s + at_s, count=many),
        )


def _same_steps(suspect: Channel, good: Channel, lag_s: float, progress: Progress) -> Iterator[tuple[Wave, Wave]]:
    """The suspect's own samples, the known-good's between its samples."""
    assert suspect.step_s is not None
    place = (suspect.start_s + lag_s - good.start_s) / suspect.step_s
    low = round(place) if abs(place - round(place)) < SNAP else math.floor(place)
    share = np.float32(max(0.0, place - low))
    reach = int(share >= SNAP)
    first, last = max(0, -low), min(suspect.intervals, good.intervals - low - reach)
    for start in range(first, last, PIECE):
        progress((start - first) / max(last - first, 1))
        stop = min(start + PIECE, last)
        there = instants(good, start + low, stop + low + reach)
        if reach:
            there = there[:-1] * (1 - share) + there[1:] * share
        yield instants(suspect, start, stop), there


def _level(row: Wave | Row) -> float:
    known = row[np.isfinite(row)]
    return float(known.mean()) if known.size else 0.0


def _sums(a: Wave | Row, b: Wave | Row, levels: tuple[float, float]) -> Row:
    a, b = a - a.dtype.type(levels[0]), b - b.dtype.type(levels[1])
    of_each = [float(np.einsum("i->", row)) for row in (a, b)]
    return np.array([a.size, *of_each, _dot(a, a), _dot(b, b), _dot(a, b)])


def _dot(one: Wave | Row, other: Wave | Row) -> float:
    # Not the @ operator: its threads stand in each other's way where the other core is at work.
    return float(np.einsum("i,i->", one, other))


def _from_sums(
    count: float,
    sum_a: float,
    sum_b: float,
    square_a: float,
    square_b: float,
    both: float,
    *,
    level_a: float,
    level_b: float,
    overlap_s: float,
) -> ValueFit:
    if count < 2:
        return ValueFit(1.0, 0.0, 0.0, overlap_s)
    mean_a, mean_b = level_a + sum_a / count, level_b + sum_b / count
    spread_a, spread_b = square_a - sum_a**2 / count, square_b - sum_b**2 / count
    shared = both - sum_a * sum_b / count
    if spread_b <= FLAT_SHARE * (square_b + count * level_b**2):
        return ValueFit(1.0, mean_a - mean_b, 0.0, overlap_s)
    if spread_a <= FLAT_SHARE * (square_a + count * level_a**2):
        return ValueFit(0.0, mean_a, 0.0, overlap_s)
    gain = shared / spread_b
    likeness = max(-1.0, min(1.0, shared / math.sqrt(spread_a * spread_b)))
    return ValueFit(gain, mean_a - gain * mean_b, likeness, overlap_s)
