"""Stretches of time: marked, named, moved, resized, taken away, undone; and kept with the job."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from loomlight.signal.job import Note
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.notes_on_lanes import END_PIXELS
from loomlight.viewer.lanes.paint_notes import note_box, stretch_rect
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import DAYLIGHT

Key = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier
MARKED = Note("blower LIN", 0.03, 6.0, "the blower's answer", 0.05)


@pytest.fixture
def stack(qtbot: QtBot, bus_lane: Lane) -> LaneStack:
    made = LaneStack(DAYLIGHT)
    qtbot.addWidget(made)
    made.resize(1000, 420)
    made.show_lanes([bus_lane])
    with qtbot.waitExposed(made):
        made.show()
    made.activateWindow()
    made.setFocus()
    return made


def write(stack: LaneStack, text: str) -> None:
    (editor,) = [one for one in stack.findChildren(QLineEdit) if one.isVisible()]
    QTest.keyClicks(editor, text)
    QTest.keyClick(editor, Key.Key_Return)


@pytest.mark.parametrize(("begin_s", "end_s"), [(0.02, 0.06), (0.06, 0.02)])
def test_a_drag_marks_a_stretch_and_asks_what_it_is(stack: LaneStack, hand, begin_s: float, end_s: float) -> None:
    QTest.keyClick(stack, Key.Key_M)
    hand(stack).drag(hand(stack).place(begin_s), hand(stack).place(end_s))
    write(stack, "drops here")
    (note,) = stack.notes()
    assert note.span == pytest.approx((0.02, 0.06), abs=2e-4)
    assert note.text == "drops here"
    assert stack.view() == pytest.approx((0.0, 0.1)), "the view stayed"


def test_it_is_seen_while_it_is_being_marked(stack: LaneStack, hand) -> None:
    stack.begin_stretch()
    bare = stack.grab().toImage()
    hand(stack).drag(hand(stack).place(0.02), hand(stack).place(0.06), drop=False)
    assert stack.grab().toImage() != bare
    QTest.keyClick(stack, Key.Key_Escape)
    assert stack.grab().toImage() == bare
    assert stack.notes() == ()


def test_a_press_alone_waits_for_the_drag(stack: LaneStack, hand) -> None:
    stack.begin_stretch()
    hand(stack).click(hand(stack).place(0.02))
    assert stack.notes() == ()
    hand(stack).drag(hand(stack).place(0.02), hand(stack).place(0.06))
    write(stack, "now")
    assert len(stack.notes()) == 1


@pytest.mark.parametrize("cursors", [(0.07, 0.04), None])
def test_by_keys_between_the_cursors_or_in_the_middle(stack: LaneStack, cursors) -> None:
    if cursors is not None:
        stack.set_cursors(*cursors)
    QTest.keyClick(stack, Key.Key_M)
    QTest.keyClick(stack, Key.Key_Return)
    write(stack, "between")
    wanted = (0.04, 0.07) if cursors is not None else (0.1 / 3, 0.2 / 3)
    assert stack.notes()[0].span == pytest.approx(wanted)


def test_moved_as_a_whole_by_its_text(stack: LaneStack, hand) -> None:
    stack.set_notes((MARKED,))
    begin = note_box(MARKED, stack.scales()[0], stack.font()).center().toPoint()
    hand(stack).drag(begin, begin + QPoint(90, 20))
    scale = stack.scales()[0]
    moved = stack.notes()[0]
    shift_s = scale.time_at(90) - scale.time_at(0)
    assert moved.span == pytest.approx((0.03 + shift_s, 0.05 + shift_s))
    QTest.keyClick(stack, Key.Key_Z, CONTROL)
    assert stack.notes() == (MARKED,)


# WCAG 2.2, 2.5.5 (AAA): a target is at least 44 CSS pixels wide.
@pytest.mark.parametrize("off", [-END_PIXELS + 1, 0, END_PIXELS - 1])
@pytest.mark.parametrize(("end", "wanted"), [("begin", (0.04, 0.05)), ("end", (0.03, 0.06))])
def test_an_end_is_dragged_by_a_cold_finger(stack: LaneStack, hand, off: float, end: str, wanted) -> None:
    stack.set_notes((MARKED,))
    at_s = MARKED.span[0 if end == "begin" else 1]
    begin = hand(stack).place(at_s, share=0.85) + QPoint(int(off), 0)
    hand(stack).drag(begin, begin + (hand(stack).place(at_s + 0.01) - hand(stack).place(at_s)))
    assert stack.notes()[0].span == pytest.approx(wanted, abs=2e-4)


def test_an_end_dragged_past_the_other_turns_it_round(stack: LaneStack, hand) -> None:
    stack.set_notes((MARKED,))
    hand(stack).drag(hand(stack).place(0.03, share=0.85), hand(stack).place(0.08, share=0.85))
    assert stack.notes()[0].span == pytest.approx((0.05, 0.08), abs=2e-4)


def test_inside_it_the_view_is_moved_as_anywhere(stack: LaneStack, hand) -> None:
    stack.set_notes((replace(MARKED, time_s=0.01, until_s=0.09),))
    stack.set_view(0.0, 0.08)
    hand(stack).drag(hand(stack).place(0.04, share=0.85), hand(stack).place(0.05, share=0.85))
    assert stack.view()[0] < 0.0


def test_edited_and_deleted_by_keys(stack: LaneStack) -> None:
    stack.set_notes((MARKED,))
    QTest.keyClick(stack, Key.Key_BracketRight)
    QTest.keyClick(stack, Key.Key_Return)
    write(stack, ", late")
    assert stack.notes() == (replace(MARKED, text="the blower's answer, late"),)
    QTest.keyClick(stack, Key.Key_BracketRight)
    QTest.keyClick(stack, Key.Key_Delete)
    assert stack.notes() == ()


@pytest.mark.parametrize("view", [(0.0, 0.1), (0.035, 0.045), (0.04, 0.2), (0.0, 0.04)])
def test_it_is_seen_wherever_a_part_of_it_is(stack: LaneStack, view: tuple[float, float]) -> None:
    stack.set_view(*view)
    bare = stack.grab().toImage()
    stack.set_notes((MARKED,))
    assert stack.grab().toImage() != bare
    scale = stack.scales()[0]
    assert scale.rect.contains(note_box(MARKED, scale, stack.font()))
    assert stretch_rect(MARKED, scale).height() == scale.rect.height()


def test_out_of_sight_it_is_not_drawn(stack: LaneStack) -> None:
    stack.set_view(0.06, 0.09)
    bare = stack.grab().toImage()
    stack.set_notes((MARKED,))
    assert stack.grab().toImage() == bare
