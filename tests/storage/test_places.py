"""Where things are kept, and names that every system takes."""

import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.storage.places import copy_name, data_folder, file_name, jobs_folder, library_folder, log_folder, unused

# Windows documentation, "Naming Files, Paths, and Namespaces": reserved signs and names, whatever ending follows.
RESERVED_SIGNS = set('<>:"/\\|?*') | {chr(code) for code in range(32)}
RESERVED_NAMES = {"con", "prn", "aux", "nul", *(f"{a}{n}" for a in ("com", "lpt") for n in "0123456789¹²³")}


def is_taken_everywhere(name: str) -> bool:
    first = name.split(".")[0].rstrip(" ").lower()
    return (
        not set(name) & RESERVED_SIGNS
        and first not in RESERVED_NAMES
        and name.strip(" ") == name
        and not name.endswith(".")
        and 0 < len(name.encode("utf-8")) <= 150
    )


@pytest.mark.parametrize(
    ("title", "wanted"),
    [
        ("Heater blower", "Heater blower"),
        ("a/b\\c:d*e?", "a b c d e"),
        ("CON", "CON (file)"),
        ("nul.txt", "nul (file).txt"),
        ("aux .txt", "aux (file).txt"),
        ("com¹", "com¹ (file)"),
        ("console", "console"),
        ("../../etc", "etc"),
        ("ende. ", "ende"),
        ("tab\tline\nfeed", "tab line feed"),
        ("", "untitled"),
        ("...", "untitled"),
        ("\x00\u200b", "untitled"),
        ("Größe Ω 車", "Größe Ω 車"),
        ("cafe\u0301", "café"),
        ("half\udcffsign", "half sign"),
        ("x" * 300, "x" * 60),
        ("車" * 60, "車" * 40),
    ],
)
def test_titles_as_names(title: str, wanted: str) -> None:
    assert file_name(title) == wanted
    assert is_taken_everywhere(wanted)


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("before.CSV", "before.csv"),
        ("no ending", "no ending"),
        (".hidden", "hidden"),
        ("CON.tar.csv", "CON (file).tar.csv"),
        ("12.5 V rail", "12.5 V rail"),
        ("x" * 200 + ".h5", "x" * 60 + ".h5"),
        (".csv", "csv"),
        ("?.csv", "capture.csv"),
    ],
)
def test_copies_keep_their_ending(name: str, wanted: str) -> None:
    assert copy_name(name) == wanted


@given(st.text(max_size=90))
def test_every_text_gives_a_name_that_every_system_takes(text: str) -> None:
    assert is_taken_everywhere(file_name(text))
    assert is_taken_everywhere(copy_name(text))
    assert file_name(file_name(text)) == file_name(text)


def test_a_taken_name_gets_a_number(tmp_path: Path) -> None:
    wanted = tmp_path / "View.png"
    assert unused(wanted) == wanted
    wanted.touch()
    assert unused(wanted) == tmp_path / "View-2.png"
    # On some systems view.PNG is the same file as View.png.
    assert unused(tmp_path / "view.PNG") == tmp_path / "view-2.PNG"
    (tmp_path / "view-2.png").mkdir()
    assert unused(wanted) == tmp_path / "View-3.png"
    assert unused(tmp_path / "none" / "x") == tmp_path / "none" / "x"


def test_the_library_stands_where_it_was_put(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, own_home: Path) -> None:
    monkeypatch.delenv("LOOMLIGHT_LIBRARY", raising=False)
    assert library_folder() == data_folder() / "library"
    monkeypatch.setenv("LOOMLIGHT_LIBRARY", str(tmp_path))
    assert library_folder() == tmp_path
    monkeypatch.setenv("LOOMLIGHT_LIBRARY", "~/waves")
    assert library_folder() == own_home / "waves"


@pytest.mark.parametrize(
    ("platform", "variables", "wanted"),
    [
        ("linux", {"XDG_DATA_HOME": "/data"}, "/data/loomlight"),
        # XDG Base Directory Specification: a relative path is invalid and ignored.
        ("linux", {"XDG_DATA_HOME": "relative"}, "{home}/.local/share/loomlight"),
        ("linux", {"XDG_DATA_HOME": ""}, "{home}/.local/share/loomlight"),
        ("darwin", {}, "{home}/Library/Application Support/Loomlight"),
        ("win32", {"LOCALAPPDATA": "/local"}, "/local/Loomlight"),
    ],
)
def test_data_go_where_the_system_keeps_them(
    monkeypatch: pytest.MonkeyPatch, own_home: Path, platform: str, variables: dict[str, str], wanted: str
) -> None:
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "platform", platform)
    assert data_folder() == Path(wanted.format(home=own_home))
    assert log_folder().parent == data_folder()


def test_jobs_stand_among_the_documents_where_there_are_any(own_home: Path) -> None:
    assert jobs_folder() == own_home / "Loomlight jobs"
    (own_home / "Documents").mkdir()
    assert jobs_folder() == own_home / "Documents" / "Loomlight jobs"
