"""Notes as they are placed, written, moved and taken away on the lanes."""

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import QObject, QPointF, Qt, Signal
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QLineEdit, QWidget

from loomlight.signal.job import Note
from loomlight.viewer.lanes.note_list import NoteList, Notes
from loomlight.viewer.lanes.paint_lane import note_box, paint_notes
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import Theme

EDITOR_WIDTH, EDITOR_HEIGHT = 300, 44


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

    def __init__(self, canvas: QWidget, laid_out: Callable[[], list[tuple[Lane, Scale]]]) -> None:
        super().__init__(canvas)
        self._canvas, self._laid_out = canvas, laid_out
        self._list = NoteList()
        self.picked: int | None = None
        self.placing = False
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

    def begin(self) -> None:
        """The next click places a note."""
        self.placing = True
        self._canvas.setCursor(Qt.CursorShape.CrossCursor)

    def leave(self) -> None:
        """Neither place nor write: what was typed is given up."""
        self.placing = False
        self._canvas.unsetCursor()
        self.finish_writing(keep=False)

    def place(self, lane: Lane, scale: Scale, place: QPointF) -> None:
        """Ask for the text of a new note whose arrow points at ``place``."""
        self.placing = False
        self._canvas.unsetCursor()
        self._write(None, Note(lane.key, scale.time_at(place.x()), scale.value_at(place.y()), ""))

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
            self.changed.emit()
        self._canvas.update()

    # Picking, moving, taking away

    def at(self, place: QPointF) -> int | None:
        """Number of the uppermost note that is seen at ``place``."""
        for lane, scale in self._laid_out():
            for number in range(len(self.notes) - 1, -1, -1):
                note = self.notes[number]
                seen = note.channel == lane.key and scale.start_s <= note.time_s <= scale.stop_s
                if seen and note_box(note, scale, self._canvas.font()).contains(place):
                    return number
        return None

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

    def drag(self, by: QPointF, *, drop: bool = False) -> None:
        """Move the picked note's arrow by some pixels within its lane, to see; ``drop`` makes it so."""
        note = self.notes[self.picked] if self.picked is not None else None
        scale = next((one for lane, one in self._laid_out() if note is not None and lane.key == note.channel), None)
        if note is None or scale is None:
            return
        x, y = float(scale.x_of(note.time_s)) + by.x(), float(scale.y_of(note.value)) + by.y()
        x = min(max(x, scale.rect.left()), scale.rect.right())
        y = min(max(y, scale.rect.top()), scale.rect.bottom())
        moved = replace(note, time_s=scale.time_at(x), value=scale.value_at(y))
        self._dragged = None if drop else moved
        if drop and self.picked is not None:
            self._list.edit(self.picked, moved)
            self.changed.emit()
        self._canvas.update()

    def delete(self) -> None:
        """Take the picked note away."""
        if self.picked is not None:
            self._list.delete(self.picked)
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
        shown = [self._dragged if number == self.picked and self._dragged else self.notes[number] for number in numbers]
        picked = numbers.index(self.picked) if self.picked in numbers else None
        paint_notes(painter, scale, theme, shown, picked=picked)
