"""Notes: placed, written, moved, taken away; and nothing that was typed is ever lost."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from loomlight.signal.job import Note
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.note_list import NoteList
from loomlight.viewer.lanes.paint_notes import note_box
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import DAYLIGHT

NONE, CONTROL, SHIFT = (
    Qt.KeyboardModifier.NoModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
)
LEFT = Qt.MouseButton.LeftButton
NOTE = Note("blower LIN", 0.03, 6.0, "drops while the blower answers")


@pytest.fixture
def stack(qtbot: QtBot, bus_lane: Lane) -> LaneStack:
    window = QWidget()
    row = QHBoxLayout(window)
    made = LaneStack(DAYLIGHT)
    row.addWidget(made)
    row.addWidget(QPushButton("elsewhere"))
    qtbot.addWidget(window)
    window.resize(1000, 420)
    made.show_lanes([bus_lane])
    with qtbot.waitExposed(window):
        window.show()
    window.activateWindow()
    made.setFocus()
    made._window_of_the_test = window  # type: ignore[attr-defined]  # keeps it alive
    return made


def editor_of(stack: LaneStack) -> QLineEdit:
    (found,) = [one for one in stack.findChildren(QLineEdit) if one.isVisible()]
    return found


def place_of(stack: LaneStack, note: Note) -> QPoint:
    return note_box(note, stack.scales()[0], stack.font()).center().toPoint()


def write(stack: LaneStack, at: QPoint, text: str) -> None:
    stack.begin_note()
    QTest.mouseClick(stack, LEFT, NONE, at)
    QTest.keyClicks(editor_of(stack), text)
    QTest.keyClick(editor_of(stack), Qt.Key.Key_Return)


def test_a_note_points_at_what_was_clicked(qtbot: QtBot, stack: LaneStack) -> None:
    with qtbot.waitSignal(stack.notes_changed, timeout=1000):
        write(stack, QPoint(400, 150), "slow edge here")
    (note,) = stack.notes()
    scale = stack.scales()[0]
    assert (note.channel, note.text) == ("blower LIN", "slow edge here")
    assert note.time_s == pytest.approx(scale.time_at(400))
    assert note.value == pytest.approx(scale.value_at(150))


def test_the_whole_way_by_keyboard(stack: LaneStack) -> None:
    stack.set_cursors(0.07, None)
    QTest.keyClick(stack, Qt.Key.Key_N)
    QTest.keyClick(stack, Qt.Key.Key_Return)
    QTest.keyClicks(editor_of(stack), "first")
    QTest.keyClick(editor_of(stack), Qt.Key.Key_Return)
    assert stack.notes()[0].time_s == pytest.approx(0.07, abs=1e-6)
    QTest.keyClick(stack, Qt.Key.Key_BracketRight)
    QTest.keyClick(stack, Qt.Key.Key_Return)
    QTest.keyClicks(editor_of(stack), " and more")
    QTest.keyClick(editor_of(stack), Qt.Key.Key_Return)
    assert stack.notes()[0].text == "first and more"
    QTest.keyClick(stack, Qt.Key.Key_BracketRight)
    QTest.keyClick(stack, Qt.Key.Key_Delete)
    assert stack.notes() == ()
    QTest.keyClick(stack, Qt.Key.Key_Z, CONTROL)
    assert stack.notes()[0].text == "first and more"


def test_what_was_typed_is_kept_when_the_focus_goes_elsewhere(qtbot: QtBot, stack: LaneStack) -> None:
    stack.begin_note()
    QTest.mouseClick(stack, LEFT, NONE, QPoint(300, 100))
    QTest.keyClicks(editor_of(stack), "half a thou")
    stack.window().findChild(QPushButton).setFocus()
    assert [note.text for note in stack.notes()] == ["half a thou"]


@pytest.mark.parametrize("how", ["another capture", "another size", "a click on the lanes", "another note"])
def test_what_was_typed_is_kept_when_the_picture_changes_under_it(stack: LaneStack, how: str) -> None:
    kept: list[tuple[Note, ...]] = []
    stack.notes_changed.connect(lambda: kept.append(stack.notes()))
    stack.begin_note()
    QTest.mouseClick(stack, LEFT, NONE, QPoint(300, 100))
    QTest.keyClicks(editor_of(stack), "half a thou")
    if how == "another capture":
        stack.set_notes(())
    elif how == "another size":
        stack.window().resize(700, 400)
    elif how == "a click on the lanes":
        QTest.mouseClick(stack, LEFT, NONE, QPoint(700, 300))
    else:
        stack.begin_note()
        QTest.mouseClick(stack, LEFT, NONE, QPoint(600, 200))
    assert [note.text for note in kept[-1]] == ["half a thou"]


@pytest.mark.parametrize("way", [Qt.Key.Key_Return, Qt.Key.Key_Escape])
def test_an_empty_or_given_up_note_leaves_no_trace(stack: LaneStack, way: Qt.Key) -> None:
    told: list[int] = []
    stack.notes_changed.connect(lambda: told.append(1))
    stack.begin_note()
    QTest.mouseClick(stack, LEFT, NONE, QPoint(300, 100))
    if way == Qt.Key.Key_Escape:
        QTest.keyClicks(editor_of(stack), "no, not here")
    QTest.keyClick(editor_of(stack), way)
    assert stack.notes() == ()
    assert not told
    assert not [one for one in stack.findChildren(QLineEdit) if one.isVisible()]


def test_one_undo_takes_a_whole_new_note_away_and_redo_brings_it_back(stack: LaneStack) -> None:
    write(stack, QPoint(300, 100), "one")
    write(stack, QPoint(600, 100), "two")
    QTest.keyClick(stack, Qt.Key.Key_Z, CONTROL)
    assert [note.text for note in stack.notes()] == ["one"]
    QTest.keyClick(stack, Qt.Key.Key_Z, CONTROL | SHIFT)
    assert [note.text for note in stack.notes()] == ["one", "two"]


def move(stack: LaneStack, begin: QPoint, end: QPoint, *, drop: bool) -> None:
    QTest.mousePress(stack, LEFT, NONE, begin)
    stack.mouseMoveEvent(
        QMouseEvent(
            QEvent.Type.MouseMove,
            QPointF(end),
            stack.mapToGlobal(QPointF(end)),
            Qt.MouseButton.NoButton,
            LEFT,
            NONE,
        )
    )
    if drop:
        QTest.mouseRelease(stack, LEFT, NONE, end)


def test_a_note_is_dragged_with_the_hand_and_can_be_put_back(stack: LaneStack) -> None:
    stack.set_notes((NOTE,))
    begin = place_of(stack, NOTE)
    before = stack.grab().toImage()
    move(stack, begin, begin + QPoint(120, 30), drop=False)
    assert stack.notes() == (NOTE,)
    assert stack.grab().toImage() != before, "it is seen where it would be dropped"
    QTest.mouseRelease(stack, LEFT, NONE, begin + QPoint(120, 30))
    scale = stack.scales()[0]
    moved = stack.notes()[0]
    assert float(scale.x_of(moved.time_s)) == pytest.approx(float(scale.x_of(0.03)) + 120)
    assert float(scale.y_of(moved.value)) == pytest.approx(float(scale.y_of(6.0)) + 30)
    stack.undo()
    assert stack.notes() == (NOTE,)


def test_a_note_cannot_be_dragged_out_of_its_lane(stack: LaneStack) -> None:
    stack.set_notes((NOTE,))
    begin = place_of(stack, NOTE)
    move(stack, begin, begin + QPoint(3000, 3000), drop=True)
    scale = stack.scales()[0]
    assert stack.notes()[0].value == pytest.approx(scale.low)
    assert stack.notes()[0].time_s == pytest.approx(scale.stop_s)


def test_a_note_that_is_out_of_sight_takes_no_click(stack: LaneStack) -> None:
    stack.set_notes((NOTE,))
    for view in ((0.05, 0.06), (0.0, 0.01)):
        stack.set_view(*view)
        begin = place_of(stack, NOTE)
        move(stack, begin, begin + QPoint(60, 0), drop=True)
        assert stack.notes() == (NOTE,)
        assert stack.view() != view, "the drag moved the lanes"


def test_double_click_edits_the_text(stack: LaneStack) -> None:
    stack.set_notes((NOTE,))
    QTest.mouseDClick(stack, LEFT, NONE, place_of(stack, NOTE))
    assert editor_of(stack).text() == NOTE.text
    editor_of(stack).clear()
    QTest.keyClicks(editor_of(stack), "mended")
    QTest.keyClick(editor_of(stack), Qt.Key.Key_Return)
    assert [note.text for note in stack.notes()] == ["mended"]


def test_of_two_that_overlap_the_upper_is_taken(stack: LaneStack) -> None:
    upper = Note("blower LIN", 0.0302, 6.0, "upper note of the same length")
    stack.set_notes((NOTE, upper))
    QTest.mouseDClick(stack, LEFT, NONE, place_of(stack, upper))
    assert editor_of(stack).text() == upper.text


def test_picking_a_far_note_brings_it_into_view(stack: LaneStack) -> None:
    stack.set_notes((NOTE, Note("blower LIN", 0.09, 6.0, "late")))
    stack.set_view(0.0, 0.01)
    QTest.keyClick(stack, Qt.Key.Key_BracketLeft)
    assert stack.view()[0] < 0.09 < stack.view()[1]


def test_notes_of_channels_that_are_not_shown_are_kept(stack: LaneStack) -> None:
    other = Note("flap LIN", 0.01, 3.0, "on the other wire")
    stack.set_notes((other,))
    write(stack, QPoint(400, 150), "mine")
    assert stack.notes()[0] == other
    assert len(stack.notes()) == 2


@pytest.mark.parametrize("at", [0.0, 0.001, 0.05, 0.0999])
@pytest.mark.parametrize("value", [-1.0, 1.0, 6.0, 12.0, 14.0])
def test_a_note_stands_wholly_inside_its_lane(stack: LaneStack, at: float, value: float) -> None:
    scale = stack.scales()[0]
    box = note_box(Note("blower LIN", at, value, "a longer text that is wrapped, " * 3), scale, stack.font())
    assert scale.rect.contains(box)


NOTES = st.tuples(st.sampled_from("abcd"), st.floats(0, 1)).map(lambda one: Note("x", one[1], 0.0, one[0]))


@given(steps=st.lists(st.one_of(NOTES, st.sampled_from(["delete", "undo", "redo"])), max_size=30))
def test_undoing_all_and_redoing_all_ends_where_it_was(steps: list[Note | str]) -> None:
    notes = NoteList()
    for step in steps:
        if isinstance(step, Note):
            notes.add(step)
        elif step == "delete" and notes.notes:
            notes.delete(0)
        elif step == "undo":
            notes.undo()
        elif step == "redo":
            notes.redo()
    while notes.redo():
        pass
    end = notes.notes
    count = 0
    while notes.undo():
        count += 1
    assert notes.notes == ()
    for _ in range(count):
        assert notes.redo()
    assert notes.notes == end
