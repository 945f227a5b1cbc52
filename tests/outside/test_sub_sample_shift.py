"""Fractions of a sample against scikit-image's phase correlation, and on an open record.

skimage.registration.phase_cross_correlation: Guizar-Sicairos, Thurman and Fienup, "Efficient subpixel image registration
algorithms", Optics Letters 33 (2008). The record is the electrocardiogram that PyWavelets ships, ``pywt.data.ecg()``.
"""

import numpy as np
import pytest
import pywt.data
from skimage.registration import phase_cross_correlation

from loomlight.signal.align import line_up
from loomlight.signal.capture import Channel
from loomlight.signal.samples import FloatSamples

pytestmark = pytest.mark.outside

UPSAMPLED = 200


def channel(values: np.ndarray, *, step_s: float = 1.0) -> Channel:
    return Channel("x", "V", FloatSamples(values), 0.0, step_s)


def delayed(row: np.ndarray, late: float) -> np.ndarray:
    """The whole row later by any fraction, round its ends: exact for a band-limited one."""
    frequency = np.fft.rfftfreq(row.size)
    return np.fft.irfft(np.fft.rfft(row) * np.exp(-2j * np.pi * frequency * late), row.size)


def smooth(rng: np.random.Generator, count: int, bandwidth: float) -> np.ndarray:
    spectrum = np.fft.rfft(rng.normal(size=count))
    spectrum[np.fft.rfftfreq(count) > bandwidth] = 0
    return np.fft.irfft(spectrum, count)


@pytest.mark.parametrize("late", [0.37, -3.62, 17.5, 0.005])
@pytest.mark.parametrize("bandwidth", [0.1, 0.3])
def test_same_fraction_as_phase_correlation(late: float, bandwidth: float) -> None:
    rng = np.random.default_rng(int(1000 * abs(late)))
    clean = smooth(rng, 20_000, bandwidth)
    noise = 0.1 * clean.std()
    one = clean + rng.normal(0, noise, clean.size)
    other = delayed(clean, late) + rng.normal(0, noise, clean.size)
    shift, _, _ = phase_cross_correlation(other, one, upsample_factor=UPSAMPLED, normalization=None)
    found = line_up(channel(one), channel(other)).lag_s
    assert found == pytest.approx(float(shift[0]), abs=1.0 / UPSAMPLED + 0.01)
    assert found == pytest.approx(late, abs=0.01)


def test_an_open_record_shifted_by_a_fraction() -> None:
    record = pywt.data.ecg().astype(np.float64)
    record -= record.mean()
    tapered = record * np.hanning(record.size)
    rng = np.random.default_rng(5)
    noise = 0.02 * tapered.std()
    one = tapered + rng.normal(0, noise, tapered.size)
    other = delayed(tapered, 12.4) + rng.normal(0, noise, tapered.size)
    shift, _, _ = phase_cross_correlation(other, one, upsample_factor=UPSAMPLED, normalization=None)
    found = line_up(channel(one), channel(other))
    # Three beats are too few to swear by, so it may be refused; the place is right all the same.
    assert found.fit > 0.99
    assert found.lag_s == pytest.approx(12.4, abs=0.1)
    assert found.lag_s == pytest.approx(float(shift[0]), abs=0.1)
