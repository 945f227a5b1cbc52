"""Transitions whose 10 %, 50 % and 90 % instants are known exactly: a ramp and a one-pole step.

IEEE Std 181-2011, "Transitions, Pulses, and Related Waveforms" (from memory): state levels by the histogram's modes, the
transition duration between the 10 % and 90 % reference level instants, the duty factor at the 50 % reference level.
A one-pole step passes from 10 % to 90 % in ln 9 time constants, a ramp in 80 % of its length: exact, by arithmetic.
"""

import math

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.pulses import pulses
from loomlight.signal.samples import FloatSamples

pytestmark = pytest.mark.outside

STEP_S = 1e-6
LOW, HIGH = 1.2, 12.6


def measured(values: np.ndarray, **fields: object):  # type: ignore[no-untyped-def]
    settings: dict[str, object] = {"unit": "V", "start_s": 2.0, "step_s": STEP_S} | fields
    channel = Channel("x", samples=FloatSamples(values), **settings)  # type: ignore[arg-type]
    return pulses(channel, channel.start_s, channel.stop_s)


@pytest.mark.parametrize("tau_s", [20e-6, 47.3e-6, 200e-6])
@pytest.mark.parametrize("at_s", [2.0e-3, 2.00037e-3])
def test_one_pole_edges(tau_s: float, at_s: float) -> None:
    time_s = STEP_S * np.arange(10_000)
    up = HIGH - (HIGH - LOW) * np.exp(-np.maximum(time_s - at_s, 0.0) / tau_s)
    values = np.where(time_s < at_s + 4e-3, up, LOW + (HIGH - LOW) * np.exp(-(time_s - at_s - 4e-3) / tau_s))
    found = measured(values)
    exact = tau_s * math.log(9.0)
    # A part in 200: the tail of a slow step lies within the histogram's mode and pulls it; and the chord of a curve.
    slack = 0.005 * exact + 0.2 * STEP_S**2 / tau_s + 1e-9
    assert found.edges == 2
    assert found.rise_s == pytest.approx(exact, abs=slack)
    assert found.fall_s == pytest.approx(exact, abs=slack)
    assert found.rise_slew == pytest.approx(0.8 * (HIGH - LOW) / exact, rel=0.01)
    assert found.fall_slew == pytest.approx(-0.8 * (HIGH - LOW) / exact, rel=0.01)
    assert (found.low, found.high) == pytest.approx((LOW, HIGH), abs=0.005 * (HIGH - LOW))


@pytest.mark.parametrize(("rise_s", "fall_s", "duty"), [(40e-6, 90e-6, 0.3), (10e-6, 10e-6, 0.5), (123e-6, 33e-6, 0.7)])
def test_ramp_edges_and_duty(rise_s: float, fall_s: float, duty: float) -> None:
    period_s = 1e-3
    time_s = STEP_S * np.arange(20_000)
    corners_s = [
        0.0,
        rise_s,
        duty * period_s + 0.5 * (rise_s - fall_s),
        duty * period_s + 0.5 * (rise_s + fall_s),
        period_s,
    ]
    values = np.interp((time_s - 0.3e-3) % period_s, corners_s, [LOW, HIGH, HIGH, LOW, LOW])
    found = measured(values)
    assert found.edges == 40
    assert found.duty == pytest.approx(duty, abs=1e-3)
    assert found.rate_hz == pytest.approx(1000.0, rel=1e-6)
    assert found.rise_s == pytest.approx(0.8 * rise_s, abs=0.02 * STEP_S + 0.002 * rise_s)
    assert found.fall_s == pytest.approx(0.8 * fall_s, abs=0.02 * STEP_S + 0.002 * fall_s)


def test_overshoot_and_noise_do_not_move_the_references() -> None:
    rng = np.random.default_rng(5)
    time_s = STEP_S * np.arange(20_000)
    phase_s = (time_s - 0.3e-3) % 1e-3
    values = np.interp(phase_s, [0.0, 50e-6, 0.5e-3, 0.55e-3, 1e-3], [LOW, HIGH, HIGH, LOW, LOW])
    values += np.where((phase_s > 50e-6) & (phase_s < 70e-6), 2.0, 0.0) + rng.normal(0.0, 0.05, time_s.size)
    found = measured(values)
    assert found.edges == 40
    assert (found.low, found.high) == pytest.approx((LOW, HIGH), abs=0.05)
    assert found.rise_s == pytest.approx(40e-6, abs=2e-6)
    assert found.duty == pytest.approx(0.5, abs=0.002)
