"""What is remembered from one start to the next."""

from pathlib import Path

import pytest
from PySide6.QtCore import QByteArray, QSettings

from loomlight.viewer.lanes.arrangement import Arrangement
from loomlight.viewer.settings import MOST_ARRANGED, MOST_RECENT, Settings


def test_a_theme_is_remembered_and_daylight_is_first(tmp_path: Path) -> None:
    file = tmp_path / "loomlight.ini"
    assert Settings(file).theme == "daylight"
    settings = Settings(file)
    settings.theme = "night"
    del settings
    assert Settings(file).theme == "night"


def test_a_theme_that_is_not_known_is_daylight(tmp_path: Path) -> None:
    file = tmp_path / "loomlight.ini"
    file.write_text("[General]\ntheme=purple\n")
    assert Settings(file).theme == "daylight"


def test_recent_files_newest_first_each_once_and_only_those_that_are_there(tmp_path: Path) -> None:
    settings = Settings(tmp_path / "loomlight.ini")
    paths = [tmp_path / f"{number}.csv" for number in range(MOST_RECENT + 3)]
    for path in paths:
        path.touch()
        settings.remember(path)
    settings.remember(paths[-2])
    paths[-1].unlink()
    assert settings.recent() == [paths[-2], *reversed(paths[3:-2])]


def test_one_recent_file_is_still_a_list(tmp_path: Path) -> None:
    file, path = tmp_path / "loomlight.ini", tmp_path / "a, b; c.csv"
    path.touch()
    settings = Settings(file)
    settings.remember(path)
    del settings
    assert Settings(file).recent() == [path]


def test_the_windows_place_comes_back(tmp_path: Path) -> None:
    settings = Settings(tmp_path / "loomlight.ini")
    assert settings.geometry is None
    settings.geometry = QByteArray(b"\x01\x02")
    assert settings.geometry == QByteArray(b"\x01\x02")


def test_arrangements_are_kept_by_name_and_the_oldest_forgotten(tmp_path: Path) -> None:
    file = tmp_path / "loomlight.ini"
    settings = Settings(file)
    for number in range(MOST_ARRANGED + 5):
        settings.remember_arrangement(f"captures {number}.csv", Arrangement(order=("b", "a")))
    del settings
    again = Settings(file)
    assert again.arrangement(f"captures {MOST_ARRANGED + 4}.csv") == Arrangement(order=("b", "a"))
    assert again.arrangement("captures 0.csv") is None
    again.remember_arrangement(f"captures {MOST_ARRANGED + 4}.csv", Arrangement())
    assert again.arrangement(f"captures {MOST_ARRANGED + 4}.csv") is None


@pytest.mark.parametrize("spoilt", ["{", "[]", '{"captures a.csv": 7}', '""'])
def test_spoilt_arrangements_are_none(tmp_path: Path, spoilt: str) -> None:
    file = tmp_path / "loomlight.ini"
    store = QSettings(str(file), QSettings.Format.IniFormat)
    store.setValue("lanes", spoilt)
    store.sync()
    assert Settings(file).arrangement("captures a.csv") in (None, Arrangement())
