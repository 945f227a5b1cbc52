"""The pages: what is offered, what is shown, what is left out, and that nothing is clipped."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QApplication, QFileDialog, QLabel, QLineEdit, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from loomlight.signal.job import Job, JobCapture, JobVerdict
from loomlight.signal.verdict import Verdict
from loomlight.viewer.ask import Ask
from loomlight.viewer.pages.next_step import next_step
from loomlight.viewer.style_sheet import TARGET_PIXELS
from loomlight.viewer.window import PLACES, Window

SLOW_MS = 30_000
SUSPECT = JobCapture("before.csv", "before.csv", "0" * 64, "2026-01-01T10:00:00+01:00", "suspect")
AFTER = JobCapture("after.csv", "after.csv", "1" * 64, "2026-01-01T11:00:00+01:00", "after repair")
VERDICT = JobVerdict(
    "before.csv", "LIN", "", "lin", "2026-01-01T10:05:00+01:00", Verdict("faulty", "open", reasons=("no header",)), ()
)


def open_before(window: Window, qtbot: QtBot, stick: Path) -> None:
    window.files.open([stick / "before.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)


def seen(page: QWidget) -> list[QPushButton]:
    return [one for one in page.findChildren(QPushButton) if one.isVisible()]


@pytest.mark.parametrize(
    ("job", "place"),
    [
        (Job("t"), "Captures"),
        (Job("t", captures=(SUSPECT,)), "Compare"),
        (Job("t", captures=(SUSPECT,), verdicts=(VERDICT,)), "Captures"),
        (Job("t", captures=(SUSPECT, AFTER), verdicts=(VERDICT,)), "Proof"),
        (Job("t", captures=(SUSPECT, AFTER), verdicts=(VERDICT,), state="cannot tell"), "Proof"),
        (Job("t", captures=(SUSPECT, AFTER), verdicts=(VERDICT,), state="proven"), "Report"),
    ],
)
def test_next_step_follows_the_order_of_the_work(job: Job, place: str) -> None:
    step = next_step(job)
    assert step.place == place
    assert step.button


def test_every_empty_place_offers_what_to_do(window: Window, qtbot: QtBot) -> None:
    offers = []
    for place in range(len(PLACES)):
        window.go_to(place)
        page = window.pages.currentWidget()
        qtbot.waitUntil(lambda page=page: page.isVisible())
        offers.append([one.text() for one in seen(page) if one.isEnabled()])
    job, captures, compare, proof, library = offers
    assert "Open the sample job" in job
    assert {"Open capture", "Open the sample job"} <= set(captures)
    assert {"Open capture", "Open the sample job"} <= set(compare)
    assert proof == ["Open the capture after the repair"]
    assert library == ["Go to Captures", "Add simulated entries", "Share …"]


@pytest.mark.parametrize("size", [(1280, 720), (1366, 768), (1920, 1080)])
def test_no_button_is_cut_off_or_too_small_for_cold_fingers(
    window: Window, qtbot: QtBot, stick: Path, size: tuple[int, int]
) -> None:
    open_before(window, qtbot, stick)
    window.resize(*size)
    for place in range(len(PLACES)):
        window.go_to(place)
        QApplication.processEvents()
        for button in window.findChildren(QAbstractButton):
            if not button.isVisible() or not button.text() or button.window() is not window:
                continue
            wanted = button.fontMetrics().horizontalAdvance(button.text().split("\n")[0])
            assert button.width() >= wanted, button.text()
            assert button.height() >= TARGET_PIXELS, button.text()
            corner = button.mapTo(window, button.rect().bottomRight())
            assert window.rect().contains(corner), button.text()


def test_every_control_has_a_name_to_be_read_out(window: Window, qtbot: QtBot, stick: Path) -> None:
    open_before(window, qtbot, stick)
    for button in window.findChildren(QAbstractButton):
        if button.isVisibleTo(window) and button.text():
            assert button.toolTip() or button.objectName() == "place", button.text()
    for field in window.findChildren(QLineEdit):
        assert field.accessibleName() or field.parent().accessibleName(), field.placeholderText()


def test_channels_are_told_with_unit_samples_step_length_and_reach(window: Window, qtbot: QtBot, stick: Path) -> None:
    open_before(window, qtbot, stick)
    item = window.captures_page.channels.item(0)
    qtbot.waitUntil(lambda: "from" in item.text(), timeout=SLOW_MS)
    for part in ("blower LIN", "(V)", "97850 samples", "every 2 µs", "196 ms long", "V to 11.9 V"):
        assert part in item.text()


def test_uses_of_a_channel_reach_the_other_pages(window: Window, qtbot: QtBot, stick: Path) -> None:
    open_before(window, qtbot, stick)
    page = window.captures_page
    page.channels.setCurrentRow(1)
    qtbot.mouseClick(page.uses.suspect_button, Qt.MouseButton.LeftButton)
    page.channels.setCurrentRow(0)
    qtbot.mouseClick(page.uses.after_button, Qt.MouseButton.LeftButton)
    suspect, after = window.compare_page.asking.suspect.current(), window.proof_page.after.current()
    assert suspect is not None
    assert after is not None
    assert (suspect.channel.name, after.channel.name) == ("flap LIN", "blower LIN")
    assert window.proof_page.run_button.isEnabled()


def test_notes_can_be_begun_only_where_they_are_kept(window: Window, qtbot: QtBot, stick: Path) -> None:
    open_before(window, qtbot, stick)
    page = window.captures_page
    qtbot.waitUntil(lambda: bool(page.panel.lanes.lanes), timeout=SLOW_MS)
    page.panel.lanes.begin_note()
    assert page.panel.lanes.cursor().shape() != Qt.CursorShape.CrossCursor
    assert "Note" not in [one.text() for one in page.panel.findChildren(QAbstractButton)]
    assert "Note" in [one.text() for one in window.compare_page.panel.findChildren(QAbstractButton)]


def test_own_limits_bring_their_fields_and_are_judged_by(window: Window, qtbot: QtBot, stick: Path) -> None:
    open_before(window, qtbot, stick)
    page = window.compare_page
    window.go_to(2)
    window.desk.chosen.ask = Ask(kind="own-limits")
    page.show_choice()
    fields = page.asking.fields
    assert [name for name, field in fields.items() if field.isVisible()] == ["upper", "lower", "within"]
    qtbot.keyClicks(fields["upper"].edit, "10,5")
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        qtbot.mouseClick(page.run_button, Qt.MouseButton.LeftButton)
    assert window.desk.drawn is not None
    assert window.desk.drawn.comparison.conditions.upper_v == 10.5
    assert "too high" in {one.kind for one in window.desk.drawn.comparison.findings}


def test_volts_that_are_no_number_are_told_and_nothing_runs(window: Window, qtbot: QtBot, stick: Path) -> None:
    open_before(window, qtbot, stick)
    window.go_to(2)
    qtbot.keyClicks(window.compare_page.asking.fields["supply"].edit, "twelve")
    qtbot.mouseClick(window.compare_page.run_button, Qt.MouseButton.LeftButton)
    assert not window.compare_page.aside.is_busy
    assert "'twelve' is no number" in window.strip.text.text()


def test_a_comparison_can_be_given_up(window: Window, qtbot: QtBot, stick: Path) -> None:
    open_before(window, qtbot, stick)
    window.go_to(2)
    qtbot.mouseClick(window.compare_page.run_button, Qt.MouseButton.LeftButton)
    cancel = window.compare_page.running.cancel_button
    qtbot.waitUntil(cancel.isVisible)
    qtbot.mouseClick(cancel, Qt.MouseButton.LeftButton)
    assert "given up" in window.strip.text.text()
    qtbot.wait(300)
    assert window.desk.drawn is None
    assert window.compare_page.run_button.isVisible()


def test_findings_are_stepped_through_and_shown(window: Window, qtbot: QtBot, stick: Path) -> None:
    open_before(window, qtbot, stick)
    window.go_to(2)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        window.compare_page.run()
    page = window.compare_page
    (forward,) = [one for one in page.panel.findChildren(QAbstractButton) if one.accessibleName() == "The next finding"]
    for expected in (0, 1, 2):
        qtbot.mouseClick(forward, Qt.MouseButton.LeftButton)
        finding = page.table.rows.findings[expected]
        assert page.table.currentIndex().row() == expected
        start_s, stop_s = page.panel.lanes.view()
        assert start_s <= finding.start_s <= stop_s
    page.table.selectRow(0)
    page.panel.finding_step.emit(-1)
    assert page.table.currentIndex().row() == len(page.table.rows.findings) - 1


def test_cursors_are_read_in_numbers(window: Window, qtbot: QtBot, stick: Path) -> None:
    open_before(window, qtbot, stick)
    window.go_to(2)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        window.compare_page.run()
    panel = window.compare_page.panel
    panel.lanes.set_cursors(0.010, 0.012)
    (bar,) = [one for one in panel.findChildren(QLabel) if one.accessibleName() == "Readings of the cursors"]
    qtbot.waitUntil(lambda: bar.isVisible() and "duty" in bar.text(), timeout=SLOW_MS)
    for part in ("Δt 2 ms", "1/Δt 500 Hz", "■ blower LIN", "● flap LIN", "difference", "RMS", "edges"):
        assert part in bar.text()


def test_the_capture_after_the_repair_is_asked_for_where_it_is_needed(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_before(window, qtbot, stick)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(stick / "after.csv"), ""))
    window.go_to(3)
    (ask,) = [one for one in seen(window.proof_page) if one.text() == "Open the capture after the repair"]
    qtbot.mouseClick(ask, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.desk.chosen.after is not None, timeout=SLOW_MS)
    assert window.desk.chosen.after is not None
    assert window.desk.chosen.after.file == "after.csv"
    assert window.pages.currentWidget() is window.proof_page
