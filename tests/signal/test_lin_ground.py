"""A bad ground of a responder told from a bad joint where two measurements allow it, and not told where they do not."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.circuit import Driver, LinBus, simulate
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.lin_ground import EITHER_PICTURE, PICTURE, ROLE, WIRE_PICTURE
from loomlight.signal.samples import FloatSamples

MakeBus = Callable[..., Any]
BLOWER_LOW_V = 1.02


def ground_channel(made: Any, ground_ohm: float, own_a: float = 0.0) -> Channel:
    """The blower's ground pin: what its driver sinks, and its own supply current, through the ground's resistance."""
    bus, far = made.bus, made.far
    near, answers = made.near, check(made.far, kind="lin", conditions=Conditions()).looked
    assert answers is not None
    volts = np.full(far.samples.size, own_a * ground_ohm)
    line = near.samples.block(0, near.samples.size).astype(np.float64)
    for row in answers.frames:
        if row.identifier == "0x21" and len(row.words) > 3:
            part = slice(far.index_at(row.words[3].start_s), far.index_at(row.stop_s))
            sunk_a = np.maximum(line[part] - BLOWER_LOW_V, 0.0) / (bus.driver_ohm + ground_ohm)
            volts[part] += np.where(line[part] < 0.9 * bus.top_v, sunk_a * ground_ohm, 0.0)
    noisy = volts + np.random.default_rng(2).normal(0.0, 0.01, volts.size)
    return Channel("blower ground", "V", FloatSamples(noisy.astype(np.float32)), far.start_s, far.step_s)


def judged(made: Any, ground: Channel | None = None, good: Channel | None = None, **more: Any) -> Comparison:
    besides = (Beside(ROLE, ground),) if ground is not None else ()
    conditions = Conditions(besides=besides, **more)
    if good is None:
        return check(made.near, kind="lin", conditions=conditions)
    return compare(made.near, good, kind="lin", conditions=conditions)


def test_the_circuit_lifts_a_driver_by_its_grounds_resistance() -> None:
    """Ohm's law: 1 kΩ beside two of 30 kΩ against 25 Ω of driver and 470 Ω of ground."""
    bus = LinBus(probe_ohm=1e12)
    driver = Driver("near", 0.9, [(0.2e-3, 2e-3)], ground_ohm=470.0)
    near, far = simulate(bus, [driver], series_ohm=0.02, step_s=1e-6, count=1900)
    pull_ohm = 1.0 / (bus.near_siemens + bus.far_siemens)
    sink_ohm = bus.driver_ohm + 470.0
    assert near[-1] == pytest.approx(0.9 + (bus.top_v - 0.9) * sink_ohm / (sink_ohm + pull_ohm), rel=1e-3)
    assert far[-1] == pytest.approx(near[-1], abs=0.01)


@pytest.mark.parametrize("ground_ohm", [220.0, 470.0])
@pytest.mark.parametrize("way", ["alone", "another day"])
def test_a_bad_ground_is_told_by_the_grounds_own_channel(make_bus: MakeBus, ground_ohm: float, way: str) -> None:
    made = make_bus(21, grounds={"blower": ground_ohm})
    good = make_bus(22).near if way == "another day" else None
    found = judged(made, ground_channel(made, ground_ohm), good, supply_v=made.bus.battery_v)
    assert (found.verdict.state, found.verdict.fault, found.verdict.picture) == ("faulty", "resistive", PICTURE)
    told = " ".join(found.verdict.reasons)
    assert "in its ground" in told
    row = next(one for one in found.verdict.evidence if one.question.startswith("Own ground"))
    assert row.lowers == ("wire",)


def test_its_own_supply_current_through_the_ground_is_told(make_bus: MakeBus) -> None:
    made = make_bus(23, grounds={"blower": 330.0})
    found = judged(made, ground_channel(made, 330.0, own_a=2e-3), supply_v=made.bus.battery_v)
    assert found.verdict.picture == PICTURE
    assert any("Even while it is silent" in one for one in found.verdict.reasons)


def test_a_sound_ground_leaves_the_joint_in_the_wire(make_bus: MakeBus) -> None:
    made = make_bus(24, series_ohm=470.0)
    sound = ground_channel(made, 0.0)
    found = judged(made, sound, make_bus(25).near, supply_v=made.bus.battery_v)
    assert (found.verdict.fault, found.verdict.picture) == ("resistive", WIRE_PICTURE)
    assert any("it is sound" in one for one in found.verdict.reasons)


@pytest.mark.parametrize("fault", ["ground", "joint"])
def test_from_the_commanders_side_alone_the_two_are_not_told_apart(make_bus: MakeBus, fault: str) -> None:
    how: dict[str, Any] = {"grounds": {"blower": 470.0}} if fault == "ground" else {"series_ohm": 470.0}
    made = make_bus(26, **how)
    found = judged(made, None, make_bus(27).near, supply_v=made.bus.battery_v)
    assert (found.verdict.fault, found.verdict.picture) == ("resistive", EITHER_PICTURE)
    assert any("against the responder's own ground" in one for one in found.verdict.reasons)


@pytest.mark.parametrize("ground_ohm", [330.0, 560.0])
def test_both_probes_alike_cannot_tell_and_say_what_decides(make_bus: MakeBus, ground_ohm: float) -> None:
    made = make_bus(28, grounds={"blower": ground_ohm})
    found = judged(made, None, made.far, same_moment=True)
    assert (found.verdict.state, found.verdict.fault, found.verdict.picture) == ("cannot tell", "unknown", "")
    assert "against the responder's own ground" in found.verdict.next_step


def test_two_probes_that_differ_are_a_joint_whatever_the_ground(make_bus: MakeBus) -> None:
    made = make_bus(29, series_ohm=470.0)
    found = judged(made, None, made.far, same_moment=True)
    assert (found.verdict.fault, found.verdict.picture) == ("resistive", WIRE_PICTURE)


def test_a_sound_ground_beside_two_equal_probes_points_at_driver_or_joint(make_bus: MakeBus) -> None:
    made = make_bus(30, grounds={"blower": 470.0})
    found = judged(made, ground_channel(replace(made, bus=made.bus), 0.0), made.far, same_moment=True)
    assert found.verdict.state == "cannot tell"
    assert "that is sound" in found.verdict.reasons[1]
    assert "own bus pin" in found.verdict.next_step
