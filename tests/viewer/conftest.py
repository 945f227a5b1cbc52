"""A window over a fresh home, and the sample captures as files of the person's own."""

import importlib.resources
from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from loomlight.storage.library import Library
from loomlight.viewer.desk import Desk
from loomlight.viewer.settings import Settings
from loomlight.viewer.window import Window

SAMPLES = ("before.csv", "after.csv", "known_good.h5")


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    """A folder with the sample captures, as they come from an instrument."""
    folder = tmp_path / "stick"
    folder.mkdir()
    for name in SAMPLES:
        content = importlib.resources.files("loomlight.sample_captures").joinpath(name).read_bytes()
        (folder / name).write_bytes(content)
    return folder


@pytest.fixture
def library(tmp_path: Path) -> Library:
    """An empty library."""
    return Library(tmp_path / "library")


@pytest.fixture
def desk(library: Library) -> Desk:
    """A desk with nothing on it."""
    return Desk(library)


@pytest.fixture
def window(library: Library, own_home: Path, qtbot: QtBot) -> Iterator[Window]:
    """The window, shown, with nothing open; ``own_home`` keeps its settings."""
    settings = Settings(own_home / "loomlight.ini")
    shown = Window(library, settings)
    shown.resize(1366, 768)
    shown.show()
    qtbot.addWidget(shown)
    yield shown
    shown.close()
