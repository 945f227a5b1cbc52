"""A coarse lag made exact at the full step, on the liveliest stretches."""

import math
from dataclasses import replace

import numpy as np

from loomlight.signal.candidates import Candidate, highest_between
from loomlight.signal.capture import Channel
from loomlight.signal.correlate import Row
from loomlight.signal.resample import averaged, intervals_on

STRETCHES, STRETCH_POINTS = 8, 32_768
LEAST_REACH = 48


def refined(suspect: Channel, good: Channel, peak: Candidate, *, lively: Row, step_s: float, factor: int) -> Candidate:
    """Correlate the liveliest stretches at the full step, a little to either side of a coarse lag.

    Parameters
    ----------
    suspect, good : Channel
        Form ``even`` or ``pairs``.
    peak : Candidate
        Lag in full steps, between the two channels' first samples.
    lively : ndarray, shape (n,)
        The suspect in coarse points: where it varies is worth correlating.
    step_s : float
        Full step, seconds.
    factor : int
        Full steps a coarse point.

    Returns
    -------
    Candidate
        Lag in full steps, likeness over the stretches.
    """
    reach = max(2 * factor, LEAST_REACH)
    size = min(STRETCH_POINTS, intervals_on(suspect, step_s))
    sums = np.zeros((5, 2 * reach + 1))
    pairs = 0
    near = round(peak.lag)  # whole steps: between equal samples nothing need be interpolated
    for start in _lively_stretches(suspect, good, peak, lively=lively, step_s=step_s, factor=factor, size=size):
        here = averaged(suspect, step_s=step_s, start_s=suspect.start_s + start * step_s, count=size)
        there_s = good.start_s + (near + start - reach) * step_s
        there = averaged(good, step_s=step_s, start_s=there_s, count=size + 2 * reach)
        if np.isfinite(here).any() and np.isfinite(there).any():
            sums += _slid_sums(_filled(here), _filled(there), reach)
            pairs += size
    at, value = highest_between(_pooled(sums, pairs))
    return replace(peak, lag=near + at - reach, value=value)


def _lively_stretches(
    suspect: Channel, good: Channel, peak: Candidate, *, lively: Row, step_s: float, factor: int, size: int
) -> list[int]:
    """Starts, in full steps of the suspect, of the liveliest stretches that both channels cover."""
    total = intervals_on(suspect, step_s)
    low = max(0, math.ceil(-peak.lag))
    high = min(total, math.floor(intervals_on(good, step_s) - peak.lag)) - size
    if high <= low:
        return [max(0, min(low, total - size))]
    starts = np.unique(np.linspace(low, high, 4 * STRETCHES).astype(np.int64))
    livelihood = []
    for start in starts.tolist():
        row = lively[start // factor : (start + size) // factor]
        known = row[np.isfinite(row)]
        livelihood.append(float(known.std()) if known.size else 0.0)
    chosen: list[int] = starts[np.argsort(-np.array(livelihood), kind="stable")[:STRETCHES]].tolist()
    return chosen


def _filled(row: Row) -> Row:
    known = np.isfinite(row)
    return row if known.all() else np.where(known, row, row[known].mean())


def _slid_sums(a: Row, b: Row, reach: int) -> Row:
    """Σa, Σb, Σa², Σb², Σab for each shift of ``a`` along the longer ``b``, each from its stretch's mean."""
    from scipy import fft

    # Taken from each stretch's own mean: a level drifting from stretch to stretch must not count as likeness.
    a, b = a - a.mean(), b - b.mean()
    length = fft.next_fast_len(b.size, real=True)
    # Single precision is ample for one stretch, and takes half the time.
    spectra = [fft.rfft(row.astype(np.float32), length) for row in (a, b)]
    both = fft.irfft(np.conj(spectra[0]) * spectra[1], length)[: 2 * reach + 1]
    running = np.concatenate([[0.0], np.cumsum(b)])
    squares = np.concatenate([[0.0], np.cumsum(b * b)])
    ones = np.ones(2 * reach + 1)
    window = slice(a.size, a.size + 2 * reach + 1)
    return np.stack(
        [
            a.sum() * ones,
            running[window] - running[: 2 * reach + 1],
            np.square(a).sum() * ones,
            squares[window] - squares[: 2 * reach + 1],
            both,
        ]
    )


def _pooled(sums: Row, pairs: int) -> Row:
    many = max(pairs, 1)
    product = (sums[2] - sums[0] ** 2 / many) * (sums[3] - sums[1] ** 2 / many)
    usable = product > 1e-12 * max(float(product.max()), 1e-300)
    values = np.zeros(product.size)
    values[usable] = (sums[4] - sums[0] * sums[1] / many)[usable] / np.sqrt(product[usable])
    return np.clip(values, -1.0, 1.0)
