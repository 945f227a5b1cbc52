"""Between the receiver's thresholds, and held dominant: figures of made lines that are known beforehand."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.lin_examination import Supply, read_line
from loomlight.signal.lin_thresholds import thresholds
from loomlight.signal.progress import unwatched
from loomlight.signal.samples import FloatSamples

SUPPLY_V = 12.5


def line_of(channel: Channel) -> Any:
    return read_line(channel, Conditions(supply_v=SUPPLY_V + 0.7), unwatched)


def held_low(channel: Channel, start_s: float, stop_s: float, volts: float) -> Channel:
    values = channel.samples.block(0, channel.samples.size).copy()
    values[channel.index_at(start_s) : channel.index_at(stop_s)] = volts
    return Channel(channel.name, "V", FloatSamples(values), channel.start_s, channel.step_s)


def test_the_time_between_is_that_of_the_edges_that_pass_both(healthy: Any) -> None:
    supply = Supply(SUPPLY_V, SUPPLY_V - 0.3, SUPPLY_V + 0.3, "given")
    passed = np.array([[2e-6, 0.0], [3e-6, 0.0], [4e-6, np.nan], [0.0, 6e-6]])
    rising = np.array([False, False, False, True])
    found = {one.name: one for one in thresholds(line_of(healthy.near), supply, passed, rising, 50e-6)}
    falling = found["falling edge, time between the thresholds"]
    assert falling.value == pytest.approx(2.5e-6)
    assert "the longest 3.00 µs (6.0 % of a bit)" in falling.note
    assert "1 edges do not pass both" in falling.note
    assert found["rising edge, time between the thresholds"].value == pytest.approx(6e-6)


def test_receivers_limits_are_shares_of_the_nodes_supply(healthy: Any) -> None:
    """LIN 2.2, parameters 17 to 20: 0.4, 0.6, 0.475 to 0.525, 0.175 of the supply."""
    found = {one.name: one for one in check(healthy.near, kind="lin", conditions=Conditions(13.2)).looked.measures}
    assert found["dominant at or below"].value == pytest.approx(0.4 * SUPPLY_V)
    assert found["recessive at or above"].value == pytest.approx(0.6 * SUPPLY_V)
    assert found["middle of its two thresholds"].limit == "5.94 to 6.56 V"
    assert found["distance of its two thresholds"].value == pytest.approx(0.175 * SUPPLY_V)
    assert found["highest dominant level"].kept
    assert found["lowest recessive level"].kept


@pytest.mark.parametrize(
    ("start_s", "length_s", "severity"),
    [(0.05, 8e-3, "mild"), (0.05, 25e-3, "severe"), (0.0, 22e-3, "severe"), (0.13, 10e-3, "mild")],
    ids=["beyond the first time-out", "beyond all", "from the start on", "to the end"],
)
def test_a_line_held_dominant_is_found_where_it_is(
    healthy: Any, start_s: float, length_s: float, severity: str
) -> None:
    held = held_low(healthy.near, start_s, start_s + length_s, 0.05)
    found = [one for one in check(held, kind="lin", conditions=Conditions()).findings if one.kind == "held dominant"]
    assert len(found) == 1
    assert found[0].start_s == pytest.approx(start_s, abs=1.5e-3)  # a frame under way reaches to it
    assert found[0].stop_s == pytest.approx(start_s + length_s, abs=1.5e-3)
    assert found[0].severity == severity


def test_a_break_is_not_held_dominant(make_bus: Callable[..., Any]) -> None:
    slow = make_bus(3, bit_rate=2400.0, slot_s=60e-3, seconds=0.2)  # its break lasts 5.4 ms
    findings = check(slow.near, kind="lin", conditions=Conditions()).findings
    assert not [one for one in findings if one.kind == "held dominant"]


def test_a_line_held_down_beyond_all_time_outs_is_a_short_that_comes_and_goes(healthy: Any) -> None:
    held = held_low(healthy.near, 0.05, 0.08, 0.02)
    verdict = check(held, kind="lin", conditions=Conditions()).verdict
    assert (verdict.state, verdict.fault, verdict.short_to, verdict.intermittent) == ("faulty", "short", "ground", True)
    assert verdict.picture == "short to ground"


def test_held_for_less_than_all_time_outs_cannot_tell(healthy: Any) -> None:
    verdict = check(held_low(healthy.near, 0.05, 0.058, 0.02), kind="lin", conditions=Conditions()).verdict
    assert verdict.state == "cannot tell"
    assert "held dominant" in verdict.reasons[0]


def test_one_channel_held_down_while_the_bus_goes_on_is_no_short(healthy: Any) -> None:
    held = held_low(healthy.far, 0.05, 0.09, 0.0)
    verdict = compare(held, healthy.near, kind="lin", conditions=Conditions(same_moment=True)).verdict
    assert (verdict.state, verdict.short_to) == ("cannot tell", None)
    assert "no short holds the bus" in verdict.reasons[1]


def test_both_channels_held_down_are_a_short(healthy: Any) -> None:
    held = [held_low(one, 0.05, 0.09, 0.05) for one in (healthy.far, healthy.near)]
    verdict = compare(*held, kind="lin", conditions=Conditions(same_moment=True)).verdict
    assert (verdict.fault, verdict.short_to) == ("short", "ground")
