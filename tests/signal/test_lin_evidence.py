"""Wire, component or control unit: each made bus raises the right one."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.listed_causes import standings
from loomlight.signal.samples import FloatSamples

MakeBus = Callable[..., Any]


def together(made: Any) -> Comparison:
    return compare(made.far, made.near, kind="lin", conditions=Conditions(same_moment=True))


def leanings(found: Comparison) -> dict[str, str]:
    return {one.part: one.leaning for one in standings((("x", found.verdict),))}


def flat(channel: Channel, volts: float) -> Channel:
    rng = np.random.default_rng(0)
    values = (volts + rng.normal(0, 0.02, channel.samples.size)).astype(np.float32)
    return Channel(channel.name, "V", FloatSamples(np.round(values, 2)), channel.start_s, channel.step_s)


def without_answers(channel: Channel, found: Comparison, identifier: str, volts: float) -> Channel:
    """The same line with the answers to one identifier left out."""
    values = channel.samples.block(0, channel.samples.size).copy()
    assert found.looked is not None
    for row in found.looked.frames:
        if row.identifier == identifier:
            start_s = row.words[3].start_s - 30e-6
            values[channel.index_at(start_s) : channel.index_at(row.stop_s + 30e-6)] = volts
    return Channel(channel.name, "V", FloatSamples(values), channel.start_s, channel.step_s)


def test_a_resistive_wire_raises_the_wire_and_lowers_the_others(make_bus: MakeBus) -> None:
    found = together(make_bus(1, series_ohm=2200.0))
    assert found.verdict.fault == "resistive"
    assert leanings(found) == {"wire": "raised", "component": "lowered", "control unit": "lowered"}
    assert any("lifted" in row.answer for row in found.verdict.evidence)


def test_a_clean_wire_raises_what_hangs_on_it(make_bus: MakeBus) -> None:
    found = together(make_bus(2))
    assert found.verdict.state == "clean"
    assert leanings(found)["wire"] == "lowered"
    assert leanings(found)["component"] == "raised"


def test_headers_that_do_not_arrive_speak_for_the_wire_and_for_the_commander(make_bus: MakeBus) -> None:
    made = make_bus(3)
    found = compare(flat(made.far, 11.5), made.near, kind="lin", conditions=Conditions(same_moment=True))
    assert found.verdict.fault == "open"
    assert leanings(found) == {"wire": "raised", "component": "open", "control unit": "lowered"}
    assert found.verdict.evidence[0].answer.startswith("none, and ")


def test_no_headers_anywhere_raise_the_control_unit(make_bus: MakeBus) -> None:
    made = make_bus(4)
    conditions = Conditions(same_moment=True, supply_v=13.2)
    found = compare(flat(made.far, 11.8), flat(made.near, 11.8), kind="lin", conditions=conditions)
    assert leanings(found)["control unit"] == "raised"


def test_a_node_that_answers_at_neither_probe_raises_the_component(make_bus: MakeBus) -> None:
    made = make_bus(5)
    clean = together(made)
    silenced = [without_answers(one, clean, "0x22", 11.8) for one in (made.far, made.near)]
    found = compare(*silenced, kind="lin", conditions=Conditions(same_moment=True))
    row = next(one for one in found.verdict.evidence if "0x22" in one.answer)
    assert row.raises == ("component",)
    assert "supply and ground" in row.why


def test_answers_that_are_lost_on_the_way_raise_the_wire(make_bus: MakeBus) -> None:
    made = make_bus(6)
    clean = together(made)
    lost = without_answers(made.far, clean, "0x22", 11.8)
    found = compare(lost, made.near, kind="lin", conditions=Conditions(same_moment=True))
    assert any(one.raises == ("wire",) and "0x22" in one.answer for one in found.verdict.evidence)


def test_alone_it_is_said_that_a_second_channel_would_decide(make_bus: MakeBus) -> None:
    made = make_bus(7)
    clean = check(made.far, kind="lin", conditions=Conditions(supply_v=13.2))
    found = check(without_answers(made.far, clean, "0x22", 11.8), kind="lin", conditions=Conditions(supply_v=13.2))
    row = next(one for one in found.verdict.evidence if "0x22" in one.answer)
    assert set(row.raises) == {"component", "wire"}


@pytest.mark.parametrize("volts", [3.4, 4.2])
def test_a_talker_high_at_both_probes_is_no_resistance_between_them(make_bus: MakeBus, volts: float) -> None:
    made = make_bus(8)
    clean = together(made)
    assert clean.looked is not None

    def lifted(channel: Channel) -> Channel:
        values = channel.samples.block(0, channel.samples.size).copy()
        for row in clean.looked.frames if clean.looked is not None else ():
            if row.identifier == "0x22" and len(row.words) > 3:
                place = slice(channel.index_at(row.words[3].start_s - 20e-6), channel.index_at(row.stop_s))
                values[place] = np.maximum(values[place], volts)
        return Channel(channel.name, "V", FloatSamples(values), channel.start_s, channel.step_s)

    found = compare(lifted(made.far), lifted(made.near), kind="lin", conditions=Conditions(same_moment=True))
    row = next(one for one in found.verdict.evidence if one.question.startswith("A talker high"))
    assert "own ground" in row.why
    assert "component" in row.raises
