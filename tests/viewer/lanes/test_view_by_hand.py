"""Box zoom, pinch, touchpad, and the way back through views of time and values."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QKeyEvent, QNativeGestureEvent, QPointingDevice
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from loomlight.viewer.lanes.key_list import KeyList
from loomlight.viewer.lanes.lane_keys import KEY_GROUPS, actions
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import DAYLIGHT

Key = Qt.Key
ALT, CONTROL, SHIFT = (
    Qt.KeyboardModifier.AltModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
)
WHOLE = pytest.approx((0.0, 0.1))


@pytest.fixture
def stack(qtbot: QtBot, bus_lane: Lane) -> LaneStack:
    made = LaneStack(DAYLIGHT)
    qtbot.addWidget(made)
    made.resize(900, 500)
    made.show_lanes([bus_lane, replace(bus_lane, key="flap LIN")])
    made.show()
    return made


def values(stack: LaneStack, lane: int) -> tuple[float, float]:
    return stack.scales()[lane].low, stack.scales()[lane].high


def test_a_tall_box_zooms_time_and_one_lane(stack: LaneStack, hand) -> None:
    own = values(stack, 0)
    begin, end = hand(stack).place(0.02, lane=1, share=0.2), hand(stack).place(0.06, lane=1, share=0.8)
    wanted = stack.scales()[1].value_at(end.y()), stack.scales()[1].value_at(begin.y())
    hand(stack).drag(begin, end, held=SHIFT)
    assert stack.view() == pytest.approx((0.02, 0.06), abs=2e-4)
    assert values(stack, 1) == pytest.approx(wanted)
    assert values(stack, 0) == own
    QTest.keyClick(stack, Key.Key_Backspace)
    assert stack.view() == WHOLE
    assert values(stack, 1) == own, "both are one step back"
    QTest.keyClick(stack, Key.Key_Backspace, SHIFT)
    assert values(stack, 1) == pytest.approx(wanted)


def test_b_and_a_drag_draw_one_box(stack: LaneStack, hand) -> None:
    QTest.keyClick(stack, Key.Key_B)
    assert stack.cursor().shape() == Qt.CursorShape.CrossCursor
    hand(stack).drag(hand(stack).place(0.07), hand(stack).place(0.03))
    assert stack.view() == pytest.approx((0.03, 0.07), abs=2e-4)
    view = stack.view()
    hand(stack).drag(hand(stack).place(0.05), hand(stack).place(0.055))
    assert stack.view()[1] - stack.view()[0] == pytest.approx(view[1] - view[0]), "the next drag moves again"


def test_escape_leaves_a_box_and_a_drag_under_way(stack: LaneStack, hand) -> None:
    QTest.keyClick(stack, Key.Key_B)
    hand(stack).drag(hand(stack).place(0.03), hand(stack).place(0.07), drop=False)
    drawn = stack.grab().toImage()
    QTest.keyClick(stack, Key.Key_Escape)
    assert stack.grab().toImage() != drawn
    QTest.mouseRelease(stack, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, hand(stack).place(0.07))
    assert stack.view() == WHOLE
    assert stack.cursor().shape() != Qt.CursorShape.CrossCursor


def test_a_box_without_a_width_changes_nothing(stack: LaneStack, hand) -> None:
    hand(stack).drag(hand(stack).place(0.05, share=0.2), hand(stack).place(0.05, share=0.9), held=SHIFT)
    assert stack.view() == WHOLE
    assert not stack.can_step()[0]


def pinch(stack: LaneStack, place: QPoint, value: float) -> None:
    at = stack.mapToGlobal(QPointF(place))
    kind = Qt.NativeGestureType.ZoomNativeGesture
    device = QPointingDevice.primaryPointingDevice()
    stack.event(QNativeGestureEvent(kind, device, 2, QPointF(place), QPointF(place), at, value, QPointF()))


def test_a_pinch_zooms_at_the_fingers(stack: LaneStack, hand) -> None:
    place = hand(stack).place(0.03)
    pointed_s = stack.scales()[0].time_at(place.x())
    for _ in range(5):
        pinch(stack, place, 0.1)
    assert stack.view()[1] - stack.view()[0] == pytest.approx(0.1 / 1.1**5)
    assert stack.scales()[0].time_at(place.x()) == pytest.approx(pointed_s)
    QTest.keyClick(stack, Key.Key_Backspace)
    assert stack.view() == WHOLE, "one pinch is one step back"


def test_a_pinch_that_comes_as_a_wheel_with_control_zooms_the_time(stack: LaneStack, hand) -> None:
    hand(stack).wheel(hand(stack).place(0.05), 1.0, held=CONTROL)
    assert stack.view()[1] - stack.view()[0] == pytest.approx(0.08)
    assert values(stack, 0) == values(stack, 1)


def test_two_fingers_aside_move(stack: LaneStack, hand) -> None:
    stack.set_view(0.04, 0.06)
    hand(stack).wheel(hand(stack).place(0.05), 0.1, aside=1.0)
    assert stack.view() == pytest.approx((0.038, 0.058))


def test_the_wheel_over_the_numbers_zooms_that_lanes_values(stack: LaneStack, hand) -> None:
    own = values(stack, 0)
    place = QPoint(20, hand(stack).place(0.0, lane=1).y())
    pointed = stack.scales()[1].value_at(place.y())
    hand(stack).wheel(place, 2.0)
    low, high = values(stack, 1)
    assert high - low == pytest.approx((own[1] - own[0]) * 0.85**2)
    assert stack.scales()[1].value_at(place.y()) == pytest.approx(pointed)
    assert values(stack, 0) == own
    assert stack.view() == WHOLE


def test_dragging_the_numbers_moves_that_lanes_values(stack: LaneStack, hand) -> None:
    begin, end = QPoint(20, hand(stack).place(0.0, share=0.4).y()), QPoint(20, hand(stack).place(0.0, share=0.6).y())
    grabbed = stack.scales()[0].value_at(begin.y())
    hand(stack).drag(begin, end)
    assert stack.scales()[0].value_at(end.y()) == pytest.approx(grabbed, abs=0.1)
    QTest.keyClick(stack, Key.Key_Backspace)
    assert stack.scales()[0].value_at(begin.y()) == pytest.approx(grabbed)


def test_back_and_forward_are_offered_only_where_they_lead(stack: LaneStack) -> None:
    assert stack.can_step() == (False, False)
    stack.set_view(0.02, 0.03)
    assert stack.can_step() == (True, False)
    stack.back()
    assert stack.can_step() == (False, True)


def test_every_key_of_the_list_does_something(stack: LaneStack) -> None:
    stack.set_view(0.04, 0.06)
    for combination in tuple(actions()):
        QTest.keyClick(stack, combination.key(), combination.keyboardModifiers())
        stack.leave_note()
    assert not stack.grab().isNull()
    keys = [keys for group in KEY_GROUPS for row in group.rows for act in row.acts for keys in act.keys]
    assert len(actions()) == len(keys) == len(set(keys)), "no key does two things"


def test_a_plus_that_needs_shift_on_this_keyboard_still_zooms(stack: LaneStack) -> None:
    QTest.keyClick(stack, Key.Key_Plus, SHIFT)
    assert stack.view()[1] - stack.view()[0] == pytest.approx(0.07)


def test_the_list_names_every_row(qtbot: QtBot) -> None:
    shown = KeyList()
    qtbot.addWidget(shown)
    words = {label.text() for label in shown.findChildren(QLabel)}
    for group in KEY_GROUPS:
        assert group.title in words
        assert {row.what for row in group.rows} <= words


def test_the_lanes_take_their_own_keys_before_a_shortcut(qtbot: QtBot, stack: LaneStack) -> None:
    def takes(key: Qt.Key, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> bool:
        event = QKeyEvent(QEvent.Type.ShortcutOverride, key, held)
        event.ignore()
        stack.event(event)
        return event.isAccepted()

    assert takes(Key.Key_C)
    assert takes(Key.Key_Home)
    assert not takes(Key.Key_Z, CONTROL), "nothing to undo here: the page may have something"
    stack.arranging.hide("flap LIN")
    assert takes(Key.Key_Z, CONTROL)
    assert not takes(Key.Key_Escape)
    stack.begin_box()
    assert takes(Key.Key_Escape)
    assert not takes(Key.Key_S, CONTROL)


def test_two_fingers_on_a_touch_screen_zoom_and_move_nothing_else(qtbot: QtBot, stack: LaneStack, hand) -> None:
    device = QTest.createTouchDevice()
    middle = hand(stack).place(0.05)
    near, far = QPoint(40, 0), QPoint(160, 0)
    QTest.touchEvent(stack, device).press(0, middle - near, stack).press(1, middle + near, stack).commit()
    for step in range(1, 7):
        off = near + (far - near) * step / 6
        QTest.touchEvent(stack, device).move(0, middle - off, stack).move(1, middle + off, stack).commit()
        qtbot.wait(10)
    QTest.touchEvent(stack, device).release(0, middle - far, stack).release(1, middle + far, stack).commit()
    start, stop = stack.view()
    assert stop - start < 0.05
    assert 0.5 * (start + stop) == pytest.approx(0.05, abs=0.005)
    hand(stack).move(middle + QPoint(100, 0))
    assert stack.view() == (start, stop), "no drag is left under way"


def test_one_finger_on_a_touch_screen_moves_the_view(stack: LaneStack, hand) -> None:
    stack.set_view(0.04, 0.06)
    device = QTest.createTouchDevice()
    begin = hand(stack).place(0.05)
    QTest.touchEvent(stack, device).press(0, begin, stack).commit()
    for step in range(1, 6):
        QTest.touchEvent(stack, device).move(0, begin + QPoint(20 * step, 0), stack).commit()
    QTest.touchEvent(stack, device).release(0, begin + QPoint(100, 0), stack).commit()
    assert stack.view()[0] < 0.0385
    assert stack.view()[1] - stack.view()[0] == pytest.approx(0.02)
