"""Notes and marked stretches as they are placed, written, moved and taken away on the lanes."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from PySide6.QtCore import QObject, QPointF, Qt, Signal
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QLineEdit, QWidget

from loomlight.signal.job import Note
from loomlight.viewer.lanes.note_list import NoteList, Notes
from loomlight.viewer.lanes.paint_notes import is_seen, note_box, paint_notes, stretch_rect
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import Theme

EDITOR_WIDTH, EDITOR_HEIGHT = 300, 44
END_PIXELS = 22.0
"""On either side of a stretch's end: the 44 px that a cold finger needs."""
Part = Literal["whole", "begin", "end"]


@dataclass(frozen=True)
class Hold:
    """A note that is held by a hand: its number, and by which part."""

    number: int
    part: Part = "whole"


class NotesOnLanes(QObject):
    """Holds the notes, which one is picked, and the field in which one is being written.

    Parameters
    ----------
    canvas : QWidget
        What the lanes are drawn on.
    laid_out : callable
        Gives the lanes with their scales as they are drawn now.
    """

    changed = Signal()
    edited = Signal()
    """A hand changed them: it can be undone."""

    def __init__(self, canvas: QWidget, laid_out: Callable[[], list[tuple[Lane, Scale]]]) -> None:
        super().__init__(canvas)
        self._canvas, self._laid_out = canvas, laid_out
        self._list = NoteList()
        self.picked: int | None = None
        self.placing = self.marking = False
        self._dragged: Note | None = None
        self._editor: QLineEdit | None = None
        self._edited: tuple[int | None, Note] | None = None  # without a number: a new one, which is not listed yet

    @property
    def notes(self) -> Notes:
        """Notes as they stand."""
        return self._list.notes

    def show(self, notes: Notes) -> None:
        """Show a capture's notes; what was being written on the last one is kept there first."""
        self.finish_writing()
        self._list.replace_all(notes)
        self.picked = None
        self._canvas.update()

    # Placing and writing

    def begin(self, *, stretch: bool = False) -> None:
        """The next click places a note; or the next drag marks a stretch of time."""
        self.placing, self.marking = True, stretch
        self._canvas.setCursor(Qt.CursorShape.CrossCursor)

    def leave(self) -> None:
        """Neither place nor write: what was typed is given up."""
        self.placing = self.marking = False
        self._dragged = None
        self._canvas.unsetCursor()
        self.finish_writing(keep=False)

    def place(self, lane: Lane, scale: Scale, place: QPointF) -> None:
        """Ask for the text of a new note whose arrow points at ``place``."""
        self.placing = False
        self._canvas.unsetCursor()
        self._write(None, Note(lane.key, scale.time_at(place.x()), scale.value_at(place.y()), ""))

    def stretch(self, lane: Lane, scale: Scale, begin: QPointF, end: QPointF) -> None:
        """Show a stretch that is being marked from ``begin`` to ``end``."""
        self._dragged = self._marked(lane, scale, begin.y(), scale.time_at(begin.x()), scale.time_at(end.x()))
        self._canvas.update()

    def place_stretch(self, lane: Lane, scale: Scale, y: float, first_s: float, second_s: float) -> None:
        """Ask for the text of a new stretch between two times."""
        self.placing = self.marking = False
        self._dragged = None
        self._canvas.unsetCursor()
        self._write(None, self._marked(lane, scale, y, first_s, second_s))

    @staticmethod
    def _marked(lane: Lane, scale: Scale, y: float, first_s: float, second_s: float) -> Note:
        y = min(max(y, scale.rect.top() + 30), scale.rect.bottom() - 10)
        return Note(lane.key, min(first_s, second_s), scale.value_at(y), "", max(first_s, second_s))

    def edit(self, number: int) -> None:
        """Ask for another text of a note."""
        self.picked = number
        self._write(number, self.notes[number])

    def _write(self, number: int | None, note: Note) -> None:
        self.finish_writing()
        scale = next((scale for lane, scale in self._laid_out() if lane.key == note.channel), None)
        if scale is None:
            return
        box = note_box(note, scale, self._canvas.font())
        editor = QLineEdit(note.text, self._canvas)
        editor.setAccessibleName("Text of the note")
        editor.setPlaceholderText("What is to be seen here?")
        left = min(max(box.left(), 2.0), max(self._canvas.width() - EDITOR_WIDTH - 4.0, 2.0))
        top = min(max(box.top(), 2.0), max(self._canvas.height() - EDITOR_HEIGHT - 4.0, 2.0))
        editor.setGeometry(int(left), int(top), EDITOR_WIDTH, EDITOR_HEIGHT)
        self._editor, self._edited = editor, (number, note)
        # Also sent when the focus goes elsewhere: what was typed is never lost.
        editor.editingFinished.connect(self.finish_writing)
        editor.show()
        editor.setFocus()

    def finish_writing(self, *, keep: bool = True) -> None:
        """Take what was typed; an empty text leaves the note as it was, and makes no new one."""
        editor, edited = self._editor, self._edited
        self._editor = self._edited = None
        if editor is None or edited is None:
            return
        text, (number, note) = editor.text().strip(), edited
        if editor.hasFocus():
            self._canvas.setFocus()
        editor.hide()
        editor.deleteLater()
        if keep and text and text != note.text:
            if number is None:
                self.picked = self._list.add(replace(note, text=text))
            else:
                self._list.edit(number, replace(note, text=text))
            self.edited.emit()
            self.changed.emit()
        self._canvas.update()

    # Picking, moving, taking away

    def at(self, place: QPointF) -> Hold | None:
        """The uppermost note that is seen at ``place``: by its text, or a stretch by one of its ends."""
        for lane, scale in self._laid_out():
            if not scale.rect.contains(place):
                continue
            seen = [
                number
                for number in range(len(self.notes) - 1, -1, -1)
                if self.notes[number].channel == lane.key and is_seen(self.notes[number], scale)
            ]
            for number in seen:
                if note_box(self.notes[number], scale, self._canvas.font()).contains(place):
                    return Hold(number)
            for number in seen:
                held = self._end_at(number, scale, place.x())
                if held is not None:
                    return held
        return None

    def _end_at(self, number: int, scale: Scale, x: float) -> Hold | None:
        note = self.notes[number]
        if note.until_s is None:
            return None
        rect = stretch_rect(note, scale)
        # Inside a narrow stretch each end keeps its own half.
        inward = min(END_PIXELS, rect.width() / 2)
        if rect.left() - END_PIXELS <= x <= rect.left() + inward:
            return Hold(number, "begin")
        return Hold(number, "end") if rect.right() - inward <= x <= rect.right() + END_PIXELS else None

    def step(self, by: int) -> Note | None:
        """Pick the next or the last note in time, of the lanes that are shown."""
        keys = {lane.key for lane, _ in self._laid_out()}
        order = sorted(
            (number for number, note in enumerate(self.notes) if note.channel in keys),
            key=lambda number: self.notes[number].time_s,
        )
        if not order:
            return None
        at = order.index(self.picked) + by if self.picked in order else (0 if by > 0 else -1)
        self.picked = order[at % len(order)]
        self._canvas.update()
        return self.notes[self.picked]

    def drag(self, by: QPointF, part: Part = "whole", *, drop: bool = False) -> None:
        """Move the picked note by some pixels within its lane, or one end of a stretch, to see; ``drop`` makes it so."""
        note = self.notes[self.picked] if self.picked is not None else None
        scale = next((one for lane, one in self._laid_out() if note is not None and lane.key == note.channel), None)
        if note is None or scale is None:
            return
        moved = _moved_whole(note, scale, by) if part == "whole" else _moved_end(note, scale, by.x(), part)
        self._dragged = None if drop else moved
        if drop and self.picked is not None and self._list.edit(self.picked, moved):
            self.edited.emit()
            self.changed.emit()
        self._canvas.update()

    def delete(self) -> None:
        """Take the picked note away."""
        if self.picked is not None:
            self._list.delete(self.picked)
            self.edited.emit()
            self._were_changed()

    def undo(self) -> None:
        """Undo the last change."""
        if self._list.undo():
            self._were_changed()

    def redo(self) -> None:
        """Make it again."""
        if self._list.redo():
            self._were_changed()

    def _were_changed(self) -> None:
        self.picked = None
        self._canvas.update()
        self.changed.emit()

    # Drawing

    def paint(self, painter: QPainter, lane: Lane, scale: Scale, theme: Theme) -> None:
        """Draw one lane's notes; one that is being dragged stands where it would be dropped."""
        numbers = [number for number, note in enumerate(self.notes) if note.channel == lane.key]
        moving = self._dragged if not self.marking else None
        shown = [moving if number == self.picked and moving else self.notes[number] for number in numbers]
        picked = numbers.index(self.picked) if self.picked in numbers else None
        if self.marking and self._dragged is not None and self._dragged.channel == lane.key:
            shown.append(self._dragged)
        paint_notes(painter, scale, theme, shown, picked=picked)


def _moved_whole(note: Note, scale: Scale, by: QPointF) -> Note:
    """Its first end stays in view; a stretch keeps its length."""
    x, y = float(scale.x_of(note.time_s)) + by.x(), float(scale.y_of(note.value)) + by.y()
    if note.until_s is None:
        x = min(max(x, scale.rect.left()), scale.rect.right())
    y = min(max(y, scale.rect.top()), scale.rect.bottom())
    time_s = scale.time_at(x)
    until_s = None if note.until_s is None else note.until_s + time_s - note.time_s
    return replace(note, time_s=time_s, value=scale.value_at(y), until_s=until_s)


def _moved_end(note: Note, scale: Scale, by_x: float, part: Part) -> Note:
    """One end put elsewhere in view; past the other one both change their parts."""
    begin_s, end_s = note.span
    held_s = begin_s if part == "begin" else end_s
    x = min(max(float(scale.x_of(held_s)) + by_x, scale.rect.left()), scale.rect.right())
    ends = sorted((scale.time_at(x), end_s if part == "begin" else begin_s))
    return replace(note, time_s=ends[0], until_s=ends[1])
