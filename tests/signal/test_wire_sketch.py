"""The drawn wire: each measurement narrows the stretch, none widens it, contradictions are said."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.job_records import MeterReading
from loomlight.signal.verdict import Verdict
from loomlight.signal.wire_sketch import (
    ProbePoint,
    Sight,
    Stop,
    WireSketch,
    renumbered,
    renumbered_reading,
    sight_of_reading,
    sight_of_verdict,
    suspicion,
)

WIRE = WireSketch(
    (
        Stop("control unit", "climate unit", "12"),
        Stop("splice", "splice under the dash"),
        Stop("connector", "bulkhead connector", "7"),
        Stop("component", "blower control", "3"),
    )
)
CLEAN = Verdict("clean", "none", ("right",))


def faulty(joint: str) -> Verdict:
    return Verdict("faulty", "resistive", ("lifted",), joint=joint)  # type: ignore[arg-type]


def test_places_have_names() -> None:
    assert WIRE.places == 7
    assert [WIRE.place_name(place) for place in (0, 3, 4)] == [
        "climate unit 12",
        "wire from splice under the dash to bulkhead connector",
        "bulkhead connector 7",
    ]
    assert WireSketch().places == 0


def test_two_probes_then_the_meter_narrow_it_to_one_stretch() -> None:
    between = sight_of_verdict(WIRE, faulty("between the probes"), 3, 1)
    assert between == Sight(2, 6, True, between.why)
    sound = sight_of_reading(WIRE, MeterReading("splice to bulkhead, rear", "0.2", "Ω", from_stop=1, to_stop=2))
    assert sound is not None
    found = suspicion(WIRE, (between, sound))
    assert found.places == (2, 4, 5, 6)
    high = sight_of_reading(WIRE, MeterReading("over the bulkhead", "1800.0", "Ω", from_stop=2, to_stop=3))
    assert high is not None
    assert suspicion(WIRE, (between, sound, high)).places == (4, 5, 6)
    assert "1.8 kΩ" in high.why


@pytest.mark.parametrize(
    ("figure", "unit", "quantity"),
    [
        ("1,8", "kΩ", (1800.0, "Ω")),
        ("-250", "mV", (-0.25, "V")),
        ("−0.4", "V", (-0.4, "V")),
        (" 2.2 ", "MΩ", (2.2e6, "Ω")),
        ("21", "°C", (21.0, "°C")),
        ("3", "m", (3.0, "m")),
        ("", "V", None),
        ("OL", "Ω", None),
        ("inf", "Ω", None),
    ],
)
def test_a_typed_figure_as_a_quantity(figure: str, unit: str, quantity: tuple[float, str] | None) -> None:
    found = MeterReading("x", figure, unit).quantity
    assert found == (pytest.approx(quantity[0]), quantity[1]) if quantity else found is None


def test_a_direction_alone_keeps_one_side() -> None:
    towards = sight_of_verdict(WIRE, faulty("towards the commander"), 2, None)
    away = sight_of_verdict(WIRE, faulty("away from the commander"), 2, None)
    assert towards is not None
    assert away is not None
    assert suspicion(WIRE, (towards,)).places == (0, 1, 2, 3, 4)
    assert suspicion(WIRE, (away,)).places == (4, 5, 6)
    assert suspicion(WIRE, (towards, away)).places == (4,)


def test_a_clean_pair_of_probes_clears_what_lies_between_but_not_the_pins_themselves() -> None:
    sight = sight_of_verdict(WIRE, CLEAN, 0, 2)
    assert sight is not None
    assert suspicion(WIRE, (sight,)).places == (0, 4, 5, 6)


def test_contradictions_are_said() -> None:
    left = Sight(0, 2, True, "left")
    right = Sight(4, 6, True, "right")
    found = suspicion(WIRE, (left, right))
    assert found.contradicts
    assert found.places == ()
    assert found.reasons == ("left", "right")


@pytest.mark.parametrize(
    "reading",
    [
        MeterReading("no stops", "0.1", "Ω"),
        MeterReading("one stop twice", "0.1", "Ω", from_stop=1, to_stop=1),
        MeterReading("beyond the sketch", "0.1", "Ω", from_stop=1, to_stop=9),
        MeterReading("neither whole nor poor", "4.0", "Ω", from_stop=0, to_stop=1),
        MeterReading("a small drop says nothing without the current", "0.1", "V", from_stop=0, to_stop=1),
        MeterReading("another quantity", "50.0", "A", from_stop=0, to_stop=1),
    ],
)
def test_what_says_nothing_of_a_stretch_moves_nothing(reading: MeterReading) -> None:
    assert sight_of_reading(WIRE, reading) is None


@pytest.mark.parametrize(
    ("verdict", "probe", "good"),
    [
        (faulty(""), 2, 1),
        (faulty("between the probes"), 2, None),
        (faulty("between the probes"), None, 2),
        (CLEAN, 2, None),
        (Verdict("cannot tell", "unknown", ("asleep",)), 2, 1),
    ],
)
def test_a_verdict_without_a_stretch_moves_nothing(verdict: Verdict, probe: int | None, good: int | None) -> None:
    assert sight_of_verdict(WIRE, verdict, probe, good) is None


def test_probes_readings_and_the_place_found_go_with_their_stops() -> None:
    wire = WireSketch(WIRE.stops, (ProbePoint(3, "b.csv", "LIN"), ProbePoint(1, "b.csv", "flap")), found_at=5)
    reading = MeterReading("x", "1", "Ω", from_stop=1, to_stop=3)
    new = Stop("connector", "new")
    stops = (WIRE.stops[0], new, WIRE.stops[2], WIRE.stops[3])  # the splice went, a new one came
    origins = (0, None, 2, 3)
    found = renumbered(wire, stops, origins)
    assert found.probes == (ProbePoint(3, "b.csv", "LIN"),)
    assert found.found_at == 5
    assert renumbered_reading(reading, origins) == replace(reading, from_stop=None, to_stop=3)
    turned = renumbered(wire, tuple(reversed(WIRE.stops)), (3, 2, 1, 0))
    assert turned.probes == (ProbePoint(0, "b.csv", "LIN"), ProbePoint(2, "b.csv", "flap"))
    assert turned.place_name(turned.found_at or 0) == "wire from blower control to bulkhead connector"
    parted = renumbered(wire, (*WIRE.stops[:3], new, WIRE.stops[3]), (0, 1, 2, None, 3))
    assert parted.found_at is None
    assert renumbered(replace(wire, found_at=4), stops, origins).found_at == 4


SIGHTS = st.builds(
    lambda ends, holds: Sight(min(ends), max(ends), holds, "x"),
    st.tuples(st.integers(0, 6), st.integers(0, 6)),
    st.booleans(),
)


@given(st.lists(SIGHTS, min_size=1, max_size=6), SIGHTS)
def test_another_measurement_never_widens_it(sights: list[Sight], more: Sight) -> None:
    before = suspicion(WIRE, tuple(sights))
    after = suspicion(WIRE, (*sights, more))
    assert set(after.places) <= set(before.places)
    assert after.contradicts == (not after.places)
