"""Which files of a watched folder are new and whole: real files, one look after the other."""

import os
from pathlib import Path

import pytest

from loomlight.viewer.folder_watch import MOST_AT_ONCE, FolderWatch


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "exports"
    place.mkdir()
    (place / "old.csv").write_text("was here before\n")
    return place


@pytest.fixture
def watch(folder: Path) -> FolderWatch:
    made = FolderWatch(folder)
    assert made.look().ready == ()
    return made


def names(watch: FolderWatch) -> list[str]:
    return [path.name for path in watch.look().ready]


def looks(watch: FolderWatch, count: int) -> list[list[str]]:
    return [names(watch) for _ in range(count)]


def later(path: Path, seconds: float) -> None:
    """Another time of change: two writes within one tick of the file system's clock look alike."""
    at = path.stat().st_mtime + seconds
    os.utime(path, (at, at))


def test_what_lay_there_is_old_and_a_new_file_is_given_once(folder: Path, watch: FolderWatch) -> None:
    (folder / "new.csv").write_text("1\n")
    first = watch.look()
    assert (first.ready, first.waiting) == ((), ("new.csv",))
    assert looks(watch, 4) == [["new.csv"], [], [], []]


def test_a_file_that_grows_is_given_when_it_stands_still(folder: Path, watch: FolderWatch) -> None:
    path = folder / "slow.csv"
    for length in range(1, 5):
        path.write_text("1\n" * length)
        assert watch.look().waiting == ("slow.csv",)
    assert looks(watch, 2) == [["slow.csv"], []]


def test_an_empty_file_is_waited_for(folder: Path, watch: FolderWatch) -> None:
    path = folder / "begun.csv"
    path.touch()
    assert looks(watch, 3) == [[], [], []]
    path.write_text("1\n")
    assert looks(watch, 2) == [[], ["begun.csv"]]


@pytest.mark.parametrize("partial", ["new.csv.tmp", "new.csv.part", ".new.csv", "~new.csv", "new.csv~", "NEW.TMP"])
def test_a_name_that_says_unfinished_is_passed_over_until_it_is_renamed(
    folder: Path, watch: FolderWatch, partial: str
) -> None:
    (folder / partial).write_text("1\n")
    assert looks(watch, 3) == [[], [], []]
    (folder / partial).rename(folder / "new.csv")
    assert looks(watch, 3) == [[], ["new.csv"], []]


def test_an_unfinished_name_that_was_there_at_the_start_counts_when_it_is_finished(tmp_path: Path) -> None:
    (tmp_path / "new.csv.tmp").write_text("1\n")
    watch = FolderWatch(tmp_path)
    watch.look()
    (tmp_path / "new.csv.tmp").rename(tmp_path / "new.csv")
    assert looks(watch, 2) == [[], ["new.csv"]]


def test_another_name_for_an_old_file_is_no_new_export(folder: Path, watch: FolderWatch) -> None:
    (folder / "old.csv").rename(folder / "kept.csv")
    assert looks(watch, 3) == [[], [], []]


def test_the_newest_file_keeps_its_name_and_the_one_before_gets_a_number(folder: Path, watch: FolderWatch) -> None:
    latest = folder / "latest.csv"
    latest.write_text("first\n")
    assert looks(watch, 2) == [[], ["latest.csv"]]
    latest.rename(folder / "run 1.csv")
    latest.write_text("second\n")
    later(latest, 5)
    assert looks(watch, 3) == [[], ["latest.csv"], []]


def test_a_file_written_over_is_new_again(folder: Path, watch: FolderWatch) -> None:
    (folder / "old.csv").write_text("something else, longer\n")
    later(folder / "old.csv", 5)
    assert looks(watch, 3) == [[], ["old.csv"], []]


def test_what_is_no_capture_is_nobodys_business(folder: Path, watch: FolderWatch) -> None:
    for name in ("screen.png", "setup.set", "noending"):
        (folder / name).write_text("x")
    (folder / "inside.csv").mkdir()
    assert watch.look().waiting == ()
    assert looks(watch, 2) == [[], []]


def test_capital_endings_count(folder: Path, watch: FolderWatch) -> None:
    (folder / "RUN.CSV").write_text("1\n")
    assert looks(watch, 2) == [[], ["RUN.CSV"]]


def test_a_folder_that_went_and_came_back_shows_what_was_saved_meanwhile(
    tmp_path: Path, folder: Path, watch: FolderWatch
) -> None:
    folder.rename(tmp_path / "pulled")
    assert not watch.look().is_there
    (tmp_path / "pulled" / "meanwhile.csv").write_text("1\n")
    (tmp_path / "pulled").rename(folder)
    assert looks(watch, 3) == [[], ["meanwhile.csv"], []]


def test_a_folder_that_is_not_there_yet_begins_with_what_it_brings(tmp_path: Path) -> None:
    watch = FolderWatch(tmp_path / "stick")
    assert not watch.look().is_there
    (tmp_path / "stick").mkdir()
    (tmp_path / "stick" / "old.csv").write_text("1\n")
    assert looks(watch, 3) == [[], [], []]
    (tmp_path / "stick" / "new.csv").write_text("1\n")
    assert looks(watch, 2) == [[], ["new.csv"]]


def test_several_come_oldest_first_and_a_flood_is_cut(folder: Path, watch: FolderWatch) -> None:
    for number in range(MOST_AT_ONCE + 3):
        path = folder / f"{number:02}.csv"
        path.write_text("1\n")
        later(path, number)
    watch.look()
    found = watch.look()
    assert [path.name for path in found.ready] == [f"{number:02}.csv" for number in range(3, MOST_AT_ONCE + 3)]
    assert found.left == 3
    assert names(watch) == []


def test_a_file_that_may_not_be_opened_yet_is_waited_for(
    folder: Path, watch: FolderWatch, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = folder / "held.csv"
    path.write_text("1\n")
    real, held = Path.open, [True]

    def refused(self: Path, *arguments: object, **options: object) -> object:
        if held[0] and self == path:
            raise PermissionError("another program has it")
        return real(self, *arguments, **options)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", refused)
    assert looks(watch, 3) == [[], [], []]
    held[0] = False
    assert names(watch) == ["held.csv"]
