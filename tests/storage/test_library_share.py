"""Entries as a zip file, hostile ones refused; two libraries merged; the bin; everything verified."""

import json
import os
import re
import shutil
import sqlite3
import stat
import struct
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import h5py
import numpy as np
import pytest
from library_maker import small_capture

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.entry import Entry
from loomlight.signal.errors import FileProblem
from loomlight.signal.samples import FloatSamples
from loomlight.storage import library_bin
from loomlight.storage.capture_file import write_capture
from loomlight.storage.check_sum import seal
from loomlight.storage.library import Library
from loomlight.storage.library_export import export
from loomlight.storage.library_import import Incoming, arriving, take
from loomlight.storage.library_index import INDEX_NAME
from loomlight.storage.library_verify import verify

KNOWN = Entry(id="", title="Flap LIN", kind="lin", channel="", make="Coachling", pin="2")
SECRET = {
    "vin": "ZZZ00000000123456",
    "owner": "Somebody Invented",
    "instrument_serial": "SN-778899",
    "judged_by": "A. Technician",
}


@pytest.fixture
def library(tmp_path: Path) -> Library:
    made = Library(tmp_path / "library")
    made.add(small_capture(), "bus", replace(KNOWN, **SECRET))
    made.add(small_capture(1), "bus", replace(KNOWN, title="Rail"))
    return made


@pytest.fixture
def other(tmp_path: Path) -> Library:
    return Library(tmp_path / "other laptop" / "library")


def states(library: Library, source: Path) -> dict[str, str]:
    with arriving(library, source) as incoming:
        return {one.entry.title if one.entry else one.path.name: one.state for one in incoming}


def taken(library: Library, source: Path, **how: str) -> None:
    with arriving(library, source) as incoming:
        take(library, incoming, **how)  # type: ignore[arg-type]


# Sharing


def test_what_was_exported_is_taken_elsewhere(library: Library, other: Library, tmp_path: Path) -> None:
    entry = library.resolve("Flap LIN")
    library.add_capture(entry, small_capture(2), "bus")
    done = export(library, library.all(), tmp_path / "out.zip")
    assert len(done.entries) == 2
    assert states(other, done.path) == {"Flap LIN": "new", "Rail": "new"}
    assert not other.folder.exists()  # looking touches nothing
    taken(other, done.path)
    assert states(other, done.path) == {"Flap LIN": "same", "Rail": "same"}
    assert {one.id for one in other.all()} == {one.id for one in library.all()}
    for seed, capture in zip((0, 2), other.captures(other.resolve("Flap LIN")), strict=True):
        expected = small_capture(seed).channels[0].samples
        got = capture.channels[0].samples
        np.testing.assert_array_equal(got.block(0, 600), expected.block(0, 600))
    assert states(library, done.path) == {"Flap LIN": "same", "Rail": "same"}  # what was left out is no difference
    assert verify(other).wrong == ()


def test_personal_data_stay_at_home_unless_asked_for(library: Library, other: Library, tmp_path: Path) -> None:
    channel = Channel(
        "bus", "V", FloatSamples([0.0, 1.0]), 0, 1, history=("read from Somebody Invented.csv, column 2",)
    )
    capture = Capture("Somebody Invented.csv", "made", (channel,), ("Step from Somebody Invented.csv, SN-778899.",))
    note = "Car of somebody invented, ZZZ00000000123456; other one ZZZ0AB000CP123456."
    entry = library.add(capture, "bus", replace(KNOWN, title="Private", note=note, **SECRET))
    library.edit(entry, {"note": note + " A. Technician said so."})
    plain = export(library, [library.resolve("Private")], tmp_path / "plain.zip").path
    with zipfile.ZipFile(plain) as packed:
        content = b"".join(packed.read(name) for name in packed.namelist())
    told = [*SECRET.values(), "somebody invented", "ZZZ0AB000CP123456", "Somebody Invented.csv"]
    assert [one for one in told if one.encode() in content or json.dumps(one).encode() in content] == []
    whole = export(library, [library.resolve("Private")], tmp_path / "whole.zip", private=True).path
    taken(other, whole)
    assert other.resolve("Private") == library.resolve("Private")
    assert other.resolve("Private").vin == SECRET["vin"]


