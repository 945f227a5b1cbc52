"""How well two channels lie on each other at a glance: a few thousand points of each, all shifts, no more."""

import numpy as np

from loomlight.signal.coarse import is_flat
from loomlight.signal.correlate import Correlation, Row, correlate
from loomlight.signal.telling_rows import TellingRows

POINTS = 8192
LEAST_OVERLAP, FEWEST_POINTS = 0.4, 16
EXACT = 1e-3
"""Share of the power that is left unlike even between two recordings of one signal without noise."""


def speaks(fit: Row, overlap: Row, power: Row, *, noise: float, whole: float) -> Row:
    """How much a fit speaks for two recordings being of one signal, 0 to 1.

    What is left unlike in the overlap, against what noise alone would leave there; times the root of how much of the
    shorter recording is explained: two quiet ends on each other explain nothing.

    Parameters
    ----------
    fit : ndarray, shape (n,)
        Likeness over the overlap, -1 to 1.
    overlap : ndarray, shape (n,)
        Its share of the shorter recording, 0 to 1.
    power : ndarray, shape (n,)
        The query's variance in the overlap.
    noise : float
        Variance of the query's noise, in the same unit.
    whole : float
        The query's variance over all of it.
    """
    left = (1.0 - np.minimum(fit * fit, 1.0)) * power
    least = noise + EXACT * whole
    explained = np.clip(fit * fit * power * overlap / max(whole - noise, 1e-12 * whole, 1e-300), 0.0, 1.0)
    found: Row = np.minimum(least / np.maximum(left, least), 1.0) * np.sqrt(explained)
    return found


def noise_variance(noise: float, step_s: float, whole: float) -> float:
    """Variance of noise of a density (square of the unit a hertz) at a step; at most a half of the whole."""
    return min(noise / (2.0 * step_s), 0.5 * whole)


def at_step(rows: TellingRows, step_s: float) -> Row:
    """Means over windows of ``step_s``, at least the rows' own; shape (n,)."""
    width = step_s / rows.step_s
    if width <= 1.0:
        return rows.whole
    count = int(rows.whole.size / width + 1e-9)
    bounds = np.arange(count + 1) * width
    running = np.concatenate([[0.0], np.cumsum(rows.whole - rows.whole[0])])
    low = np.minimum(bounds.astype(np.int64), rows.whole.size - 1)
    total = running[low] + (bounds - low) * (running[low + 1] - running[low])
    means: Row = np.diff(total) / width + rows.whole[0]
    return means


def quick_fit(query: TellingRows, entry: TellingRows, noise: float) -> float:
    """How much speaks for the best shift of one over the other, 0 to 1, whichever way up; 0 where there is none.

    Parameters
    ----------
    query, entry : TellingRows
        Of the two channels.
    noise : float
        Density of the query's noise, square of the unit a hertz.
    """
    shorter_s, longer_s = sorted((query.length_s, entry.length_s))
    step_s = max(longer_s / POINTS, query.step_s, entry.step_s)
    if shorter_s / step_s < FEWEST_POINTS:
        return 0.0
    one, other = at_step(query, step_s), at_step(entry, step_s)
    if is_flat(one) or is_flat(other):
        return 0.0
    size = min(one.size, other.size)
    found = correlate(one, other, least_overlap=max(FEWEST_POINTS // 2, int(LEAST_OVERLAP * size)))
    whole = float(one.var())
    said = speaks(
        found.values,
        found.overlap / size,
        _power_along(one, other.size, found),
        noise=noise_variance(noise, step_s, whole),
        whole=whole,
    )
    return float(said.max())


def _power_along(one: Row, size: int, found: Correlation) -> Row:
    """Variance of the first row in the overlap of each lag with one of ``size`` points."""
    begin = np.maximum(0, -found.lags)
    stop = np.minimum(one.size, size - found.lags)
    centred = one - one.mean()
    sums, squares = (np.concatenate([[0.0], np.cumsum(row)]) for row in (centred, centred * centred))
    mean = (sums[stop] - sums[begin]) / found.overlap
    power: Row = np.maximum((squares[stop] - squares[begin]) / found.overlap - mean * mean, 0.0)
    return power
