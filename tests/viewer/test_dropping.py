"""Files are dropped on the window: with the events that the system sends, on any page, many at once."""

from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QLineEdit, QPlainTextEdit, QWidget
from pytestqt.qtbot import QtBot

from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.capture_files import dropped
from loomlight.viewer.window import PLACES, Window

SLOW_MS = 30_000
JOB, CAPTURES = 0, 1


def drop(onto: QWidget, *paths: Path, text: str = "") -> bool:
    """Send what the system sends; gives whether the window would take it."""
    mime = QMimeData()
    if paths:
        mime.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    if text:
        mime.setText(text)
    action, button, key = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(QPoint(9, 9), action, mime, button, key)
    QApplication.sendEvent(onto, enter)
    if not enter.isAccepted():
        return False
    event = QDropEvent(QPointF(9, 9), action, mime, button, key)
    QApplication.sendEvent(onto, event)
    return event.isAccepted()


def opened(window: Window, qtbot: QtBot, count: int) -> list[str]:
    qtbot.waitUntil(lambda: len(window.desk.opened) == count and not window.opening.is_busy, timeout=SLOW_MS)
    return [one.path.name for one in window.desk.opened]


def test_many_files_are_dropped_at_once(window: Window, qtbot: QtBot, stick: Path) -> None:
    assert drop(window, stick / "before.csv", stick / "after.csv", stick / "known_good.h5")
    assert opened(window, qtbot, 3) == ["before.csv", "after.csv", "known_good.h5"]
    assert window.pages.currentIndex() == CAPTURES
    assert window.captures_page.files.count() == 3
    assert [path.name for path in window.settings.recent()] == ["known_good.h5", "after.csv", "before.csv"]


@pytest.mark.parametrize("place", range(len(PLACES)))
def test_every_page_takes_them(window: Window, qtbot: QtBot, stick: Path, place: int) -> None:
    window.go_to(place)
    assert drop(window, stick / "before.csv")
    assert opened(window, qtbot, 1) == ["before.csv"]


def test_a_bad_one_among_them_stops_nothing(window: Window, qtbot: QtBot, stick: Path) -> None:
    (stick / "bad.csv").write_text("no waveform here\n")
    drop(window, stick / "before.csv", stick / "bad.csv", stick / "gone.csv", stick / "after.csv")
    assert opened(window, qtbot, 2) == ["before.csv", "after.csv"]
    assert window.strip.text.text().startswith("✗  gone.csv")


def test_text_fields_leave_a_dropped_file_to_the_window(window: Window, qtbot: QtBot, stick: Path) -> None:
    window.jobs.make_job(stick / "job", "Blower")
    window.go_to(JOB)
    fields = [*window.pages.findChildren(QLineEdit), *window.pages.findChildren(QPlainTextEdit)]
    assert len(fields) > 5
    for field in fields:
        target = field.viewport() if isinstance(field, QPlainTextEdit) else field
        assert not target.acceptDrops()


def test_a_folder_gives_its_captures(window: Window, qtbot: QtBot, stick: Path) -> None:
    (stick / "screen.png").write_bytes(b"\x89PNG")
    (stick / "inside").mkdir()
    drop(window, stick)
    assert opened(window, qtbot, 3) == ["after.csv", "before.csv", "known_good.h5"]
    drop(window, stick / "inside")
    assert "inside holds no captures" in window.strip.text.text()


def test_a_jobs_folder_is_opened_as_a_job(window: Window, qtbot: QtBot, stick: Path, tmp_path: Path) -> None:
    folder = JobFolder.create(tmp_path / "job", title="Blower")
    folder.add_capture(stick / "before.csv")
    for what in (tmp_path / "job", tmp_path / "job" / "job.json"):
        window.desk.clear()
        drop(window, what)
        assert opened(window, qtbot, 1) == ["before.csv"]
        assert window.desk.job is not None
        assert window.desk.job.title == "Blower"


def test_what_is_no_file_is_not_taken(window: Window, qtbot: QtBot) -> None:
    assert not drop(window, text="just words")
    assert not window.desk.opened


def test_what_was_dropped_is_told_apart(tmp_path: Path) -> None:
    JobFolder.create(tmp_path / "job", title="Blower")
    (tmp_path / "folder").mkdir()
    for name in ("b.CSV", "a.h5", ".hidden.csv", "note.pdf"):
        (tmp_path / "folder" / name).touch()
    (tmp_path / "empty").mkdir()
    single = tmp_path / "any name"
    found = dropped([tmp_path / "folder", tmp_path / "job", single, tmp_path / "empty"])
    assert found.job == tmp_path / "job"
    assert [path.name for path in found.captures] == ["a.h5", "b.CSV", "any name"]
    assert found.empty == (tmp_path / "empty",)


def test_the_recent_files_menu_opens_one_again(window: Window, qtbot: QtBot, stick: Path) -> None:
    drop(window, stick / "before.csv", stick / "after.csv")
    opened(window, qtbot, 2)
    window.desk.clear()
    page = window.captures_page
    page.recent_button.menu().aboutToShow.emit()
    texts = [action.text() for action in page.recent_button.menu().actions()]
    assert texts == ["Captures", str(stick / "after.csv"), str(stick / "before.csv")]
    page.recent_button.menu().actions()[2].trigger()
    assert opened(window, qtbot, 1) == ["before.csv"]
    (stick / "after.csv").unlink()
    page.recent_button.menu().aboutToShow.emit()
    assert [action.text() for action in page.recent_button.menu().actions()] == ["Captures", str(stick / "before.csv")]
