"""The known-good laid over the suspect by hand, with the real widgets."""

import json
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from loomlight.signal.lineup import LineUp
from loomlight.storage.picture_data import data_of
from loomlight.viewer.pages.compare_page import ComparePage
from loomlight.viewer.snapshot import as_png
from loomlight.viewer.window import Window

SLOW_MS = 60_000


@pytest.fixture(name="page")
def page_fixture(window: Window, qtbot: QtBot, stick: Path) -> ComparePage:
    """Compare with the suspect before the repair over the known-good beside it, under the hand."""
    window.files.open([stick / "before.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    window.go_to(2)
    page = window.compare_page
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        page.run()
    qtbot.waitUntil(page.hand_button.isVisible)
    qtbot.mouseClick(page.hand_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: page.hand.lineup is not None, timeout=SLOW_MS)
    return page


def drag(qtbot: QtBot, page: ComparePage, start: QPoint, stop: QPoint) -> float:
    """Drag in the lanes; gives how far that is, seconds."""
    lanes = page.panel.lanes
    scale = lanes.scales()[0]
    qtbot.mousePress(lanes, Qt.MouseButton.LeftButton, pos=start)
    for share in (0.3, 0.7, 1.0):
        qtbot.mouseMove(lanes, start + (stop - start) * share)
    qtbot.mouseRelease(lanes, Qt.MouseButton.LeftButton, pos=stop)
    return float(scale.time_at(stop.x()) - scale.time_at(start.x()))


def scored(qtbot: QtBot, page: ComparePage) -> LineUp:
    qtbot.waitUntil(lambda: page.hand.lineup is not None, timeout=SLOW_MS)
    assert page.hand.lineup is not None
    return page.hand.lineup


def test_a_drag_moves_the_known_good_and_shows_the_fit_beside_the_tools_own(page: ComparePage, qtbot: QtBot) -> None:
    before = scored(qtbot, page)
    view = page.panel.lanes.view()
    by_s = drag(qtbot, page, QPoint(300, 150), QPoint(360, 150))
    assert page.hand.hand.lag_s == pytest.approx(before.lag_s - by_s, abs=1e-9)
    assert page.panel.lanes.view() == pytest.approx(view), "the view stays"
    (lane,) = page.panel.lanes.lanes
    good = lane.traces[0]
    assert (good.role, good.lag_s) == ("known-good", page.hand.hand.lag_s)
    after = scored(qtbot, page)
    assert after.fit < before.fit
    text = page.hand_bar.text.text()
    assert f"fit {after.fit:.2f}" in text
    assert f"fit {before.fit:.2f}" in text
    assert "The tool's own, by shape" in text


def test_keys_nudge_by_a_sample_and_by_a_hundredth_and_undo(page: ComparePage, qtbot: QtBot) -> None:
    lanes = page.panel.lanes
    start = page.hand.hand.lag_s
    qtbot.keyClick(lanes, Qt.Key.Key_Right)
    assert page.hand.hand.lag_s == pytest.approx(start - 2e-6)
    qtbot.keyClick(lanes, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    first, last = lanes.view()
    assert page.hand.hand.lag_s == pytest.approx(start - 2e-6 + 0.01 * (last - first))
    qtbot.keyClick(lanes, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert page.hand.hand.lag_s == pytest.approx(start - 2e-6)
    qtbot.mouseClick(page.hand_bar.undo_button, Qt.MouseButton.LeftButton)
    assert page.hand.hand.lag_s == pytest.approx(start)
    assert not page.hand_bar.undo_button.isEnabled()


def test_two_pins_give_shift_and_stretch_and_hold(page: ComparePage, qtbot: QtBot) -> None:
    bar, lanes = page.hand_bar, page.panel.lanes
    drag(qtbot, page, QPoint(300, 150), QPoint(310, 150))
    qtbot.keyClick(lanes, Qt.Key.Key_P)
    ((pin_s, pin_good_s),) = page.hand.hand.pins
    drag(qtbot, page, QPoint(600, 150), QPoint(640, 150))
    hand = page.hand.hand
    assert hand.stretch != 1.0
    assert hand.lag_s + hand.stretch * pin_s == pytest.approx(pin_good_s)
    qtbot.mouseClick(bar.pin_button, Qt.MouseButton.LeftButton)
    assert len(page.hand.hand.pins) == 2
    assert not bar.pin_button.isEnabled()
    held = page.hand.hand
    drag(qtbot, page, QPoint(400, 150), QPoint(500, 150))
    assert page.hand.hand == held
    assert "2 pinned" in bar.text.text()
    qtbot.mouseClick(bar.unpin_button, Qt.MouseButton.LeftButton)
    assert page.hand.hand.pins == ()
    assert scored(qtbot, page).stretch == pytest.approx(held.stretch)


def test_letting_go_brings_the_comparison_back_untouched(page: ComparePage, qtbot: QtBot) -> None:
    shown = page._desk.drawn
    drag(qtbot, page, QPoint(300, 150), QPoint(420, 150))
    qtbot.mouseClick(page.hand_button, Qt.MouseButton.LeftButton)
    assert page._desk.drawn is shown
    assert not page.hand.is_on
    assert not page.hand_bar.isVisible()
    assert [lane.key for lane in page.panel.lanes.lanes] == ["blower LIN", "difference", "local fit"]
    view = page.panel.lanes.view()
    drag(qtbot, page, QPoint(300, 150), QPoint(420, 150))
    assert page.panel.lanes.view() != pytest.approx(view), "the lanes pan again"


def test_what_is_judged_by_hand_says_so_on_the_page_and_in_the_snapshot(
    page: ComparePage, window: Window, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: ("", ""))
    qtbot.keyClick(page.panel.lanes, Qt.Key.Key_Right)
    made = scored(qtbot, page)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        qtbot.mouseClick(page.hand_bar.judge_button, Qt.MouseButton.LeftButton)
    assert window.desk.drawn is not None
    found = window.desk.drawn.comparison
    assert found.lineup == made
    assert "by hand" in found.verdict.reasons[-1]
    assert not page.hand.is_on
    with qtbot.waitSignal(page.keeping.snapshot_taken, timeout=SLOW_MS) as taken:
        page.keeping.take_snapshot()
    assert taken.args is not None
    inside = json.loads(data_of(as_png(taken.args[1])) or "{}")
    assert inside["compare"]["lineup"]["by"] == "hand"
    assert inside["compare"]["lineup"]["sureness"] is None
    assert "The known-good was laid over the suspect by hand." in inside["compare"]["verdict"]["reasons"]
    qtbot.mouseClick(page.hand_button, Qt.MouseButton.LeftButton)
    assert "The tool's own, by shape: shifted by 0 s" in page.hand_bar.text.text(), "its own answer is still known"
    qtbot.mouseClick(page.hand_bar.findChildren(type(page.hand_bar.undo_button))[-2], Qt.MouseButton.LeftButton)
    assert page.hand.hand.lag_s == 0.0


def test_a_refused_line_up_can_be_laid_by_hand(window: Window, qtbot: QtBot, stick: Path) -> None:
    from loomlight import sample_captures

    other = Path(str(sample_captures.__path__[0])) / "other_vehicle_good.csv"
    window.files.open([stick / "before.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    window.files.open([other])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 2 and not window.opening.is_busy, timeout=SLOW_MS)
    window.go_to(2)
    page = window.compare_page
    strange = next(one for one in window.desk.choices() if one.file.startswith("other_vehicle"))
    window.desk.choose(good=strange)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        page.run()
    assert len(page.panel.lanes.lanes) == 2, "both are shown"
    qtbot.mouseClick(page.hand_button, Qt.MouseButton.LeftButton)
    (lane,) = page.panel.lanes.lanes
    assert [trace.role for trace in lane.traces] == ["known-good", "suspect"]
    scored(qtbot, page)
    assert "refused" in page.hand_bar.text.text()


@pytest.mark.parametrize("size", [(1366, 768), (1920, 1080)])
def test_the_bar_is_not_cut_off(page: ComparePage, window: Window, size: tuple[int, int]) -> None:
    window.resize(*size)
    QApplication.processEvents()
    for button in page.hand_bar.findChildren(type(page.hand_bar.undo_button)):
        assert button.height() >= 44
        assert window.rect().contains(button.mapTo(window, button.rect().bottomRight()))
        assert button.accessibleName()
    text = page.hand_bar.text
    assert text.height() >= text.heightForWidth(text.width())
