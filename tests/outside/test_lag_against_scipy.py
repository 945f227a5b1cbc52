"""Lags against scipy.signal.correlate and correlation_lags (SciPy reference guide)."""

import numpy as np
import pytest
from scipy import signal as reference

from loomlight.signal.align import line_up
from loomlight.signal.capture import Channel
from loomlight.signal.correlate import correlate
from loomlight.signal.samples import FloatSamples

pytestmark = pytest.mark.outside


def channel(values: np.ndarray, *, start_s: float = 0.0, step_s: float = 1.0) -> Channel:
    return Channel("x", "V", FloatSamples(values), start_s, step_s)


@pytest.mark.parametrize(("n", "m"), [(400, 400), (401, 400), (400, 401), (333, 1200), (1200, 333)])
def test_same_lag_as_scipy(n: int, m: int) -> None:
    rng = np.random.default_rng(n * m)
    base = rng.normal(size=3000)
    one, other = base[500 : 500 + n], base[430 : 430 + m] + rng.normal(0, 0.1, m)
    raw = reference.correlate(other - other.mean(), one - one.mean(), method="fft")
    wanted = reference.correlation_lags(m, n)[np.argmax(np.abs(raw))]
    found = line_up(channel(one), channel(other))
    assert wanted == 70
    assert found.lag_s == pytest.approx(wanted, abs=0.1)
    assert found.accepted


def test_every_lag_is_normalised_as_numpy_would() -> None:
    rng = np.random.default_rng(5)
    one, other = rng.normal(size=37), rng.normal(size=52)
    found = correlate(one, other, least_overlap=3)
    for lag, value, overlap in zip(found.lags, found.values, found.overlap, strict=True):
        begin, stop = max(0, -lag), min(one.size, other.size - lag)
        assert overlap == stop - begin
        if overlap >= 3:
            wanted = np.corrcoef(one[begin:stop], other[begin + lag : stop + lag])[0, 1]
            assert value == pytest.approx(wanted, abs=1e-9)
        else:
            assert value == 0


def test_fraction_of_a_sample_against_a_delay_made_in_the_spectrum() -> None:
    rng = np.random.default_rng(11)
    spectrum = np.fft.rfft(rng.normal(size=20_000))
    frequency = np.fft.rfftfreq(20_000)
    spectrum[frequency > 0.2] = 0
    clean = np.fft.irfft(spectrum)
    errors = []
    for delay in rng.uniform(-30, 30, 12):
        late = np.fft.irfft(spectrum * np.exp(-2j * np.pi * frequency * delay))
        noise = clean.std() / 10  # 20 dB
        one = clean[1000:-1000] + rng.normal(0, noise, 18_000)
        other = late[1000:-1000] + rng.normal(0, noise, 18_000)
        errors.append(line_up(channel(one), channel(other)).lag_s - delay)
    assert np.sqrt(np.mean(np.square(errors))) < 0.01
