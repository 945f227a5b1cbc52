"""Several windows and programs on one job, and one that is killed: each keeps what it made."""

import random
import signal
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from loomlight.signal.errors import FileProblem
from loomlight.signal.job import JobVerdict, Note
from loomlight.signal.verdict import Verdict
from loomlight.storage.job_folder import ChangedElsewhere, JobFolder

FINE = Verdict("clean", "none", ("fine",))


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
    other.keep_verdict(JobVerdict("before.csv", "bus", "good", "lin", "now", FINE, ()))
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
