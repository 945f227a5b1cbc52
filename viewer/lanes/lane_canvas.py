"""Lanes over one common time axis, with cursors, notes and findings: what is shown, and how it is drawn."""

from collections.abc import Mapping, Sequence

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QWidget

from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.kept_pictures import KeptPictures
from loomlight.viewer.lanes.marks import Marks
from loomlight.viewer.lanes.note_list import Notes
from loomlight.viewer.lanes.notes_on_lanes import NotesOnLanes
from loomlight.viewer.lanes.paint_lane import (
    axis_width,
    paint_cursors,
    paint_lane,
    paint_time_axis,
    time_axis_height,
    time_ticks,
)
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.lanes.view_history import ViewHistory
from loomlight.viewer.theme import Theme

GAP = 6.0
LEAST_LANE_PIXELS = 24.0
DEEPEST_VALUES = 1e-4
"""Of a lane's own range: what the value axis can still write."""
CursorPair = tuple[float | None, float | None]


class LaneCanvas(QWidget):
    """Shows lanes; all that it holds is the view, the cursors and the notes."""

    view_changed = Signal(float, float)
    cursors_changed = Signal()
    notes_changed = Signal()
    finding_picked = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._lanes: tuple[Lane, ...] = ()
        self._findings: dict[str, Marks] = {}
        self._picked: Finding | None = None
        self._ranges: list[tuple[float, float]] = []
        self._history = ViewHistory()
        self._cursors: list[float | None] = [None, None]
        self._notes = NotesOnLanes(self, lambda: list(zip(self._lanes, self.scales(), strict=True)))
        self._notes.changed.connect(self.notes_changed)
        self._box: QRectF | None = None
        self._kept = KeptPictures()
        self.takes_notes = True
        self.setMinimumHeight(160)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)  # nothing shows through: nothing is painted beneath

    # What is shown

    def show_lanes(self, lanes: Sequence[Lane], *, keep_view: bool = False) -> None:
        """Show other lanes; the view goes back to all of them unless ``keep_view``."""
        self._lanes = tuple(lanes)
        self._kept = KeptPictures()
        self._ranges = [lane.value_range() for lane in self._lanes]
        if self._lanes:
            spans = [lane.span() for lane in self._lanes]
            full = min(one[0] for one in spans), max(one[1] for one in spans)
            view = self._history.view
            self._history.reset(full)
            if keep_view:
                self._history.show(*view)
            if any(at_s is not None and not full[0] <= at_s <= full[1] for at_s in self._cursors):
                self.set_cursors(None, None)  # they were set in another stretch of time
        self._picked = None
        self._changed_view()

    @property
    def lanes(self) -> tuple[Lane, ...]:
        """The lanes that are shown."""
        return self._lanes

    def show_findings(self, findings: Mapping[str, Sequence[Finding]]) -> None:
        """Mark findings, by lane key."""
        self._findings = {key: Marks(found) for key, found in findings.items()}
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

    def set_view(self, start_s: float, stop_s: float, *, moving: bool = False) -> None:
        """Show a stretch; ``moving`` for one of many small steps, which are one step back together."""
        self._history.show(start_s, stop_s, moving=moving)
        self._changed_view()

    def go_to(self, start_s: float, stop_s: float) -> None:
        """Show a finding in the middle third, with a five-hundredth of the whole around it at least."""
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

    def zoom(self, factor: float, around_s: float | None = None, *, moving: bool = False) -> None:
        """Make the view ``factor`` times as long."""
        start, stop = self._history.view
        self._history.zoom(factor, 0.5 * (start + stop) if around_s is None else around_s, moving=moving)
        self._changed_view()

    def pan(self, share: float) -> None:
        """Move by a share of the view."""
        self._history.pan(share)
        self._changed_view()

    def _changed_view(self) -> None:
        self.update()
        self.view_changed.emit(*self._history.view)

    def zoom_values(self, factor: float, *, around_y: float | None = None) -> None:
        """Make the values' range ``factor`` times as wide: of the lane at ``around_y`` pixels, or of all."""
        for number, scale in enumerate(self.scales()):
            if around_y is not None and not scale.rect.top() <= around_y <= scale.rect.bottom():
                continue
            low, high = self._ranges[number]
            own_low, own_high = self._lanes[number].value_range()
            span = min(max((high - low) * factor, DEEPEST_VALUES * (own_high - own_low)), 10.0 * (own_high - own_low))
            around = 0.5 * (low + high) if around_y is None else scale.value_at(around_y)
            begin = around + (low - around) * span / (high - low)
            self._ranges[number] = begin, begin + span
        self.update()

    def move_values(self, share: float) -> None:
        """Move the values of all lanes by a share of what is shown."""
        self._ranges = [(low + share * (high - low), high + share * (high - low)) for low, high in self._ranges]
        self.update()

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

    def move_cursor(self, number: int, share: float) -> None:
        """Move a cursor by a share of the view, where it is set."""
        start, stop = self._history.view
        at_s = self._cursors[number]
        if at_s is not None:
            self._drag_cursor(number, at_s + share * (stop - start))

    def _drag_cursor(self, number: int, at_s: float) -> None:
        start, stop = self._history.view
        self._cursors[number] = min(max(at_s, start), stop)
        self.update()
        self.cursors_changed.emit()

    def notes(self) -> Notes:
        """Notes as they stand."""
        return self._notes.notes

    def set_notes(self, notes: Notes) -> None:
        """Show a capture's notes."""
        self._notes.show(notes)

    def begin_note(self) -> None:
        """The next click places a note."""
        if self._lanes and self.takes_notes:
            self._notes.begin()

    def undo(self) -> None:
        """Undo the last change of a note."""
        self._notes.undo()

    def redo(self) -> None:
        """Make it again."""
        self._notes.redo()

    def delete_note(self) -> None:
        """Take the picked note away."""
        self._notes.delete()

    def step_note(self, by: int) -> None:
        """Pick the next note, and bring it into view."""
        note = self._notes.step(by)
        start, stop = self._history.view
        if note is not None and not start <= note.time_s <= stop:
            self.set_view(note.time_s - (stop - start) / 2, note.time_s + (stop - start) / 2)

    def place_or_edit_note(self) -> None:
        """Place the note that was begun at cursor A, or in the middle of the first lane; else edit the picked one."""
        scales = self.scales()
        if self._notes.placing and scales:
            middle = scales[0].rect.center()
            at_s = self._cursors[0]
            if at_s is not None and scales[0].start_s <= at_s <= scales[0].stop_s:
                middle.setX(float(scales[0].x_of(at_s)))
            self._notes.place(self._lanes[0], scales[0], middle)
        elif self._notes.picked is not None:
            self._notes.edit(self._notes.picked)

    def leave_note(self) -> None:
        """Give up placing or writing a note."""
        self._notes.leave()

    # Geometry

    def scales(self) -> list[Scale]:
        """Scale of each lane, top to bottom."""
        if not self._lanes:
            return []
        left = axis_width(self.font())
        usable = max(self.height() - time_axis_height(self.font()) - GAP * (len(self._lanes) - 1) - 2, 1.0)
        least = min(LEAST_LANE_PIXELS, usable / len(self._lanes))
        whole = sum(lane.weight for lane in self._lanes)
        spare = usable - least * len(self._lanes)
        found, top = [], 1.0
        for lane, values in zip(self._lanes, self._ranges, strict=True):
            height = least + spare * lane.weight / whole
            rect = QRectF(QRectF(left, top, max(self.width() - left - 2, 10.0), height).toRect())
            found.append(Scale(rect, *self._history.view, *values))
            top += height + GAP
        return found

    def _lane_at(self, y: float) -> int | None:
        for number, scale in enumerate(self.scales()):
            if scale.rect.top() <= y <= scale.rect.bottom():
                return number
        return None

    # Drawing

    def sizeHint(self) -> QSize:
        return QSize(900, 420)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        try:
            painter.fillRect(self.rect(), QColor(self._theme.panel))
            self.paint(painter)
        finally:
            painter.end()  # a painter that outlives its event ends the process

    def paint(self, painter: QPainter) -> None:
        """Draw everything; also what a snapshot of the lanes as shown is made from."""
        painter.setFont(self.font())
        scales = self.scales()
        times = time_ticks(scales[0].rect, *self._history.view, self.font()) if scales else None
        for number, (lane, scale) in enumerate(zip(self._lanes, scales, strict=True)):
            marks = self._findings.get(lane.key, ())
            paint_lane(painter, lane, scale, self._theme, marks, picked=self._picked, times=times, kept=self._kept)
            paint_cursors(painter, scale, self._theme, self._cursors, labelled=number == 0)
            self._notes.paint(painter, lane, scale, self._theme)
        if scales:
            last = scales[-1].rect
            axis = QRectF(last.left(), last.bottom() + 2, last.width(), time_axis_height(self.font()))
            paint_time_axis(painter, axis, *self._history.view, self._theme, times=times)
        if self._box is not None:
            painter.setPen(QPen(QColor(self._theme.text), 1))
            painter.drawRect(self._box)
        if self.hasFocus():
            painter.setPen(QPen(QColor(self._theme.accent), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._notes.finish_writing()
