"""A probe or a clamp that sits or is set wrongly is said, and never taken for a fault of the wire."""

import importlib
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.input_doubts import sits_wrong, ten_times_off
from loomlight.signal.samples import FloatSamples

Change = Callable[[np.ndarray], np.ndarray]


def turned(volts: np.ndarray) -> np.ndarray:
    return -volts


def a_tenth(volts: np.ndarray) -> np.ndarray:
    return 0.1 * volts


def ac_coupled(volts: np.ndarray) -> np.ndarray:
    return volts - volts.mean()


def changed(channel: Channel, change: Change) -> Channel:
    values = channel.samples.block(0, channel.samples.size).astype(np.float64)
    return replace(channel, samples=FloatSamples(change(values).astype(np.float32)))


def clean(kind: str, seed: int) -> Made:
    maker = importlib.import_module(f"loomlight.sample_captures.makers.{kind.replace('-', '_')}")
    found: Made = maker.made("", np.random.default_rng((8, seed)))
    return found


def judged(made: Made, channel: Channel) -> Comparison:
    if made.good is None:
        return check(channel, kind=made.kind, conditions=made.conditions)
    good = made.good.channel(made.channel)
    return compare(channel, good, kind=made.kind, conditions=made.conditions, good_besides=made.good_besides)


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        ("pwm", turned),
        ("pwm", a_tenth),
        ("pwm", ac_coupled),
        ("wheel-speed", turned),
        ("wheel-speed", ac_coupled),
        ("coil", turned),
    ],
)
def test_no_clean_wire_is_called_faulty(kind: str, change: Change) -> None:
    for seed in range(4):
        made = clean(kind, seed)
        verdict = judged(made, changed(made.suspect, change)).verdict
        assert verdict.state == "cannot tell", (seed, verdict)
        assert verdict.next_step


def hall(low: float, high: float) -> Channel:
    """Ten turns of 60-2, teeth high."""
    teeth = np.tile(np.repeat([1, 0], 20), 58)
    turn = np.concatenate([teeth, np.zeros(80)])
    values = np.where(np.tile(turn, 10) > 0, high, low)
    return Channel("crank", "V", FloatSamples(values.astype(np.float32)), 0.0, 2e-5)


@pytest.mark.parametrize(("low", "high"), [(-5.0, -0.1), (-2.0, 3.0), (0.01, 0.5)])
def test_a_switching_wheel_sensor_seen_wrongly(low: float, high: float) -> None:
    assert check(hall(0.1, 5.0), kind="toothed-wheel", conditions=Conditions()).verdict.state == "clean"
    assert check(hall(low, high), kind="toothed-wheel", conditions=Conditions()).verdict.state == "cannot tell"


def test_pulses_that_lack_are_told_though_the_input_is_ac_coupled() -> None:
    maker = importlib.import_module("loomlight.sample_captures.makers.pwm")
    made = maker.made("missing pulses", np.random.default_rng(3))
    verdict = judged(made, changed(made.suspect, ac_coupled)).verdict
    assert verdict.picture == "missing pulses"
    assert any("AC coupled" in one for one in verdict.reasons)


def test_both_currents_ten_times_too_small_are_the_factor() -> None:
    values = np.tile(np.repeat([0.7e-3, 1.4e-3], 30), 200)
    channel = Channel("front left", "A", FloatSamples(values.astype(np.float32)), 0.0, 1e-5)
    verdict = check(channel, kind="wheel-speed", conditions=Conditions()).verdict
    assert verdict.state == "cannot tell"
    assert "ten times off" in verdict.reasons[0]


def test_a_known_supply_decides_what_is_ten_times_off() -> None:
    assert ten_times_off(0.0, 1.3, "x", ()) is not None
    assert ten_times_off(0.0, 1.3, "x", (1.3,)) is None
    assert ten_times_off(0.6, 1.3, "x", ()) is None  # not merely scaled: the low level is lifted
    assert ten_times_off(0.0, 7.0, "x", ()) is None
    assert ten_times_off(0.0, 130.0, "x", ()) is not None


def test_a_wire_at_ground_and_supply_sits_right() -> None:
    assert sits_wrong(-0.2, 5.0, "x", "V") is None
    found = sits_wrong(-14e-3, -7e-3, "x", "A")
    assert found is not None
    assert "clamp" in found.text


FAULTS_OF = ("pwm", "coil", "toothed-wheel", "wheel-speed", "charging", "supply", "cranking")


@pytest.mark.parametrize("kind", FAULTS_OF)
def test_whatever_is_called_faulty_is_marked_on_the_lane(kind: str) -> None:
    maker = importlib.import_module(f"loomlight.sample_captures.makers.{kind.replace('-', '_')}")
    for fault in maker.FAULTS:
        made = maker.made(fault, np.random.default_rng((9, len(fault))))
        found = judged(made, made.suspect)
        assert found.findings or found.verdict.state != "faulty", (fault, found.verdict)


def test_a_range_too_coarse_for_the_supply_judges_the_peak_only() -> None:
    maker = importlib.import_module("loomlight.sample_captures.makers.coil")
    for seed in range(3):
        made = maker.made("no burn line", np.random.default_rng((99, seed, 12)))
        step = 0.02 * float(np.abs(made.suspect.samples.block(0, made.suspect.samples.size)).max())
        coarse = changed(made.suspect, lambda volts, step=step: np.round(volts / step) * step)  # type: ignore[misc]
        verdict = judged(made, coarse).verdict
        assert verdict.state == "cannot tell", verdict
        assert "range" in verdict.next_step


def test_a_clamp_factor_ten_times_off_is_no_high_resistance() -> None:
    maker = importlib.import_module("loomlight.sample_captures.makers.coil")
    seen = 0
    for seed in range(12):
        made = maker.made("", np.random.default_rng((7, seed)))
        if made.good is None or made.suspect.unit != "A":
            continue
        for factor in (0.1, 10.0):
            off = changed(made.suspect, lambda amps, factor=factor: factor * amps)  # type: ignore[misc]
            verdict = judged(made, off).verdict
            if verdict.state == "cannot tell":
                seen += 1
                assert "factor of the clamp" in verdict.reasons[0]
            else:  # where the rise is too short for a fit
                assert not any("slope" in one for one in verdict.reasons)
    assert seen >= 4
