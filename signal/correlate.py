"""Normalised cross-correlation at every lag, each normalised over its own overlap."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Row = npt.NDArray[np.float64]
Spectrum = npt.NDArray[np.complex128]

FLAT_SHARE = 1e-6
"""An overlap whose variance is below this share of the whole's is flat: its correlation is 0, not 0/0."""

DOUBLE_TO = 65_536
"""Points up to which the transform is in double precision; beyond, single is good to a millionth of the whole."""


@dataclass(frozen=True, eq=False)
class Correlation:
    """Likeness of two rows at every lag.

    Attributes
    ----------
    lags : ndarray of int64, shape (n + m - 1,)
        ``one[i]`` is laid over ``other[i + lag]``.
    values : ndarray of float64
        -1 to 1 over each lag's own overlap; 0 where the overlap is too short or flat.
    overlap : ndarray of int64
        Number of pairs at each lag.
    independent : float
        Share of the pairs that count as independent for unrelated rows of the same spectra, 0 to 1.
    """

    lags: npt.NDArray[np.int64]
    values: Row
    overlap: npt.NDArray[np.int64]
    independent: float


def correlate(one: Row, other: Row, *, least_overlap: int) -> Correlation:
    """Normalised cross-correlation of two rows.

    Parameters
    ----------
    one, other : ndarray, shape (n,) and (m,)
        Evenly spaced at the same step; not-a-number counts as the row's mean.
    least_overlap : int
        Lags with fewer pairs give 0.

    Returns
    -------
    Correlation
        ``lags[k] = k - (n - 1)``.

    Notes
    -----
    r(d) = (Σab − ΣaΣb/L) / √((Σa² − (Σa)²/L)(Σb² − (Σb)²/L)) over the L pairs of lag d, the sums by running totals and Σab
    by FFT. For unrelated rows the variance of r is Σ ρ_a ρ_b / L (Bartlett 1935), which gives ``independent``.
    """
    from scipy import fft

    one, other = _centred(one), _centred(other)
    n, m = one.size, other.size
    length = fft.next_fast_len(n + m - 1, real=True)
    single = n + m > DOUBLE_TO
    first, second = (fft.rfft(row.astype(np.float32) if single else row, length) for row in (one, other))
    cross = np.roll(fft.irfft(np.conj(first) * second, length), n - 1)[: n + m - 1]
    lags = np.arange(-(n - 1), m)
    begin, stop = np.maximum(0, -lags), np.minimum(n, m - lags)
    overlap = stop - begin
    sums_a, squares_a = _over(one, begin, stop)
    sums_b, squares_b = _over(other, begin + lags, stop + lags)
    spread_a = squares_a - sums_a**2 / overlap
    spread_b = squares_b - sums_b**2 / overlap
    flat_a, flat_b = (FLAT_SHARE * max(float(np.square(row).sum()) / row.size, 1e-300) for row in (one, other))
    usable = (overlap >= least_overlap) & (spread_a > flat_a * overlap) & (spread_b > flat_b * overlap)
    values = np.zeros(lags.size)
    values[usable] = (cross - sums_a * sums_b / overlap)[usable] / np.sqrt((spread_a * spread_b)[usable])
    return Correlation(lags, np.clip(values, -1.0, 1.0), overlap, _independent(first, second, length))


def _centred(row: Row) -> Row:
    known = np.isfinite(row)
    if not known.any():
        return np.zeros(row.size)
    centred: Row = np.where(known, row - row[known].mean(), 0.0)
    return centred


def _over(row: Row, begin: npt.NDArray[np.int64], stop: npt.NDArray[np.int64]) -> tuple[Row, Row]:
    """Sum and sum of squares of each stretch."""
    running = np.concatenate([[0.0], np.cumsum(row)])
    squares = np.concatenate([[0.0], np.cumsum(row * row)])
    return running[stop] - running[begin], squares[stop] - squares[begin]


def _independent(first: Spectrum, second: Spectrum, length: int) -> float:
    power_a, power_b = np.abs(first) ** 2, np.abs(second) ** 2
    # Both halves of the spectrum: every bin but the first (and, for even lengths, the last) stands twice.
    weights = np.full(power_a.size, 2.0)
    weights[0] = 1.0
    if length % 2 == 0:
        weights[-1] = 1.0
    both = float((weights * power_a * power_b).sum())
    if both <= 0:
        return 1.0
    whole = float((weights * power_a).sum()) * float((weights * power_b).sum())
    return min(1.0, whole / (length * both))


def matches(pattern: Row, record: Row, *, least_fit: float) -> list[tuple[int, float]]:
    """All places in a record where a pattern fits, best first.

    Parameters
    ----------
    pattern, record : ndarray, shape (n,) and (m,), n <= m
        At the same step.
    least_fit : float
        0 to 1.

    Returns
    -------
    list of (int, float)
        Index of the pattern's first value in the record, and the fit there; places closer than half a pattern to a
        better one are left out.
    """
    found = correlate(pattern, record, least_overlap=pattern.size)
    inside = (found.lags >= 0) & (found.lags <= record.size - pattern.size)
    lags, values = found.lags[inside], found.values[inside]
    picked: list[tuple[int, float]] = []
    for place in np.argsort(-values, kind="stable"):
        if values[place] < least_fit:
            break
        if all(abs(int(lags[place]) - other) >= pattern.size // 2 for other, _ in picked):
            picked.append((int(lags[place]), float(values[place])))
    return picked


def peak_between(values: Row, place: int) -> tuple[float, float]:
    """Where between the points a peak stands, and its height: windowed-sinc interpolation, then a parabola.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Band-limited.
    place : int
        Index of the largest point.

    Returns
    -------
    offset, height : float
        Offset from ``place`` in points, -1 to 1.
    """
    reach, fine = 16, 16
    if place < reach + 1 or place > values.size - reach - 2:
        return _parabola(values, place, 1.0)
    offsets = np.arange(-fine, fine + 1) / fine
    taps = np.arange(-reach, reach + 1)
    distance = offsets[:, None] - taps[None, :]
    window = np.where(np.abs(distance) <= reach, np.cos(0.5 * np.pi * np.clip(distance / reach, -1, 1)) ** 2, 0.0)
    dense = (np.sinc(distance) * window) @ values[place - reach : place + reach + 1]
    best = int(np.argmax(dense))
    shift, height = _parabola(dense, best, 1.0 / fine)
    return float(offsets[best]) + shift, height


def _parabola(values: Row, place: int, step: float) -> tuple[float, float]:
    if not 0 < place < values.size - 1:
        return 0.0, float(values[place])
    before, at, after = (float(one) for one in values[place - 1 : place + 2])
    bend = before - 2 * at + after
    if bend >= 0:
        return 0.0, at
    shift = 0.5 * (before - after) / bend
    return shift * step, at - 0.25 * (before - after) * shift
