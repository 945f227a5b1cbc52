"""What looks like a fault and is none: instruments that are off, interference, habits of healthy buses."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from loomlight.sample_captures.make_samples import record
from loomlight.signal.bus_traffic import COMMANDER, Slot
from loomlight.signal.capture import Channel
from loomlight.signal.circuit import Leak, LinBus
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

Made = Any


def volts_of(channel: Channel) -> np.ndarray:
    return channel.samples.block(0, channel.samples.size).astype(np.float64)


def like(channel: Channel, volts: np.ndarray) -> Channel:
    return Channel(channel.name, "V", FloatSamples(volts), channel.start_s, channel.step_s)


def together(suspect: Channel, good: Channel) -> Comparison:
    return compare(suspect, good, kind="lin", conditions=Conditions(same_moment=True))


@pytest.mark.parametrize("gain", [0.97, 1.03])
@pytest.mark.parametrize("offset_v", [-0.1, 0.1])
def test_two_channels_of_unlike_gain_and_offset_show_no_resistance(healthy: Made, gain: float, offset_v: float) -> None:
    # An instrument's gain is right to some 2 or 3 % (common practice, no source).
    off = like(healthy.far, gain * volts_of(healthy.far) + offset_v)
    for suspect, good in ((off, healthy.near), (healthy.near, off)):
        verdict = together(suspect, good).verdict
        assert verdict.state == "clean", verdict.reasons
        # What such channels cannot tell is said by a higher floor.
        assert verdict.series_ohm_high is not None
        assert verdict.series_ohm_high > 500.0


def test_a_resistance_is_still_bounded_through_unlike_gains(make_bus: Callable[..., Made]) -> None:
    made = make_bus(31, series_ohm=1200.0)
    verdict = together(like(made.far, 1.02 * volts_of(made.far)), made.near).verdict
    assert (verdict.state, verdict.fault) == ("faulty", "resistive")
    assert verdict.series_ohm_low is not None
    assert verdict.series_ohm_low < 1200.0 < (verdict.series_ohm_high or np.inf)


def spiky(made: Made, *, on_both: bool) -> tuple[Channel, Channel]:
    rng = np.random.default_rng(3)
    far, near = volts_of(made.far), volts_of(made.near)
    for place in rng.integers(0, far.size - 5, 25):
        kick = rng.normal(0.0, 4.0, 3)
        far[place : place + 3] += kick
        if on_both:
            near[place : place + 3] += kick
    return like(made.far, far), like(made.near, near)


def test_spikes_on_both_channels_are_no_fault_of_one_wire(healthy: Made) -> None:
    found = together(*spiky(healthy, on_both=True))
    assert found.verdict.state != "faulty"
    assert sum(one.kind == "spike" for one in found.findings) >= 10


def test_spikes_alone_are_called_interference(healthy: Made) -> None:
    suspect, _ = spiky(healthy, on_both=False)
    found = check(suspect, kind="lin", conditions=Conditions())
    assert any(one.kind == "dropout" for one in found.findings)
    assert found.verdict.state == "cannot tell"
    assert "interference" in found.verdict.reasons[0]
    assert "ground lead" in found.verdict.next_step


def test_a_small_ground_shift_against_another_day_is_clean_and_said(healthy: Made, other_day: Made) -> None:
    suspect = like(healthy.near, volts_of(healthy.near) + 0.3)
    verdict = compare(suspect, other_day.near, kind="lin", conditions=Conditions()).verdict
    assert verdict.state == "clean"
    assert any("small ground shift" in reason for reason in verdict.reasons)


@pytest.mark.parametrize("shape", ["ripple", "sag"])
def test_a_moving_supply_is_no_fault(healthy: Made, shape: str) -> None:
    at_s = np.arange(healthy.far.samples.size) * healthy.far.step_s
    moved = {
        "ripple": 0.4 * np.sin(2 * np.pi * 300 * at_s),
        "sag": -3.0 * np.exp(-(((at_s - 0.07) / 0.02) ** 2)),
    }[shape]

    def pulled(channel: Channel) -> Channel:
        volts = volts_of(channel)
        return like(channel, volts + moved * np.clip((volts - 1.0) / 10.9, 0.0, 1.0))

    assert together(pulled(healthy.far), pulled(healthy.near)).verdict.state == "clean"
    assert check(pulled(healthy.far), kind="lin", conditions=Conditions()).verdict.state == "clean"


def silent_schedule(frame_id: int) -> Channel:
    schedule = (Slot(0x10, COMMANDER, lambda n: bytes([n % 9, 0x6C])), Slot(frame_id, "", lambda n: b""))
    near, _, _ = record(LinBus(), series_ohm=0.02, seconds=0.06, first_round=0, schedule=schedule)
    return Channel("near", "V", FloatSamples(near[::2]), 0.0, 2e-6)


def test_an_unanswered_diagnostic_request_is_normal() -> None:
    # LIN 2.2A, diagnostic frames: 0x3D is answered only where a request was made before.
    found = check(silent_schedule(0x3D), kind="lin", conditions=Conditions())
    assert found.verdict.state == "clean"
    assert found.bus is not None
    assert found.bus.no_response > 0


def test_any_other_unanswered_header_is_not() -> None:
    found = check(silent_schedule(0x21), kind="lin", conditions=Conditions())
    assert found.verdict.state == "cannot tell"
    assert "0x21" in found.verdict.reasons[0]
    assert found.verdict.next_step


def test_a_strong_leak_with_a_known_supply_is_no_wrong_probe_factor(make_bus: Callable[..., Made]) -> None:
    made = make_bus(32, bus=replace(LinBus(), leaks=(Leak("near", 300.0, 0.0),)))
    verdict = check(made.near, kind="lin", conditions=Conditions(supply_v=13.2)).verdict
    assert (verdict.state, verdict.fault, verdict.short_to) == ("faulty", "short", "ground")
    # Without the supply a resting level of 3 V may be a wrong probe factor as well.
    assert check(made.near, kind="lin", conditions=Conditions()).verdict.state == "cannot tell"


@pytest.mark.parametrize(("ohm", "called"), [(50.0, "faulty"), (1000.0, "cannot tell")])
def test_a_leak_to_battery_under_a_talking_bus(make_bus: Callable[..., Made], ohm: float, called: str) -> None:
    made = make_bus(33, bus=replace(LinBus(), leaks=(Leak("near", ohm, 13.2),)))
    verdict = check(made.near, kind="lin", conditions=Conditions(supply_v=13.2)).verdict
    assert verdict.state == called
    assert "supply itself" in verdict.reasons[0]
    assert (verdict.short_to == "battery") == (called == "faulty")


def test_a_clean_line_with_an_unknown_supply_says_which_battery_it_takes_for_granted(healthy: Made) -> None:
    verdict = check(healthy.near, kind="lin", conditions=Conditions()).verdict
    assert any("battery should stand at about 13." in reason for reason in verdict.reasons)
