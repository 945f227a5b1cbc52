"""Level cursors of each lane, and where cursors snap to."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from loomlight.viewer.lanes.cursors_on_lanes import GRAB_PIXELS
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.specs import Lane, LevelLine
from loomlight.viewer.theme import DAYLIGHT

Key = Qt.Key
ALT, CONTROL, SHIFT = (
    Qt.KeyboardModifier.AltModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
)


@pytest.fixture
def stack(qtbot: QtBot, bus_lane: Lane) -> LaneStack:
    """Two lanes of 100 ms, 12 V to 1 V and back every 100 µs, so falls at 49.5 µs after each 0.1 ms."""
    made = LaneStack(DAYLIGHT)
    qtbot.addWidget(made)
    made.resize(900, 460)
    lines = (LevelLine(4.8, "dominant below 4.8 V"),)
    made.show_lanes([replace(bus_lane, lines=lines), replace(bus_lane, key="flap LIN")])
    made.show()
    return made


def test_l_sets_them_to_the_states_of_the_chosen_lane(stack: LaneStack) -> None:
    QTest.keyClick(stack, Key.Key_L)
    assert stack.level_cursors() == {"blower LIN": pytest.approx((1.0, 12.0), abs=0.05)}
    QTest.keyClick(stack, Key.Key_Down, CONTROL)
    QTest.keyClick(stack, Key.Key_L)
    assert set(stack.level_cursors()) == {"blower LIN", "flap LIN"}
    QTest.keyClick(stack, Key.Key_L)
    assert set(stack.level_cursors()) == {"blower LIN"}


def test_without_two_states_they_stand_in_the_middle_third(stack: LaneStack, make_trace) -> None:
    stack.show_lanes([Lane("flat", (make_trace(np.full(1000, 5.0)),))])
    QTest.keyClick(stack, Key.Key_L)
    scale = stack.scales()[0]
    third = (scale.high - scale.low) / 3
    assert stack.level_cursors()["flat"] == pytest.approx((scale.low + third, scale.low + 2 * third))


def test_keys_move_each_by_a_two_hundredth_of_the_lane(stack: LaneStack) -> None:
    stack.set_level_cursors("blower LIN", 4.0, 8.0)
    QTest.keyClick(stack, Key.Key_PageUp, CONTROL)
    QTest.keyClick(stack, Key.Key_PageDown, SHIFT)
    scale = stack.scales()[0]
    step = (scale.high - scale.low) / 200
    assert stack.level_cursors()["blower LIN"] == pytest.approx((4.0 + step, 8.0 - step))


# WCAG 2.2, 2.5.5 (AAA): a target is at least 44 by 44 CSS pixels.
@pytest.mark.parametrize("off", [-GRAB_PIXELS + 1, 0.0, GRAB_PIXELS - 1])
def test_the_tab_is_grabbed_by_a_cold_finger(stack: LaneStack, hand, off: float) -> None:
    stack.set_level_cursors("blower LIN", 6.0, None)
    scale = stack.scales()[0]
    at = QPoint(round(scale.rect.right()) - 20, round(float(scale.y_of(6.0)) + off))
    hand(stack).drag(at, QPoint(at.x(), round(float(scale.y_of(9.0)))), held=ALT)
    assert stack.level_cursors()["blower LIN"][0] == pytest.approx(9.0, abs=0.1)


def test_in_a_low_lane_the_line_leaves_room_to_move_the_view(stack: LaneStack, bus_lane: Lane, hand) -> None:
    stack.show_lanes([replace(bus_lane, key=f"channel {number}") for number in range(6)])
    stack.set_view(0.04, 0.06)
    stack.set_level_cursors("channel 0", 6.0, None)
    scale = stack.scales()[0]
    begin = QPoint(300, round(float(scale.y_of(6.0))) + 14)
    hand(stack).drag(begin, begin + QPoint(60, 0))
    assert stack.view()[0] < 0.04
    assert stack.level_cursors()["channel 0"] == (6.0, None)


def test_a_level_cursor_snaps_to_a_state_and_to_a_limit(stack: LaneStack, hand) -> None:
    stack.set_level_cursors("blower LIN", 7.0, None)
    scale = stack.scales()[0]
    for near, wanted in ((12.1, 12.0), (4.95, 4.8), (1.1, 1.0)):
        at = QPoint(round(scale.rect.right()) - 20, round(float(scale.y_of(stack.level_cursors()["blower LIN"][0]))))
        hand(stack).drag(at, QPoint(at.x(), round(float(scale.y_of(near)))))
        assert stack.level_cursors()["blower LIN"][0] == pytest.approx(wanted, abs=0.03)


@pytest.mark.parametrize("held", [Qt.KeyboardModifier.NoModifier, ALT])
def test_a_time_cursor_snaps_to_the_edge_and_with_alt_it_does_not(stack: LaneStack, hand, held) -> None:
    stack.set_view(0.0500, 0.0503)
    edge_s = 0.0501495  # half way between the last high and the first low sample
    stack.set_cursors(0.05005, None)
    end = hand(stack).place(edge_s) + QPoint(4, 0)
    hand(stack).drag(hand(stack).place(0.05005), end, held=held)
    at_s = stack.cursors()[0]
    if held == ALT:
        assert at_s == pytest.approx(stack.scales()[0].time_at(end.x()))
        assert abs(at_s - edge_s) > 1e-7
    else:
        assert at_s == pytest.approx(edge_s, abs=1e-10)


def test_far_from_any_edge_it_stays_where_the_hand_is(stack: LaneStack, hand) -> None:
    stack.set_view(0.0500, 0.0503)
    stack.set_cursors(0.05005, None)
    end = hand(stack).place(0.050125)
    hand(stack).drag(hand(stack).place(0.05005), end)
    assert stack.cursors()[0] == pytest.approx(stack.scales()[0].time_at(end.x()))


def test_alt_and_arrows_walk_from_edge_to_edge_and_the_view_follows(stack: LaneStack) -> None:
    stack.set_view(0.0500, 0.0502)
    stack.set_cursors(0.05001, 0.0501)
    met = []
    for _ in range(6):
        QTest.keyClick(stack, Key.Key_Right, CONTROL | ALT)
        met.append(stack.cursors()[0])
        assert stack.view()[0] <= stack.cursors()[0] <= stack.view()[1]
    assert met == pytest.approx([0.0500495 + 5e-5 * number for number in range(6)], abs=1e-9)
    QTest.keyClick(stack, Key.Key_Left, SHIFT | ALT)
    assert stack.cursors()[1] == pytest.approx(0.0500995, abs=1e-9)


def test_no_edge_near_is_said(qtbot: QtBot, stack: LaneStack, make_trace) -> None:
    stack.show_lanes([Lane("flat", (make_trace(np.full(1000, 5.0)),))])
    stack.set_cursors(0.0005, None)
    with qtbot.waitSignal(stack.said, timeout=1000):
        QTest.keyClick(stack, Key.Key_Right, CONTROL | ALT)
    assert stack.cursors()[0] == 0.0005


def test_z_shows_what_lies_between_a_and_b(stack: LaneStack) -> None:
    stack.set_cursors(0.06, 0.02)
    QTest.keyClick(stack, Key.Key_Z)
    assert stack.view() == pytest.approx((0.02, 0.06))


def test_a_trace_that_is_turned_over_snaps_to_what_is_drawn(stack: LaneStack, bus_trace, hand) -> None:
    turned = replace(bus_trace, upside_down=True)
    stack.show_lanes([Lane("turned", (turned,))])
    QTest.keyClick(stack, Key.Key_L)
    assert stack.level_cursors()["turned"] == pytest.approx((-12.0, -1.0), abs=0.05)
    stack.set_view(0.0500, 0.0503)
    stack.set_cursors(0.05005, None)
    hand(stack).drag(hand(stack).place(0.05005), hand(stack).place(0.0501495) + QPoint(3, 0))
    assert stack.cursors()[0] == pytest.approx(0.0501495, abs=1e-10)


def test_levels_are_drawn_with_letter_and_value(stack: LaneStack) -> None:
    bare = stack.grab().toImage()
    stack.set_level_cursors("blower LIN", 6.0, None)
    drawn = stack.grab().toImage()
    scale = stack.scales()[0]
    y = round(float(scale.y_of(6.0)))
    assert drawn.pixel(300, y) != bare.pixel(300, y)
    tab = [x for x in range(600, round(scale.rect.right())) if drawn.pixelColor(x, y - 7).name() == DAYLIGHT.text]
    assert len(tab) > 30


def test_cursors_go_with_another_stretch_of_time(stack: LaneStack, make_trace) -> None:
    stack.set_cursors(0.02, 0.03)
    stack.set_level_cursors("blower LIN", 6.0, 7.0)
    stack.show_lanes([Lane("later", (make_trace([0.0, 1.0], start_s=5.0),))])
    assert stack.cursors() == (None, None)
    assert stack.level_cursors() == {}
