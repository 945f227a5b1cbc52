"""One zip file to send: all that the job lists, nothing private unless asked, whole or not at all."""

import os
import random
import subprocess
import sys
import time
import zipfile
from dataclasses import replace
from pathlib import Path, PurePosixPath

import pytest

from loomlight.signal.errors import FileProblem
from loomlight.signal.job_records import CostLine
from loomlight.signal.progress import Cancelled
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.job_json import from_json
from loomlight.storage.job_pack import PRIVATE, pack_job
from loomlight.storage.job_photos import add_photo

PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de0000000c4944415478da63f8ffff3f0005fe02fe0def46b80000000049"
    "454e44ae426082"
)
SECRETS = ("Somebody", "1LOOM00000X000000", "Technician T", "987.65")


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    made = JobFolder.create(tmp_path / "job", title="Blower: ../full speed")
    for name, text in (("b.csv", "t,v\n0,1\n"), ("a.csv", "t,v\n0,2\n")):
        (tmp_path / name).write_text(text)
        made.add_capture(tmp_path / name)
    (tmp_path / "pin.png").write_bytes(PNG)
    add_photo(made, tmp_path / "pin.png", "the pin")
    made.add_snapshot("proof", PNG)
    costs = (CostLine("pin", "part", "1", SECRETS[3]),)
    made.save(replace(made.job, customer=SECRETS[0], vin=SECRETS[1], technician=SECRETS[2], costs=costs, cause="a pin"))
    for name in ("report.pdf", "report.html"):
        (made.path / name).write_bytes(" ".join(SECRETS).encode())
    return made


def test_all_that_the_job_lists_is_in_it(folder: JobFolder, tmp_path: Path) -> None:
    packed = pack_job(folder, tmp_path / "out.zip")
    with zipfile.ZipFile(packed.path) as opened:
        assert opened.testzip() is None
        assert tuple(opened.namelist()) == packed.names
        tops = {PurePosixPath(name).parts[0] for name in opened.namelist()}
        inside = sorted(str(PurePosixPath(*PurePosixPath(name).parts[1:])) for name in opened.namelist())
        opened.extractall(tmp_path / "elsewhere")
    assert inside == ["captures/a.csv", "captures/b.csv", "job.json", "photos/pin.png", "snapshots/proof.png"]
    (top,) = tops
    assert ".." not in top.split("/")
    again = JobFolder.open(tmp_path / "elsewhere" / top)
    assert [one.sha256 for one in again.job.captures] == [one.sha256 for one in folder.job.captures]
    assert again.job.cause == "a pin"
    assert packed.notes == ()


def test_nothing_private_unless_asked(folder: JobFolder, tmp_path: Path) -> None:
    for private in (False, True):
        path = pack_job(folder, tmp_path / f"{private}.zip", private=private).path
        with zipfile.ZipFile(path) as opened:
            content = b"".join(opened.read(name) for name in opened.namelist())
            record = next(opened.read(name) for name in opened.namelist() if name.endswith("job.json"))
        assert [one.encode() in content for one in SECRETS] == [private] * len(SECRETS)
        job = from_json(record, Path("job.json"))[0]
        assert all(bool(getattr(job, name)) == private for name in PRIVATE if name not in ("currency", "tax_percent"))


def test_the_same_job_gives_the_same_bytes(folder: JobFolder, tmp_path: Path) -> None:
    first = pack_job(folder, tmp_path / "one.zip").path.read_bytes()
    for one in (folder.path / "captures").iterdir():
        os.utime(one, (0, 1e9))
    assert pack_job(JobFolder.open(folder.path), tmp_path / "two.zip").path.read_bytes() == first


def test_what_is_gone_or_altered_is_told(folder: JobFolder, tmp_path: Path) -> None:
    (folder.path / "captures" / "a.csv").unlink()
    (folder.path / "captures" / "b.csv").write_text("t,v\n0,9\n")
    packed = pack_job(folder, tmp_path / "out.zip")
    assert [name.rpartition("/")[2] for name in packed.names] == ["job.json", "b.csv", "pin.png", "proof.png"]
    gone, altered = packed.notes
    assert "captures/a.csv is not in the job's folder" in gone
    assert "captures/b.csv was altered" in altered


def test_a_link_out_of_the_folder_is_not_followed(folder: JobFolder, tmp_path: Path) -> None:
    secret = tmp_path / "elsewhere.txt"
    secret.write_text("not of this job")
    copy = folder.path / "captures" / "a.csv"
    copy.unlink()
    try:
        copy.symlink_to(secret)
    except OSError:
        return  # a system that lets nobody make links has none to follow
    packed = pack_job(folder, tmp_path / "out.zip")
    assert "captures/a.csv" in packed.notes[0]
    with zipfile.ZipFile(packed.path) as opened:
        assert all(b"not of this job" not in opened.read(name) for name in opened.namelist())


def test_nothing_is_written_over_and_nothing_half(
    folder: JobFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out.zip"
    out.write_text("mine")
    with pytest.raises(FileProblem, match="something stands there already"):
        pack_job(folder, out)
    assert out.read_text() == "mine"

    def stop(_share: float) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        pack_job(folder, tmp_path / "given_up.zip", progress=stop)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(FileProblem, match="the disk is full"):
        pack_job(folder, tmp_path / "full.zip")
    assert sorted(one.name for one in tmp_path.iterdir() if "zip" in one.name) == ["out.zip"]


PACKING = """
import sys
from pathlib import Path
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.job_pack import pack_job
folder, out = JobFolder.open(Path(sys.argv[1])), Path(sys.argv[2])
print("ready", flush=True)
number = 0
while True:
    pack_job(folder, out / f"{number}.zip")
    number += 1
"""


def test_a_killed_program_leaves_no_half_zip_file(folder: JobFolder, tmp_path: Path) -> None:
    (tmp_path / "large.csv").write_text("t,v\n" + "0.123456,7.89\n" * 200_000)
    folder.add_capture(tmp_path / "large.csv")
    rng = random.Random(8)
    for run in range(4):
        out = tmp_path / f"run {run}"
        out.mkdir()
        command = [sys.executable, "-c", PACKING, str(folder.path), str(out)]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as packing:
            assert packing.stdout is not None
            assert packing.stdout.readline().strip() == b"ready"
            time.sleep(rng.uniform(0.05, 0.6))
            packing.kill()
        for one in out.glob("*.zip"):
            with zipfile.ZipFile(one) as opened:
                assert opened.testzip() is None
                assert len(opened.namelist()) == 6
    assert JobFolder.open(folder.path).job == folder.job
