"""A job's notes in words, and what its measurements leave of the wire."""

from dataclasses import replace

import pytest

from loomlight.signal.job import Job, JobCapture, JobVerdict
from loomlight.signal.job_records import CostLine, FaultCode, ListedCause, MeterReading
from loomlight.signal.verdict import Verdict
from loomlight.signal.wire_sketch import ProbePoint, Stop, WireSketch
from loomlight.viewer.job_words import job_facts, job_standings, job_suspicion

STOPS = tuple(Stop("connector", name) for name in ("panel", "splice", "bulkhead", "blower"))
PROBES = (ProbePoint(3, "b.csv", "blower LIN"), ProbePoint(1, "b.csv", "flap LIN"))
FAULTY = Verdict("faulty", "resistive", ("lifted",), joint="between the probes")
CAPTURES = (JobCapture("b.csv", "b.csv", "1", ""), JobCapture("a.csv", "a.csv", "2", "", stage="after repair"))


def job(good: str, *, file: str = "b.csv", probes: tuple[ProbePoint, ...] = PROBES) -> Job:
    verdict = JobVerdict(file, "blower LIN", good, "lin", "", FAULTY, ())
    return Job("x", captures=CAPTURES, verdicts=(verdict,), wire=WireSketch(STOPS, probes))


@pytest.mark.parametrize("good", ["flap LIN  (b.csv)", "b.csv", "/home/me/b.csv"])
def test_the_stretch_between_the_probes_is_under_suspicion(good: str) -> None:
    assert job_suspicion(job(good)).places == (2, 3, 4, 5, 6)


def test_a_reading_narrows_it_further() -> None:
    reading = MeterReading("x", "0,3", "Ω", from_stop=1, to_stop=2)
    assert job_suspicion(replace(job("b.csv"), readings=(reading,))).places == (2, 4, 5, 6)


@pytest.mark.parametrize(
    "other",
    [
        job("library: known-good"),
        job("b.csv", file="a.csv"),
        job("b.csv", probes=(*PROBES, ProbePoint(0, "b.csv", "panel LIN"))),
        job("flap LIN  (b.csv)", probes=PROBES[:1]),
    ],
)
def test_what_is_not_on_the_wire_or_after_the_repair_says_nothing(other: Job) -> None:
    assert job_suspicion(other).places == ()


def test_only_verdicts_from_before_the_repair_weigh() -> None:
    assert {one.part: one.leaning for one in job_standings(job("b.csv"))}["wire"] == "raised"
    assert {one.leaning for one in job_standings(job("b.csv", file="a.csv"))} == {"open"}


def test_facts_stand_in_the_order_of_the_work_and_empty_ones_are_left_out() -> None:
    noted = Job(
        "x",
        customer="van 12",
        fault_codes=(FaultCode("B1A41", "no answer", "10:15", "stored", (ListedCause("bus wire", "wire"),)),),
        readings=(MeterReading("supply", "12,4", "V", note="running"), MeterReading("pin", "OL", "Ω")),
        costs=(CostLine("pin", "part", "2", "3"), CostLine("work", "labour", "1", "")),
        currency="€",
    )
    assert job_facts(noted) == [
        ("customer", "van 12"),
        ("fault codes", "B1A41 no answer (stored, 10:15): bus wire"),
        ("meter readings", "supply: 12.4 V (running)\npin: OL Ω"),
        ("costs", "parts 6.00 €, labour 0.00 €; total 6.00 € (1 line lacks a number and is not in it)"),
    ]