def test_an_export_is_the_same_each_time_and_writes_over_nothing(library: Library, tmp_path: Path) -> None:
    one, two = (export(library, library.all(), tmp_path / name, private=True).path for name in ("a.zip", "b.zip"))
    assert one.read_bytes() == two.read_bytes()
    with pytest.raises(FileProblem, match="already"):
        export(library, library.all(), one)


# Merging


def test_two_laptops_libraries_are_merged(library: Library, other: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("loomlight.storage.library_files.now", lambda: "2031-01-01T10:00:00+00:00")
    shutil.copytree(library.folder, other.folder)
    both = {one.title: one for one in library.all()}
    other.edit(both["Flap LIN"], {"pin": "7", "tags": ("seen",)})
    other.add(small_capture(3), "bus", replace(KNOWN, title="Only there"))
    library.delete(both["Rail"])
    with arriving(library, other.folder) as incoming:
        told = {one.entry.title: one for one in incoming if one.entry}
    assert {title: one.state for title, one in told.items()} == {
        "Flap LIN": "different",
        "Only there": "new",
        "Rail": "new",
    }
    assert set(told["Flap LIN"].fields) == {"pin", "tags"}
    assert told["Flap LIN"].note == "The incoming one was changed later."
    assert "deleted here" in told["Rail"].note
    taken(library, other.folder)
    assert library.resolve("Flap LIN").pin == "2"  # this one is kept unless asked otherwise
    taken(library, other.folder, different="both")
    assert sorted(one.pin for one in library.find("flap")) == ["2", "7"]
    taken(library, other.folder, different="take")
    assert library.resolve(both["Flap LIN"].id).pin == "7"
    assert [one.entry.pin for one in library.binned() if one.entry and one.entry.title == "Flap LIN"] == ["2"]
    taken(other, library.folder)
    assert states(other, library.folder)["Flap LIN"] == "same"


def test_other_samples_are_a_difference(library: Library, other: Library) -> None:
    shutil.copytree(library.folder, other.folder)
    rail = library.resolve("Rail")
    write_capture(other.path_of(rail), small_capture(9), entry=rail)
    with arriving(library, other.folder) as incoming:
        assert [one.fields for one in incoming if one.state == "different"] == [("samples",)]


def test_a_library_is_not_taken_into_itself(library: Library, tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="itself"), arriving(library, library.folder):
        pass
    (tmp_path / "empty").mkdir()
    with pytest.raises(FileProblem, match="no library entry"), arriving(library, tmp_path / "empty"):
        pass


# Hostile zip files


def zipped(path: Path, *members: tuple[zipfile.ZipInfo | str, bytes]) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in members:
            packed.writestr(name, content)


def link(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.create_system, info.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
    return info


def claims_less(path: Path) -> None:
    zipped(path, ("a.h5", b"x" * 5000))
    content = path.read_bytes()
    path.write_bytes(content.replace(struct.pack("<I", 5000), struct.pack("<I", 10)))


def bomb(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed, packed.open("a.h5", "w") as target:
        for _ in range(80):
            target.write(bytes(1 << 20))


def with_password(path: Path) -> None:
    zipped(path, ("a.h5", b"x"))
    content = bytearray(path.read_bytes())
    content[6] |= 1
    content[content.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(content)


def laid_over(path: Path) -> None:
    zipped(path, ("a.h5", os.urandom(60_000)), ("b.h5", b"y"))
    content = path.read_bytes()
    second = content.rindex(b"PK\x01\x02")
    sizes = struct.pack("<II", 60_000, 60_000)
    path.write_bytes(content[: second + 20] + sizes + content[second + 28 :])


HOSTILE: dict[str, tuple[Callable[[Path], None], str]] = {
    "path outside": (lambda path: zipped(path, ("../../outside.h5", b"x")), "outside"),
    "absolute path": (lambda path: zipped(path, ("/tmp/outside.h5", b"x")), "outside"),
    "other slashes": (lambda path: zipped(path, ("..\\outside.h5", b"x")), "outside"),
    "a drive": (lambda path: zipped(path, ("C:outside.h5", b"x")), "outside"),
    "symbolic link": (lambda path: zipped(path, (link("entries/a.h5"), b"/etc/passwd")), "link"),
    "bomb": (bomb, "far more"),
    "claims less": (claims_less, "damaged"),
    "laid over one another": (laid_over, "over one another"),
    "twice the same": (lambda path: zipped(path, ("a/x.h5", b"x"), ("b/X.h5", b"y")), "one name"),
    "wrong content": (lambda path: zipped(path, ("entries/run.exe", b"MZ")), "belongs to no library"),
    "reserved name": (lambda path: zipped(path, ("entries/con.h5", b"x")), "belongs to no library"),
    "nothing in it": (lambda path: zipped(path, ("library.json", b"{}")), "no library entry"),
    "password": (with_password, "password"),
    "no zip": (lambda path: path.write_bytes(b"PK\x03\x04 nonsense"), "no zip file"),
    "empty": (lambda path: path.write_bytes(b""), "no zip file"),
    "not there": (lambda path: None, "no such file"),
}


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("name", list(HOSTILE))
def test_a_hostile_zip_file_is_refused_in_one_line(library: Library, tmp_path: Path, name: str) -> None:
    make, told = HOSTILE[name]
    path = tmp_path / "in.zip"
    make(path)
    before = sorted(one for one in tmp_path.rglob("*") if one.name != INDEX_NAME)
    with pytest.raises(FileProblem, match=told) as refused, arriving(library, path):
        pass
    assert "\n" not in str(refused.value)
    assert sorted(one for one in tmp_path.rglob("*") if one.name != INDEX_NAME) == before


def with_external_link(path: Path) -> None:
    with h5py.File(path, "r+") as file:
        file["channels/1"] = h5py.ExternalLink("/etc/other.h5", "/x")


def with_soft_link(path: Path) -> None:
    with h5py.File(path, "r+") as file:
        file["more"] = h5py.SoftLink("/channels")


def with_external_samples(path: Path) -> None:
    with h5py.File(path, "r+") as file:
        del file["channels/0/samples"]
        file["channels/0"].create_dataset("samples", (8,), dtype="<i2", external=[("/etc/hostname", 0, 16)])


def with_other_channel(path: Path) -> None:
    write_capture(path, small_capture(), entry=replace(KNOWN, channel="gone"))


def without_title(path: Path) -> None:
    write_capture(path, small_capture(), entry=replace(KNOWN, title=" ", channel="bus"))


HARMED = {
    "external link": (with_external_link, "another place"),
    "soft link": (with_soft_link, "another place|damaged"),
    "external samples": (with_external_samples, "another file"),
    "cut short": (lambda path: path.write_bytes(path.read_bytes()[:3000]), "damaged"),
    "no entry": (lambda path: write_capture(path, small_capture()), "no library entry"),
    "no title": (without_title, "no library entry"),
    "other channel": (with_other_channel, "channel"),
    "a text": (lambda path: path.write_text("hello"), "damaged"),
}


@pytest.mark.parametrize("name", list(HARMED))
def test_a_hostile_entry_is_refused_and_the_others_are_not(library: Library, other: Library, name: str) -> None:
    shutil.copytree(library.folder, other.folder)
    harm, told = HARMED[name]
    path = other.path_of(library.resolve("Rail"))
    harm(path)
    if name in ("external link", "soft link", "external samples"):
        seal(path)
    fresh = Library(other.folder.parent / "fresh")
    with arriving(fresh, other.folder) as incoming:
        by_state: dict[str, Incoming] = {one.state: one for one in incoming}
        take(fresh, incoming)
    assert set(by_state) == {"new", "refused"}
    assert re.search(told, by_state["refused"].note)
    assert [one.title for one in fresh.all()] == ["Flap LIN"]


def test_signs_that_steer_a_terminal_are_taken_out(library: Library) -> None:
    path = library.path_of(library.resolve("Rail"))
    with h5py.File(path, "r+") as file:
        file.attrs["entry"] = json.dumps({"title": "Ra\x1b[2Jil\x07", "kind": "lin", "channel": "bus"})
    seal(path)
    assert {one.title for one in library.all()} == {"Flap LIN", "Ra [2Jil "}


# The bin


def test_only_age_empties_the_bin(library: Library) -> None:
    rail = library.resolve("Rail")
    gone = library.delete(rail)
    assert gone.days_left(datetime.now(UTC)) == 30
    now = datetime.now(UTC)
    assert library_bin.tidy(library.folder, now + timedelta(days=29, hours=23)) == 0
    assert gone.path.exists()
    stale = library.folder / ".x.h5.abc.partial"
    stale.write_bytes(b"")
    old = library.folder / "put aside" / "older.h5"
    old.parent.mkdir()
    shutil.copy(gone.path, old)
    assert library_bin.tidy(library.folder, now + timedelta(days=30, seconds=2)) == 1
    assert not gone.path.exists()
    assert not stale.exists()
    assert old.exists()  # put aside by an older version: kept for ever
    (kept,) = library.binned()
    assert kept.days_left(now) is None
    library.restore(kept)
    assert {one.title for one in library.all()} == {"Flap LIN", "Rail"}


@pytest.mark.parametrize("end", [" (copy of 2026-05-01)", "-conflict-20260501-101500", "-LAPTOP", "(1)"])
def test_conflict_copies_are_shown_and_one_is_kept(library: Library, end: str) -> None:
    rail = library.resolve("Rail")
    path = library.path_of(rail)
    shutil.copy(path, path.with_name(f"{rail.id}{end}.h5"))
    library.edit(rail, {"pin": "9"})
    copies = [one for one in library.files() if one.copy_of]
    assert [(one.copy_of, one.entry.pin) for one in copies] == [(rail.id, "2")]
    assert [one.state for one in verify(library).files].count("copy") == 1
    library.keep_copy(copies[0])
    assert [one.pin for one in library.find("rail")] == ["2"]
    assert library.resolve(rail.id).pin == "2"
    assert [one.entry.pin for one in library.binned() if one.entry] == ["9"]


# Verifying


def test_verify_names_what_is_wrong(library: Library) -> None:
    assert {one.state for one in verify(library).files} == {"sound"}
    rail = library.resolve("Rail")
    content = bytearray(library.path_of(rail).read_bytes())
    content[len(content) // 2] ^= 1
    library.path_of(rail).write_bytes(content)
    write_capture(library.folder / "plain.h5", small_capture())
    library.delete(library.resolve("Flap LIN"))
    found = verify(library)
    assert sorted((one.title, one.state) for one in found.wrong) == [("Rail", "damaged"), ("plain.h5", "no entry")]
    assert [one.file.split("/")[0] for one in found.files if one.state == "sound"] == ["bin"]


def test_verify_makes_an_index_anew_that_tells_something_else(library: Library) -> None:
    library.all()
    with sqlite3.connect(library.folder / INDEX_NAME) as connection:
        connection.execute("UPDATE entries SET entry = replace(entry, 'Rail', 'Other')")
    connection.close()
    assert {one.title for one in library.all()} == {"Flap LIN", "Other"}
    assert verify(library).index_was_wrong
    assert {one.title for one in library.all()} == {"Flap LIN", "Rail"}
    assert not verify(library).index_was_wrong


# Places that give trouble


def test_a_pulled_stick_is_one_clear_line(library: Library) -> None:
    entry = library.resolve("Rail")
    opened = library.open(entry)
    library.folder.rename(library.folder.with_name("away"))
    with pytest.raises(FileProblem, match="not there any more"):
        library.all()
    assert opened.channels[0].samples.block(0, 5).size == 5  # what was opened is still there
    library.folder.with_name("away").rename(library.folder)
    assert len(library.all()) == 2


def test_a_full_disk_leaves_everything_as_it_was(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    before = library.all()
    full = type("Full", (), {"free": 0})
    monkeypatch.setattr("shutil.disk_usage", lambda _: full)
    with pytest.raises(FileProblem, match="disk is full"):
        library.add(small_capture(), "bus", KNOWN)
    with pytest.raises(FileProblem, match="disk is full"):
        library.edit(before[0], {"pin": "9"})
    assert library.all() == before
    assert not list(library.folder.glob(".*partial"))
