"""Lanes over one common time axis, with cursors, notes and findings."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QLineEdit, QWidget

from loomlight.signal.finding import Finding
from loomlight.signal.job import Note
from loomlight.viewer.lanes.note_list import NoteList, Notes
from loomlight.viewer.lanes.paint_lane import (
    axis_width,
    note_box,
    paint_cursors,
    paint_lane,
    paint_notes,
    paint_time_axis,
    time_axis_height,
)
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.lanes.view_history import ViewHistory
from loomlight.viewer.theme import Theme

GRAB_PIXELS = 22.0
"""Half of the 44 px that a cold finger needs."""
MOVE_PIXELS = 4.0
GAP = 6.0
CursorPair = tuple[float | None, float | None]


class LaneStack(QWidget):
    """Shows lanes; all that it holds is the view, the cursors and the notes."""

    view_changed = Signal(float, float)
    cursors_changed = Signal()
    notes_changed = Signal()
    finding_picked = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._lanes: tuple[Lane, ...] = ()
        self._findings: Mapping[str, Sequence[Finding]] = {}
        self._picked: Finding | None = None
        self._ranges: list[tuple[float, float]] = []
        self._history = ViewHistory()
        self._cursors: list[float | None] = [None, None]
        self._notes = NoteList()
        self._picked_note: int | None = None
        self._placing_note = False
        self._drag: str = ""
        self._pressed_at = QPointF()
        self._pressed_view = (0.0, 1.0)
        self._box: QRectF | None = None
        self._editor: QLineEdit | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setMinimumHeight(160)
        self.setAccessibleName("Lanes")
        self.setAccessibleDescription(
            "Arrow keys move, plus and minus zoom, Home shows all, C sets cursors, N places a note, Backspace goes back."
        )

    # What is shown

    def show_lanes(self, lanes: Sequence[Lane], *, keep_view: bool = False) -> None:
        """Show other lanes; the view goes back to all of them unless ``keep_view``."""
        self._lanes = tuple(lanes)
        self._ranges = [lane.value_range() for lane in self._lanes]
        if self._lanes:
            spans = [lane.span() for lane in self._lanes]
            full = min(one[0] for one in spans), max(one[1] for one in spans)
            view = self._history.view
            self._history.reset(full)
            if keep_view:
                self._history.show(*view, remember=False)
        self._picked = None
        self._changed_view()

    @property
    def lanes(self) -> tuple[Lane, ...]:
        """The lanes that are shown."""
        return self._lanes

    def show_findings(self, findings: Mapping[str, Sequence[Finding]]) -> None:
        """Mark findings, by lane key."""
        self._findings = findings
        self._picked = None
        self.update()

    def pick(self, finding: Finding | None) -> None:
        """Set one finding apart from the others."""
        self._picked = finding
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    # The view

    def view(self) -> tuple[float, float]:
        """Begin and end of what is shown, seconds."""
        return self._history.view

    def full(self) -> tuple[float, float]:
        """Begin and end of all there is, seconds."""
        return self._history.full

    def set_view(self, start_s: float, stop_s: float) -> None:
        """Show a stretch."""
        self._history.show(start_s, stop_s)
        self._changed_view()

    def go_to(self, start_s: float, stop_s: float) -> None:
        """Show a finding in the middle third, never closer than a few hundred of its neighbours' microseconds."""
        low, high = self._history.full
        length = max(3.0 * (stop_s - start_s), 2e-3 * (high - low))
        middle = 0.5 * (start_s + stop_s)
        self.set_view(middle - length / 2, middle + length / 2)

    def fit(self) -> None:
        """Show all, at the lanes' own scales."""
        self._ranges = [lane.value_range() for lane in self._lanes]
        self._history.fit()
        self._changed_view()

    def back(self) -> None:
        """To the view before."""
        self._history.back()
        self._changed_view()

    def forward(self) -> None:
        """To the view that was left by going back."""
        self._history.forward()
        self._changed_view()

    def zoom(self, factor: float, around_s: float | None = None) -> None:
        """Make the view ``factor`` times as long."""
        start, stop = self._history.view
        self._history.zoom(factor, 0.5 * (start + stop) if around_s is None else around_s)
        self._changed_view()

    def pan(self, share: float) -> None:
        """Move by a share of the view."""
        self._history.pan(share)
        self._changed_view()

    def _changed_view(self) -> None:
        self.update()
        self.view_changed.emit(*self._history.view)

    # Cursors and notes

    def cursors(self) -> CursorPair:
        """Times of the cursors A and B, seconds; None where not set."""
        return self._cursors[0], self._cursors[1]

    def set_cursors(self, first_s: float | None, second_s: float | None) -> None:
        """Set both cursors."""
        self._cursors = [first_s, second_s]
        self.update()
        self.cursors_changed.emit()

    def toggle_cursors(self) -> None:
        """Set both cursors into the view, or take them away."""
        start, stop = self._history.view
        if self._cursors == [None, None]:
            self.set_cursors(start + (stop - start) / 3, start + 2 * (stop - start) / 3)
        else:
            self.set_cursors(None, None)

    def notes(self) -> Notes:
        """Notes as they stand."""
        return self._notes.notes

    def set_notes(self, notes: Notes) -> None:
        """Show a capture's notes."""
        self._close_editor(keep=False)
        self._notes.replace_all(notes)
        self._picked_note = None
        self.update()

    def begin_note(self) -> None:
        """The next click places a note."""
        self._placing_note = True
        self.setCursor(Qt.CursorShape.CrossCursor)

    def undo(self) -> None:
        """Undo the last change of a note."""
        if self._notes.undo():
            self._notes_were_changed()

    def redo(self) -> None:
        """Make it again."""
        if self._notes.redo():
            self._notes_were_changed()

    def delete_note(self) -> None:
        """Take the picked note away."""
        if self._picked_note is not None and self._picked_note < len(self._notes.notes):
            self._notes.delete(self._picked_note)
            self._notes_were_changed()

    def _notes_were_changed(self) -> None:
        self._picked_note = None
        self.update()
        self.notes_changed.emit()

    # Geometry

    def scales(self) -> list[Scale]:
        """Scale of each lane, top to bottom."""
        if not self._lanes:
            return []
        left = axis_width(self.font())
        usable = self.height() - time_axis_height(self.font()) - GAP * (len(self._lanes) - 1) - 2
        whole = sum(lane.weight for lane in self._lanes)
        found, top = [], 1.0
        for lane, values in zip(self._lanes, self._ranges, strict=True):
            height = max(usable * lane.weight / whole, 24.0)
            rect = QRectF(left, top, max(self.width() - left - 2, 10.0), height)
            found.append(Scale(rect, *self._history.view, *values))
            top += height + GAP
        return found

    def _lane_at(self, y: float) -> int | None:
        for number, scale in enumerate(self.scales()):
            if scale.rect.top() <= y <= scale.rect.bottom():
                return number
        return None

    def _cursor_at(self, x: float) -> int | None:
        scales = self.scales()
        for number, at_s in enumerate(self._cursors):
            if at_s is not None and scales and abs(float(scales[0].x_of(at_s)) - x) <= GRAB_PIXELS:
                return number
        return None

    def _note_at(self, place: QPointF) -> int | None:
        for lane, scale in zip(self._lanes, self.scales(), strict=True):
            for number, note in enumerate(self._notes.notes):
                if note.channel == lane.key and note_box(note, scale, self.font()).contains(place):
                    return number
        return None

    def _finding_at(self, place: QPointF) -> Finding | None:
        number = self._lane_at(place.y())
        if number is None:
            return None
        scale = self.scales()[number]
        slack = 6.0 * (scale.stop_s - scale.start_s) / max(scale.rect.width(), 1)
        at_s = scale.time_at(place.x())
        near = [
            one
            for one in self._findings.get(self._lanes[number].key, ())
            if one.start_s - slack <= at_s <= one.stop_s + slack
        ]
        return min(near, key=lambda one: abs(0.5 * (one.start_s + one.stop_s) - at_s), default=None)

    # Drawing

    def sizeHint(self) -> QSize:
        return QSize(900, 420)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.panel))
        self.paint(painter)

    def paint(self, painter: QPainter) -> None:
        """Draw everything; also what a snapshot of the lanes as shown is made from."""
        painter.setFont(self.font())
        scales = self.scales()
        for number, (lane, scale) in enumerate(zip(self._lanes, scales, strict=True)):
            paint_lane(painter, lane, scale, self._theme, self._findings.get(lane.key, ()), picked=self._picked)
            paint_cursors(painter, scale, self._theme, self._cursors, labelled=number == 0)
            own = [note for note in self._notes.notes if note.channel == lane.key]
            picked = None
            if self._picked_note is not None and self._notes.notes[self._picked_note] in own:
                picked = own.index(self._notes.notes[self._picked_note])
            paint_notes(painter, scale, self._theme, own, picked=picked)
        if scales:
            last = scales[-1].rect
            axis = QRectF(last.left(), last.bottom() + 2, last.width(), time_axis_height(self.font()))
            paint_time_axis(painter, axis, *self._history.view, self._theme)
        if self._box is not None:
            painter.setPen(QPen(QColor(self._theme.text), 1))
            painter.drawRect(self._box)
        if self.hasFocus():
            painter.setPen(QPen(QColor(self._theme.accent), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._close_editor(keep=True)

    # Mouse and touchpad

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or not self._lanes:
            return
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self._close_editor(keep=True)
        place = event.position()
        self._pressed_at, self._pressed_view = place, self._history.view
        if self._placing_note:
            self._place_note(place)
            return
        note, cursor = self._note_at(place), self._cursor_at(place.x())
        self._picked_note = note
        if note is not None:
            self._drag = "note"
        elif cursor is not None:
            self._drag = f"cursor {cursor}"
        else:
            self._drag = "box" if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else "pan"
        self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        place = event.position()
        scales = self.scales()
        if not self._drag or not scales:
            return
        if self._drag.startswith("cursor"):
            self._cursors[int(self._drag[-1])] = scales[0].time_at(place.x())
            self.update()
            self.cursors_changed.emit()
        elif self._drag == "box":
            self._box = QRectF(
                self._pressed_at.x(), 0, place.x() - self._pressed_at.x(), self.height() - 1
            ).normalized()
            self.update()
        elif self._drag == "pan":
            start, stop = self._pressed_view
            shift = (self._pressed_at.x() - place.x()) / max(scales[0].rect.width(), 1) * (stop - start)
            self._history.show(start + shift, stop + shift, remember=False)
            self._changed_view()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        place, drag, self._drag = event.position(), self._drag, ""
        moved = (place - self._pressed_at).manhattanLength() > MOVE_PIXELS
        if drag == "box" and self._box is not None:
            scale, box, self._box = self.scales()[0], self._box, None
            if box.width() > MOVE_PIXELS:
                self.set_view(scale.time_at(box.left()), scale.time_at(box.right()))
        elif drag == "note" and moved and self._picked_note is not None:
            self._move_note(self._picked_note, place)
        elif drag == "pan" and not moved:
            finding = self._finding_at(place)
            if finding is not None:
                self.finding_picked.emit(finding)
        self.update()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        note = self._note_at(event.position())
        if note is not None:
            self._edit_note(note)
        else:
            self.fit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        scales = self.scales()
        if not scales:
            return
        turn, aside = event.angleDelta().y() / 120.0, event.angleDelta().x() / 120.0
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self._zoom_values(event.position().y(), 0.85**turn)
        elif event.modifiers() & Qt.KeyboardModifier.ShiftModifier or abs(aside) > abs(turn):
            self.pan(-0.1 * (aside or turn))
        else:
            self.zoom(0.8**turn, scales[0].time_at(event.position().x()))
        event.accept()

    def event(self, event: QEvent) -> bool:
        """Take a pinch on the touchpad for a zoom."""
        if isinstance(event, QNativeGestureEvent) and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
            scales = self.scales()
            if scales:
                self.zoom(1.0 / max(1.0 + event.value(), 0.2), scales[0].time_at(event.position().x()))
            return True
        return super().event(event)

    def _zoom_values(self, y: float, factor: float) -> None:
        number = self._lane_at(y)
        if number is None:
            return
        scale = self.scales()[number]
        around = scale.value_at(y)
        low, high = self._ranges[number]
        self._ranges[number] = around + (low - around) * factor, around + (high - around) * factor
        self.update()

    # Notes

    def _place_note(self, place: QPointF) -> None:
        number = self._lane_at(place.y())
        if number is None:
            return
        self._placing_note = False
        self.unsetCursor()
        scale = self.scales()[number]
        note = Note(self._lanes[number].key, scale.time_at(place.x()), scale.value_at(place.y()), "…")
        self._edit_note(self._notes.add(note))

    def _move_note(self, number: int, place: QPointF) -> None:
        lane = self._lane_at(place.y())
        if lane is None:
            return
        scale = self.scales()[lane]
        moved = place - self._pressed_at
        note = self._notes.notes[number]
        x, y = float(scale.x_of(note.time_s)) + moved.x(), float(scale.y_of(note.value)) + moved.y()
        self._notes.edit(number, replace(note, time_s=scale.time_at(x), value=scale.value_at(y)))
        self.notes_changed.emit()

    def _edit_note(self, number: int) -> None:
        note = self._notes.notes[number]
        lane = next((place for place, lane in enumerate(self._lanes) if lane.key == note.channel), None)
        if lane is None:
            return
        box = note_box(note, self.scales()[lane], self.font())
        editor = QLineEdit("" if note.text == "…" else note.text, self)
        editor.setAccessibleName("Text of the note")
        editor.setPlaceholderText("What is to be seen here?")
        left = min(max(box.left(), 2), max(self.width() - 304, 2))
        editor.setGeometry(int(left), int(box.top()), 300, 44)
        self._picked_note, self._editor = number, editor
        editor.returnPressed.connect(lambda: self._close_editor(keep=True))
        editor.show()
        editor.setFocus()

    def _close_editor(self, *, keep: bool) -> None:
        editor, self._editor = self._editor, None
        if editor is None:
            return
        text, number = editor.text().strip(), self._picked_note
        editor.deleteLater()
        self.setFocus()
        if number is None or number >= len(self._notes.notes):
            return
        note = self._notes.notes[number]
        if keep and text:
            self._notes.edit(number, replace(note, text=text))
        elif note.text == "…":
            self._notes.undo()
            self._picked_note = None
        self.update()
        self.notes_changed.emit()

    # Keyboard

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Everything that the mouse can do with the view, the cursors and the notes."""
        key = event.key()
        if key == Qt.Key.Key_Escape:
            self._close_editor(keep=False)
            self._placing_note = False
            self.unsetCursor()
            return
        actions = {
            Qt.Key.Key_Left: lambda: self.pan(-0.15),
            Qt.Key.Key_Right: lambda: self.pan(0.15),
            Qt.Key.Key_Up: lambda: self.zoom(0.7),
            Qt.Key.Key_Down: lambda: self.zoom(1 / 0.7),
            Qt.Key.Key_Plus: lambda: self.zoom(0.7),
            Qt.Key.Key_Equal: lambda: self.zoom(0.7),
            Qt.Key.Key_Minus: lambda: self.zoom(1 / 0.7),
            Qt.Key.Key_Home: self.fit,
            Qt.Key.Key_Backspace: self.back,
            Qt.Key.Key_Delete: self.delete_note,
            Qt.Key.Key_C: self.toggle_cursors,
            Qt.Key.Key_N: self.begin_note,
        }
        action = actions.get(Qt.Key(key))
        if action is not None and not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            action()
        else:
            super().keyPressEvent(event)
