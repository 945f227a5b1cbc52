"""The list of jobs: newest first, damaged ones shown and not dropped, found by any word, likeness told."""

from dataclasses import replace
from pathlib import Path

import pytest

from loomlight.signal.job import Job, JobCapture, JobVerdict
from loomlight.signal.job_records import FaultCode
from loomlight.signal.seen_before import Likeness, holds_words, likeness
from loomlight.signal.verdict import Verdict
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.job_list import jobs_in

RESISTIVE = Verdict("faulty", "resistive", ("lifted",))
CLEAN = Verdict("clean", "none", ("right",))


def verdict(file: str, found: Verdict) -> JobVerdict:
    return JobVerdict(file, "LIN", "", "lin", "", found, ())


def test_all_jobs_of_a_folder_with_the_damaged_one_last(tmp_path: Path) -> None:
    for title, stamp in (("old", "2025-01-02"), ("new", "2026-05-06")):
        folder = JobFolder.create(tmp_path / "jobs" / title, title=title)
        file = folder.path / "job.json"
        file.write_text(file.read_text().replace(folder.job.changed, f"{stamp}T10:00:00+00:00"))
    (JobFolder.create(tmp_path / "jobs" / "bad", title="bad").path / "job.json").write_bytes(b"{")
    (tmp_path / "jobs" / "no job").mkdir()
    lone = JobFolder.create(tmp_path / "elsewhere", title="lone").path
    found = jobs_in((tmp_path / "jobs", lone, lone, tmp_path / "not there"))
    assert [one.job.title if one.job else one.problem for one in found[:3]] == ["lone", "new", "old"]
    assert found[3].job is None
    assert "damaged" in found[3].problem
    assert len(found) == 4


def test_words_are_found_anywhere_without_capitals_and_accents() -> None:
    job = Job("Gebläse", vehicle="Coachling", vin="WAB-12", fault_codes=(FaultCode("B1A41", "blower"),))
    for words in ("geblase", "COACHLING b1a41", "wab12", "", "gebläse blower"):
        assert holds_words(job, words), words
    assert not holds_words(job, "coachling radio")


BASE = Job(
    "a",
    vehicle="Coachling",
    place="bulkhead connector, pin 7",
    fault_codes=(FaultCode("B1A41"),),
    captures=(JobCapture("1.csv", "1.csv", "x", ""), JobCapture("2.csv", "2.csv", "y", "", stage="after repair")),
    verdicts=(verdict("1.csv", RESISTIVE), verdict("2.csv", CLEAN)),
)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({}, Likeness(True, True, True, True)),
        ({"vehicle": "other", "fault_codes": ()}, Likeness(place=True, fault=True)),
        (
            {"place": " Bulkhead  connector, PIN 7", "vehicle": "x", "verdicts": (), "fault_codes": ()},
            Likeness(place=True),
        ),
        ({"vehicle": "", "place": "", "fault_codes": ()}, Likeness()),
        ({"place": "", "fault_codes": (), "verdicts": (verdict("2.csv", RESISTIVE),)}, Likeness(vehicle=True)),
    ],
)
def test_in_what_two_jobs_are_alike(change: dict[str, object], expected: Likeness) -> None:
    assert likeness(BASE, replace(BASE, **change)) == expected  # type: ignore[arg-type]


def test_a_number_tells_vehicles_apart_that_have_the_same_name() -> None:
    one, other = (
        replace(BASE, vin="1" * 17, place="", fault_codes=()),
        replace(BASE, vin="2" * 17, place="x", fault_codes=()),
    )
    assert not likeness(one, other).vehicle
    assert likeness(one, replace(other, vin="1" * 17, vehicle="written otherwise")).vehicle


def test_likeness_in_words() -> None:
    assert Likeness(vehicle=True, place=True).in_words() == "same vehicle, same place"
