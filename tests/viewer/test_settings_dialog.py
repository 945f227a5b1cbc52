"""All settings in one place: what is kept counts at once and at the next start; what is cancelled does not."""

from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication, QSplitter
from pytestqt.qtbot import QtBot

from loomlight.storage.library import Library
from loomlight.viewer.looks import theme_of
from loomlight.viewer.settings import Settings
from loomlight.viewer.settings_dialog import SettingsDialog
from loomlight.viewer.units import in_table
from loomlight.viewer.window import Window


def choose(dialog: SettingsDialog, folder: Path) -> None:
    dialog.theme.setCurrentIndex(dialog.theme.findData("night"))
    dialog.text_size.setCurrentIndex(dialog.text_size.findData(150))
    dialog.contrast.setCurrentIndex(dialog.contrast.findData("more"))
    dialog.times.setCurrentIndex(dialog.times.findData("ms"))
    dialog.probe.setCurrentIndex(dialog.probe.findData(10.0))
    dialog.paper.setCurrentIndex(dialog.paper.findData("letter"))
    dialog.library.edit.setText(str(folder))
    dialog.business.name.setText("Van & Loom")


def test_kept_settings_count_at_once_and_stand_in_one_text_file(
    window: Window, own_home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def agree(dialog: SettingsDialog) -> int:
        choose(dialog, tmp_path)
        dialog.accept()
        return dialog.result()

    monkeypatch.setattr(SettingsDialog, "exec", agree)
    try:
        window.ask_settings()
        assert QApplication.font().pointSizeF() == pytest.approx(1.5 * 10.5)
        assert theme_of(window.settings).ground == "#000000"
        assert in_table(0.5, "s") == "500.0000 ms"
        again = Settings(own_home / "loomlight.ini")
        assert (again.theme, again.text_size, again.contrast) == ("night", 150, "more")
        assert (again.probe_factor, again.paper, again.library_folder) == (10.0, "letter", tmp_path)
        assert again.details.name == "Van & Loom"
        assert "night" in again.file.read_text(encoding="utf-8")
    finally:
        window.settings.text_size, window.settings.time_unit = 100, "as fits"
        window.apply_theme()
    assert QApplication.font().pointSizeF() == pytest.approx(10.5)


def test_cancelled_settings_change_nothing(own_home: Path, qtbot: QtBot, tmp_path: Path) -> None:
    settings = Settings(own_home / "loomlight.ini")
    dialog = SettingsDialog(settings)
    qtbot.addWidget(dialog)
    choose(dialog, tmp_path)
    dialog.reject()
    assert (settings.theme, settings.text_size, settings.library_folder) == ("daylight", 100, None)


def test_a_folder_that_is_not_there_is_told_and_nothing_is_kept(own_home: Path, qtbot: QtBot, tmp_path: Path) -> None:
    settings = Settings(own_home / "loomlight.ini")
    dialog = SettingsDialog(settings)
    qtbot.addWidget(dialog)
    choose(dialog, tmp_path / "gone")
    dialog.accept()
    assert "is no folder" in dialog._problem.text()
    assert settings.theme == "daylight"


def test_spoilt_settings_are_as_delivered(tmp_path: Path) -> None:
    file = tmp_path / "loomlight.ini"
    file.write_text("[General]\ntext%20size=900\nprobe%20factor=x\ntheme=7\n[units]\ntime=h\n[window]\npage=-3\n")
    settings = Settings(file)
    assert (settings.text_size, settings.probe_factor, settings.theme) == (100, 1.0, "daylight")
    assert (settings.time_unit, settings.page) == ("as fits", 0)


def test_size_page_and_divisions_come_back(window: Window, own_home: Path, library: Library, qtbot: QtBot) -> None:
    window.resize(1000, 700)
    window.go_to(4)
    split = window.compare_page.findChildren(QSplitter)[0]
    split.setSizes([500, 500])
    sizes = split.sizes()
    window.close()
    again = Window(library, Settings(own_home / "loomlight.ini"))
    qtbot.addWidget(again)
    again.show()
    assert again.pages.currentWidget() is again.library_page
    assert again.settings.geometry is not None  # the virtual screen of the tests is too small to hold the window
    restored = again.compare_page.findChildren(QSplitter)[0].sizes()
    assert restored[0] / sum(restored) == pytest.approx(sizes[0] / sum(sizes), abs=0.05)
    again.close()
