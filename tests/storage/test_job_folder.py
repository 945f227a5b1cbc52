"""The job folder: nothing that was made is lost, whoever writes it, whatever stops it."""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.job import JobVerdict, Note
from loomlight.signal.verdict import Verdict
from loomlight.storage.job_folder import ChangedElsewhere, JobFolder
from loomlight.storage.job_json import from_json, to_json


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    return JobFolder.create(tmp_path / "job", title="Heater blower")


@pytest.fixture
def source(tmp_path: Path) -> Path:
    path = tmp_path / "before.csv"
    path.write_text("one")
    return path


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


# Several writers


def test_two_windows_that_type_in_the_same_place_do_not_overwrite_each_other(folder: JobFolder) -> None:
    other = JobFolder.open(folder.path)
    folder.save(replace(folder.job, repair="mine"))
    for _ in (1, 2):
        with pytest.raises(ChangedElsewhere, match="repair was changed by another window to 'mine'"):
            other.save(replace(other.job, repair="yours"))
    other.add_snapshot("view", b"")
    with pytest.raises(ChangedElsewhere):
        other.save(replace(other.job, repair="yours"))
    job = JobFolder.open(folder.path).job
    assert (job.repair, job.snapshots) == ("mine", ("view.png",))


def test_two_windows_that_work_on_different_things_both_keep_theirs(folder: JobFolder, source: Path) -> None:
    other = JobFolder.open(folder.path)
    kept = folder.add_capture(source)
    folder.save(replace(folder.job, vehicle="Coachling"))
    other.keep_verdict(verdict())
    assert other.add_snapshot("view", b"") == "view.png"
    assert folder.add_snapshot("view", b"") == "view-2.png"
    other.set_notes(kept.file, (Note("bus", 1.0, 2.0, "here"),))
    other.save(replace(other.job, repair="pin renewed", state="proven"))
    job = JobFolder.open(folder.path).job
    assert other.job == job
    assert (job.vehicle, job.repair, job.state) == ("Coachling", "pin renewed", "proven")
    assert (len(job.captures), len(job.verdicts), len(job.snapshots)) == (1, 1, 2)
    assert job.captures[0].notes[0].text == "here"


def test_typing_the_same_twice_is_no_quarrel(folder: JobFolder) -> None:
    other = JobFolder.open(folder.path)
    for one in (folder, other):
        one.save(replace(one.job, repair="pin renewed"))
    assert other.job.repair == "pin renewed"


def test_typing_while_a_capture_is_copied_loses_neither(folder: JobFolder, tmp_path: Path) -> None:
    # The window's own two threads: one copies from a slow stick while what is typed is saved.
    for number in range(8):
        (tmp_path / f"{number}.csv").write_text(str(number))
    copying = threading.Thread(target=lambda: [folder.add_capture(tmp_path / f"{n}.csv") for n in range(8)])
    copying.start()
    for number in range(20):
        folder.save(replace(folder.job, repair=f"step {number}"))
    copying.join()
    job = JobFolder.open(folder.path).job
    assert (job.repair, len(job.captures)) == ("step 19", 8)


ADDER = """
import sys
from pathlib import Path
from loomlight.storage.job_folder import JobFolder
folder = JobFolder.open(Path(sys.argv[1]))
for number in range(int(sys.argv[2])):
    folder.add_snapshot("view", sys.argv[3].encode())
"""


def test_two_programs_at_once_lose_nothing(folder: JobFolder) -> None:
    each = 12
    programs = [
        subprocess.Popen([sys.executable, "-c", ADDER, str(folder.path), str(each), name]) for name in ("a", "b")
    ]
    assert [one.wait(timeout=60) for one in programs] == [0, 0]
    names = JobFolder.open(folder.path).job.snapshots
    assert len(set(names)) == 2 * each
    written = [(folder.path / "snapshots" / name).read_text() for name in names]
    assert (written.count("a"), written.count("b")) == (each, each)


HOLDER = """
import sys, time
from pathlib import Path
from loomlight.storage.alone import alone_in
with alone_in(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def test_a_writer_that_hangs_is_told_and_one_that_was_killed_is_not_waited_for(folder: JobFolder) -> None:
    holder = subprocess.Popen([sys.executable, "-c", HOLDER, str(folder.path)], stdout=subprocess.PIPE, text=True)
    try:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(FileProblem, match="another window is writing it"):
            folder.save(replace(folder.job, repair="x"))
    finally:
        holder.kill()
        holder.communicate()
    folder.save(replace(folder.job, repair="x"))
    assert JobFolder.open(folder.path).job.repair == "x"


# Killed

SAVER = """
import sys
from dataclasses import replace
from pathlib import Path
from loomlight.storage.job_folder import JobFolder
folder = JobFolder.open(Path(sys.argv[1]))
source = Path(sys.argv[2])
number = int(folder.job.odometer or 0)
while True:
    number += 1
    source.write_text(str(number))
    folder.add_capture(source)
    folder.add_snapshot("view", str(number).encode() * 2000)
    folder.save(replace(folder.job, repair=str(number) * 3000, odometer=str(number)))
    print(number, flush=True)
"""


def killed(folder: JobFolder, source: Path, times: int) -> None:
    chance = random.Random(12)
    for _ in range(times):
        process = subprocess.Popen(
            [sys.executable, "-c", SAVER, str(folder.path), str(source)], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        first = int(process.stdout.readline())
        time.sleep(chance.uniform(0, 0.05))
        process.send_signal(signal.SIGKILL)
        last = max([first, *map(int, process.communicate()[0].split())])
        again = JobFolder.open(folder.path)
        number = int(again.job.odometer)
        assert again.problem == ""
        assert number in (last, last + 1)
        assert again.job.repair == str(number) * 3000
        for capture in again.job.captures:
            assert int(again.capture_path(capture).read_text()) <= last + 1
        for name in again.job.snapshots:
            content = (again.path / "snapshots" / name).read_text()
            assert content == content[: len(content) // 2000] * 2000
        assert len(again.job.captures) >= last
        assert len(again.job.snapshots) >= last


def test_a_killed_program_leaves_a_whole_job(folder: JobFolder, source: Path) -> None:
    killed(folder, source, 3)


@pytest.mark.long
def test_a_killed_program_leaves_a_whole_job_full(folder: JobFolder, source: Path) -> None:
    killed(folder, source, 30)
