"""Two time cursors: set, dragged by a cold finger, moved by keys."""

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from loomlight.viewer.lanes.cursors_on_lanes import GRAB_PIXELS
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import DAYLIGHT

SHIFT, CONTROL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier
WHOLE = pytest.approx((0.0, 0.1))


@pytest.fixture
def stack(qtbot: QtBot, bus_lane: Lane) -> LaneStack:
    made = LaneStack(DAYLIGHT)
    qtbot.addWidget(made)
    made.resize(900, 420)
    made.show_lanes([bus_lane])
    made.show()
    return made


def drag_across(stack: LaneStack, begin_x: float, end_x: float) -> None:
    QTest.mousePress(stack, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, QPoint(round(begin_x), 200))
    place = QPointF(round(end_x), 200)
    stack.mouseMoveEvent(
        QMouseEvent(
            QEvent.Type.MouseMove,
            place,
            stack.mapToGlobal(place),
            Qt.MouseButton.NoButton,
            Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
        )
    )
    QTest.mouseRelease(stack, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, place.toPoint())


def test_c_sets_both_into_the_view_and_takes_them_away(qtbot: QtBot, stack: LaneStack) -> None:
    stack.set_view(0.03, 0.06)
    with qtbot.waitSignal(stack.cursors_changed, timeout=1000):
        QTest.keyClick(stack, Qt.Key.Key_C)
    assert stack.cursors() == pytest.approx((0.04, 0.05))
    QTest.keyClick(stack, Qt.Key.Key_C)
    assert stack.cursors() == (None, None)


# WCAG 2.2, 2.5.5 (AAA): a target is at least 44 by 44 CSS pixels.
def test_the_zone_to_grab_is_forty_four_pixels_wide(stack: LaneStack) -> None:
    assert 2 * GRAB_PIXELS >= 44
    for off in (-GRAB_PIXELS + 1, 0.0, GRAB_PIXELS - 1):
        stack.set_cursors(0.05, None)
        scale = stack.scales()[0]
        x = float(scale.x_of(0.05)) + off
        drag_across(stack, x, x + 100)
        assert stack.cursors()[0] == pytest.approx(scale.time_at(x + 100), abs=1.5e-4)
        assert stack.view() == WHOLE, "the lanes stay where they are"


def test_of_two_that_are_close_the_nearer_is_taken(stack: LaneStack) -> None:
    scale = stack.scales()[0]
    first_s, second_s = scale.time_at(400), scale.time_at(420)
    stack.set_cursors(first_s, second_s)
    drag_across(stack, 416, 600)
    assert stack.cursors()[0] == first_s
    assert stack.cursors()[1] == pytest.approx(scale.time_at(600), abs=1.5e-4)


def test_a_cursor_is_not_dragged_out_of_sight(stack: LaneStack) -> None:
    stack.set_view(0.02, 0.04)
    stack.set_cursors(0.03, None)
    drag_across(stack, float(stack.scales()[0].x_of(0.03)), 5000)
    assert stack.cursors()[0] == pytest.approx(0.04)


def test_keys_move_each_by_a_four_hundredth_of_the_view(stack: LaneStack) -> None:
    stack.set_cursors(0.04, 0.06)
    QTest.keyClick(stack, Qt.Key.Key_Right, CONTROL)
    QTest.keyClick(stack, Qt.Key.Key_Left, SHIFT)
    assert stack.cursors() == pytest.approx((0.04025, 0.05975))
    assert stack.view() == WHOLE


def test_keys_move_nothing_where_none_is_set(stack: LaneStack) -> None:
    QTest.keyClick(stack, Qt.Key.Key_Right, CONTROL)
    QTest.keyClick(stack, Qt.Key.Key_Right, SHIFT)
    assert stack.cursors() == (None, None)


def test_cursors_stay_on_the_same_capture_and_go_with_another(stack: LaneStack, bus_lane: Lane, make_trace) -> None:
    stack.set_cursors(0.04, 0.06)
    stack.show_lanes([bus_lane])
    assert stack.cursors() == (0.04, 0.06)
    stack.show_lanes([Lane("later", (make_trace([0.0, 1.0], start_s=5.0),))])
    assert stack.cursors() == (None, None)


def test_cursors_are_drawn_with_their_letters(stack: LaneStack) -> None:
    bare = stack.grab().toImage()
    stack.set_cursors(0.05, None)
    x = round(float(stack.scales()[0].x_of(0.05)))
    drawn = stack.grab().toImage()
    assert any(bare.pixel(column, 100) != drawn.pixel(column, 100) for column in range(x - 2, x + 3))
    label = range(round(stack.scales()[0].rect.bottom()) - 20, round(stack.scales()[0].rect.bottom()) - 6)
    assert sum(drawn.pixel(x - 7, row) != bare.pixel(x - 7, row) for row in label) > 8
