"""Report and zip file from the Job page and the command line."""

import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtWidgets import QDialog
from pytestqt.qtbot import QtBot

from loomlight.storage.job_folder import JobFolder
from loomlight.viewer import window_pages
from loomlight.viewer.command_line import main
from loomlight.viewer.job_output import PackDialog
from loomlight.viewer.report_dialog import ReportDialog
from loomlight.viewer.settings import Details, Settings
from loomlight.viewer.style_sheet import TARGET_PIXELS
from loomlight.viewer.window import Window

SLOW_MS = 60_000
MakeJob = Callable[..., JobFolder]


@pytest.fixture
def shown(window: Window, qtbot: QtBot, make_job: MakeJob, monkeypatch: pytest.MonkeyPatch) -> JobFolder:
    """The sample job in the window; nothing opens another program."""
    monkeypatch.setattr(window_pages.QDesktopServices, "openUrl", lambda _url: True)
    folder = make_job(proven=False)
    window.jobs.open_job(folder.path)
    qtbot.waitUntil(lambda: len(window.desk.opened) == 2 and not window.opening.is_busy, timeout=SLOW_MS)
    return folder


def _agree(monkeypatch: pytest.MonkeyPatch, kind: type[QDialog], fill: Callable[[QDialog], None]) -> None:
    def answer(dialog: QDialog) -> int:
        fill(dialog)
        dialog.accept()
        return dialog.result()

    monkeypatch.setattr(kind, "exec", answer)


def test_the_button_makes_the_report_with_what_was_just_typed(
    window: Window, shown: JobFolder, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fill(dialog: QDialog) -> None:
        assert isinstance(dialog, ReportDialog)
        dialog.details.name.setText("Van & Loom")
        dialog.paper.setCurrentIndex(1)
        dialog.form.setCurrentIndex(1)

    _agree(monkeypatch, ReportDialog, fill)
    cause = window.job_page.parts.repair_form.texts["cause"]
    cause.setPlainText("A pin, typed a moment ago")
    window.job_page.output.report_button.click()
    qtbot.waitUntil(lambda: (shown.path / "report.html").exists(), timeout=SLOW_MS)
    text = (shown.path / "report.html").read_text("utf-8")
    assert "A pin, typed a moment ago" in text
    assert "Van &amp; Loom" in text
    assert (window.settings.details.name, window.settings.paper) == ("Van & Loom", "letter")


def test_a_logo_that_cannot_be_used_is_told_in_the_dialog(own_home: Path, qtbot: QtBot) -> None:
    settings = Settings(own_home / "loomlight.ini")
    dialog = ReportDialog(settings)
    qtbot.addWidget(dialog)
    dialog.show()
    dialog.details.logo.setText(str(own_home / "missing.png"))
    dialog.accept()
    assert dialog.result() != QDialog.DialogCode.Accepted
    assert "missing.png: it cannot be read" in dialog._problem.text()
    assert settings.details == Details()


def test_settings_keep_every_detail_and_stay_readable(own_home: Path) -> None:
    file = own_home / "loomlight.ini"
    details = Details("Van & Loom", "Lane 1\nTown; x=y", 'phone, "0"', "#1", "C:\\logo.png")
    Settings(file).details = details
    Settings(file)._store.sync()
    assert Settings(file).details == details
    assert "[business]" in file.read_text("utf-8")


def test_the_zip_file_stands_beside_the_folder(
    window: Window, shown: JobFolder, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    for private in (False, True):
        _agree(monkeypatch, PackDialog, lambda dialog, private=private: dialog.private.setChecked(private))
        window.job_page.output.pack_button.click()
        output = window.job_page.output
        qtbot.waitUntil(lambda output=output: not output.aside.is_busy, timeout=SLOW_MS)
    plain, full = sorted(shown.path.parent.glob("*.zip"), key=lambda one: one.stat().st_mtime_ns)
    assert [b"van 12" in _record(one) for one in (plain, full)] == [False, True]


def _record(path: Path) -> bytes:
    with zipfile.ZipFile(path) as opened:
        return next(opened.read(name) for name in opened.namelist() if name.endswith("job.json"))


def test_buttons_are_large_enough(window: Window, shown: JobFolder, qtbot: QtBot) -> None:
    window.go_to(0)
    for button in (window.job_page.output.report_button, window.job_page.output.pack_button):
        assert button.height() >= TARGET_PIXELS
        assert button.fontMetrics().horizontalAdvance(button.text()) < button.width()


def test_the_command_packs(make_job: MakeJob, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = make_job(proven=False)
    assert main(["job", "pack", str(folder.path), str(tmp_path / "out.zip")]) == 0
    assert capsys.readouterr().out.strip() == str(tmp_path / "out.zip")
    assert main(["job", "pack", str(folder.path), str(tmp_path / "out.zip")]) == 2
    assert "something stands there already" in capsys.readouterr().err
    assert main(["job", "pack", str(folder.path)]) == 0
    assert Path(capsys.readouterr().out.strip()).parent == folder.path.parent
