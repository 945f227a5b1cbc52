"""The lanes under a hand: what wheel, drags and keys do to the view, and what is told to the window."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent, QWheelEvent
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import DAYLIGHT, NIGHT

Key = Qt.Key
WHOLE = pytest.approx((0.0, 0.1))


@pytest.fixture
def stack(qtbot: QtBot, bus_lane: Lane) -> LaneStack:
    made = LaneStack(DAYLIGHT)
    qtbot.addWidget(made)
    made.resize(900, 420)
    made.show_lanes([bus_lane])
    made.show()
    return made


def place_of(stack: LaneStack, at_s: float, *, lane: int = 0, share: float = 0.5) -> QPoint:
    scale = stack.scales()[lane]
    return QPoint(round(float(scale.x_of(at_s))), round(scale.rect.top() + share * scale.rect.height()))


def drag(
    stack: LaneStack, begin: QPoint, end: QPoint, *, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier
) -> None:
    QTest.mousePress(stack, Qt.MouseButton.LeftButton, held, begin)
    for share in (0.3, 0.7, 1.0):
        between = begin + (end - begin) * share
        event = QMouseEvent(
            QEvent.Type.MouseMove,
            QPointF(between),
            stack.mapToGlobal(QPointF(between)),
            Qt.MouseButton.NoButton,
            Qt.MouseButton.LeftButton,
            held,
        )
        stack.mouseMoveEvent(event)
    QTest.mouseRelease(stack, Qt.MouseButton.LeftButton, held, end)


def wheel(
    stack: LaneStack,
    place: QPoint,
    notches: float,
    *,
    held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier,
) -> None:
    stack.wheelEvent(
        QWheelEvent(
            QPointF(place),
            stack.mapToGlobal(QPointF(place)),
            QPoint(),
            QPoint(0, round(120 * notches)),
            Qt.MouseButton.NoButton,
            held,
            Qt.ScrollPhase.NoScrollPhase,
            False,
        )
    )


def test_all_is_shown_first(stack: LaneStack) -> None:
    assert stack.view() == stack.full() == WHOLE


def test_wheel_zooms_around_what_the_pointer_is_on(stack: LaneStack) -> None:
    place = place_of(stack, 0.03)
    pointed_s = stack.scales()[0].time_at(place.x())
    wheel(stack, place, 3)
    start, stop = stack.view()
    assert stop - start == pytest.approx(0.1 * 0.8**3)
    assert stack.scales()[0].time_at(place.x()) == pytest.approx(pointed_s)


def test_ten_turns_of_the_wheel_are_one_step_back(stack: LaneStack) -> None:
    for _ in range(10):
        wheel(stack, place_of(stack, 0.05), 1)
    QTest.keyClick(stack, Key.Key_Backspace)
    assert stack.view() == WHOLE
    QTest.keyClick(stack, Key.Key_Backspace, Qt.KeyboardModifier.ShiftModifier)
    assert stack.view()[1] - stack.view()[0] == pytest.approx(0.1 * 0.8**10)


def test_dragging_moves_the_signal_with_the_hand(stack: LaneStack) -> None:
    stack.set_view(0.04, 0.06)
    begin, end = place_of(stack, 0.05), place_of(stack, 0.052)
    drag(stack, begin, end)
    assert stack.view()[0] == pytest.approx(0.038, abs=1e-4)
    assert stack.view()[1] - stack.view()[0] == pytest.approx(0.02)


def test_dragging_with_shift_zooms_into_the_box(stack: LaneStack) -> None:
    drag(stack, place_of(stack, 0.07), place_of(stack, 0.02), held=Qt.KeyboardModifier.ShiftModifier)
    assert stack.view() == pytest.approx((0.02, 0.07), abs=2e-4)


def test_vertical_scale_stands_still_while_panning_and_fit_brings_it_back(stack: LaneStack) -> None:
    own = stack.scales()[0].low, stack.scales()[0].high
    place = place_of(stack, 0.05, share=0.25)
    pointed = stack.scales()[0].value_at(place.y())
    wheel(stack, place, 4, held=Qt.KeyboardModifier.AltModifier)
    zoomed = stack.scales()[0]
    assert zoomed.high - zoomed.low == pytest.approx((own[1] - own[0]) * 0.85**4)
    assert zoomed.value_at(place.y()) == pytest.approx(pointed)
    stack.set_view(0.04, 0.05)
    stack.pan(0.4)
    assert (stack.scales()[0].low, stack.scales()[0].high) == (zoomed.low, zoomed.high)
    QTest.keyClick(stack, Key.Key_Home)
    assert (stack.scales()[0].low, stack.scales()[0].high) == own
    assert stack.view() == WHOLE


def test_control_and_a_drag_moves_one_lanes_values(qtbot: QtBot, stack: LaneStack, bus_lane: Lane) -> None:
    stack.show_lanes([bus_lane, replace(bus_lane, key="flap LIN")])
    before = stack.scales()
    grabbed = before[1].value_at(place_of(stack, 0.05, lane=1, share=0.3).y())
    begin, end = place_of(stack, 0.05, lane=1, share=0.3), place_of(stack, 0.05, lane=1, share=0.6)
    drag(stack, begin, end, held=Qt.KeyboardModifier.ControlModifier)
    after = stack.scales()
    assert (after[0].low, after[0].high) == (before[0].low, before[0].high)
    assert after[1].value_at(end.y()) == pytest.approx(grabbed, abs=0.1)
    assert stack.view() == WHOLE


def test_values_are_never_zoomed_beyond_what_the_axis_can_write(stack: LaneStack) -> None:
    own = stack.scales()[0].high - stack.scales()[0].low
    for _ in range(100):
        stack.zoom_values(0.5)
    assert stack.scales()[0].high - stack.scales()[0].low == pytest.approx(1e-4 * own)
    for _ in range(100):
        stack.zoom_values(2.0)
    assert stack.scales()[0].high - stack.scales()[0].low == pytest.approx(10 * own)


@pytest.mark.parametrize(
    ("key", "wanted"),
    [
        (Key.Key_Right, (0.043, 0.063)),
        (Key.Key_Left, (0.037, 0.057)),
        (Key.Key_Plus, (0.043, 0.057)),
        (Key.Key_Minus, (0.05 - 0.01 / 0.7, 0.05 + 0.01 / 0.7)),
        (Key.Key_Up, (0.043, 0.057)),
        (Key.Key_Home, (0.0, 0.1)),
        (Key.Key_Backspace, (0.0, 0.1)),
    ],
)
def test_keys_move_the_view(stack: LaneStack, key: Qt.Key, wanted: tuple[float, float]) -> None:
    stack.set_view(0.04, 0.06)
    QTest.keyClick(stack, key)
    assert stack.view() == pytest.approx(wanted)


def test_view_is_told_to_who_follows_it(qtbot: QtBot, stack: LaneStack) -> None:
    with qtbot.waitSignal(stack.view_changed, timeout=1000) as told:
        stack.set_view(0.01, 0.02)
    assert told.args == pytest.approx([0.01, 0.02])


def test_double_click_shows_all(stack: LaneStack) -> None:
    stack.set_view(0.01, 0.02)
    QTest.mouseDClick(stack, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, place_of(stack, 0.015))
    assert stack.view() == WHOLE


def finding(start_s: float, stop_s: float, **changes: object) -> Finding:
    base = Finding("dropout", "blower LIN", start_s, stop_s, 9.5, "V", "more than 3 V away", "severe")
    return replace(base, **changes)  # type: ignore[arg-type]


def test_clicking_a_finding_picks_it_and_dragging_over_it_does_not(qtbot: QtBot, stack: LaneStack) -> None:
    found = (finding(0.020, 0.0201), finding(0.060, 0.0602))
    stack.show_findings({"blower LIN": found})
    picked: list[Finding] = []
    stack.finding_picked.connect(picked.append)
    QTest.mouseClick(stack, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, place_of(stack, 0.0601))
    QTest.mouseClick(stack, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, place_of(stack, 0.04))
    drag(stack, place_of(stack, 0.02005), place_of(stack, 0.05))
    assert picked == [found[1]]


def test_going_to_a_finding_puts_it_in_the_middle_third(stack: LaneStack) -> None:
    stack.go_to(0.05, 0.056)
    assert stack.view() == pytest.approx((0.044, 0.062))
    stack.go_to(0.05, 0.05)
    start, stop = stack.view()
    assert (start + stop) / 2 == pytest.approx(0.05)
    assert stop - start == pytest.approx(2e-4)


def test_lanes_share_the_height_by_weight_and_always_fit(stack: LaneStack, bus_lane: Lane) -> None:
    stack.show_lanes([replace(bus_lane, weight=2.0), replace(bus_lane, key="difference")])
    first, second = (scale.rect for scale in stack.scales())
    assert first.height() > 1.7 * second.height()
    for count in (1, 4, 16, 40):
        stack.show_lanes([replace(bus_lane, key=f"channel {number}") for number in range(count)])
        rects = [scale.rect for scale in stack.scales()]
        assert rects[-1].bottom() < stack.height()
        assert all(one.bottom() < other.top() for one, other in zip(rects, rects[1:], strict=False))
        stack.grab()


def test_lanes_of_different_length_share_one_axis(stack: LaneStack, make_trace) -> None:
    short = make_trace(np.zeros(100), start_s=-0.05)
    stack.show_lanes([Lane("a", (short,)), Lane("b", (make_trace(np.zeros(5000), start_s=0.2),))])
    assert stack.view() == pytest.approx((-0.05, 0.205))


def test_new_lanes_keep_the_view_where_asked(stack: LaneStack, bus_lane: Lane) -> None:
    stack.set_view(0.01, 0.02)
    stack.show_lanes([bus_lane], keep_view=True)
    assert stack.view() == pytest.approx((0.01, 0.02))
    stack.show_lanes([bus_lane])
    assert stack.view() == WHOLE


def test_no_lanes_take_every_hand_without_harm(qtbot: QtBot) -> None:
    empty = LaneStack(NIGHT)
    qtbot.addWidget(empty)
    empty.resize(600, 300)
    drag(empty, QPoint(100, 100), QPoint(200, 120))
    wheel(empty, QPoint(100, 100), 2)
    QTest.mouseDClick(empty, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, QPoint(50, 50))
    for key in (Key.Key_C, Key.Key_N, Key.Key_Return, Key.Key_Delete, Key.Key_BracketRight, Key.Key_PageUp):
        QTest.keyClick(empty, key)
    assert not empty.grab().isNull()
    assert empty.notes() == ()


def test_deepest_zoom_still_draws(stack: LaneStack) -> None:
    for start_s in (0.0, 0.0333333, 0.0999999):
        stack.set_view(start_s, start_s + 1e-12)
        for _ in range(5):
            stack.zoom(0.01)
        stack.zoom_values(1e-6)
        assert not stack.grab().isNull()


def test_a_clock_time_of_many_digits_still_draws(stack: LaneStack, make_trace) -> None:
    stack.show_lanes([Lane("a", (make_trace(np.arange(1000.0), start_s=1.7e9),))])
    for _ in range(60):
        stack.zoom(0.5)
    assert not stack.grab().isNull()
    assert stack.view()[1] > stack.view()[0]


def test_the_theme_is_drawn(stack: LaneStack) -> None:
    bright = stack.grab().toImage().pixelColor(450, 30)
    stack.set_theme(NIGHT)
    dark = stack.grab().toImage().pixelColor(450, 30)
    assert (bright.name(), dark.name()) == (DAYLIGHT.ground, NIGHT.ground)


def test_a_still_picture_asks_for_no_work(qtbot: QtBot, stack: LaneStack) -> None:
    stack.show_findings({"blower LIN": (finding(0.02, 0.03),)})
    qtbot.wait(50)
    painted: list[int] = []
    original = stack.paintEvent
    stack.paintEvent = lambda event: (painted.append(1), original(event))  # type: ignore[method-assign,assignment]
    qtbot.wait(400)
    assert not painted


def test_what_can_be_done_is_said_to_a_screen_reader(stack: LaneStack) -> None:
    assert stack.accessibleName() == "Lanes"
    for word in ("cursor", "note", "zoom", "Backspace"):
        assert word in stack.accessibleDescription()
