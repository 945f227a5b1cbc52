"""Lanes moved, hidden, laid over one another and made taller by hand and by keys."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from loomlight.signal.finding import Finding
from loomlight.signal.job import Note
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.paint_lane import head_rect
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import DAYLIGHT

Key = Qt.Key
ALT, CONTROL, SHIFT = (
    Qt.KeyboardModifier.AltModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
)


@pytest.fixture
def stack(qtbot: QtBot, bus_lane: Lane) -> LaneStack:
    made = LaneStack(DAYLIGHT)
    qtbot.addWidget(made)
    made.resize(900, 600)
    made.show_lanes([bus_lane, replace(bus_lane, key="flap LIN"), replace(bus_lane, key="supply")])
    made.show()
    return made


def keys(stack: LaneStack) -> list[tuple[str, ...]]:
    return [tuple(layer.key for layer in lane.layers) for lane in stack.lanes]


def head(stack: LaneStack, lane: int) -> QPoint:
    return head_rect(stack.lanes[lane], stack.scales()[lane].rect, stack.font()).center().toPoint()


def test_a_head_is_large_enough_for_a_cold_finger(stack: LaneStack) -> None:
    """WCAG 2.2, 2.5.5 (AAA): 44 by 44 CSS pixels."""
    rect = head_rect(stack.lanes[0], stack.scales()[0].rect, stack.font())
    assert rect.height() >= 44
    assert rect.width() >= 44


@pytest.mark.parametrize(
    ("lane", "to", "share", "wanted"),
    [
        (0, 2, 0.9, [("flap LIN",), ("supply",), ("blower LIN",)]),
        (2, 0, 0.1, [("supply",), ("blower LIN",), ("flap LIN",)]),
        (0, 2, 0.1, [("flap LIN",), ("blower LIN",), ("supply",)]),
        (0, 1, 0.1, [("blower LIN",), ("flap LIN",), ("supply",)]),
        (0, 1, 0.5, [("flap LIN", "blower LIN"), ("supply",)]),
        (2, 0, 0.5, [("blower LIN", "supply"), ("flap LIN",)]),
    ],
)
def test_a_lane_is_dragged_by_its_head(stack: LaneStack, hand, lane: int, to: int, share: float, wanted) -> None:
    end = hand(stack).place(0.05, lane=to, share=share)
    hand(stack).drag(head(stack, lane), end, drop=False)
    seen = stack.grab().toImage()
    QTest.mouseRelease(stack, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, end)
    assert keys(stack) == wanted
    assert seen != stack.grab().toImage() or wanted == [("blower LIN",), ("flap LIN",), ("supply",)]
    assert stack.view() == pytest.approx((0.0, 0.1)), "the view stayed"


def test_a_press_on_the_head_chooses_the_lane(stack: LaneStack, hand) -> None:
    hand(stack).click(head(stack, 1))
    assert stack.arranging.chosen == "flap LIN"
    assert keys(stack) == [("blower LIN",), ("flap LIN",), ("supply",)]


@pytest.mark.parametrize(
    ("pressed", "wanted"),
    [
        ([(Key.Key_Down, ALT)], [("flap LIN",), ("blower LIN",), ("supply",)]),
        (
            [(Key.Key_Down, CONTROL), (Key.Key_Down, CONTROL), (Key.Key_Up, ALT)],
            [("blower LIN",), ("supply",), ("flap LIN",)],
        ),
        ([(Key.Key_H, None)], [("flap LIN",), ("supply",)]),
        ([(Key.Key_H, None), (Key.Key_H, SHIFT)], [("blower LIN",), ("flap LIN",), ("supply",)]),
        ([(Key.Key_O, None)], [("flap LIN", "blower LIN"), ("supply",)]),
        ([(Key.Key_O, None), (Key.Key_O, SHIFT)], [("blower LIN",), ("flap LIN",), ("supply",)]),
        ([(Key.Key_H, None), (Key.Key_Z, CONTROL)], [("blower LIN",), ("flap LIN",), ("supply",)]),
        ([(Key.Key_H, None), (Key.Key_Z, CONTROL), (Key.Key_Z, CONTROL | SHIFT)], [("flap LIN",), ("supply",)]),
    ],
)
def test_keys(stack: LaneStack, pressed, wanted) -> None:
    for key, held in pressed:
        QTest.keyClick(stack, key, held or Qt.KeyboardModifier.NoModifier)
    assert keys(stack) == wanted


def test_alt_with_plus_makes_the_chosen_lane_taller(stack: LaneStack) -> None:
    before = stack.scales()[0].rect.height()
    QTest.keyClick(stack, Key.Key_Plus, ALT)
    assert stack.scales()[0].rect.height() > 1.1 * before
    QTest.keyClick(stack, Key.Key_Minus, ALT)
    assert stack.scales()[0].rect.height() == pytest.approx(before, abs=2)


@pytest.mark.parametrize(("x", "off"), [(30, 18), (30, -18), (500, 0)])
def test_the_border_between_two_is_dragged(stack: LaneStack, hand, x: int, off: int) -> None:
    upper, lower, third = (scale.rect for scale in stack.scales())
    begin = QPoint(x, round((upper.bottom() + lower.top()) / 2) + off)
    hand(stack).drag(begin, QPoint(x, begin.y() + 60))
    after = [scale.rect for scale in stack.scales()]
    assert after[0].height() == pytest.approx(upper.height() + 60, abs=2)
    assert after[2].top() == pytest.approx(third.top(), abs=2), "the third stays where it was"
    QTest.keyClick(stack, Key.Key_Z, CONTROL)
    assert stack.scales()[0].rect.height() == upper.height()


def test_a_border_stops_before_a_lane_vanishes(stack: LaneStack, hand) -> None:
    upper, lower, _ = (scale.rect for scale in stack.scales())
    begin = QPoint(500, round((upper.bottom() + lower.top()) / 2))
    hand(stack).drag(begin, QPoint(500, 5000))
    assert stack.scales()[1].rect.height() > 30


def test_the_pointer_says_what_can_be_taken(stack: LaneStack, hand) -> None:
    upper, lower, _ = (scale.rect for scale in stack.scales())
    stack.set_cursors(0.05, None)
    stack.set_level_cursors("supply", 6.0, None)
    scale = stack.scales()[2]
    tab = QPoint(round(scale.rect.right()) - 20, round(float(scale.y_of(6.0))))
    for place, shape in (
        (QPoint(500, round((upper.bottom() + lower.top()) / 2)), Qt.CursorShape.SplitVCursor),
        (head(stack, 1), Qt.CursorShape.OpenHandCursor),
        (hand(stack).place(0.05, lane=1), Qt.CursorShape.SplitHCursor),
        (tab, Qt.CursorShape.SplitVCursor),
        (hand(stack).place(0.02, lane=1), Qt.CursorShape.ArrowCursor),
    ):
        hand(stack).move(place, pressed=False)
        assert stack.cursor().shape() == shape


def test_one_undo_key_for_notes_and_lanes_in_their_order(stack: LaneStack) -> None:
    stack.arranging.hide("supply")
    stack.set_notes((Note("blower LIN", 0.05, 6.0, "first"),))
    stack.arranging.hide("flap LIN")
    stack.step_note(1)
    QTest.keyClick(stack, Key.Key_Delete)
    assert stack.notes() == ()
    QTest.keyClick(stack, Key.Key_Z, CONTROL)
    assert len(stack.notes()) == 1
    QTest.keyClick(stack, Key.Key_Z, CONTROL)
    assert keys(stack) == [("blower LIN",), ("flap LIN",)]
    QTest.keyClick(stack, Key.Key_Z, CONTROL)
    assert len(keys(stack)) == 3
    for _ in range(3):
        QTest.keyClick(stack, Key.Key_Z, CONTROL | SHIFT)
    assert (keys(stack), stack.notes()) == ([("blower LIN",)], ())


def test_findings_and_notes_go_along_with_what_is_laid_over(qtbot: QtBot, stack: LaneStack, hand) -> None:
    found = Finding("dropout", "flap LIN", 0.060, 0.0602, 9.5, "V", "rule", "severe")
    stack.show_findings({"flap LIN": (found,)})
    stack.set_notes((Note("flap LIN", 0.03, 6.0, "on the flap's wire"),))
    stack.arranging.lay_over("flap LIN", "blower LIN")
    with qtbot.waitSignal(stack.finding_picked, timeout=1000) as told:
        hand(stack).click(hand(stack).place(0.0601))
    assert told.args == [found]
    stack.step_note(1)
    bare = stack.grab().toImage()
    stack.set_notes(())
    assert stack.grab().toImage() != bare


def test_findings_that_both_show_are_marked_once(stack: LaneStack) -> None:
    found = tuple(Finding("dropout", "x", at_s, at_s, 9.5, "V", "rule", "severe") for at_s in (0.02, 0.05))
    stack.show_findings({"blower LIN": found, "flap LIN": found})
    stack.arranging.lay_over("flap LIN", "blower LIN")
    assert len(stack._marks["blower LIN"]) == 2


def test_two_units_in_one_lane_keep_their_own_scales(stack: LaneStack, make_trace, bus_lane: Lane) -> None:
    amperes = Lane(
        "current", (make_trace(np.linspace(0.0, 0.5, 100_000), role="other", name="2: current", unit="A"),), unit="A"
    )
    stack.show_lanes([bus_lane, amperes])
    stack.arranging.lay_over("current", "blower LIN")
    (volts, upper), (current, own) = stack.layers()
    assert (volts.unit, current.unit) == ("V", "A")
    assert (upper.low, upper.high) == pytest.approx(bus_lane.value_range())
    assert (own.low, own.high) == pytest.approx(amperes.value_range())
    assert not stack.grab().isNull()


def test_two_channels_without_a_role_are_told_apart(stack: LaneStack, make_trace) -> None:
    traces = [
        make_trace(np.full(1000, value), role="other", name=name) for value, name in ((3.0, "1: one"), (9.0, "2: two"))
    ]
    stack.show_lanes([Lane(trace.label, (trace,)) for trace in traces])
    stack.arranging.lay_over("2: two", "1: one")
    scale, picture = stack.scales()[0], stack.grab().toImage()
    colours = [
        {
            picture.pixelColor(x, round(float(scale.y_of(value))) + step).name()
            for x in range(300, 600)
            for step in (-1, 0, 1)
        }
        for value in (3.0, 9.0)
    ]
    assert DAYLIGHT.greys[0] in colours[0]
    assert DAYLIGHT.greys[1] in colours[1]
    assert DAYLIGHT.greys[1] not in colours[0]


def test_a_set_scale_is_drawn_and_a_zoom_of_it_is_given_up(stack: LaneStack) -> None:
    stack.zoom_values(0.3)
    stack.arranging.scale("blower LIN", "set", (-5.0, 20.0))
    assert (stack.scales()[0].low, stack.scales()[0].high) == (-5.0, 20.0)
    zoomed = stack.scales()[1]
    assert zoomed.high - zoomed.low < 5.0, "the other lanes keep theirs"
    stack.fit()
    assert (stack.scales()[0].low, stack.scales()[0].high) == (-5.0, 20.0)


def test_one_lane_alone_has_no_head_to_drag(qtbot: QtBot, stack: LaneStack, bus_lane: Lane, hand) -> None:
    stack.show_lanes([bus_lane])
    stack.set_view(0.04, 0.06)
    begin = head(stack, 0)
    hand(stack).drag(begin, begin + QPoint(80, 0))
    assert stack.view()[0] < 0.04
