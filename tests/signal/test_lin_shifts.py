"""Ground and supply shifts as figures: those that were put into made buses, inside their intervals."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.lin_shifts import SHIFT
from loomlight.signal.measure import Measure
from loomlight.signal.samples import FloatSamples

MakeBus = Callable[..., Any]


def shifted(channel: Channel, volts: float) -> Channel:
    values = channel.samples.block(0, channel.samples.size) + np.float32(volts)
    return Channel(channel.name, "V", FloatSamples(values), channel.start_s, channel.step_s)


def together(suspect: Channel, good: Channel, **more: Any) -> Comparison:
    return compare(suspect, good, kind="lin", conditions=Conditions(same_moment=True, supply_v=13.2, **more))


def row(found: Comparison, name: str) -> Measure:
    return next(one for one in found.measures if one.name == name)


@pytest.mark.parametrize("shift_v", [-0.9, 0.0, 0.4, 2.4])
@pytest.mark.parametrize("series_ohm", [0.02, 2200.0])
def test_the_ground_shift_is_what_was_put_in_whatever_the_wire(
    make_bus: MakeBus, shift_v: float, series_ohm: float
) -> None:
    made = make_bus(41, series_ohm=series_ohm)
    found = row(together(shifted(made.far, shift_v), made.near), "ground shift between the two channels")
    assert found.low is not None
    assert found.high is not None
    assert found.low <= shift_v <= found.high
    # LIN 2.1 and 2.2, parameter 23: 11.5 % of the battery voltage (from memory): 1.52 V of 13.2 V.
    assert found.kept is (abs(shift_v) < 1.5)


def test_the_limit_can_be_changed(make_bus: MakeBus) -> None:
    made = make_bus(42)
    found = together(shifted(made.far, 1.4), made.near, settings=((SHIFT.key, 0.10),))
    assert row(found, "ground shift between the two channels").kept is False


def test_one_wire_shows_no_supply_shift_and_says_how_to_measure_it(healthy: Any) -> None:
    found = row(together(healthy.far, healthy.near), "supply shift between the two channels")
    assert found.value is None
    assert "supply at both nodes' pins" in found.note


@pytest.mark.parametrize(("rest_v", "kept"), [(11.0, None), (7.0, False)])
def test_a_cut_off_node_shows_its_own_supply(healthy: Any, rest_v: float, kept: bool | None) -> None:
    rng = np.random.default_rng(3)
    flat = rest_v + rng.normal(0, 0.02, healthy.near.samples.size)
    alone = Channel("far", "V", FloatSamples(flat.astype(np.float32)), 0.0, healthy.near.step_s)
    found = row(together(alone, healthy.near), "supply shift between the two channels")
    assert found.value == pytest.approx(rest_v - healthy.bus.top_v, abs=0.1)
    assert found.kept is kept


def test_talkers_shift_against_the_commander_is_bounded_by_what_drivers_differ(healthy: Any) -> None:
    found = row(together(healthy.far, healthy.near), "ground shift, response 0x22 against commander")
    assert found.value == pytest.approx(0.18, abs=0.05)  # 1.10 V against 0.92 V
    assert found.kept is True
