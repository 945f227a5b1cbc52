"""Traits of a signal that do not depend on when it was begun: its power by frequency, and its likeness with itself later."""

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.telling_rows import Row, TellingRows

LOWEST_HZ, HIGHEST_HZ, BANDS_AN_OCTAVE = 0.1, 2e7, 4
BANDS = math.ceil(math.log2(HIGHEST_HZ / LOWEST_HZ) * BANDS_AN_OCTAVE)
SHORTEST_S, LONGEST_S, LAGS_AN_OCTAVE = 5e-7, 20.0, 6
LAGS = math.ceil(math.log2(LONGEST_S / SHORTEST_S) * LAGS_AN_OCTAVE)
LAGS_S = SHORTEST_S * 2.0 ** (np.arange(LAGS) / LAGS_AN_OCTAVE)
CORNERS = (0.1, 0.25, 0.5, 0.75, 0.9)
"""Shares of the power below the frequencies that are told."""
FLOOR_SHARE = 0.3
"""The noise is taken from what so many of the upper half's pieces stay below."""
MOST_OF_WHOLE = 0.35
"""Share of its sample rate up to which a row of means tells the spectrum."""


@dataclass(frozen=True, eq=False)
class Power:
    """Power by frequency, without what is noise.

    Attributes
    ----------
    hertz : ndarray of float64, shape (n,)
        Ascending.
    power : ndarray of float64, shape (n,)
        Square of the unit a bin; what noise would give is taken off, at least 0.
    deviation : ndarray of float64, shape (n,)
        How much noise makes ``power`` scatter.
    noise : float
        Density of the noise, square of the unit a hertz.
    in_whole : float
        Share of the power that the row of means shows, 0 to 1.
    """

    hertz: Row = field(repr=False)
    power: Row = field(repr=False)
    deviation: Row = field(repr=False)
    noise: float
    in_whole: float

    @property
    def total(self) -> float:
        """Square of the unit."""
        return float(self.power.sum())

    def corner_hz(self, share: float) -> float:
        """Frequency below which that share of the power lies; 0 where there is none."""
        running = np.cumsum(self.power)
        if running[-1] <= 0:
            return 0.0
        place = int(np.searchsorted(running, share * running[-1]))
        return float(self.hertz[min(place, self.hertz.size - 1)])


def power_of(rows: TellingRows) -> Power:
    """Spectrum of the whole and, where that has means only, of the pieces above it.

    Notes
    -----
    Periodograms under a Hann window, averaged over the pieces (Welch 1967).
    """
    hertz, power = _periodogram((rows.whole,), rows.step_s)
    if rows.factor == 1:
        return _without_noise(hertz, power, noise=_floor(hertz, power), in_whole=1.0)
    fine_hz, fine = _periodogram(rows.pieces, rows.fine_step_s)
    noise = _floor(fine_hz, fine)
    top_hz = MOST_OF_WHOLE / rows.step_s
    low, high = hertz <= top_hz, fine_hz > top_hz
    both = np.concatenate([hertz[low], fine_hz[high]]), np.concatenate([power[low], fine[high]])
    found = _without_noise(*both, noise=noise, in_whole=1.0)
    shown = float(found.power[: int(low.sum())].sum()) / found.total if found.total > 0 else 1.0
    return _without_noise(*both, noise=noise, in_whole=shown)


def _periodogram(parts: tuple[Row, ...], step_s: float) -> tuple[Row, Row]:
    """Frequencies and mean power a bin, from the second bin on: the first hold the level and its drift."""
    from scipy import fft

    size = min(part.size for part in parts)
    length = fft.next_fast_len(size, real=True)
    window = np.hanning(size)
    scale = 2.0 / (float(np.square(window).sum()) * length)
    total = np.zeros(length // 2 + 1)
    for part in parts:
        row = part[:size]
        found = fft.rfft((row - row.mean()) * window, length)
        total += scale * (found.real**2 + found.imag**2)
    hertz = np.arange(total.size) / (length * step_s)
    kept = hertz > 2.0 / (size * step_s)
    return hertz[kept], total[kept] / len(parts)


def _floor(hertz: Row, power: Row) -> float:
    """Density of what is alike at all frequencies of the upper half."""
    width = max(8, power.size // 256)
    count = power.size // width
    if count < 4:
        return 0.0
    means = power[: count * width].reshape(count, width).mean(axis=1)
    return float(np.quantile(means[count // 2 :], FLOOR_SHARE)) / _bin_hz(hertz)


def _bin_hz(hertz: Row) -> float:
    return float(hertz[1] - hertz[0]) if hertz.size > 1 else 1.0


def _without_noise(hertz: Row, power: Row, *, noise: float, in_whole: float) -> Power:
    widths = np.diff(hertz, append=2 * hertz[-1] - hertz[-2]) if hertz.size > 1 else np.ones(hertz.size)
    by_noise = noise * widths
    return Power(hertz, np.maximum(power - by_noise, 0.0), by_noise, noise, in_whole)


def spectrum_traits(power: Power) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Root of each band's share of the power, and the corner frequencies as powers of two.

    Returns
    -------
    spectrum : ndarray, shape (BANDS,)
        Sums of squares to 1 at most.
    corners : ndarray, shape (5,)
    """
    band = np.floor(np.log2(power.hertz / LOWEST_HZ) * BANDS_AN_OCTAVE).astype(np.int64)
    inside = (band >= 0) & (band < BANDS)
    sums = np.bincount(band[inside], power.power[inside], BANDS)
    scatter = np.sqrt(np.bincount(band[inside], power.deviation[inside] ** 2, BANDS))
    sums = np.maximum(sums - 2.0 * scatter, 0.0)
    corners = np.log2(np.maximum([power.corner_hz(share) for share in CORNERS], 1e-6))
    return np.sqrt(sums / max(float(sums.sum()), 1e-300)), corners


def correlation_traits(rows: TellingRows, power: Power) -> npt.NDArray[np.float64]:
    """Likeness of the signal with itself after each of a row of lags; not-a-number where the recording does not tell.

    Short lags come from the pieces where the whole has means only.
    """
    found = np.full(LAGS, np.nan)
    sources: list[tuple[tuple[Row, ...], float]] = [((rows.whole,), rows.step_s)]
    if rows.factor > 1:
        sources.append((rows.pieces, rows.fine_step_s))
    for parts, step_s in sources:
        own = _self_likeness(parts, power.noise / step_s / 2.0)
        lags = LAGS_S / step_s
        tells = (lags >= 2) & (lags < own.size - 1)
        if found.any() and rows.factor > 1 and parts is rows.pieces:
            tells &= ~np.isfinite(found) | (power.in_whole < 0.5)
        low = lags[tells].astype(np.int64)
        share = lags[tells] - low
        found[tells] = np.clip(own[low] * (1.0 - share) + own[low + 1] * share, -1.0, 1.0)
    return found


def _self_likeness(parts: tuple[Row, ...], noise: float) -> Row:
    """For lags up to a third of the shortest part, in points; ``noise`` is the variance that it adds at lag 0."""
    from scipy import fft

    size = min(part.size for part in parts)
    length = fft.next_fast_len(size + size // 3 + 1, real=True)
    total = np.zeros(size // 3)
    for part in parts:
        found = fft.rfft(part[:size] - part[:size].mean(), length)
        total += fft.irfft(found.real**2 + found.imag**2, length)[: total.size]
    if not total.size:
        return total
    total /= size - np.arange(total.size)
    own = max(total[0] - len(parts) * noise, 0.3 * total[0])
    return total / own if own > 0 else np.zeros(total.size)
