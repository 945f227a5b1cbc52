"""``library`` and ``job``: what goes in comes out again."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtGui import QImage

from loomlight.storage.places import library_folder
from loomlight.viewer.command_line import main
from loomlight.viewer.settings import Settings

ENTRY = ["id", "title", "kind", "vehicle", "system", "component", "connector", "pin", "fit", "sureness"]
PLACE = {
    "vehicle": "Coachling 9-seat",
    "system": "heating",
    "component": "blower regulator",
    "connector": "bulkhead",
    "pin": "7",
    "note": "ignition on",
}


def _answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, Any]:
    status = main([*arguments, "--json"])
    out, err = capsys.readouterr()
    assert err == ""
    return status, json.loads(out)


def _added(capsys: pytest.CaptureFixture[str], stick: Path, folder: Path, title: str) -> str:
    place = [part for name, value in PLACE.items() for part in (f"--{name}", value)]
    wanted = ["--channel", "flap LIN", "--kind", "lin", "--title", title, *place, "--library", str(folder)]
    assert main(["library", "add", str(stick / "after.csv"), *wanted]) == 0
    return capsys.readouterr().out.strip()


def test_an_entry_that_was_added_is_found_shown_and_used(
    stick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "library"
    added = _added(capsys, stick, folder, "Flap LIN, ignition on")
    at = ("--library", str(folder))
    status, answer = _answer(capsys, "library", "find", "flap", "COACHLING", *at)
    assert status == 0
    (entry,) = answer["entries"]
    assert list(entry)[: len(ENTRY)] == ENTRY
    assert (entry["note"], entry["captures"]) == ("ignition on", 1)
    known = {name: value for name, value in PLACE.items() if name != "note"}
    assert (
        entry
        == entry | {"id": added, "title": "Flap LIN, ignition on", "kind": "lin", "fit": None, "sureness": None} | known
    )
    for name in (added, "Flap LIN, ignition on"):
        assert _answer(capsys, "library", "show", name, *at) == (0, answer)
    good = ("--channel", "flap LIN", "--good", "Flap LIN, ignition on", *at)
    status, compared = _answer(capsys, "compare", str(stick / "before.csv"), *good)
    assert status == 1
    assert compared["verdict"]["fault"] == "resistive"


def test_a_path_that_exists_comes_before_an_entry_of_that_name(
    stick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "library"
    _added(capsys, stick, folder, "before.csv")
    monkeypatch.chdir(stick)
    status = main(["compare", "after.csv", "--channel", "#2", "--good", "before.csv", "--library", str(folder)])
    assert status == 2
    assert "several channels" in capsys.readouterr().err


def test_two_entries_of_one_title_are_told_apart_by_id(
    stick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "library"
    ids = [_added(capsys, stick, folder, "Flap") for _ in range(2)]
    assert main(["library", "show", "Flap", "--library", str(folder)]) == 2
    line = capsys.readouterr().err
    assert all(one in line for one in ids)
    assert _answer(capsys, "library", "show", ids[0], "--library", str(folder))[1]["entries"][0]["id"] == ids[0]


def test_find_ends_with_one_where_nothing_is_found(
    stick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "library"
    _added(capsys, stick, folder, "Flap")
    assert _answer(capsys, "library", "find", "wiper", "--library", str(folder)) == (1, {"entries": []})
    assert _answer(capsys, "library", "find", "--kind", "own-limits", "--library", str(folder))[0] == 1
    assert _answer(capsys, "library", "find", "--kind", "lin", "--library", str(folder))[0] == 0
    assert main(["library", "find", "--kind", "nonsense", "--library", str(folder)]) == 2
    assert "Choose one of: lin" in capsys.readouterr().err


def test_a_damaged_entry_is_told_and_hides_no_other(
    stick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "library"
    added = _added(capsys, stick, folder, "Flap")
    (folder / "damaged.h5").write_bytes(b"\x89HDF\r\n\x1a\n" + b"\0" * 100)
    assert main(["library", "find", "--library", str(folder)]) == 0
    out, err = capsys.readouterr()
    assert added in out
    assert "damaged.h5" in err


def test_the_library_is_the_persons_own_unless_another_is_named(
    stick: Path, own_home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wanted = ["--channel", "#2", "--kind", "lin", "--title", "Flap"]
    assert main(["library", "add", str(stick / "after.csv"), *wanted]) == 0
    added = capsys.readouterr().out.strip()
    assert (library_folder() / f"{added}.h5").is_file()
    if sys.platform.startswith("linux"):
        assert library_folder().is_relative_to(own_home)


def test_the_folder_of_the_settings_counts_for_the_commands_and_the_variable_before_it(
    stick: Path, tmp_path: Path, own_home: Path
) -> None:
    """In a process of their own: Qt finds the place of the settings once a process."""
    chosen, named = tmp_path / "größere Karte, 2", tmp_path / "named"
    chosen.mkdir()
    settings = Settings(own_home / "loomlight" / "loomlight.ini")
    settings.library_folder = chosen
    settings._store.sync()
    add = [sys.executable, "-m", "loomlight.viewer", "library", "add", str(stick / "after.csv"), "--channel", "#2"]
    for folder, variable in ((chosen, {}), (named, {"LOOMLIGHT_LIBRARY": str(named)})):
        done = subprocess.run(
            [*add, "--kind", "lin", "--title", "Flap"],
            env={**os.environ, **variable},
            capture_output=True,
            text=True,
            check=True,
        )
        assert (folder / f"{done.stdout.strip()}.h5").is_file()


def test_a_job_shows_what_was_put_in(stick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "visit"
    new = ["--title", "Blower", "--vehicle", "Coachling 9-seat", "--complaint", "full blast"]
    assert main(["job", "new", str(folder), *new]) == 0
    assert main(["job", "add", str(folder), str(stick / "before.csv")]) == 0
    capsys.readouterr()
    status, answer = _answer(capsys, "job", "show", str(folder))
    assert status == 0
    assert list(answer) == ["title", "vehicle", "complaint", "captures", "findings", "snapshots", "state"]
    assert (answer["title"], answer["vehicle"], answer["complaint"]) == ("Blower", "Coachling 9-seat", "full blast")
    assert [one["file"] for one in answer["captures"]] == ["before.csv"]
    assert (answer["findings"], answer["snapshots"], answer["state"]) == ([], [], "open")


def test_a_file_that_cannot_be_read_is_not_copied_into_a_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "visit"
    assert main(["job", "new", str(folder), "--title", "Blower"]) == 0
    empty = tmp_path / "empty.csv"
    empty.write_bytes(b"")
    assert main(["job", "add", str(folder), str(empty)]) == 2
    assert list((folder / "captures").iterdir()) == []


def test_a_job_is_not_made_over_something_else(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "visit"
    assert main(["job", "new", str(folder), "--title", "First"]) == 0
    before = (folder / "job.json").read_bytes()
    assert main(["job", "new", str(folder), "--title", "Second"]) == 2
    assert "already" in capsys.readouterr().err
    assert (folder / "job.json").read_bytes() == before


def test_a_photo_is_added_beside_the_captures(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder, photo = tmp_path / "visit", tmp_path / "pin.png"
    image = QImage(8, 8, QImage.Format.Format_RGB32)
    image.fill(0)
    assert image.save(str(photo))
    assert main(["job", "new", str(folder), "--title", "Blower"]) == 0
    assert main(["job", "add", str(folder), str(photo)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == str(folder / "photos" / "pin.png")
    assert main(["job", "show", str(folder)]) == 0
    assert "photos         pin.png" in capsys.readouterr().out


def test_jobs_are_found_by_any_word(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, title in (("a", "Blower"), ("b", "Wiper")):
        assert main(["job", "new", str(tmp_path / name), "--title", title, "--vehicle", "Coachling"]) == 0
    capsys.readouterr()
    assert main(["job", "find", "wiper", "COACH", "--in", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "Wiper" in out
    assert str(tmp_path / "b") in out
    assert "Blower" not in out
    assert main(["job", "find", "radio", "--in", str(tmp_path)]) == 1
    assert main(["job", "find", "--in", str(tmp_path / "nowhere")]) == 2
    assert "no such folder" in capsys.readouterr().err
