"""Limit curves in the window: typed, laid around the known-good, drawn by mouse and keys, kept under a name."""

from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from loomlight.signal.limit_curve import LimitCurve, OwnLimits
from loomlight.storage.limits_store import LimitsStore
from loomlight.viewer.limits_dialog import LimitsDialog
from loomlight.viewer.window import Window

SLOW_MS = 30_000


@pytest.fixture
def ready(window: Window, qtbot: QtBot, tmp_path: Path) -> Window:
    """A slow ramp of 1 s under own limits."""
    times_s = np.arange(1000) * 1e-3
    rows = "\n".join(f"{at:.3f},{4 * at:.4f}" for at in times_s)
    (tmp_path / "ramp.csv").write_text(f"time (s),pedal (V)\n{rows}\n")
    window.files.open([tmp_path / "ramp.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    window.go_to(2)
    window.show()
    window.compare_page.asking.kind.chosen.emit("own-limits", "")
    return window


def test_the_dialog_reads_corners_and_keeps_them_under_a_name(qtbot: QtBot, tmp_path: Path) -> None:
    store = LimitsStore(tmp_path)
    dialog = LimitsDialog(OwnLimits(), store, None, "V")
    qtbot.addWidget(dialog)
    assert not dialog.use_button.isEnabled()
    dialog.curves["upper"].setPlainText("0, 1\n0.5;2,5\n1\t3")
    assert dialog.limits().upper == LimitCurve(((0.0, 1.0), (0.5, 2.5), (1.0, 3.0)))
    dialog.curves["lower"].setPlainText("0, 1\n0.5")
    assert "line 2" in dialog.problem.text()
    assert not dialog.use_button.isEnabled()
    dialog.curves["lower"].setPlainText("0, 2\n1, 4")
    assert "not above" in dialog.problem.text()
    dialog.curves["lower"].setPlainText("")
    dialog.name.setText("pedal sweep")
    dialog.keep_button.click()
    assert [one.name for one in store.all()] == ["pedal sweep"]
    assert dialog.kept.currentText() == "pedal sweep"
    dialog.aside_button.click()
    assert store.all() == ()


def test_a_curve_is_drawn_with_the_mouse_and_judged_by(ready: Window, qtbot: QtBot) -> None:
    page = ready.compare_page
    page.asking.draw_wanted.emit("upper")
    hand = page.drawing.hand
    qtbot.waitUntil(lambda: hand.is_on, timeout=SLOW_MS)
    lanes = page.panel.lanes
    scale = lanes.scales()[0]
    for share_x, share_y in ((0.1, 0.5), (0.9, 0.5)):
        x = scale.rect.left() + share_x * scale.rect.width()
        y = scale.rect.bottom() - share_y * scale.rect.height()
        qtbot.mouseClick(lanes, Qt.MouseButton.LeftButton, pos=QPoint(round(x), round(y)))
    assert len(hand.points) == 2
    level = hand.points[0][1]
    with qtbot.waitSignal(ready.desk.compared, timeout=SLOW_MS):
        qtbot.keyClick(lanes, Qt.Key.Key_Return)
    assert ready.desk.drawn is not None
    found = ready.desk.drawn.comparison
    assert found.conditions.upper_curve is not None
    assert found.verdict.state == "faulty"
    assert [one.rule for one in found.findings] == ["above the upper limit curve"]
    assert found.findings[0].start_s == pytest.approx(level / 4, abs=0.02)
    assert "upper limit" in [trace.label for trace in page.panel.lanes.lanes[0].traces]


def test_corners_by_keys(ready: Window, qtbot: QtBot) -> None:
    page = ready.compare_page
    page.asking.draw_wanted.emit("lower")
    hand = page.drawing.hand
    qtbot.waitUntil(lambda: hand.is_on, timeout=SLOW_MS)
    lanes = page.panel.lanes
    qtbot.keyClick(lanes, Qt.Key.Key_Insert)
    ((at_s, level),) = hand.points
    qtbot.keyClick(lanes, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    qtbot.keyClick(lanes, Qt.Key.Key_Down)
    assert hand.points[0][0] > at_s
    assert hand.points[0][1] < level
    qtbot.keyClick(lanes, Qt.Key.Key_Insert)
    assert len(hand.points) == 2
    qtbot.keyClick(lanes, Qt.Key.Key_Tab)
    qtbot.keyClick(lanes, Qt.Key.Key_Delete)
    assert len(hand.points) == 1
    hand.undo()
    assert len(hand.points) == 2
    qtbot.keyClick(lanes, Qt.Key.Key_Escape)
    assert not hand.is_on
    assert ready.desk.chosen.ask.limits is None


def test_kept_limits_are_used_like_any_kind(ready: Window, qtbot: QtBot) -> None:
    store = LimitsStore(ready.desk.library.folder)
    store.keep(OwnLimits("pedal sweep", upper=LimitCurve(((0.0, 0.5), (1.0, 4.5))), lower_level=-0.5))
    ready.desk.choice_changed.emit()
    page = ready.compare_page
    page.asking.kind.chosen.emit("own-limits", "pedal sweep")
    assert page.asking.fields["lower"].edit.text() == "-0.5"
    with qtbot.waitSignal(ready.desk.compared, timeout=SLOW_MS):
        qtbot.mouseClick(page.run_button, Qt.MouseButton.LeftButton)
    assert ready.desk.drawn is not None
    assert ready.desk.drawn.comparison.verdict.state == "clean"
