"""One-channel files that are opened together are offered to be joined."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from loomlight.storage.capture_file import read_capture
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.window import Window

SLOW_MS = 30_000


def one_channel(path: Path, value: float, rows: int = 400) -> Path:
    lines = [f"{number * 1e-5:.6f},{value + number % 5}" for number in range(rows)]
    path.write_text("\n".join(["Time (s),Voltage (V)", *lines, ""]))
    return path


@pytest.fixture
def files(tmp_path: Path) -> list[Path]:
    return [one_channel(tmp_path / f"run7_{number}.csv", number) for number in (1, 2, 3)]


def open_together(window: Window, qtbot: QtBot, files: list[Path]) -> None:
    already = len(window.desk.opened)
    window.files.open(files)
    qtbot.waitUntil(
        lambda: len(window.desk.opened) == already + len(files) and not window.opening.is_busy, timeout=SLOW_MS
    )


def press(qtbot: QtBot, button: QPushButton) -> None:
    QApplication.processEvents()
    assert button.isVisible()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def test_the_offer_makes_one_capture_of_them(window: Window, qtbot: QtBot, files: list[Path]) -> None:
    open_together(window, qtbot, files)
    page = window.captures_page
    assert page.join_offer.isVisible()
    assert "run7_1.csv, run7_2.csv, run7_3.csv" in page.join_offer.text.text()
    window.desk.choose(suspect=window.desk.opened[2].choices()[0])
    press(qtbot, page.join_offer.join_button)
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1, timeout=SLOW_MS)
    (whole,) = window.desk.opened
    assert [one.name for one in whole.capture.channels] == ["run7_1", "run7_2", "run7_3"]
    assert whole.capture.channels[1].history[-1] == "joined from run7_2.csv"
    assert window.desk.chosen.suspect is not None
    assert window.desk.chosen.suspect.channel.name == "run7_3"
    assert [one.name for one in read_capture(whole.path).channels] == ["run7_1", "run7_2", "run7_3"]
    assert all(path.exists() for path in files)
    assert not page.join_offer.isVisible()
    assert "3 channels" in window.strip.text.text()


def test_in_a_job_the_joined_capture_is_stored_and_opened_instead_of_its_parts(
    window: Window, qtbot: QtBot, files: list[Path], tmp_path: Path
) -> None:
    window.jobs.make_job(tmp_path / "job", "Blower")
    open_together(window, qtbot, files[:2])
    press(qtbot, window.captures_page.join_offer.join_button)
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1, timeout=SLOW_MS)
    job = JobFolder.open(tmp_path / "job").job
    assert [(one.file, one.part_of) for one in job.captures] == [
        ("run7_1.csv", "run7_1 joined.h5"),
        ("run7_2.csv", "run7_1 joined.h5"),
        ("run7_1 joined.h5", ""),
    ]
    window.jobs.open_job(tmp_path / "job")
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    assert window.desk.opened[0].path.name == "run7_1 joined.h5"
    assert not window.captures_page.join_offer.isVisible()


def test_other_recordings_and_files_opened_one_by_one_are_not_offered(
    window: Window, qtbot: QtBot, files: list[Path], tmp_path: Path
) -> None:
    open_together(window, qtbot, [files[0], one_channel(tmp_path / "other.csv", 0, rows=300)])
    assert not window.captures_page.join_offer.isVisible()
    open_together(window, qtbot, [files[1]])
    assert not window.captures_page.join_offer.isVisible()


def test_left_apart_they_stay_as_they_are(window: Window, qtbot: QtBot, files: list[Path]) -> None:
    open_together(window, qtbot, files)
    press(qtbot, window.captures_page.join_offer.leave_button)
    assert not window.captures_page.join_offer.isVisible()
    assert len(window.desk.opened) == 3


def test_the_offer_goes_with_its_captures(window: Window, qtbot: QtBot, files: list[Path], tmp_path: Path) -> None:
    open_together(window, qtbot, files)
    assert window.captures_page.join_offer.isVisible()
    JobFolder.create(tmp_path / "job", title="Another")
    window.jobs.open_job(tmp_path / "job")
    assert not window.captures_page.join_offer.isVisible()


def test_joined_samples_are_those_of_the_files(window: Window, qtbot: QtBot, files: list[Path]) -> None:
    open_together(window, qtbot, files)
    press(qtbot, window.captures_page.join_offer.join_button)
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1, timeout=SLOW_MS)
    for path, channel in zip(files, window.desk.opened[0].capture.channels, strict=True):
        alone = open_capture(path).channels[0]
        assert (channel.samples.block(0, 400) == alone.samples.block(0, 400)).all()
        assert (channel.start_s, channel.step_s) == (alone.start_s, alone.step_s)
