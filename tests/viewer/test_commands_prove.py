"""``prove``: its answer, its exit status, and what it keeps in a job."""

import json
from pathlib import Path
from typing import Any

import pytest

from loomlight.storage.job_folder import JobFolder
from loomlight.storage.picture_data import data_of
from loomlight.viewer.command_line import main

pytestmark = pytest.mark.usefixtures("qapp")  # pictures are drawn with the one application that the tests share


def _arguments(stick: Path, *more: str, before: str = "before.csv", after: str = "after.csv") -> list[str]:
    together = ("--channel", "blower LIN", "--good-channel", "flap LIN", "--kind", "lin")
    return ["prove", str(stick / before), str(stick / after), *together, *more]


def _answer(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> tuple[int, dict[str, Any]]:
    status = main([*arguments, "--json"])
    out, err = capsys.readouterr()
    assert err == ""
    return status, json.loads(out)


def test_a_mended_wire_is_proven_and_ends_with_zero(stick: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, answer = _answer(capsys, _arguments(stick))
    assert (status, answer["state"]) == (0, "proven")
    assert list(answer) == ["before", "after", "checks", "state", "reasons"]
    assert list(answer["before"]) == list(answer["after"]) == ["lineup", "findings", "bus", "verdict", "measures"]
    assert {tuple(one) for one in answer["checks"]} == {("name", "before", "after", "limit", "passed")}
    assert answer["before"]["verdict"]["state"] == "faulty"
    assert answer["after"]["verdict"]["state"] == "clean"


def test_the_same_fault_after_is_not_proven(stick: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, answer = _answer(capsys, _arguments(stick, after="before.csv"))
    assert (status, answer["state"]) == (1, "not proven")


def test_no_fault_before_leaves_nothing_to_prove(stick: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, answer = _answer(capsys, _arguments(stick, before="after.csv"))
    assert (status, answer["state"]) == (1, "cannot tell")
    assert "does not show the fault" in answer["reasons"][0]


def test_a_library_waveform_serves_as_known_good_for_both(stick: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [str(stick / "before.csv"), str(stick / "after.csv")]
    good = ["--channel", "#1", "--good", str(stick / "known_good.h5")]
    status, answer = _answer(capsys, ["prove", *files, *good])
    assert (status, answer["state"]) == (0, "proven")


def test_text_is_headline_reasons_and_a_table(stick: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(_arguments(stick)) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "✓ Repair proven"
    assert lines[1].startswith("  - Before: ")
    assert any(line.split() == ["Check", "Before", "After", "Limit", "Result"] for line in lines)
    assert lines[-1].endswith("✓ passed")


def test_a_job_keeps_captures_verdicts_picture_and_state(
    stick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "visit"
    picture = tmp_path / "proof.png"
    assert main(["job", "new", str(job), "--title", "Blower at full speed", "--vehicle", "Coachling 9-seat"]) == 0
    assert main(_arguments(stick, "--job", str(job), "--picture", str(picture))) == 0
    kept = JobFolder.open(job).job
    assert [(one.file, one.stage) for one in kept.captures] == [
        ("before.csv", "suspect"),
        ("after.csv", "after repair"),
    ]
    for name in ("before.csv", "after.csv"):
        assert (job / "captures" / name).read_bytes() == (stick / name).read_bytes()
    assert [(one.file, one.verdict.state) for one in kept.verdicts] == [
        ("before.csv", "faulty"),
        ("after.csv", "clean"),
    ]
    (snapshot,) = kept.snapshots
    # The job's own is for print; both hold the same answer.
    inside, printed = (json.loads(data_of(one.read_bytes()) or "") for one in (picture, job / "snapshots" / snapshot))
    assert inside["prove"] == printed["prove"]
    assert inside["sha256"] == printed["sha256"]
    assert inside["prove"]["state"] == "proven"
    assert kept.state == "proven"
    capsys.readouterr()
    assert main(["job", "show", str(job)]) == 0
    assert capsys.readouterr().out.startswith("Blower at full speed  [✓ proven]")


def test_a_second_proof_loses_nothing_of_the_first(stick: Path, tmp_path: Path) -> None:
    job = tmp_path / "visit"
    assert main(["job", "new", str(job), "--title", "Blower"]) == 0
    assert main(_arguments(stick, "--job", str(job), after="before.csv")) == 1
    assert JobFolder.open(job).job.state == "not proven"
    assert main(_arguments(stick, "--job", str(job))) == 0
    kept = JobFolder.open(job).job
    assert len(set(kept.snapshots)) == 2
    assert all((job / "snapshots" / name).is_file() for name in kept.snapshots)
    assert kept.state == "proven"


def test_what_the_technician_says_bears_on_the_answer(stick: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, answer = _answer(capsys, _arguments(stick, "--picked"))
    assert (status, answer["state"]) == (1, "cannot tell")
    assert "picked because it showed the fault" in answer["reasons"][0]
    status, answer = _answer(capsys, _arguments(stick, "--picked", "--provoked"))
    assert (status, answer["state"]) == (0, "proven")
    assert any("as the technician said" in one for one in answer["reasons"])
