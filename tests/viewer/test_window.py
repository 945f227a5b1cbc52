"""The person's way through the window: a capture, a verdict, a job, a snapshot, the proof."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QAbstractButton, QApplication, QFileDialog, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from loomlight.signal.job import Note
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.picture_data import data_of
from loomlight.viewer.keep_dialog import KeepDialog
from loomlight.viewer.new_job_dialog import NewJobDialog
from loomlight.viewer.window import PLACES, Window

SLOW_MS = 30_000
CAPTURES, COMPARE, PROOF, LIBRARY = 1, 2, 3, 4


def press(qtbot: QtBot, button: QAbstractButton) -> None:
    QApplication.processEvents()  # what was just shown has its place only then
    assert button.isVisible()
    assert button.isEnabled()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def button(page: QWidget, text: str) -> QPushButton:
    """The one button with this text that can be seen."""
    (found,) = [one for one in page.findChildren(QPushButton) if one.text() == text and one.isVisible()]
    return found


def opened(window: Window, qtbot: QtBot, *paths: Path) -> None:
    already = len(window.desk.opened)
    window.files.open(list(paths))
    qtbot.waitUntil(
        lambda: len(window.desk.opened) == already + len(paths) and not window.opening.is_busy, timeout=SLOW_MS
    )


def compared(window: Window, qtbot: QtBot) -> None:
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        press(qtbot, window.compare_page.run_button)


def said(window: Window, words: str) -> Callable[[], bool]:
    return lambda: window.strip.isVisible() and words in window.strip.text.text()


def answer(monkeypatch: pytest.MonkeyPatch, title: str) -> None:
    def filled_in(dialog: NewJobDialog) -> NewJobDialog.DialogCode:
        dialog.title.setText(title)
        return NewJobDialog.DialogCode.Accepted

    monkeypatch.setattr(NewJobDialog, "exec", filled_in)


def test_three_actions_from_a_file_to_a_verdict(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(stick / "before.csv")], ""))
    window.go_to(CAPTURES)
    press(qtbot, button(window.captures_page, "Open capture"))
    qtbot.waitUntil(window.captures_page.compare_button.isEnabled, timeout=SLOW_MS)
    press(qtbot, window.captures_page.compare_button)
    assert window.pages.currentWidget() is window.compare_page
    compared(window, qtbot)
    assert "Faulty" in window.compare_page.card.accessibleDescription()
    assert "kΩ" in window.compare_page.card.accessibleDescription()
    assert window.compare_page.table.rows.rowCount() > 10


def test_a_file_is_dropped_onto_the_window(window: Window, qtbot: QtBot, stick: Path) -> None:
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(stick / "after.csv"))])
    window.dropEvent(
        QDropEvent(
            QPointF(9, 9), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
        )
    )
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1, timeout=SLOW_MS)
    assert window.pages.currentWidget() is window.captures_page


def test_an_unreadable_file_is_one_plain_line_and_the_next_is_still_opened(
    window: Window, qtbot: QtBot, stick: Path
) -> None:
    (stick / "bad.csv").write_text("no waveform here\n")
    window.files.open([stick / "bad.csv", stick / "gone.csv", stick / "before.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    assert window.strip.isVisible()
    assert "Traceback" not in window.strip.text.text()
    assert window.strip.text.text().startswith("✗  gone.csv")


def test_a_job_takes_in_what_was_opened_chosen_noted_and_compared(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened(window, qtbot, stick / "before.csv", stick / "after.csv")
    window.desk.choose(after=window.desk.opened[1].choices()[0])
    window.go_to(COMPARE)
    compared(window, qtbot)
    note, marked = Note("blower LIN", 0.06, 6.0, "lets go"), Note("blower LIN", 0.05, 6.0, "its answer", 0.07)
    window.desk.keep_notes(stick / "before.csv", (note, marked))
    answer(monkeypatch, "Blower at full speed")
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        window.jobs.new_job()
    qtbot.waitUntil(lambda: window.desk.drawn is not None, timeout=SLOW_MS)
    folder = window.desk.folder
    assert folder is not None
    kept = JobFolder.open(folder.path).job
    assert [(one.file, one.stage) for one in kept.captures] == [
        ("before.csv", "suspect"),
        ("after.csv", "after repair"),
    ]
    assert kept.captures[0].notes == (note, marked)
    assert window.compare_page.panel.lanes.notes() == (note, marked)
    assert window.desk.drawn_from is not None
    assert window.desk.drawn_from[0].source == folder.path / "captures" / "before.csv"


def test_a_second_job_starts_empty_and_the_first_keeps_its_own(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer(monkeypatch, "First")
    window.jobs.new_job()
    first = window.desk.folder
    assert first is not None
    opened(window, qtbot, stick / "before.csv")
    window.go_to(COMPARE)
    compared(window, qtbot)
    window.go_to(0)
    window.job_page.parts.vehicle_form.texts["complaint"].setFocus()
    window.job_page.parts.vehicle_form.texts["complaint"].setPlainText("belongs to the first")
    answer(monkeypatch, "Second")
    window.jobs.new_job()
    second = window.desk.folder
    assert second is not None
    window.job_page.save()
    assert JobFolder.open(first.path).job.complaint == "belongs to the first"
    assert JobFolder.open(second.path).job.complaint == ""
    assert not JobFolder.open(second.path).job.captures
    assert window.desk.drawn is None
    assert window.compare_page.table.rows.rowCount() == 0
    assert "Faulty" not in window.compare_page.card.accessibleDescription()


def test_a_snapshot_and_its_verdict_are_about_what_is_shown_not_what_was_chosen_since(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer(monkeypatch, "Blower")
    window.jobs.new_job()
    opened(window, qtbot, stick / "before.csv", stick / "after.csv")
    window.go_to(COMPARE)
    compared(window, qtbot)
    window.desk.choose(suspect=window.desk.opened[1].choices()[0])
    assert window.compare_page.column.age.isVisible()
    assert "before.csv" in window.compare_page.column.age.text()
    press(qtbot, window.compare_page.snapshot_button)
    folder = window.desk.folder
    assert folder is not None
    qtbot.waitUntil(lambda: len(folder.job.snapshots) == 1, timeout=SLOW_MS)
    kept = JobFolder.open(folder.path).job
    assert [(one.file, one.verdict.state) for one in kept.verdicts] == [("before.csv", "faulty")]
    picture = folder.path / "snapshots" / kept.snapshots[0]
    assert '"faulty"' in (data_of(picture.read_bytes()) or "")


def test_the_proof_sets_the_jobs_state(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer(monkeypatch, "Blower")
    window.jobs.new_job()
    opened(window, qtbot, stick / "before.csv", stick / "after.csv")
    window.desk.choose(after=window.desk.opened[1].choices()[0])
    window.go_to(PROOF)
    with qtbot.waitSignal(window.desk.proved, timeout=SLOW_MS):
        press(qtbot, window.proof_page.run_button)
    assert "Repair proven" in window.proof_page.card.accessibleDescription()
    table = window.proof_page.table
    assert {table.item(row, 4).text() for row in range(table.rowCount())} == {"✓ passed"}
    press(qtbot, window.proof_page.snapshot_button)
    folder = window.desk.folder
    assert folder is not None
    qtbot.waitUntil(lambda: len(folder.job.snapshots) == 1, timeout=SLOW_MS)
    assert JobFolder.open(folder.path).job.state == "proven"
    window.go_to(0)
    assert "Repair proven" in window.job_page.records.state.text()


def test_a_snapshot_that_is_being_drawn_is_kept_when_the_window_closes(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer(monkeypatch, "Blower")
    window.jobs.new_job()
    opened(window, qtbot, stick / "before.csv")
    window.go_to(COMPARE)
    compared(window, qtbot)
    folder = window.desk.folder
    assert folder is not None
    window.compare_page.keeping.take_snapshot()
    window.close()
    assert len(JobFolder.open(folder.path).job.snapshots) == 1


def test_without_a_job_the_snapshot_goes_to_a_file(
    window: Window, qtbot: QtBot, stick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "shown.png"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(target), ""))
    opened(window, qtbot, stick / "before.csv")
    window.go_to(COMPARE)
    compared(window, qtbot)
    press(qtbot, window.compare_page.snapshot_button)
    qtbot.waitUntil(said(window, "shown.png"), timeout=SLOW_MS)
    assert '"faulty"' in (data_of(target.read_bytes()) or "")


def test_a_channel_is_kept_found_again_and_used(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(KeepDialog, "exec", lambda _: KeepDialog.DialogCode.Accepted)
    opened(window, qtbot, stick / "after.csv")
    window.library_keeping.ask(window.desk.opened[0].choices()[0])
    qtbot.waitUntil(said(window, "is in the library now"), timeout=SLOW_MS)
    window.go_to(LIBRARY)
    page = window.library_page
    qtbot.waitUntil(lambda: page.list.count() == 1, timeout=SLOW_MS)
    qtbot.keyClicks(page.words, "no such words")
    qtbot.waitUntil(lambda: page.list.count() == 0, timeout=SLOW_MS)
    assert not page.use_button.isEnabled()
    page.words.setText("blower")
    qtbot.waitUntil(lambda: page.list.count() == 1, timeout=SLOW_MS)
    press(qtbot, page.use_button)
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.compare_page, timeout=SLOW_MS)
    assert window.desk.chosen.good is not None
    assert window.desk.chosen.good.file == "blower LIN"
    window.go_to(LIBRARY)
    press(qtbot, page.buttons.delete_button)
    qtbot.waitUntil(lambda: page.list.count() == 0, timeout=SLOW_MS)
    assert list(window.desk.library.folder.rglob("*.h5"))  # in the bin, not gone


def test_five_places_by_key_and_by_button(window: Window, qtbot: QtBot) -> None:
    buttons = {one.text(): one for one in window.findChildren(QPushButton) if one.objectName() == "place"}
    assert tuple(buttons) == PLACES
    for place, name in enumerate(PLACES):
        press(qtbot, buttons[name])
        assert window.pages.currentIndex() == place
        assert buttons[name].isChecked()
    qtbot.keyClick(window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.captures_page)


def test_the_theme_is_remembered(window: Window, qtbot: QtBot) -> None:
    assert window.settings.theme == "daylight"
    press(qtbot, window.theme_button)
    assert window.settings.theme == "night"
    assert window.theme_button.text() == "Daylight"
    for page in (window.captures_page, window.compare_page, window.proof_page, window.library_page):
        assert page.panel.lanes is not None


def test_what_was_typed_is_saved_by_itself(window: Window, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> None:
    answer(monkeypatch, "Blower")
    window.jobs.new_job()
    folder = window.desk.folder
    assert folder is not None
    window.job_page.parts.go_to(4)
    qtbot.keyClicks(window.job_page.parts.repair_form.texts["cause"], "corroded pin")
    qtbot.waitUntil(lambda: JobFolder.open(folder.path).job.cause == "corroded pin", timeout=SLOW_MS)
    window.job_page.parts.go_to(0)
    qtbot.keyClicks(window.job_page.parts.vehicle_form.lines["odometer"], "148 200 km")
    window.close()
    assert JobFolder.open(folder.path).job.odometer == "148 200 km"


def test_cautions_are_shown_once_and_noted(window: Window, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> None:
    answer(monkeypatch, "Blower")
    window.jobs.new_job()
    page = window.job_page
    assert "airbag" in page.cautions.text.text()
    press(qtbot, page.cautions.read_button)
    assert not page.cautions.isVisible()
    folder = window.desk.folder
    assert folder is not None
    assert JobFolder.open(folder.path).job.cautions_seen


def test_a_tick_about_the_captures_proves_anew(window: Window, qtbot: QtBot) -> None:
    window.open_sample()
    page = window.proof_page
    qtbot.waitUntil(lambda: window.desk.proof is not None and not page.aside.is_busy, timeout=60_000)
    window.go_to(3)
    assert "proven" in page.card.accessibleDescription()
    press(qtbot, page.picked)
    qtbot.waitUntil(lambda: "Cannot tell" in page.card.accessibleDescription(), timeout=60_000)
    press(qtbot, page.provoked)
    qtbot.waitUntil(lambda: "Repair proven" in page.card.accessibleDescription(), timeout=60_000)
    assert "as the technician said" in page.card.accessibleDescription()


def test_a_note_that_was_taken_away_comes_back_by_one_press(window: Window, qtbot: QtBot, stick: Path) -> None:
    opened(window, qtbot, stick / "before.csv")
    window.go_to(COMPARE)
    compared(window, qtbot)
    lanes = window.compare_page.panel.lanes
    lanes.set_notes((Note("blower LIN", 0.06, 6.0, "lets go"),))
    lanes.step_note(1)
    lanes.delete_note()
    assert lanes.notes() == ()
    qtbot.mouseClick(window.strip.offer_button, Qt.MouseButton.LeftButton)
    assert [note.text for note in lanes.notes()] == ["lets go"]
    before = [lane.key for lane in lanes.lanes]
    lanes.arranging.hide("difference")
    assert "difference" not in [lane.key for lane in lanes.lanes]
    assert "difference is hidden" in window.strip.text.text()
    qtbot.mouseClick(window.strip.offer_button, Qt.MouseButton.LeftButton)
    assert [lane.key for lane in lanes.lanes] == before
    assert before[:2] == ["blower LIN", "difference"]
