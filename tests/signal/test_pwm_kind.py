"""Switched and PWM wires: what is measured pulse by pulse, and what is no fault."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers.pulse_recording import recorded, switched
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.level_hills import commonest_levels
from loomlight.signal.samples import FloatSamples

STEP_S = 10e-6


def wire(duty: np.ndarray | float, *, rate_hz: float = 200.0, high: float = 13.0, flyback: float = 0.0) -> Channel:
    """Pulses of given duty factors; with a flyback of 200 µs at each rise."""
    duties = np.broadcast_to(duty, 100).astype(float)
    ups = (np.arange(100) + 0.37) / rate_hz
    edges = np.column_stack([ups, ups + duties / rate_hz]).ravel()
    times_s = np.arange(round(100 / rate_hz / STEP_S)) * STEP_S
    volts = switched(times_s, edges, np.where(np.arange(edges.size + 1) % 2, high, 0.4), np.full(edges.size, 5e-6))
    if flyback:
        since = times_s - ups[np.clip(np.searchsorted(ups, times_s) - 1, 0, None)]
        volts[(since > 10e-6) & (since < 200e-6)] = flyback
    return recorded(np.random.default_rng(1), volts, STEP_S, name="pwm", start_s=-0.1)


def judged(channel: Channel, good: Channel | None = None, **settings: float) -> Comparison:
    conditions = Conditions(supply_v=13.0, settings=tuple(settings.items()))
    if good is None:
        return check(channel, kind="pwm", conditions=conditions)
    return compare(channel, good, kind="pwm", conditions=conditions)


def values(found: Comparison) -> dict[str, float | None]:
    assert found.looked is not None
    return {one.name: one.value for one in found.looked.measures}


@pytest.mark.parametrize("duty", [0.1, 0.35, 0.5, 0.83])
def test_duty_and_frequency(duty: float) -> None:
    found = judged(wire(duty))
    assert found.verdict.state == "clean", found.verdict.reasons
    assert values(found)["duty factor, high"] == pytest.approx(duty, abs=0.003)
    assert values(found)["frequency"] == pytest.approx(200.0, rel=1e-4)


def test_duty_over_time_is_followed() -> None:
    duty = np.linspace(0.1, 0.9, 100)
    found = judged(wire(duty))
    assert found.verdict.state == "clean"
    assert found.looked is not None
    track = next(one for one in found.looked.tracks if one.name == "duty factor")
    assert np.abs(track.values - duty[: track.values.size]).max() < 0.006


def test_a_duty_that_runs_into_its_end_is_no_lost_signal() -> None:
    duty = np.concatenate([np.linspace(0.5, 0.97, 40), np.full(20, 1.0), np.linspace(0.97, 0.5, 40)])
    found = judged(wire(duty))
    assert found.verdict.state == "clean", found.verdict.reasons
    assert not found.findings


def test_a_flyback_several_times_the_supply_leaves_the_levels() -> None:
    found = judged(wire(0.3, flyback=64.0))
    assert found.verdict.state == "clean", found.verdict.reasons
    assert values(found)["high state"] == pytest.approx(13.0, abs=0.3)
    assert values(found)["peak"] == pytest.approx(64.0, abs=0.5)
    assert values(found)["above the middle of it for"] == pytest.approx(190e-6, abs=15e-6)
    assert judged(wire(0.3, flyback=64.0), clamp=38.0).verdict.picture == "no clamp"
    assert judged(wire(0.3), wire(0.4, flyback=64.0)).verdict.picture == "flyback too low"


def test_another_duty_than_the_known_goods_is_no_fault_but_another_clock_is() -> None:
    assert judged(wire(0.2), wire(0.8)).verdict.state == "clean"
    other = judged(wire(0.5, rate_hz=260.0), wire(0.5))
    assert other.verdict.picture == "frequency differs"
    assert judged(wire(0.5, rate_hz=260.0), wire(0.5), rate_share=100.0).verdict.state == "clean"


@pytest.mark.parametrize(
    ("level", "fault"), [(-3.0, "short"), (0.0, "short"), (0.4, "unknown"), (13.0, "open"), (24.0, "short")]
)
def test_a_lost_signal_says_its_assumption(level: float, fault: str) -> None:
    channel = wire(0.5)
    volts = channel.samples.block(0, channel.samples.size).copy()
    volts[30_000:] = level
    found = judged(replace(channel, samples=FloatSamples(volts)))
    assert (found.verdict.picture, found.verdict.fault) == ("signal lost", fault)
    assert "switched on throughout" in found.verdict.reasons[0]
    assert next(one for one in found.findings if one.kind == "lost signal").start_s == pytest.approx(0.2, abs=6e-3)


def test_flat_alone_cannot_be_told_but_beside_a_working_one_is_faulty() -> None:
    flat = recorded(np.random.default_rng(2), np.full(20_000, 13.0), STEP_S, name="pwm")
    assert judged(flat).verdict.state == "cannot tell"
    together = Conditions(same_moment=True)
    found = compare(flat, wire(0.5), kind="pwm", conditions=together)
    assert (found.verdict.state, found.verdict.picture) == ("faulty", "no signal")


def test_what_was_not_acquired_is_no_missing_pulse_in_most_of_the_capture() -> None:
    channel = wire(0.5)
    volts = channel.samples.block(0, channel.samples.size).copy()
    volts[:30_000] = np.nan
    found = judged(replace(channel, samples=FloatSamples(volts), gaps=((0, 30_000),)))
    assert found.verdict.state == "cannot tell"


@pytest.mark.parametrize("values", [np.zeros(5), np.full(1000, np.nan), np.random.default_rng(1).normal(size=5000)])
def test_odd_input_is_refused_or_cannot_be_told(values: np.ndarray) -> None:
    try:
        found = judged(Channel("x", "V", FloatSamples(values), 0.0, 1e-3))
    except CannotUse:
        return
    assert found.verdict.state != "clean"


def test_commonest_levels_are_where_the_time_is_spent() -> None:
    rng = np.random.default_rng(4)
    volts = np.concatenate([np.full(4000, 0.5), np.full(3000, 13.5), np.full(400, 90.0)]) + rng.normal(0, 0.05, 7400)
    found = commonest_levels(volts.astype(np.float32))
    assert found is not None
    assert (found.low, found.high) == pytest.approx((0.5, 13.5), abs=0.02)
    assert commonest_levels(np.full(10, 3.0, np.float32)) is None
