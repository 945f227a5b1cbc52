"""Gain, offset and likeness of two channels laid on each other at a known lag."""

import math
from dataclasses import dataclass

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.correlate import Row
from loomlight.signal.progress import Progress
from loomlight.signal.resample import PIECE, averaged

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
    total = int(overlap_s / step_s)
    if total < 2:
        return ValueFit(1.0, 0.0, 0.0, 0.0)
    sums = np.zeros(6)
    for first in range(0, total, PIECE):
        progress(first / total)
        many = min(PIECE, total - first)
        at_s = start_s + first * step_s
        a = averaged(suspect, step_s=step_s, start_s=at_s, count=many)
        b = averaged(good, step_s=step_s, start_s=at_s + lag_s, count=many)
        known = np.isfinite(a) & np.isfinite(b)
        if not known.all():
            a, b = a[known], b[known]
        sums += [a.size, a.sum(), b.sum(), _dot(a, a), _dot(b, b), _dot(a, b)]
    return _from_sums(*sums.tolist(), overlap_s=overlap_s)


def _dot(one: Row, other: Row) -> float:
    # Not the @ operator: its threads stand in each other's way where the other core is at work.
    return float(np.einsum("i,i->", one, other))


def _from_sums(
    count: float, sum_a: float, sum_b: float, square_a: float, square_b: float, both: float, *, overlap_s: float
) -> ValueFit:
    if count < 2:
        return ValueFit(1.0, 0.0, 0.0, overlap_s)
    spread_a, spread_b = square_a - sum_a**2 / count, square_b - sum_b**2 / count
    shared = both - sum_a * sum_b / count
    if spread_b <= FLAT_SHARE * square_b:
        return ValueFit(1.0, (sum_a - sum_b) / count, 0.0, overlap_s)
    if spread_a <= FLAT_SHARE * square_a:
        return ValueFit(0.0, sum_a / count, 0.0, overlap_s)
    gain = shared / spread_b
    likeness = max(-1.0, min(1.0, shared / math.sqrt(spread_a * spread_b)))
    return ValueFit(gain, (sum_a - gain * sum_b) / count, likeness, overlap_s)
