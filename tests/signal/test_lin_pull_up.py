"""A commander's pull-up that is lost: told by the rise from a leak, from a joint, and from a healthy bus."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from loomlight.signal.circuit import Leak, LinBus
from loomlight.signal.comparison import check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.lin_edge_resistance import NAME
from loomlight.signal.lin_examination import read_line
from loomlight.signal.lin_pull_up import PICTURE
from loomlight.signal.lin_rise import ALL, BUS_F, TimeConstant, edge_constants, through_capacitance
from loomlight.signal.progress import unwatched
from loomlight.signal.series_resistance import Ohms

MakeBus = Callable[..., Any]


def bus_without(near_responders: int, near_f: float) -> LinBus:
    return replace(LinBus(), commander_ohm=1e9, near_responders=near_responders, near_f=near_f)


def true_tau_s(bus: LinBus) -> float:
    return (bus.near_f + bus.far_f) / (bus.near_siemens + bus.far_siemens)


@pytest.mark.parametrize(("responders", "near_f"), [(1, 1.5e-9), (2, 3e-9), (4, 5e-9)])
@pytest.mark.parametrize("bit_rate", [9600.0, 19_200.0])
def test_the_time_constant_of_the_rise_is_the_circuits(
    make_bus: MakeBus, responders: int, near_f: float, bit_rate: float
) -> None:
    bus = bus_without(responders, near_f)
    made = make_bus(31, bus=bus, bit_rate=bit_rate, slot_s=8e-3 * 19_200 / bit_rate, seconds=0.15)
    line = read_line(made.near, Conditions(supply_v=bus.battery_v), unwatched)
    found = edge_constants(made.near, line).of(ALL, rising=True)
    assert found is not None
    assert found.is_resolved
    assert found.tau_s == pytest.approx(true_tau_s(bus), rel=0.06)
    assert found.low_s <= true_tau_s(bus) <= found.high_s


def test_a_healthy_rise_is_no_slower_than_its_driver(healthy: Any) -> None:
    line = read_line(healthy.near, Conditions(supply_v=13.2), unwatched)
    constants = edge_constants(healthy.near, line)
    assert {one.talker for one in constants.rise} >= {ALL, "commander", "response 0x21"}
    assert not any(one.is_resolved for one in constants.rise)
    rows = [
        one for one in check(healthy.near, kind="lin", conditions=Conditions()).measures if "time constant" in one.name
    ]
    assert all(one.value is None and one.high is not None and one.kept is None for one in rows)


def test_resistance_from_a_time_constant_as_in_the_handbook() -> None:
    """τ = R·C: 30 kΩ at 1 nF is 30 µs, and 3 kΩ at 10 nF too (a LIN network's two end test loads)."""
    found = through_capacitance(TimeConstant(ALL, 30e-6, 30e-6, 30e-6, 9, True), BUS_F)
    assert (found.low, found.high) == pytest.approx((3e3, 30e3))
    assert found == Ohms(pytest.approx(np.sqrt(90e6)), found.low, found.high)


@pytest.mark.parametrize("way", ["alone", "together", "another day"])
def test_a_lost_pull_up_is_named_though_the_resting_level_is_right(make_bus: MakeBus, way: str) -> None:
    made = make_bus(32, bus=bus_without(2, 3e-9))
    if way == "alone":
        found = check(made.near, kind="lin", conditions=Conditions(supply_v=made.bus.battery_v))
    elif way == "together":
        found = compare(made.far, made.near, kind="lin", conditions=Conditions(same_moment=True))
    else:
        found = compare(made.near, make_bus(33).near, kind="lin", conditions=Conditions())
    assert (found.verdict.state, found.verdict.fault, found.verdict.picture) == ("faulty", "open", PICTURE)
    assert not [one for one in found.findings if one.kind == "dropout"]


@pytest.mark.parametrize("leak_ohm", [2200.0, 4700.0])
def test_a_leak_with_a_normal_rise_is_a_leak(make_bus: MakeBus, leak_ohm: float) -> None:
    made = make_bus(34, bus=replace(LinBus(), leaks=(Leak("near", leak_ohm, 0.0),)))
    verdict = check(made.near, kind="lin", conditions=Conditions(supply_v=made.bus.battery_v)).verdict
    assert (verdict.fault, verdict.short_to, verdict.picture) == ("short", "ground", "leak to ground")


def test_a_joint_slows_one_side_only_and_is_no_lost_pull_up(make_bus: MakeBus) -> None:
    made = make_bus(35, series_ohm=20e3, bus=replace(LinBus(), far_f=1.2e-9, responder_ohm=50e3))
    verdict = compare(made.far, made.near, kind="lin", conditions=Conditions(same_moment=True)).verdict
    assert verdict.picture != PICTURE
    assert verdict.fault in ("resistive", "open")


def test_a_bus_that_rises_slowly_on_both_days_has_not_changed(make_bus: MakeBus) -> None:
    slow = bus_without(3, 2e-9)
    found = compare(make_bus(36, bus=slow).near, make_bus(37, bus=slow).near, kind="lin", conditions=Conditions())
    assert found.verdict.picture != PICTURE


@pytest.mark.parametrize(("series_ohm", "far_f"), [(20e3, 1.4e-9), (16e3, 1.5e-9)])
def test_a_slow_fall_gives_the_resistance_before_it(make_bus: MakeBus, series_ohm: float, far_f: float) -> None:
    made = make_bus(38, series_ohm=series_ohm, bus=replace(LinBus(), far_f=far_f))
    found = compare(made.far, made.near, kind="lin", conditions=Conditions(same_moment=True))
    row = next(one for one in found.measures if one.name == NAME)
    assert row.value is not None
    assert row.low is not None
    assert row.low <= series_ohm <= (row.high or np.inf)


def test_a_fall_as_fast_as_its_driver_gives_a_bound_only(make_bus: MakeBus) -> None:
    made = make_bus(39, series_ohm=2200.0)
    found = compare(made.far, made.near, kind="lin", conditions=Conditions(same_moment=True))
    row = next(one for one in found.measures if one.name == NAME)
    assert row.value is None
    assert row.high is None or row.high > 2200.0
