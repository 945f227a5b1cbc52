"""The job folder: nothing that was made is lost, whoever writes it, whatever stops it."""

import json
import os
import random
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.job import JobVerdict, Note
from loomlight.signal.verdict import Verdict
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.job_json import from_json, to_json


def verdict(file: str = "before.csv", channel: str = "bus") -> JobVerdict:
    return JobVerdict(file, channel, "good", "lin", "now", Verdict("clean", "none", ("fine",)), ())


# Making and opening


def test_a_new_job_is_a_folder_that_a_person_can_read(tmp_path: Path) -> None:
    made = JobFolder.create(
        tmp_path / "a" / "job", title=" Blower ", vehicle="Coachling 9-seat", complaint="full blast"
    )
    assert sorted(one.name for one in made.path.iterdir()) == ["captures", "job.json", "photos", "snapshots"]
    content = json.loads((made.path / "job.json").read_text(encoding="utf-8"))
    assert (content["title"], content["vehicle"], content["complaint"]) == ("Blower", "Coachling 9-seat", "full blast")
    for path in (made.path, made.path / "job.json"):
        assert JobFolder.open(path).job == made.job
    assert made.job.created == made.job.changed


def test_a_job_takes_no_folder_that_holds_something(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("x")
    for path in (tmp_path, tmp_path / "mine.txt"):
        with pytest.raises(FileProblem, match="something stands there"):
            JobFolder.create(path, title="x")
    with pytest.raises(FileProblem, match="cannot be made"):
        JobFolder.create(tmp_path / "mine.txt" / "job", title="x")
    with pytest.raises(LoomlightError, match="title"):
        JobFolder.create(tmp_path / "new", title=" ")
    assert not (tmp_path / "new").exists()


def test_a_folder_from_an_interrupted_start_is_taken(tmp_path: Path) -> None:
    for name in ("captures", "snapshots"):
        (tmp_path / name).mkdir()
    (tmp_path / ".job.json.0123.partial").write_text("{")
    assert JobFolder.create(tmp_path, title="x").job.title == "x"
    with pytest.raises(FileProblem, match="something stands there"):
        JobFolder.create(tmp_path, title="y")


def test_captures_without_a_job_are_not_taken_over(tmp_path: Path) -> None:
    (tmp_path / "captures").mkdir()
    (tmp_path / "captures" / "a.csv").write_text("1")
    with pytest.raises(FileProblem, match="something stands there"):
        JobFolder.create(tmp_path, title="x")


@pytest.mark.parametrize("name", ["", "none", "file", "file/job.json"])
def test_a_place_without_a_job_is_told(tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(FileProblem, match="there is no job in this folder"):
        JobFolder.open(tmp_path / name)


# Damage


def test_a_damaged_job_opens_from_before_the_last_change(folder: JobFolder) -> None:
    folder.save(replace(folder.job, vehicle="Coachling"))
    folder.save(replace(folder.job, repair="pin renewed"))
    file = folder.path / "job.json"
    damaged = file.read_bytes()[:-40]
    file.write_bytes(damaged)
    again = JobFolder.open(folder.path)
    assert (again.job.vehicle, again.job.repair) == ("Coachling", "")
    assert again.problem.startswith("job.json, line ")
    assert "before the last change" in again.problem
    assert file.read_bytes() == damaged, "looking changes nothing"
    again.save(replace(again.job, repair="pin renewed again"))
    assert (folder.path / "job.damaged.json").read_bytes() == damaged
    whole = JobFolder.open(folder.path)
    assert (whole.job.repair, whole.problem) == ("pin renewed again", "")


def test_captures_and_pictures_that_the_older_copy_does_not_know_are_found_again(
    folder: JobFolder, source: Path
) -> None:
    first = folder.add_capture(source, "suspect")
    source.write_text("other content")
    second = folder.add_capture(source, "after repair")
    folder.add_snapshot("view", b"png")
    (folder.path / "job.json").unlink()
    (folder.path / "job.previous.json").write_bytes(
        to_json(replace(folder.job, captures=(first,), snapshots=()), {}).replace(b"Heater", b"Older")
    )
    (folder.path / "captures" / ".half.partial").write_text("x")
    again = JobFolder.open(folder.path)
    assert again.job.title == "Older blower"
    assert again.job.captures[0] == first
    assert [(one.file, one.sha256, one.stage) for one in again.job.captures[1:]] == [
        (second.file, second.sha256, "other")
    ]
    assert again.job.snapshots == ("view.png",)
    again.set_stage(second.file, "after repair")
    assert JobFolder.open(folder.path).job.captures[1].stage == "after repair"


def test_each_damaged_file_is_kept(folder: JobFolder) -> None:
    file = folder.path / "job.json"
    for number in (1, 2):
        file.write_text(f"damage {number}")
        folder.save(replace(folder.job, repair=f"repair {number}"))
    kept = sorted(one.read_text() for one in folder.path.glob("job.damaged*.json"))
    assert kept == ["damage 1", "damage 2"]


def test_a_job_file_that_is_gone_is_opened_from_the_older_copy(folder: JobFolder) -> None:
    folder.save(replace(folder.job, vehicle="Coachling"))
    (folder.path / "job.json").unlink()
    again = JobFolder.open(folder.path)
    assert again.job.title == "Heater blower"
    assert "there is no job in this folder" in again.problem
    again.set_stage("none", "suspect")
    assert JobFolder.open(folder.path).problem == ""


def test_damage_without_an_older_copy_is_told(folder: JobFolder) -> None:
    (folder.path / "job.json").write_text("{\n ,")
    with pytest.raises(FileProblem, match=r"job\.json, line 2, column 2: .*no older copy"):
        JobFolder.open(folder.path)


def test_an_older_version_never_writes_over_a_newer_one(folder: JobFolder) -> None:
    folder.save(replace(folder.job, vehicle="Coachling"))
    file = folder.path / "job.json"
    newer = json.dumps(json.loads(file.read_text()) | {"version": 3})
    file.write_text(newer)
    with pytest.raises(FileProblem, match="version 3"):
        JobFolder.open(folder.path)
    with pytest.raises(FileProblem, match="version 3"):
        folder.save(replace(folder.job, vehicle="mine"))
    assert file.read_text() == newer


def test_the_job_before_the_last_change_stands_beside(folder: JobFolder) -> None:
    folder.save(replace(folder.job, title="second"))
    previous, _ = from_json((folder.path / "job.previous.json").read_bytes(), Path("x"))
    assert (previous.title, JobFolder.open(folder.path).job.title) == ("Heater blower", "second")


# Captures, pictures, notes


def test_captures_are_copied_once_and_never_overwritten(folder: JobFolder, source: Path) -> None:
    first = folder.add_capture(source, "suspect")
    assert folder.add_capture(source) == first, "the same content is the same capture and keeps its use"
    source.write_text("other content")
    second = folder.add_capture(source)
    source.unlink()
    assert [one.file for one in folder.job.captures] == ["before.csv", "before-2.csv"]
    assert folder.capture_path(first).read_text() == "one"
    assert folder.capture_path(second).read_text() == "other content"
    assert folder.capture_of(folder.capture_path(second)) == second
    assert folder.capture_of(source) is None
    with pytest.raises(FileProblem, match=r"cannot be read .*stick"):
        folder.add_capture(source)
    assert sorted(one.name for one in (folder.path / "captures").iterdir()) == ["before-2.csv", "before.csv"]


def test_the_same_content_under_another_name_is_the_same_capture(folder: JobFolder, source: Path) -> None:
    first = folder.add_capture(source)
    other = source.with_name("copy.csv")
    shutil.copy(source, other)
    assert folder.add_capture(other, "after repair") == replace(first, stage="after repair")


def test_a_copy_that_was_deleted_is_made_again(folder: JobFolder, source: Path) -> None:
    folder.capture_path(folder.add_capture(source)).unlink()
    again = folder.add_capture(source)
    assert folder.capture_path(again).read_text() == "one"


def test_a_large_capture_is_copied_byte_by_byte(folder: JobFolder, tmp_path: Path) -> None:
    content = random.Random(5).randbytes(3 * (1 << 20) + 17)
    (tmp_path / "CON.H5").write_bytes(content)
    added = folder.add_capture(tmp_path / "CON.H5")
    assert (added.file, added.source_name) == ("CON (file).h5", "CON.H5")
    assert folder.capture_path(added).read_bytes() == content


def test_a_name_that_is_no_text_is_taken(folder: JobFolder, tmp_path: Path) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/mess\xff.csv"))
    path.write_text("1")
    added = folder.add_capture(path)
    assert added.file == "mess.csv"
    assert JobFolder.open(folder.path).job.captures == (added,)


NOTES = (Note("bus", 0.1, 2.0, "here"), Note("bus", 0.1, 2.0, "all this", 0.3))


def test_snapshots_notes_and_verdicts_are_kept(folder: JobFolder, source: Path) -> None:
    kept = folder.add_capture(source)
    folder.set_notes(kept.file, NOTES)
    folder.set_stage(kept.file, "suspect")
    folder.keep_verdict(verdict())
    folder.keep_verdict(replace(verdict(), made="later"))
    folder.keep_verdict(verdict(channel="other"))
    names = [folder.add_snapshot(name, name.encode()) for name in ("view", "View", "a/b: c?", "")]
    assert names == ["view.png", "View-2.png", "a b c.png", "snapshot.png"]
    job = JobFolder.open(folder.path).job
    assert job == folder.job
    assert job.captures == (replace(kept, stage="suspect", notes=NOTES),)
    assert [(one.channel, one.made) for one in job.verdicts] == [("bus", "later"), ("other", "now")]
    assert job.snapshots == tuple(names)
    assert (folder.path / "snapshots" / "view.png").read_bytes() == b"view"


def test_a_snapshot_never_overwrites_what_a_person_put_there(folder: JobFolder) -> None:
    (folder.path / "snapshots" / "view.png").write_bytes(b"mine")
    assert folder.add_snapshot("view", b"new") == "view-2.png"
    assert (folder.path / "snapshots" / "view.png").read_bytes() == b"mine"


def test_nothing_is_written_where_nothing_changed(folder: JobFolder) -> None:
    before = (folder.path / "job.json").stat().st_mtime_ns
    folder.save(folder.job)
    folder.set_notes("none", ())
    assert (folder.path / "job.json").stat().st_mtime_ns == before


def test_a_stick_that_was_pulled_is_told(folder: JobFolder, source: Path) -> None:
    shutil.rmtree(folder.path)
    with pytest.raises(FileProblem, match="is not there"):
        folder.save(replace(folder.job, repair="x"))
    for act in (lambda: folder.add_capture(source), lambda: folder.add_snapshot("a", b"")):
        with pytest.raises(FileProblem, match="cannot be made"):
            act()
