"""Delay to a fraction of a sample against the bound of Knapp and Carter, any two steps, clocks that run off."""

import numpy as np
import pytest

from loomlight.signal.align import line_up
from loomlight.signal.capture import Channel
from loomlight.signal.phase_slope import Delay, delay_between
from loomlight.signal.progress import unwatched
from loomlight.signal.samples import CountSamples, FloatSamples

SEED = 1976
COUNT = 10_000


def channel(values: np.ndarray, *, start_s: float = 0.0, step_s: float = 1.0) -> Channel:
    return Channel("x", "V", FloatSamples(values), start_s, step_s)


def delay(suspect: Channel, good: Channel, lag_s: float = 0.0, polarity: int = 1) -> Delay:
    found = delay_between(suspect, good, lag_s=lag_s, polarity=polarity, progress=unwatched)
    assert found is not None
    return found


class Noisy:
    """Two noisy looks at noise of one spectrum, the second later, and the bound on the delay's deviation.

    Knapp and Carter, "The generalized correlation method for estimation of time delay", IEEE Trans. ASSP 24 (1976): the
    variance is at least 1 / (2 T ∫ (2πf)² γ²/(1 - γ²) df), the integral from 0 to half the sample rate.
    """

    def __init__(self, bandwidth: float, slope: float, snr_db: float = 20.0, count: int = COUNT) -> None:
        self._frequency = np.fft.rfftfreq(4 * count)
        shape = np.where(self._frequency <= bandwidth, np.maximum(self._frequency, 1e-3) ** -slope, 0.0)
        shape[0] = 0.0
        self._density = shape / shape.mean()  # mean power 1 a sample
        self._noise, self._count = 10 ** (-snr_db / 20), count
        coherence = (self._density / (self._density + self._noise**2)) ** 2
        turns = 2 * np.pi * self._frequency
        integral = np.trapezoid(turns**2 * coherence / (1 - coherence), self._frequency)
        self.bound = 1.0 / np.sqrt(2 * count * integral)

    def pair(self, rng: np.random.Generator, late: float) -> tuple[Channel, Channel]:
        size = 2 * (self._frequency.size - 1)
        random = rng.normal(size=self._frequency.size) + 1j * rng.normal(size=self._frequency.size)
        spectrum = random * np.sqrt(self._density * size / 2)
        middle = slice(size // 2 - self._count // 2, size // 2 + self._count // 2)
        rows = [np.fft.irfft(spectrum * np.exp(-2j * np.pi * self._frequency * by))[middle] for by in (0.0, late)]
        noise = rng.normal(0, self._noise, (2, self._count))
        return channel(rows[0] + noise[0]), channel(rows[1] + noise[1])


def root_mean_square_error(made: Noisy, trials: int, seed: int = SEED) -> float:
    rng = np.random.default_rng(seed)
    errors = []
    for late in rng.uniform(-20, 20, trials):
        suspect, good = made.pair(rng, late)
        errors.append(line_up(suspect, good).lag_s - late)
    return float(np.sqrt(np.mean(np.square(errors))))


SPECTRA = [(0.05, 0.0), (0.1, 0.0), (0.25, 0.0), (0.45, 0.0), (0.25, 1.0), (0.45, 2.0)]


@pytest.mark.parametrize(("bandwidth", "slope"), SPECTRA)
def test_error_against_the_bound_seeded_tenth(bandwidth: float, slope: float) -> None:
    made = Noisy(bandwidth, slope)
    error = root_mean_square_error(made, 100)
    assert error <= 0.05
    # A hundred trials know their root mean square to about 7 %; three such deviations are granted.
    assert error <= 1.5 * 1.2 * made.bound


@pytest.mark.long
@pytest.mark.parametrize(("bandwidth", "slope"), SPECTRA)
def test_error_against_the_bound_full(bandwidth: float, slope: float) -> None:
    made = Noisy(bandwidth, slope)
    error = root_mean_square_error(made, 1000, SEED + 1)
    assert error <= 0.05
    assert error <= 1.5 * made.bound


def test_the_deviation_that_is_told_is_the_one_that_is_met() -> None:
    made, rng = Noisy(0.2, 0.0), np.random.default_rng(SEED + 2)
    errors, told = [], []
    for late in rng.uniform(-0.4, 0.4, 60):
        found = delay(*made.pair(rng, late))
        errors.append(found.late_s - late)
        told.append(found.deviation_s)
    assert np.std(errors) == pytest.approx(np.mean(told), rel=0.3)
    assert np.mean(told) == pytest.approx(made.bound, rel=0.15)


@pytest.mark.parametrize("ratio", [1.0, 2.0, 0.4, np.pi, np.sqrt(2), 1.01, 25.0, 1 / 30])
def test_any_two_steps_without_interpolation(ratio: float) -> None:
    rng = np.random.default_rng(7)
    # Dense enough that each bin holds many: single lines would lend their phase to the bins beside them.
    tones = rng.uniform(0.002, 0.12, 500) / max(ratio, 1.0)
    amplitudes, phases = rng.normal(size=500), rng.uniform(0, 2 * np.pi, 500)

    def wave(times: np.ndarray) -> np.ndarray:
        total = np.zeros(times.size)
        for tone, amplitude, phase in zip(tones, amplitudes, phases, strict=True):
            total += amplitude * np.sin(2 * np.pi * tone * times + phase)
        return total

    span = 12_000 * max(ratio, 1.0)
    suspect = channel(wave(np.arange(0, span, 1.0) + 5.3))
    good = channel(wave(np.arange(0, span, ratio)), step_s=ratio)
    found = delay(suspect, good, lag_s=5.0)
    assert found.late_s == pytest.approx(0.3, abs=0.02 * max(ratio, 1.0))
    assert found.drift == 0.0


def test_upside_down_and_counts() -> None:
    rng = np.random.default_rng(8)
    suspect, good = Noisy(0.2, 0.0).pair(rng, 0.25)
    counts = np.round(-100 * suspect.samples.block(0, COUNT)).astype(np.int16)
    inverted = Channel("x", "V", CountSamples(counts, scale=0.01, offset=4000.0), 0.0, 1.0)
    assert delay(inverted, good, polarity=-1).late_s == pytest.approx(0.25, abs=0.01)


def test_a_clock_that_runs_off_is_told_and_the_same_clock_is_not() -> None:
    rng = np.random.default_rng(9)
    base = np.repeat(rng.normal(size=3000), 20)
    at = np.arange(50_000) * (1 + 2e-4)
    suspect = np.interp(at, np.arange(base.size), base) + rng.normal(0, 0.05, at.size)
    middle = 25_000
    found = delay(channel(suspect), channel(base), lag_s=middle * 2e-4)
    assert found.drift == pytest.approx(2e-4, rel=0.02)
    steady = delay(channel(base[:50_000] + rng.normal(0, 0.05, 50_000)), channel(base))
    assert steady.drift == 0.0


def test_nothing_in_common_and_too_short_give_none() -> None:
    rng = np.random.default_rng(10)
    one, other = channel(rng.normal(size=20_000)), channel(rng.normal(size=20_000))
    assert delay_between(one, other, lag_s=0.0, polarity=1, progress=unwatched) is None
    short = channel(rng.normal(size=300))
    assert delay_between(short, short, lag_s=0.0, polarity=1, progress=unwatched) is None
    assert delay_between(one, other, lag_s=50_000.0, polarity=1, progress=unwatched) is None


def test_gaps_do_not_spoil_it() -> None:
    rng = np.random.default_rng(11)
    made = Noisy(0.1, 0.0)
    suspect, good = made.pair(rng, 0.3)
    holed = suspect.samples.block(0, COUNT).copy()
    holed[3000:4200] = np.nan
    assert delay(channel(holed), good).late_s == pytest.approx(0.3, abs=10 * made.bound)
