"""The sample job from its first capture to the report, through the window's own buttons, and opened again."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QApplication, QDialog, QFileDialog
from pytestqt.qtbot import QtBot

from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.keep_dialog import KeepDialog
from loomlight.viewer.new_job_dialog import NewJobDialog
from loomlight.viewer.report_dialog import ReportDialog
from loomlight.viewer.window import PLACES, Window

SLOW_MS = 60_000


class Hand:
    """Presses buttons, and counts."""

    def __init__(self, qtbot: QtBot) -> None:
        self._qtbot, self.actions = qtbot, 0

    def press(self, button: QAbstractButton) -> None:
        QApplication.processEvents()
        assert button.isVisible(), button.text()
        assert button.isEnabled(), button.text()
        self.actions += 1
        self._qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


@pytest.fixture
def hand(qtbot: QtBot) -> Hand:
    return Hand(qtbot)


def agreeing(monkeypatch: pytest.MonkeyPatch, kind: type[QDialog], fill: Callable[..., None]) -> None:
    def answer(dialog: QDialog) -> int:
        fill(dialog)
        dialog.accept()
        return dialog.result()

    monkeypatch.setattr(kind, "exec", answer)


def test_from_a_double_click_to_the_verdict_in_three_actions_and_the_picture_in_two(
    window: Window, qtbot: QtBot, hand: Hand, stick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window.files.open([stick / "before.csv"])  # the double-click: the program is started with the file's name
    hand.actions += 1
    qtbot.waitUntil(window.captures_page.compare_button.isEnabled, timeout=SLOW_MS)
    hand.press(window.captures_page.compare_button)
    hand.press(window.compare_page.run_button)
    qtbot.waitUntil(lambda: window.desk.drawn is not None, timeout=SLOW_MS)
    assert "Faulty" in window.compare_page.card.accessibleDescription()
    assert hand.actions <= 3
    picture = tmp_path / "for the customer.png"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(picture), ""))
    hand.actions = 1  # the file dialog's own button
    hand.press(window.compare_page.snapshot_button)
    qtbot.waitUntil(picture.exists, timeout=SLOW_MS)
    assert hand.actions <= 2


def test_the_whole_job(window: Window, qtbot: QtBot, hand: Hand, stick: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    job_page, captures, compare, proof = window.job_page, window.captures_page, window.compare_page, window.proof_page
    agreeing(monkeypatch, NewJobDialog, lambda dialog: dialog.title.setText("Blower runs at full speed only"))
    # Begin: the empty page offers it.
    window.jobs.new_job()
    folder = window.desk.folder
    assert folder is not None
    hand.press(job_page.cautions.read_button)
    qtbot.keyClicks(job_page.parts.vehicle_form.texts["complaint"], "speed cannot be set")
    # Open, as the job's next step says.
    assert job_page.next_button.text() == "Open capture"
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(stick / "before.csv")], ""))
    hand.press(job_page.next_button)
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    # Line up, find, judge.
    hand.press(captures.compare_button)
    hand.press(compare.run_button)
    qtbot.waitUntil(lambda: window.desk.drawn is not None, timeout=SLOW_MS)
    found = window.desk.drawn.comparison  # type: ignore[union-attr]
    assert found.lineup is not None
    assert found.lineup.accepted
    assert found.verdict.fault == "resistive"
    hand.press(compare.panel.steps.findChildren(QAbstractButton)[1])
    assert compare.column.rule.text()
    # Snapshot; the strip says what comes next.
    hand.press(compare.snapshot_button)
    qtbot.waitUntil(lambda: len(folder.job.snapshots) == 1, timeout=SLOW_MS)
    assert "mend the wire" in window.strip.text.text()
    hand.press(window.strip.offer_button)
    assert window.pages.currentWidget() is captures
    # Repair, and the capture after it.
    window.go_to(PLACES.index("Job"))
    job_page.parts.go_to(4)
    qtbot.keyClicks(job_page.parts.repair_form.texts["cause"], "corroded pin")
    qtbot.keyClicks(job_page.parts.repair_form.texts["repair"], "pin replaced")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(stick / "after.csv"), ""))
    window.files.ask_after()
    qtbot.waitUntil(lambda: len(window.desk.opened) == 2 and not window.opening.is_busy, timeout=SLOW_MS)
    # Prove.
    qtbot.waitUntil(lambda: window.pages.currentWidget() is proof, timeout=SLOW_MS)
    hand.press(proof.run_button)
    qtbot.waitUntil(lambda: window.desk.proof is not None, timeout=SLOW_MS)
    assert "Repair proven" in proof.card.accessibleDescription()
    hand.press(proof.snapshot_button)
    qtbot.waitUntil(lambda: len(folder.job.snapshots) == 2, timeout=SLOW_MS)
    # Keep the good waveform.
    agreeing(monkeypatch, KeepDialog, lambda _dialog: None)
    window.library_keeping.ask(window.desk.opened[1].choices()[0])
    qtbot.waitUntil(lambda: len(window.desk.library.all()) == 1, timeout=SLOW_MS)
    # Report, as the next step says.
    agreeing(monkeypatch, ReportDialog, lambda dialog: dialog.form.setCurrentIndex(1))
    window.go_to(PLACES.index("Job"))
    assert job_page.next_button.text() == "Make the report"
    hand.press(job_page.next_button)
    qtbot.waitUntil((folder.path / "report.html").exists, timeout=SLOW_MS)
    report = (folder.path / "report.html").read_text(encoding="utf-8")
    assert "pin replaced" in report
    assert "speed cannot be set" in report
    # Reopen, from what was opened last.
    assert window.settings.recent_jobs()[0] == folder.path
    window.jobs.open_job(window.settings.recent_jobs()[0])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 2 and not window.opening.is_busy, timeout=SLOW_MS)
    again = JobFolder.open(folder.path).job
    assert (again.state, again.cautions_seen, again.cause) == ("proven", True, "corroded pin")
    assert job_page.parts.repair_form.texts["cause"].toPlainText() == "corroded pin"
    assert {one.file for one in again.verdicts} == {"before.csv", "after.csv"}
