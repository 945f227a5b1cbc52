"""The reading panel: the guess marked, changed by clicking, a live picture."""

from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QInputDialog, QLabel, QLineEdit, QPushButton
from pytestqt.qtbot import QtBot
from reading_hand import (
    SLOW_MS,
    agree,
    answer,
    asked,
    heading_clicked,
    looked,
    menu_entry,
    opened_panel,
    press,
    without_time,
    without_units,
)

from loomlight.storage.reading import Reading
from loomlight.viewer.reading_answers import typed_seconds
from loomlight.viewer.style_sheet import TARGET_PIXELS
from loomlight.viewer.window import PLACES, Window

CAPTURES = 1


def test_a_file_that_cannot_be_read_without_an_answer_brings_the_panel(
    window: Window, qtbot: QtBot, tmp_path: Path
) -> None:
    path = without_time(tmp_path / "a.csv")
    panel = asked(window, qtbot, path)
    assert window.pages.currentIndex() == CAPTURES
    assert not panel.agree_button.isEnabled()
    assert not panel.panel.lanes.lanes
    answer(panel, "10 µs", qtbot)
    looked(panel, qtbot, lambda one: bool(one.panel.lanes.lanes))
    assert panel.answers.fields["step_s"].text() == "1e-05 s"
    agree(window, panel, qtbot)
    (opened,) = window.desk.opened
    assert opened.capture.channels[0].step_s == 1e-5
    assert not panel.isVisible()
    assert window.captures_page.files.isVisible()


