"""How much speaks for a place where two rows fit: against chance, and against the best other place."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.candidates import MOST_LIKENESS, Candidate
from loomlight.signal.correlate import Correlation, Row

LEAST_INDEPENDENT = 0.5
BEYOND_CHANCE, BEYOND_RIVAL = 9.0, 8.0
"""Logarithms of odds at the bar; set by the calibration (tests/signal/line_up_calibration.md)."""
BAR = 0.4
"""Sureness at the bar."""
ABOVE_NOISE, NOISE_SHARE = 3.0, 0.2
"""A bin belongs to the signal from three times the level on that a fifth of the bins stay below."""


@dataclass(frozen=True)
class Evidence:
    """What speaks for the best place.

    Attributes
    ----------
    beyond_chance : float
        Logarithm of the odds against unrelated rows of these spectra coming out as alike anywhere among the places tried.
    beyond_rival : float
        Logarithm of the odds against the best other place.
    chance : float
        Likeness that unrelated rows would reach somewhere, 0 to 1.
    rival : float
        Likeness at the best other place; 0 where there is none.
    in_band : float
        Likeness where the overlap's spectra stand above their noise.
    """

    beyond_chance: float
    beyond_rival: float
    chance: float
    rival: float
    in_band: float

    @property
    def sureness(self) -> float:
        """0 to 1; 0.4 at the bar."""
        # Signals of one kind are half alike by nature (every frame has its break and sync): what leaves much of the signal
        # unexplained has to stand up to twice as far above chance.
        bar = BEYOND_CHANCE * (2.0 - self.in_band**2)
        against_chance = max(0.0, min(BAR * self.beyond_chance / bar, 1.0))
        return min(against_chance, self.sureness_against_rival)

    @property
    def sureness_against_rival(self) -> float:
        """The same, leaving chance aside."""
        return max(0.0, min(BAR * self.beyond_rival / BEYOND_RIVAL, 1.0))


def evidence_of(
    found: Correlation,
    one: Row,
    other: Row,
    best: Candidate,
    rival: Candidate | None,
    *,
    coarse: Candidate,
    tries: float,
) -> Evidence:
    """Weigh a place.

    Parameters
    ----------
    found : Correlation
        Of the two rows.
    one, other : ndarray, shape (n,) and (m,)
        At the same step.
    best, rival : Candidate
        As they are told apart: both at the coarse step, or both at the full one.
    coarse : Candidate
        The best at the coarse step.
    tries : float
        By how many the number of places is to be multiplied: the rates that were tried.

    Notes
    -----
    n independent pairs of correlation r are exp(-n/2 · ln(1 - r²)) times likelier as related than as unrelated (Wilks 1938);
    the more places were tried, the more of that is luck. Against chance, r is taken where the spectra of the overlap stand
    above their noise, and n is what unrelated rows of the overlap's spectra come to there (Bartlett 1935): one break and
    sync on another, with little else in the overlap, is a few points and no more. A rival is told from the best by what is
    left over at the best place: white where the rest is noise, and as slow as the rows where they only happen to be alike.
    """
    lag = round(coarse.lag)
    begin, stop = max(0, -lag), min(one.size, other.size - lag)
    a, b = _centred(one[begin:stop]), _centred(other[begin + lag : stop + lag])
    likeness, independent, left_over = _overlap_of(a, b)
    places = max(tries * int((found.overlap > 0).sum()) * found.independent, 2.0)
    pairs = max(a.size * min(independent, found.independent) * _carried(a, b) - 3.0, LEAST_INDEPENDENT)
    share = max(found.independent, left_over)
    against = rival.evidence(share) if rival is not None else 0.0
    return Evidence(
        beyond_chance=-0.5 * pairs * math.log1p(-(min(likeness, MOST_LIKENESS) ** 2)) - math.log(places),
        beyond_rival=best.evidence(share) - against,
        chance=min(0.999, math.sqrt(-math.expm1(-2.0 * math.log(places) / pairs))),
        rival=abs(rival.value) if rival is not None else 0.0,
        in_band=likeness,
    )


def _centred(row: Row) -> Row:
    known = np.isfinite(row)
    centred: Row = np.where(known, row - (row[known].mean() if known.any() else 0.0), 0.0)
    return centred


def _carried(a: Row, b: Row) -> float:
    """Share of the overlap that carries the likeness, 0 to 1: a single burst laid on a single burst is little evidence.

    The participation ratio of the products, against a third, which is what a normal signal on itself has.
    """
    products = np.abs(a * b)
    squares = float(np.einsum("i,i->", products, products))
    return min(1.0, 3.0 * float(products.sum()) ** 2 / (squares * products.size)) if squares > 0 else 1.0


def _overlap_of(a: Row, b: Row) -> tuple[float, float, float]:
    """Likeness in the band of the signal, share of independent points there, and such a share of what is left over."""
    from scipy import fft

    length = fft.next_fast_len(a.size, real=True)
    first, second = (fft.rfft(row.astype(np.float32), length).astype(np.complex64) for row in (a, b))
    power_a, power_b = _power(first), _power(second)
    inside = _band(power_a, power_b)
    both = float((first.real * second.real + first.imag * second.imag)[inside].sum())
    energy_a, energy_b = float(power_a[inside].sum()), float(power_b[inside].sum())
    if energy_a <= 0 or energy_b <= 0:
        return 0.0, 1.0, 1.0
    # Each bin but the ends stands for two of the length's.
    independent = 2.0 * energy_a * energy_b / (length * float((power_a * power_b)[inside].sum()))
    gain = float((first.real * second.real + first.imag * second.imag).sum()) / max(float(power_b.sum()), 1e-300)
    rest = _power((first - np.complex64(gain) * second).astype(np.complex64))
    # A single row's bins scatter by their own mean, so their squares come out twice as large.
    left_over = 2.0 * float(rest.sum()) ** 2 / max(rest.size * float((rest * rest).sum()), 1e-300)
    return min(abs(both) / math.sqrt(energy_a * energy_b), 1.0), min(independent, 1.0), min(left_over, 1.0)


def _power(spectrum: npt.NDArray[np.complex64]) -> Row:
    power: Row = spectrum.real.astype(np.float64) ** 2 + spectrum.imag.astype(np.float64) ** 2
    return power


def _band(power_a: Row, power_b: Row) -> npt.NDArray[np.bool_]:
    """Bins where both stand above their noise; all of them where that would leave out half the power."""
    half = power_a.size // 400 + 1
    smooth = np.sqrt(_running(power_a, half) * _running(power_b, half))
    inside = smooth > ABOVE_NOISE * float(np.quantile(smooth, NOISE_SHARE))
    return inside if smooth[inside].sum() >= 0.5 * smooth.sum() else np.ones_like(inside)


def _running(row: Row, half: int) -> Row:
    """Mean over ``half`` neighbours to either side."""
    total = np.concatenate([[0.0], np.cumsum(row)])
    at = np.arange(row.size)
    low, high = np.maximum(at - half, 0), np.minimum(at + half + 1, row.size)
    mean: Row = np.maximum(total[high] - total[low], 0.0) / (high - low)
    return mean
