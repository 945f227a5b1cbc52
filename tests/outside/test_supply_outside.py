"""Supply rail against published profiles and general-purpose libraries."""

import numpy as np
import pytest
from scipy import optimize, signal, stats

from loomlight.signal.capture import Channel
from loomlight.signal.excursion_shape import shape_of
from loomlight.signal.ripple import ripple_of
from loomlight.signal.samples import FloatSamples
from loomlight.signal.start_profile import LEVELS_12, LEVELS_24, levels_kept
from loomlight.signal.voltage_drop import drop_between

pytestmark = pytest.mark.outside

STEP_S = 1e-4
# ISO 16750-2:2003 item 4.5.3, level I, as printed in the settings file of an immunity test generator: 8 V, mean of the ripple
# 10.5 V, ripple 2 V at 2 Hz, 5 ms, 15 ms, 50 ms, 1 s, 40 ms.
LEVEL_I = {
    "lowest": 8.0,
    "ripple mean": 10.5,
    "ripple": 2.0,
    "fall": 5e-3,
    "hold": 15e-3,
    "rise": 50e-3,
    "turning": 1.0,
}


def profile(lowest: float = 8.0, hold: float = 15e-3) -> np.ndarray:
    """The printed profile, point by point."""
    fall, rise = LEVEL_I["fall"], LEVEL_I["rise"]
    times = np.cumsum([0.0, 0.1, fall, hold, rise, LEVEL_I["turning"], 0.04, 0.1])
    at = np.arange(0.0, times[-1], STEP_S)
    mean = LEVEL_I["ripple mean"]
    volts = np.interp(at, times, [12.0, 12.0, lowest, lowest, mean, mean, 12.0, 12.0])
    turning = (at > times[4]) & (at < times[5])
    return volts + np.where(turning, 0.5 * LEVEL_I["ripple"] * np.sin(2 * np.pi * 2.0 * (at - times[4])), 0.0)


def test_the_printed_level_one_keeps_level_one() -> None:
    assert levels_kept(12.0, profile(), STEP_S, below_v=9.0)[0] == "I"


@pytest.mark.parametrize(("lowest", "hold"), [(7.5, 15e-3), (8.0, 60e-3)])
def test_deeper_or_longer_leaves_it(lowest: float, hold: float) -> None:
    assert "I" not in levels_kept(12.0, profile(lowest, hold), STEP_S, below_v=9.0)


def test_each_level_keeps_itself_and_not_a_milder_one() -> None:
    for levels in (LEVELS_12, LEVELS_24):
        for place, one in enumerate(levels):
            times = np.cumsum([0.0, one.fall_s, one.lowest_s, one.rise_s, one.plateau_s, one.recovery_s])
            at = np.arange(0.0, times[-1], STEP_S)
            row = [one.top_v, one.lowest_v, one.lowest_v, one.plateau_v, one.plateau_v, one.top_v]
            kept = levels_kept(one.top_v, np.interp(at, times, row), STEP_S, below_v=0.75 * one.top_v)
            assert one.name in kept
            assert not {other.name for other in levels[:place]} & set(kept)


def test_time_constant_as_scipy_fits_it() -> None:
    rng = np.random.default_rng(7)
    at = np.arange(20_000) * 1e-6
    volts = 13.5 - np.where(at > 2e-3, 60.0 * np.exp(-(at - 2e-3) / 4.4e-4), 0.0) + rng.normal(0.0, 0.2, at.size)
    channel = Channel("rail", "V", FloatSamples(volts), 0.0, 1e-6)
    shape = shape_of(channel, 2e-3, 2.9e-3, -1.0, usual_v=13.5)
    tail = (at > 2.01e-3) & (at < 4e-3)

    def model(t: np.ndarray, height: float, tau: float, base: float) -> np.ndarray:
        return base - height * np.exp(-(t - 2e-3) / tau)

    fitted, _ = optimize.curve_fit(model, at[tail], volts[tail], p0=(50.0, 1e-3, 12.0))
    assert shape.tau_s == pytest.approx(fitted[1], rel=0.02)
    assert shape.height_v == pytest.approx(-fitted[0], rel=0.03)
    # Exact: from the peak of an exponential to its half ln 2 time constants, to its tenth ln 10.
    assert shape.width_s == pytest.approx(np.log(2.0) * 4.4e-4, rel=0.03)
    assert shape.end_s - shape.start_s == pytest.approx(np.log(10.0) * 4.4e-4, rel=0.05)


def test_resistance_as_scipy_regresses_it() -> None:
    rng = np.random.default_rng(8)
    amperes = 20.0 + 15.0 * np.sign(np.sin(np.arange(8000) / 300.0))
    far = 12.6 - 0.01 * amperes + rng.normal(0.0, 0.01, amperes.size)
    near = far - 0.035 * amperes + 0.04 + rng.normal(0.0, 0.01, amperes.size)
    rows = (("near", "V", near), ("far", "V", far), ("clamp", "A", amperes))
    channels = [Channel(name, unit, FloatSamples(values), 0.0, 1e-3) for name, unit, values in rows]
    drop = drop_between(*channels)
    asked = stats.linregress(amperes, far - near)
    assert drop.ohm == pytest.approx(asked.slope, rel=1e-3)
    assert drop.ohm_low is not None
    assert drop.ohm_high is not None
    assert drop.ohm_low < asked.slope - 2 * asked.stderr < asked.slope + 2 * asked.stderr < drop.ohm_high


def test_two_hundred_amperes_through_ten_milliohms_are_two_volts() -> None:
    """Ohm's law."""
    rows = (("battery", 12.0), ("starter", 10.0), ("clamp", 200.0))
    battery, starter, clamp = (
        Channel(name, "A" if name == "clamp" else "V", FloatSamples(np.full(4000, value)), 0.0, 1e-3)
        for name, value in rows
    )
    drop = drop_between(starter, battery, clamp)
    assert drop.usual_v == pytest.approx(2.0)
    assert drop.ohm == pytest.approx(0.01)


def test_ripple_frequency_as_scipy_sees_it() -> None:
    at = np.arange(100_000) / 50e3
    values = 14.0 + 0.3 * signal.sawtooth(2 * np.pi * 640.0 * at, 0.5)
    values = values + np.random.default_rng(9).normal(0.0, 0.02, at.size)
    ripple = ripple_of(Channel("b", "V", FloatSamples(values), 0.0, 2e-5), 0.02, np.empty((0, 2)))
    hz, power = signal.welch(values, 50e3, nperseg=8192)
    assert ripple is not None
    assert ripple.hz == pytest.approx(float(hz[np.argmax(power)]), abs=7.0)
    assert ripple.peak_to_peak_v == pytest.approx(0.6, rel=0.04)
