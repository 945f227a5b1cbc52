"""The list of jobs: found by any word, damaged ones shown."""

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialogButtonBox
from pytestqt.qtbot import QtBot

from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.jobs_dialog import JobsDialog
from loomlight.viewer.new_job_dialog import NewJobDialog

SLOW_MS = 10_000


def test_a_job_is_found_by_a_word_and_taken(qtbot: QtBot, tmp_path: Path) -> None:
    JobFolder.create(tmp_path / "a", title="Blower", vehicle="Coachling")
    wanted = JobFolder.create(tmp_path / "b", title="Wiper", vehicle="Coachling").path
    (JobFolder.create(tmp_path / "c", title="x").path / "job.json").write_bytes(b"{")
    dialog = JobsDialog((tmp_path,))
    qtbot.addWidget(dialog)
    dialog.show()
    qtbot.waitUntil(lambda: dialog.list.count() == 3, timeout=SLOW_MS)
    qtbot.keyClicks(dialog.words, "WIPER coach")
    texts = [dialog.list.item(row).text() for row in range(dialog.list.count())]
    assert len(texts) == 2
    assert "Wiper" in texts[0]
    assert texts[1].startswith("✗")
    qtbot.mouseClick(dialog.open_button, Qt.MouseButton.LeftButton)
    assert dialog.chosen == wanted.resolve()


def test_an_empty_folder_says_what_to_do(qtbot: QtBot, tmp_path: Path) -> None:
    dialog = JobsDialog((tmp_path / "not there",))
    qtbot.addWidget(dialog)
    qtbot.waitUntil(lambda: "No job yet" in dialog.state.text(), timeout=SLOW_MS)
    assert not dialog.open_button.isEnabled()
    dialog.reject()


def test_a_new_job_needs_a_title(qtbot: QtBot) -> None:
    dialog = NewJobDialog()
    qtbot.addWidget(dialog)

    make = dialog.findChildren(QDialogButtonBox)[0].button(QDialogButtonBox.StandardButton.Ok)
    assert not make.isEnabled()
    qtbot.keyClicks(dialog.title, "Blower")
    assert make.isEnabled()
