"""A fingerprint's spectrum against Welch's as a general-purpose library has it, and its measures against what was put in."""

import numpy as np
import pytest
from scipy import signal as reference

from loomlight.signal.capture import Channel
from loomlight.signal.fingerprint import PLACES, fingerprint
from loomlight.signal.samples import FloatSamples
from loomlight.signal.spectrum_traits import BANDS_AN_OCTAVE, LOWEST_HZ

RATE = 20_000.0


def made(values: np.ndarray, rate: float = RATE) -> Channel:
    return Channel("x", "V", FloatSamples(values), 0.0, 1.0 / rate)


@pytest.mark.outside
@pytest.mark.parametrize("seed", range(4))
def test_the_share_of_each_band_as_welch_has_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    sections = reference.butter(3, rng.uniform(300, 2000, 1)[0], output="sos", fs=RATE)
    values = reference.sosfilt(sections, rng.normal(size=120_000)).astype(np.float32)
    own = fingerprint(made(values)).vector[PLACES["spectrum"]].astype(np.float64) ** 2
    hertz, power = reference.welch(values, RATE, window="hann", nperseg=8192)
    band = np.floor(np.log2(np.maximum(hertz, 1e-9) / LOWEST_HZ) * BANDS_AN_OCTAVE).astype(int)
    inside = band >= 0
    theirs = np.bincount(band[inside], power[inside], own.size)[: own.size]
    theirs /= theirs.sum()
    wide = np.bincount(band[inside], minlength=own.size)[: own.size] >= 12  # narrower bands scatter by themselves
    assert np.abs(own - theirs)[wide].max() < 0.02
    assert np.corrcoef(own[wide], theirs[wide])[0, 1] > 0.98


@pytest.mark.outside
@pytest.mark.parametrize(("hertz", "duty"), [(100.0, 0.3), (437.0, 0.5), (60.0, 0.85)])
def test_period_and_duty_as_put_in(hertz: float, duty: float) -> None:
    at_s = np.arange(60_000) / RATE
    square = reference.square(2 * np.pi * hertz * at_s, duty) + np.random.default_rng(1).normal(0, 0.2, at_s.size)
    vector = fingerprint(made(square)).vector
    half_a_step = hertz / RATE
    assert 2.0 ** vector[PLACES["periods"]][3] == pytest.approx(1.0 / hertz, rel=half_a_step)
    assert vector[PLACES["share"]][0] == pytest.approx(duty, abs=2 * half_a_step + 0.01)
    assert 2.0 ** vector[PLACES["high runs"]][3] == pytest.approx(duty / hertz, rel=3 * half_a_step)