def test_the_guess_is_marked_in_words(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    model = panel.table.rows
    headings = [model.headerData(place, Qt.Orientation.Horizontal) for place in range(3)]
    assert [str(one).split("\n")[0] for one in headings] == ["1  time", "2  blower", "3  flap"]
    assert str(headings[1]).endswith("unit unknown")
    numbers = [model.headerData(row, Qt.Orientation.Vertical) for row in range(3)]
    assert numbers == ["1", "▶ 2", "3"]
    assert "Nothing shorter than 2 µs can be seen" in panel._notes.text()


def test_a_columns_heading_is_clicked_and_its_unit_said(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    heading_clicked(panel, qtbot, 1)
    menu_entry(panel, "In mV")
    looked(panel, qtbot, lambda one: one._shown is not None and one._shown.columns[1].unit == "mV")
    assert panel.panel.lanes.lanes[0].unit == "V"
    low, high = panel.panel.lanes.lanes[0].traces[0].value_range() or (0, 0)
    assert (low, round(high, 6)) == (0, 0.0115)
    agree(window, panel, qtbot)
    qtbot.waitUntil(lambda: window.desk.opened[0].capture.channels[0].unit == "V", timeout=SLOW_MS)
    assert window.desk.opened[0].capture.channels[1].unit is None


def test_a_row_is_clicked_and_the_data_begin_there(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    header = panel.table.verticalHeader()
    y = header.sectionViewportPosition(3) + header.sectionSize(3) // 2
    qtbot.mouseClick(header.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(20, y))
    looked(panel, qtbot, lambda one: one._shown is not None and one._shown.first_data_row == 3)
    assert panel.reading == Reading(skip_rows=3)
    agree(window, panel, qtbot)
    qtbot.waitUntil(lambda: window.desk.opened[0].capture.channels[0].samples.size == 298, timeout=SLOW_MS)


def test_another_column_is_the_time(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    lines = [f"{place % 9},{place * 2e-6:.6f},{place % 7}" for place in range(300)]
    path.write_text("\n".join(["a,b,c", *lines, ""]))
    window.files.open([path])
    panel = window.captures_page.reading
    qtbot.waitUntil(lambda: panel.isVisible() or bool(window.desk.opened), timeout=SLOW_MS)
    if not panel.isVisible():
        press(qtbot, window.captures_page.reading_button)
    looked(panel, qtbot)
    heading_clicked(panel, qtbot, 1)
    menu_entry(panel, "This is the time")
    looked(
        panel, qtbot, lambda one: one._shown is not None and one._shown.time_column == 2 and bool(one.panel.lanes.lanes)
    )
    agree(window, panel, qtbot)
    qtbot.waitUntil(lambda: window.desk.opened[0].capture.channels[0].step_s == pytest.approx(2e-6), timeout=SLOW_MS)
    assert [one.name for one in window.desk.opened[0].capture.channels] == ["a", "c"]


def test_name_other_unit_scale_and_leaving_out(
    window: Window, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    for typed, entry in (("plug pin 3", "Name …"), ("kPa", "In another unit …"), ("0,04", "One count is …")):
        monkeypatch.setattr(QInputDialog, "getText", lambda *_, typed=typed, **__: (typed, True))
        heading_clicked(panel, qtbot, 1)
        menu_entry(panel, entry)
        looked(panel, qtbot)
    heading_clicked(panel, qtbot, 2)
    menu_entry(panel, "Leave this column out")
    looked(panel, qtbot)
    assert panel.reading == Reading(
        units=((2, "kPa"),), names=((2, "plug pin 3"),), scales=((2, 0.04, 0.0),), left_out=(3,)
    )
    heading_clicked(panel, qtbot, 2)
    menu_entry(panel, "Take this column in")
    looked(panel, qtbot)
    assert panel.reading.left_out == ()


def test_what_is_no_number_is_told_and_changes_nothing(
    window: Window, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    monkeypatch.setattr(QInputDialog, "getText", lambda *_, **__: ("a little", True))
    heading_clicked(panel, qtbot, 1)
    menu_entry(panel, "One count is …")
    assert "no number" in panel._trouble.text()
    field = panel.answers.fields["step_s"]
    field.setText("often")
    field.editingFinished.emit()
    assert "'often' is no number" in panel._trouble.text()
    field.setText("-3 µs")
    field.editingFinished.emit()
    assert "step must be above 0" in panel._trouble.text()
    assert panel.reading.is_empty


def test_answers_are_taken_back_one_by_one_and_all_at_once(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    assert not panel.back_button.isEnabled()
    for number, unit in ((2, "V"), (3, "A")):
        panel.say(panel.reading.with_unit(number, unit))
        looked(panel, qtbot)
    press(qtbot, panel.back_button)
    assert panel.reading == Reading(units=((2, "V"),))
    panel.table.setFocus()
    qtbot.keyClick(panel.table, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert panel.reading.is_empty
    looked(panel, qtbot)
    panel.say(panel.reading.with_unit(2, "mA"))
    looked(panel, qtbot)
    press(qtbot, panel.plain_button)
    assert panel.reading.is_empty


def test_an_answer_that_makes_it_unreadable_is_told_and_can_be_taken_back(
    window: Window, qtbot: QtBot, tmp_path: Path
) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    panel.say(Reading(delimiter=";"))
    looked(panel, qtbot, lambda one: not one.agree_button.isEnabled())
    assert panel.table.rows.rowCount() > 10
    press(qtbot, panel.back_button)
    looked(panel, qtbot, lambda one: one.agree_button.isEnabled())
    assert panel.panel.lanes.lanes


def test_a_capture_file_has_no_rows_to_look_at(window: Window, qtbot: QtBot, stick: Path) -> None:
    window.files.open([stick / "known_good.h5"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    assert not window.captures_page.reading_button.isEnabled()


def test_answers_that_hold_for_the_whole_file(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    box = panel.answers.boxes["time_unit"]
    box.setCurrentIndex(2)
    box.activated.emit(2)
    looked(panel, qtbot)
    assert panel.reading == Reading(time_unit="ms")
    field = panel.answers.fields["start_s"]
    field.setText("-5 ms")
    field.editingFinished.emit()
    looked(panel, qtbot)
    assert panel.reading == Reading(time_unit="ms", start_s=-5e-3)
    box.setCurrentIndex(0)
    box.activated.emit(0)
    looked(panel, qtbot)
    assert panel.reading == Reading(start_s=-5e-3)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("2 µs", 2e-6), ("10us", 1e-5), ("0,5 ms", 5e-4), ("1e-5", 1e-5), ("3 s", 3.0), ("-2 ns", -2e-9), ("", None)],
)
def test_stretches_of_time_as_people_type_them(text: str, seconds: float | None) -> None:
    assert typed_seconds(text, "Step") == seconds


def test_the_table_can_be_used_without_a_mouse(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    panel.table.setFocus()
    panel.table.setCurrentIndex(panel.table.rows.index(2, 1))
    qtbot.keyClick(panel.table, Qt.Key.Key_Return)
    menu_entry(panel, "In V")
    looked(panel, qtbot)
    assert panel.reading.unit_of(2) == "V"
    panel.table.setCurrentIndex(panel.table.rows.index(4, 1))
    qtbot.keyClick(panel.table, Qt.Key.Key_Space)
    assert panel.reading.skip_rows == 4


@pytest.mark.parametrize("size", [(1366, 768), (1920, 1080)])
def test_nothing_in_the_panel_is_cut_off_or_too_small(
    window: Window, qtbot: QtBot, tmp_path: Path, size: tuple[int, int]
) -> None:
    window.resize(*size)
    panel = asked(window, qtbot, without_time(tmp_path / "a.csv"))
    QApplication.processEvents()
    for one in (*panel.findChildren(QPushButton), *panel.findChildren(QLineEdit)):
        if one.isVisible():
            assert one.height() >= TARGET_PIXELS
            assert one.accessibleName() or (isinstance(one, QPushButton) and one.text())
        if isinstance(one, QPushButton) and one.isVisible():
            assert one.width() >= one.fontMetrics().horizontalAdvance(one.text()), one.text()
    assert PLACES[window.pages.currentIndex()] == "Captures"


def test_a_file_of_bare_numbers_is_asked_about_without_rows(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    path = tmp_path / "bare.npy"
    np.save(path, np.float32([0.0, 12.0]).repeat(100))
    panel = asked(window, qtbot, path)
    assert not panel.table.isVisible()
    assert not panel.agree_button.isEnabled()
    answer(panel, "100 µs", qtbot)
    looked(panel, qtbot, lambda one: bool(one.panel.lanes.lanes))
    agree(window, panel, qtbot)
    (opened,) = window.desk.opened
    assert opened.capture.channels[0].step_s == 1e-4
    assert window.captures_page.reading_button.isEnabled()
    press(qtbot, window.captures_page.reading_button)
    looked(panel, qtbot)
    assert panel.answers.fields["step_s"].text() == "0.0001 s"


def test_many_channels_without_a_unit_are_answered_together(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    lines = [
        ",".join([f"{place * 1e-5:.6f}", *(f"{place * column % 11}" for column in range(1, 9))]) for place in range(90)
    ]
    path.write_text("\n".join(["time," + ",".join(f"pin {column}" for column in range(1, 9)), *lines, ""]))
    panel = opened_panel(window, qtbot, path)
    QApplication.processEvents()
    texts = [one.text() for one in panel.questions.findChildren(QLabel) if one.isVisible()]
    assert any("all 8 channels without a unit" in text for text in texts)
    assert texts[-1] == "And 6 more; they are shown as these are answered."
    (button,) = [
        one
        for one in panel.questions.findChildren(QPushButton)
        if one.text() == "millivolts" and "all 8" in one.parentWidget().findChildren(QLabel)[0].text()
    ]
    press(qtbot, button)
    looked(panel, qtbot)
    assert panel.reading == Reading(units=tuple((column, "mV") for column in range(2, 10)))
    agree(window, panel, qtbot)
    qtbot.waitUntil(lambda: window.desk.opened[0].capture.channels[7].unit == "V", timeout=SLOW_MS)
