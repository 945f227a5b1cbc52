"""Wheel speed sensors: levels of two and three currents, with and without the shunt known."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers.pulse_recording import recorded, switched
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

STEP_S = 10e-6
POLES = 48


def sensor(
    *,
    low: float = 7e-3,
    high: float = 14e-3,
    rate_hz: float = 300.0,
    lost: tuple[int, ...] = (),
    shunt: float | None = None,
    third: float | None = None,
) -> Channel:
    """Two hundred pulses; with a third level 50 µs of it before each pulse."""
    edges: list[float] = []
    levels = [low]
    for place in range(200):
        if place in lost:
            continue
        at = (place + 0.4) / rate_hz
        if third is not None:
            edges += [at, at + 50e-6, at + 75e-6]
            levels += [third, low, high]
            edges.append(at + 0.3 / rate_hz)
            levels.append(low)
            continue
        edges += [at, at + 0.5 / rate_hz]
        levels += [high, low]
    times_s = np.arange(round(200 / rate_hz / STEP_S)) * STEP_S
    amps = switched(times_s, np.array(edges), np.array(levels), np.full(len(edges), 2e-6))
    values, unit = (amps, "A") if shunt is None else (amps * shunt, "V")
    return recorded(np.random.default_rng(1), values, STEP_S, name="front left", unit=unit)


def judged(channel: Channel, good: Channel | None = None, **settings: float) -> Comparison:
    conditions = Conditions(supply_v=13.0, settings=tuple(settings.items()))
    if good is None:
        return check(channel, kind="wheel-speed", conditions=conditions)
    return compare(channel, good, kind="wheel-speed", conditions=conditions)


def value(found: Comparison, name: str) -> float | None:
    assert found.looked is not None
    return next(one.value for one in found.looked.measures if one.name == name)


@pytest.mark.parametrize(("shunt", "settings"), [(None, {}), (115.0, {"shunt": 115.0}), (75.0, {"shunt": 75.0})])
def test_currents_and_frequency(shunt: float | None, settings: dict[str, float]) -> None:
    found = judged(sensor(shunt=shunt), **settings)
    assert found.verdict.state == "clean", found.verdict.reasons
    assert value(found, "lower level") == pytest.approx(7e-3, rel=0.02)
    assert value(found, "upper level") == pytest.approx(14e-3, rel=0.02)
    assert value(found, "frequency") == pytest.approx(300.0, rel=0.01)
    assert value(found, "pulse width") == pytest.approx(0.5 / 300.0, rel=0.02)


def test_volts_without_a_shunt_are_judged_by_their_ratio() -> None:
    found = judged(sensor(shunt=115.0))
    assert found.verdict.state == "clean"
    assert "shunt is not known" in " ".join(found.verdict.reasons)
    assert judged(sensor(low=13e-3, high=18e-3, shunt=115.0)).verdict.picture == "leak to ground"
    assert judged(sensor(low=1e-3, high=40e-3, shunt=115.0)).verdict.state == "cannot tell"


def test_the_kind_with_a_third_level() -> None:
    found = judged(sensor(third=28e-3))
    assert found.verdict.state == "clean", found.verdict.reasons
    assert value(found, "speed pulse") == pytest.approx(28e-3, rel=0.03)
    assert value(found, "pulse width") == pytest.approx(50e-6, abs=STEP_S)
    assert judged(sensor(third=21.5e-3)).verdict.picture == "series resistance"


@pytest.mark.parametrize(
    ("low", "high", "picture"),
    [
        (4.2e-3, 8.4e-3, "low current"),
        (12e-3, 19e-3, "leak to ground"),
        (7e-3, 9.8e-3, "series resistance"),
        (6.0e-3, 12.0e-3, ""),
        (8.2e-3, 16.4e-3, ""),
    ],
)
def test_currents_against_the_data_sheets_limits(low: float, high: float, picture: str) -> None:
    assert judged(sensor(low=low, high=high)).verdict.picture == picture


def test_a_pulse_that_lacks_at_the_same_place_each_turn_is_the_rings() -> None:
    lost = (20, 20 + POLES, 20 + 2 * POLES, 20 + 3 * POLES)
    found = judged(sensor(lost=lost), poles=POLES)
    assert found.verdict.picture == "ring damaged"
    assert judged(sensor(lost=lost)).verdict.picture == "missing pulses"
    assert judged(sensor(lost=(31, 77, 140)), poles=POLES).verdict.picture == "missing pulses"


@pytest.mark.parametrize(
    ("level", "picture", "fault"),
    [(0.0, "open circuit", "open"), (60e-3, "short circuit", "short"), (7e-3, "signal lost", "unknown")],
)
def test_the_end_of_the_pulses_has_its_class(level: float, picture: str, fault: str) -> None:
    channel = sensor()
    amps = channel.samples.block(0, channel.samples.size).copy()
    amps[40_000:] = level
    found = judged(replace(channel, samples=FloatSamples(amps)))
    assert (found.verdict.picture, found.verdict.fault) == (picture, fault)
    assert next(one for one in found.findings if one.kind == "lost signal").start_s == pytest.approx(0.4, abs=4e-3)


@pytest.mark.parametrize(("level", "state"), [(7e-3, "cannot tell"), (0.0, "faulty"), (70e-3, "faulty")])
def test_without_pulses_the_level_tells_what_it_can(level: float, state: str) -> None:
    rng = np.random.default_rng(3)
    flat = Channel("front left", "A", FloatSamples(level + 1e-5 * rng.normal(size=20_000)), 0.0, STEP_S)
    assert judged(flat).verdict.state == state


def test_another_wheels_currents_are_held_against_it() -> None:
    assert judged(sensor(low=6.3e-3, high=12.8e-3), sensor(rate_hz=220.0)).verdict.state == "clean"
    found = judged(sensor(low=4e-3, high=8e-3, shunt=100.0), sensor(shunt=100.0, rate_hz=240.0))
    assert found.verdict.picture == "low current"


@pytest.mark.parametrize("values", [np.zeros(5), np.full(1000, np.nan), np.random.default_rng(1).normal(size=5000)])
def test_odd_input_is_refused_or_cannot_be_told(values: np.ndarray) -> None:
    try:
        found = judged(Channel("x", "A", FloatSamples(values), 0.0, 1e-3))
    except CannotUse:
        return
    assert found.verdict.state != "clean"
