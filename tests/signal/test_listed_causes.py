"""Wire, component, control unit: moved by evidence alone."""

from loomlight.signal.job_records import FaultCode, codes_in
from loomlight.signal.listed_causes import standings
from loomlight.signal.verdict import Verdict

RESISTIVE = Verdict("faulty", "resistive", ("lifted",))
SHORT = Verdict("faulty", "short", ("flat",), short_to="ground")
CLEAN = Verdict("clean", "none", ("right",))
UNSURE = Verdict("cannot tell", "unknown", ("asleep",))


def leanings(*verdicts: Verdict) -> dict[str, str]:
    return {one.part: one.leaning for one in standings(tuple((f"v{n}", v) for n, v in enumerate(verdicts)))}


def test_each_verdict_moves_what_it_speaks_of() -> None:
    assert leanings() == {"wire": "open", "component": "open", "control unit": "open"}
    assert leanings(UNSURE) == leanings()
    assert leanings(RESISTIVE) == {"wire": "raised", "component": "lowered", "control unit": "lowered"}
    assert leanings(CLEAN) == {"wire": "lowered", "component": "raised", "control unit": "raised"}
    assert leanings(SHORT) == leanings()


def test_evidence_both_ways_leaves_it_open_with_both_reasons() -> None:
    wire = standings((("before", RESISTIVE), ("at the splice", CLEAN)))[0]
    assert wire.leaning == "open"
    assert [one.split(":")[0] for one in wire.reasons] == ["before", "at the splice"]


def test_codes_are_found_in_lines_of_text() -> None:
    """Form of the code: SAE J2012 / ISO 15031-6, failure type of ISO 14229 behind it."""
    found = codes_in("u1118-87  blower: no communication\n\n B1A22 \nlamp on, no code read\nX9999 nothing")
    assert found == (
        FaultCode("U1118-87", "blower: no communication"),
        FaultCode("B1A22"),
        FaultCode("", "lamp on, no code read"),
        FaultCode("", "X9999 nothing"),
    )
