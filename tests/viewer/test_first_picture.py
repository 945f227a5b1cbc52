"""A long file's first, coarse picture while it is read, and what becomes of it."""

from pathlib import Path

import h5py
import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from loomlight.viewer.window import Window

SLOW_MS = 60_000
CAPTURES, LIBRARY = 1, 4


@pytest.fixture
def long_file(tmp_path: Path) -> Path:
    """A foreign HDF5 file, long enough to be shown before it is read."""
    path = tmp_path / "long.h5"
    with h5py.File(path, "w") as file:
        wave = np.tile(np.float32([0.0, 12.0]).repeat(500), 12_000)
        dataset = file.create_dataset("blower", data=wave, chunks=(65536,), compression="gzip", compression_opts=1)
        dataset.attrs["dt"] = 1e-6
        dataset.attrs["unit"] = "V"
    return path


def test_the_coarse_picture_comes_first_and_gives_way(window: Window, qtbot: QtBot, long_file: Path) -> None:
    window.go_to(LIBRARY)
    seen: list[str] = []
    page = window.captures_page
    window.opening.first_picture.connect(lambda *_: seen.append(page.panel.lanes.lanes[0].traces[0].label))
    window.files.open([long_file])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    assert seen
    assert set(seen) == {"1: blower, coarse"}
    assert window.pages.currentIndex() == CAPTURES
    qtbot.waitUntil(lambda: page.panel.lanes.lanes[0].traces[0].label == "1: blower", timeout=SLOW_MS)
    assert not page.is_coarse
    assert page.channels.item(0).text().startswith("blower (V): 12000000 samples")
    assert not any("coarse" in line for line in page.how.lines())


def test_reading_is_given_up_by_a_button_and_what_was_there_is_shown_again(
    window: Window, qtbot: QtBot, stick: Path, long_file: Path
) -> None:
    window.files.open([stick / "before.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    page = window.captures_page
    coarse: list[bool] = []

    def stop() -> None:
        if not coarse:
            coarse.append(page.is_coarse)
            QApplication.processEvents()
            qtbot.mouseClick(page.stop_button, Qt.MouseButton.LeftButton)

    window.opening.first_picture.connect(stop)
    window.files.open([long_file])
    qtbot.waitUntil(lambda: "given up" in window.strip.text.text(), timeout=SLOW_MS)
    qtbot.waitUntil(lambda: not page.is_coarse and bool(page.panel.lanes.lanes), timeout=SLOW_MS)
    assert coarse == [True]
    assert [one.path.name for one in window.desk.opened] == ["before.csv"]
    qtbot.waitUntil(lambda: page.panel.lanes.lanes[0].traces[0].label == "1: blower LIN", timeout=SLOW_MS)
    assert not page.stop_button.isVisible()
    assert page.files.currentRow() == 0


def test_a_file_that_cannot_be_read_to_its_end_leaves_no_picture_behind(
    window: Window, qtbot: QtBot, long_file: Path
) -> None:
    cuts: list[bool] = []

    def cut(*_: object) -> None:
        """Cut the file short after its first picture, as a stick that is pulled does; runs where the file is read."""
        if not cuts:
            cuts.append(True)
            with long_file.open("rb+") as file:
                file.truncate(40_000)

    window.opening.first_picture.connect(cut, Qt.ConnectionType.DirectConnection)
    window.files.open([long_file])
    qtbot.waitUntil(lambda: window.strip.text.text().startswith("✗  long.h5"), timeout=SLOW_MS)
    page = window.captures_page
    qtbot.waitUntil(lambda: not page.is_coarse, timeout=SLOW_MS)
    assert cuts
    assert not window.desk.opened
    assert not page.panel.lanes.lanes
    assert page.open_button.isHidden()  # the empty page's own buttons offer it
