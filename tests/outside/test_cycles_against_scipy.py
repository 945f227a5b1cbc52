"""Cycle begins against the closed form of scipy's linear chirp, whose phase is known at every moment."""

import numpy as np
import pytest
from scipy import signal

from loomlight.signal.capture import Channel
from loomlight.signal.cycles import find_cycles
from loomlight.signal.samples import FloatSamples


@pytest.mark.parametrize(("first_hz", "last_hz"), [(50.0, 80.0), (120.0, 60.0)])
@pytest.mark.parametrize("noise", [0.0, 0.07])
def test_a_chirps_cycles_begin_where_its_phase_says(first_hz: float, last_hz: float, noise: float) -> None:
    """``scipy.signal.chirp``, linear: f0 t + (f1 - f0) t² / 2 t1 turns; a quarter back, it rises through zero at whole ones."""
    step_s, length_s = 2e-5, 1.0
    times = np.arange(round(length_s / step_s)) * step_s
    values = signal.chirp(times, first_hz, length_s, last_hz, method="linear", phi=-90.0)
    values += np.random.default_rng(2).normal(0, noise, values.size)
    found = find_cycles(Channel("chirp", "V", FloatSamples(values), 0.0, step_s))
    assert found is not None
    begins = found.bounds_s[:, 0]
    turns = first_hz * begins + (last_hz - first_hz) * begins**2 / (2 * length_s)
    assert np.diff(np.round(turns)).tolist() == [1.0] * (begins.size - 1)
    assert found.count >= 0.5 * (first_hz + last_hz) - 2
    off = np.abs(turns - np.round(turns))
    assert off.max() < (0.005 if noise == 0 else 0.03)
