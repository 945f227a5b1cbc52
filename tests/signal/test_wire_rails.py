"""Supply, charging, cranking: told apart by the fall, the pulses and the ripple of a battery's volts."""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.samples import FloatSamples
from loomlight.signal.wire_guess import guess
from loomlight.signal.wire_ripple import ripple_of
from loomlight.signal.wire_sag import sag_of
from loomlight.signal.wire_sight import Sight, sight_of

STEP_S = 2e-4
T = np.arange(0.0, 4.0, STEP_S)
RNG = np.random.default_rng(8)


def _seen(values: np.ndarray, step_s: float = STEP_S) -> Sight:
    found = sight_of(_channel(values, step_s))
    assert found is not None
    return found


def _channel(values: np.ndarray, step_s: float = STEP_S) -> Channel:
    noisy = values + RNG.normal(0.0, 0.004, values.size)
    return Channel("battery", "V", FloatSamples(noisy.astype(np.float32)), 0.0, step_s)


def _start(fall: np.ndarray, pulses_v: float) -> np.ndarray:
    """12.6 V, down by 3 V from 0.5 s to 3.5 s, with eight compressions a second."""
    inside = (T > 0.5) & (T < 3.5)
    return 12.6 - np.where(inside, 3.0 * fall + pulses_v * np.sin(2 * np.pi * 8.0 * T), 0.0)


SLOW_FALL = 1.0 - np.exp(-np.clip(T - 0.5, 0.0, None) / 6e-3)
STRAIGHT_FALL = np.clip((T - 0.5) / 4e-3, 0.0, 1.0)


def test_a_starter_that_turns() -> None:
    sag = sag_of(_seen(_start(SLOW_FALL, 0.6)))
    assert sag is not None
    assert sag.pulses_hz == pytest.approx(8.0, abs=0.2)
    # A tenth to nine tenths of one time constant's fall: ln 9 of it; the pulses and a sample either way add a little.
    assert sag.fall_s == pytest.approx(np.log(9.0) * 6e-3, rel=0.3)
    assert not sag.straight
    sure = guess(_channel(_start(SLOW_FALL, 0.6))).sure
    assert sure is not None
    assert sure.kind == "cranking"


def test_a_start_profile_of_a_test_bench_is_a_supply_with_a_starter_near() -> None:
    """ISO 16750-2: the profile falls in a straight line within 5 ms."""
    found = guess(_channel(_start(STRAIGHT_FALL, 0.2)))
    assert [one.kind for one in found.ranked[:2]] == ["supply", "cranking"]
    assert "straight" in found.ranked[0].reason


def test_a_starter_that_does_not_turn() -> None:
    sag = sag_of(_seen(_start(SLOW_FALL, 0.0)))
    assert sag is not None
    assert sag.pulses_hz is None
    first = guess(_channel(_start(SLOW_FALL, 0.0))).first
    assert first is not None
    assert first.kind == "cranking"


def test_a_load_that_is_there_at_once_is_no_starter() -> None:
    assert sag_of(_seen(12.6 - np.where((T > 0.5) & (T < 2.5), 2.0, 0.0))) is None


def _humps(hz: float, uneven: float, height_v: float) -> tuple[np.ndarray, float]:
    """Crests of a six-pulse rectifier; every third one a little higher."""
    step_s = 2e-5
    turns = hz * np.arange(0.0, 0.5, step_s)
    crest = (np.cos((np.mod(turns, 1.0) - 0.5) * np.pi / 3) - np.cos(np.pi / 6)) / (1.0 - np.cos(np.pi / 6))
    third = 1.0 + uneven * np.cos(2 * np.pi * np.floor(turns) / 3.0)
    return 14.2 + height_v * third * crest, step_s


@pytest.mark.parametrize("hz", [250.0, 640.0, 1830.0, 4400.0])
def test_ripple_is_measured(hz: float) -> None:
    values, step_s = _humps(hz, 0.0, 0.3)
    found = ripple_of(_seen(values, step_s))
    assert found is not None
    assert found.hz == pytest.approx(hz, rel=0.01)
    # The crests' Fourier series: amplitudes go as 1/(36 n² - 1), so the second is 35/143 of the first.
    if hz < 1000.0:
        assert found.second == pytest.approx(35.0 / 143.0, abs=0.04)
    assert found.third_part < 0.01


def test_phases_that_are_not_alike_show_at_a_third() -> None:
    values, step_s = _humps(1830.0, 0.2, 0.2)
    found = ripple_of(_seen(values, step_s))
    assert found is not None
    assert found.third_part > 0.05
    sure = guess(_channel(values, step_s)).sure
    assert sure is not None
    assert sure.kind == "charging"


def test_even_humps_slower_than_an_idle_alternator_are_a_rail() -> None:
    values, step_s = _humps(420.0, 0.0, 0.4)
    first = guess(_channel(values, step_s)).first
    assert first is not None
    assert first.kind == "supply"


def test_noise_and_a_slope_have_no_ripple() -> None:
    t = np.arange(25_000) * 2e-5
    assert ripple_of(_seen(14.0 + 0.05 * RNG.normal(size=t.size), 2e-5)) is None
    assert ripple_of(_seen(14.0 - 2.0 * t, 2e-5)) is None
    assert ripple_of(_seen(14.0 - 4.0 * np.exp(-t / 0.05), 2e-5)) is None
