"""Set up a channel in the window: with the live picture, kept, taken back, found again."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QDialog, QLineEdit, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from loomlight.signal.capture import Capture
from loomlight.signal.channel_setup import ChannelSetup, set_up, stored_of
from loomlight.signal.job import Note
from loomlight.storage.capture_file import read_capture, write_capture
from loomlight.storage.capture_memory import CaptureMemory
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.reading import Reading
from loomlight.viewer.channel_setup_dialog import ChannelSetupDialog
from loomlight.viewer.style_sheet import TARGET_PIXELS
from loomlight.viewer.window import Window

SLOW_MS = 30_000
CAPTURES, COMPARE = 1, 2


def opened(window: Window, qtbot: QtBot, *paths: Path) -> None:
    already = len(window.desk.opened)
    window.files.open(list(paths))
    qtbot.waitUntil(
        lambda: len(window.desk.opened) == already + len(paths) and not window.opening.is_busy, timeout=SLOW_MS
    )
    window.go_to(CAPTURES)
    qtbot.waitUntil(lambda: bool(window.captures_page.panel.lanes.lanes), timeout=SLOW_MS)


def button(page: QWidget, text: str) -> QPushButton:
    (found,) = [one for one in page.findChildren(QPushButton) if one.text() == text and one.isVisible()]
    return found


def with_dialog(
    monkeypatch: pytest.MonkeyPatch, qtbot: QtBot, act: Callable[[ChannelSetupDialog], None]
) -> list[ChannelSetupDialog]:
    """Let ``act`` work in the dialog in the place of a person, with its widgets shown."""
    shown: list[ChannelSetupDialog] = []

    def run(dialog: ChannelSetupDialog) -> int:
        shown.append(dialog)
        dialog.show()
        qtbot.waitUntil(lambda: bool(dialog.panel.lanes.lanes), timeout=SLOW_MS)
        act(dialog)
        return dialog.result()

    monkeypatch.setattr(ChannelSetupDialog, "exec", run)
    return shown


def press(qtbot: QtBot, button: QPushButton) -> None:
    QApplication.processEvents()
    assert button.isVisible()
    assert button.isEnabled()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def choose(box: object, text: str) -> None:
    place = box.findText(text)  # type: ignore[attr-defined]
    assert place >= 0
    box.setCurrentIndex(place)  # type: ignore[attr-defined]
    box.activated.emit(place)  # type: ignore[attr-defined]


def type_in(qtbot: QtBot, field: QLineEdit, text: str) -> None:
    field.clear()
    qtbot.keyClicks(field, text)


def test_a_probe_that_the_instrument_did_not_know_of(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened(window, qtbot, stick / "before.csv")
    page = window.captures_page
    stored = window.desk.opened[0].capture.channels[0]
    before = stored.samples.block(0, 100).copy()

    def act(dialog: ChannelSetupDialog) -> None:
        choose(dialog.probe.box, "×10")
        type_in(qtbot, dialog.name, "blower")
        traces = [lane.traces[0] for lane in dialog.panel.lanes.lanes]
        assert [one.label for one in traces] == ["as it was read: blower LIN", "as set up: blower"]
        _, high = traces[1].value_range() or (0, 0)
        assert high > 100
        press(qtbot, dialog.use_button)

    with_dialog(monkeypatch, qtbot, act)
    press(qtbot, button(page, "Set up channel"))
    shown = window.desk.opened[0].capture.channels[0]
    assert shown.name == "blower"
    np.testing.assert_allclose(shown.samples.block(0, 100), 10 * before, rtol=1e-6)
    np.testing.assert_array_equal(stored_of(shown)[0].samples.block(0, 100), before)
    assert window.desk.chosen.suspect is not None
    assert window.desk.chosen.suspect.channel is shown
    assert page.channels.item(0).text().startswith("blower (V)")
    assert any("multiplied by 10" in line for line in page.how.lines())
    qtbot.waitUntil(lambda: page.panel.lanes.lanes[0].traces[0].label == "1: blower", timeout=SLOW_MS)
    press(qtbot, window.strip.offer_button)
    assert window.desk.opened[0].capture.channels[0] is stored
    assert window.desk.chosen.suspect.channel is stored
    assert not window.strip.offer_button.isVisible()


def test_undo_by_key_takes_back_step_by_step(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened(window, qtbot, stick / "before.csv")
    path = window.desk.opened[0].path
    window.captures_page.channels.setCurrentRow(1)
    for factor in (10.0, 100.0):
        window.capture_actions.setting_up.apply(path, 1, ChannelSetup(factor=factor))
    window.captures_page.files.setFocus()
    for factor in (10.0, 1.0, 1.0):
        qtbot.keyClick(window.captures_page.files, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
        assert stored_of(window.desk.opened[0].capture.channels[1])[1].factor == factor
        assert window.captures_page.channels.currentRow() == 1


def test_a_loose_file_is_found_set_up_when_it_is_opened_again(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened(window, qtbot, stick / "before.csv")

    def act(dialog: ChannelSetupDialog) -> None:
        choose(dialog.clamp.box, "own")
        type_in(qtbot, dialog.clamp.own, "40")
        choose(dialog.way, "upside down")
        type_in(qtbot, dialog.offset, "-0,25")
        assert dialog._offset_label.text() == "Offset (A)"
        press(qtbot, dialog.use_button)

    with_dialog(monkeypatch, qtbot, act)
    press(qtbot, button(window.captures_page, "Set up channel"))
    expected = ChannelSetup("blower LIN", clamp_mv_per_a=40.0, invert=True, offset=-0.25)
    qtbot.waitUntil(lambda: CaptureMemory().of(stick / "before.csv").setups == (expected,), timeout=SLOW_MS)
    renamed = stick / "copy.csv"
    renamed.write_bytes((stick / "before.csv").read_bytes())
    opened(window, qtbot, renamed)
    again = window.desk.opened[1].capture.channels[0]
    assert again.unit == "A"
    assert stored_of(again)[1] == expected


def test_in_a_job_the_setup_is_kept_there_and_notes_follow_the_name(
    window: Window, qtbot: QtBot, stick: Path, tmp_path: Path
) -> None:
    window.jobs.make_job(tmp_path / "job", "Blower")
    opened(window, qtbot, stick / "before.csv")
    path = window.desk.opened[0].path
    window.desk.keep_notes(path, (Note("blower LIN", 0.01, 5.0, "here"), Note("flap LIN", 0.01, 5.0, "there")))
    window.capture_actions.setting_up.apply(path, 0, ChannelSetup(name="suspect wire", factor=10))
    kept = JobFolder.open(tmp_path / "job").job.captures[0]
    assert kept.setups == (ChannelSetup("blower LIN", name="suspect wire", factor=10),)
    assert [note.channel for note in kept.notes] == ["suspect wire", "flap LIN"]
    window.jobs.open_job(tmp_path / "job")
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    assert window.desk.opened[0].capture.channels[0].name == "suspect wire"
    assert CaptureMemory().of(path).setups == ()


def test_what_was_set_up_before_there_was_a_job_goes_into_it(
    window: Window, qtbot: QtBot, stick: Path, tmp_path: Path
) -> None:
    opened(window, qtbot, stick / "before.csv")
    window.capture_actions.setting_up.apply(stick / "before.csv", 0, ChannelSetup(factor=10))
    qtbot.waitUntil(lambda: bool(CaptureMemory().of(stick / "before.csv").setups), timeout=SLOW_MS)
    window.jobs.make_job(tmp_path / "job", "Blower")
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    assert JobFolder.open(tmp_path / "job").job.captures[0].setups[0].factor == 10
    assert stored_of(window.desk.opened[0].capture.channels[0])[1].factor == 10


def test_a_setup_makes_the_comparison_that_is_shown_an_old_one(window: Window, qtbot: QtBot, stick: Path) -> None:
    opened(window, qtbot, stick / "before.csv")
    window.go_to(COMPARE)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        press(qtbot, window.compare_page.run_button)
    assert not window.desk.is_comparison_old()
    window.capture_actions.setting_up.apply(stick / "before.csv", 0, ChannelSetup(factor=10))
    assert window.desk.is_comparison_old()
    assert window.compare_page.column.age.isVisible()
    window.capture_actions.setting_up.undo()
    assert not window.desk.is_comparison_old()


def test_what_cannot_be_used_is_told_and_not_taken(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened(window, qtbot, stick / "before.csv")
    told = []

    def act(dialog: ChannelSetupDialog) -> None:
        def tell() -> None:
            assert not dialog.use_button.isEnabled()
            told.append(dialog._trouble.text())

        type_in(qtbot, dialog.name, "flap LIN")
        tell()
        type_in(qtbot, dialog.name, "blower LIN")
        type_in(qtbot, dialog.offset, "a little")
        tell()
        type_in(qtbot, dialog.offset, "")
        choose(dialog.probe.box, "own")
        tell()
        type_in(qtbot, dialog.probe.own, "0")
        tell()
        type_in(qtbot, dialog.probe.own, "20")
        assert dialog.use_button.isEnabled()
        assert dialog.setup().factor == 20
        press(qtbot, dialog.plain_button)
        assert dialog.setup().is_plain
        press(qtbot, dialog.cancel_button)

    with_dialog(monkeypatch, qtbot, act)
    press(qtbot, button(window.captures_page, "Set up channel"))
    assert ["called 'flap LIN' already" in told[0], "is no number" in told[1]] == [True, True]
    assert all("type your own number, such as 20" in one for one in told[2:])
    assert stored_of(window.desk.opened[0].capture.channels[0])[1].is_plain
    assert not window.capture_actions.setting_up.can_undo


def test_the_setup_of_a_capture_file_can_be_taken_away_for_good(
    window: Window, qtbot: QtBot, stick: Path, tmp_path: Path
) -> None:
    known = read_capture(stick / "known_good.h5")
    path = tmp_path / "own.h5"
    write_capture(path, Capture("own.h5", "", (set_up(known.channels[0], ChannelSetup(factor=10)),)))
    opened(window, qtbot, path)
    assert stored_of(window.desk.opened[0].capture.channels[0])[1].factor == 10
    window.capture_actions.setting_up.apply(path, 0, ChannelSetup())
    qtbot.waitUntil(lambda: bool(CaptureMemory().of(path).setups), timeout=SLOW_MS)
    window.desk.take_away([path])
    opened(window, qtbot, path)
    assert stored_of(window.desk.opened[0].capture.channels[0])[1].is_plain


@pytest.mark.parametrize("theme", ["daylight", "night"])
def test_the_dialog_is_whole_and_large_enough(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch, theme: str
) -> None:
    window.settings.theme = theme  # type: ignore[assignment]
    window.apply_theme()
    opened(window, qtbot, stick / "before.csv")

    def act(dialog: ChannelSetupDialog) -> None:
        choose(dialog.probe.box, "own")
        choose(dialog.clamp.box, "own")
        QApplication.processEvents()
        for one in (*dialog.findChildren(QPushButton), *dialog.findChildren(QLineEdit)):
            if one.isVisible():
                assert one.height() >= TARGET_PIXELS
                assert one.accessibleName() or one.text() or one.placeholderText()
            if isinstance(one, QPushButton):
                assert one.width() >= one.fontMetrics().horizontalAdvance(one.text())
        assert dialog.height() <= 720
        dialog.reject()

    shown = with_dialog(monkeypatch, qtbot, act)
    press(qtbot, button(window.captures_page, "Set up channel"))
    assert [one.result() for one in shown] == [QDialog.DialogCode.Rejected]


def test_what_was_set_up_is_not_taken_back_from_another_channel_in_its_place(
    window: Window, qtbot: QtBot, stick: Path
) -> None:
    opened(window, qtbot, stick / "before.csv")
    path = window.desk.opened[0].path
    window.capture_actions.setting_up.apply(path, 0, ChannelSetup(factor=10))
    window.capture_actions.setting_up.apply(path, 0, ChannelSetup(factor=100))
    window.opening.add([(path, "other")], reading=Reading(left_out=(2,)))
    qtbot.waitUntil(lambda: len(window.desk.opened[0].capture.channels) == 1, timeout=SLOW_MS)
    window.capture_actions.setting_up.undo()
    (left,) = window.desk.opened[0].capture.channels
    assert left.name == "flap LIN"
    assert stored_of(left)[1].is_plain
