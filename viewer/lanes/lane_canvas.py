"""Lanes with their findings, cursors and notes, as they are drawn."""

from collections.abc import Mapping, Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QWidget

from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.arrangement import Arrangement
from loomlight.viewer.lanes.cursors import NONE, Pair
from loomlight.viewer.lanes.cursors_on_lanes import CursorsOnLanes
from loomlight.viewer.lanes.kept_pictures import KeptPictures
from loomlight.viewer.lanes.lane_view import LaneView
from loomlight.viewer.lanes.layer_scale import layer_scale
from loomlight.viewer.lanes.marks import Marks
from loomlight.viewer.lanes.note_list import Notes
from loomlight.viewer.lanes.notes_on_lanes import NotesOnLanes
from loomlight.viewer.lanes.paint_lane import (
    paint_chosen,
    paint_lane,
    paint_time_axis,
    time_axis_height,
    time_ticks,
)
from loomlight.viewer.lanes.past import Steps
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.looks import in_letters
from loomlight.viewer.theme import Theme

LEAST_WIDTH, LEAST_HEIGHT, LEAST_LANE, MOST_STRIPS = 44, 160, 56, 4
"""In letters of the usual size: what lanes need at the very least, all together and each of the first few."""


class LaneCanvas(LaneView):
    """Shows lanes; it holds the findings, and joins view, arrangement, cursors and notes."""

    cursors_changed = Signal()
    notes_changed = Signal()
    finding_picked = Signal(object)
    said = Signal(str)
    undo_offered = Signal(str)
    """What was done just now and can be undone by `undo`."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._findings: dict[str, Marks] = {}
        self._marks: dict[str, Marks] = {}
        self._picked: Finding | None = None
        self._kept = KeptPictures()
        self._steps = Steps()
        self.arranged.connect(self._take_arrangement)
        self.arranging.said.connect(self.undo_offered)
        self.arranging.edited.connect(lambda: self._steps.add("lanes"))
        self.cursor_marks = CursorsOnLanes(self, self.layers)
        self.cursor_marks.changed.connect(self.cursors_changed)
        self.note_marks = NotesOnLanes(self, self.layers)
        self.note_marks.changed.connect(self.notes_changed)
        self.note_marks.edited.connect(lambda: self._steps.add("notes"))
        self._box: QRectF | None = None
        self.takes_notes = True
        self.draws_box = False
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)  # nothing shows through: nothing is painted beneath

    def minimumSizeHint(self) -> QSize:
        """A strip for each lane in which something can be seen, up to four of them."""
        return QSize(LEAST_WIDTH, in_letters(max(LEAST_HEIGHT, LEAST_LANE * min(len(self.lanes), MOST_STRIPS))))

    # What is shown

    def show_lanes(
        self, lanes: Sequence[Lane], *, keep_view: bool = False, arrangement: Arrangement | None = None
    ) -> None:
        """Show other lanes; the view goes back to all of them unless ``keep_view``."""
        self._steps.forget("lanes")
        self.cursor_marks.new_samples()
        self._picked = None
        super().show_lanes(lanes, keep_view=keep_view, arrangement=arrangement)
        low, high = self.full()
        if any(at_s is not None and not low <= at_s <= high for at_s in self.cursor_marks.times):
            self.cursor_marks.forget()  # they were set in another stretch of time

    def _take_arrangement(self) -> None:
        self._kept = KeptPictures()
        self._gather_marks()
        self.updateGeometry()
        self.cursors_changed.emit()

    def show_findings(self, findings: Mapping[str, Sequence[Finding]]) -> None:
        """Mark findings, by lane key."""
        self._findings = {key: found if isinstance(found, Marks) else Marks(found) for key, found in findings.items()}
        self._picked = None
        self._gather_marks()

    def show_rubber(self, box: QRectF | None) -> None:
        """Outline what a gesture under way would take, or nothing."""
        self._box = box
        self.update()

    def press(self, place: QPointF) -> None:
        """A hand pressed here and did not move: its lane is chosen, and a finding there is picked."""
        number = self.lane_at(place.y())
        if number is None:
            return
        lane, scale = self.lanes[number], self.scales()[number]
        self.arranging.choose(lane.key)
        slack = 6.0 * (scale.stop_s - scale.start_s) / max(scale.rect.width(), 1)
        marks = self._marks.get(lane.key)
        found = marks.near(scale.time_at(place.x()), slack) if marks is not None else None
        if found is not None:
            self.finding_picked.emit(found)

    def _gather_marks(self) -> None:
        """A lane shows the findings of all that is laid over it, each once."""
        self._marks = {}
        for lane in self.lanes:
            found = [self._findings[layer.key] for layer in lane.layers if layer.key in self._findings]
            if found:
                different = dict.fromkeys(finding for marks in found for finding in marks) if len(found) > 1 else ()
                self._marks[lane.key] = found[0] if len(found) == 1 else Marks(tuple(different))
        self.update()

    def marks(self, key: str) -> Sequence[Finding]:
        """Findings that a lane shows, its layers' included."""
        return self._marks.get(key, ())

    def pick(self, finding: Finding | None) -> None:
        """Set one finding apart from the others."""
        self._picked = finding
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    # Cursors and notes

    def cursors(self) -> Pair:
        """Times of the cursors A and B, seconds; None where not set."""
        return self.cursor_marks.times

    def set_cursors(self, first_s: float | None, second_s: float | None) -> None:
        """Set both time cursors."""
        self.cursor_marks.set_times((first_s, second_s))

    def level_cursors(self) -> dict[str, Pair]:
        """Level cursors C and D of each layer that has some, in its unit."""
        return {
            layer.key: pair
            for lane in self.lanes
            for layer in lane.layers
            if (pair := self.cursor_marks.levels(layer.key)) != NONE
        }

    def set_level_cursors(self, key: str, first: float | None, second: float | None) -> None:
        """Set both level cursors of a lane."""
        self.cursor_marks.set_levels(key, (first, second))

    def toggle_cursors(self) -> None:
        """Set both time cursors into the view, or take them away."""
        self.cursor_marks.toggle_times()

    def toggle_level_cursors(self) -> None:
        """Set both level cursors of the chosen lane, or take them away."""
        if self.arranging.chosen:
            self.cursor_marks.toggle_levels(self.arranging.chosen)

    def move_cursor(self, number: int, share: float) -> None:
        """Move a time cursor by a share of the view, where it is set."""
        self.cursor_marks.move_time(number, share)

    def move_level_cursor(self, number: int, share: float) -> None:
        """Move a level cursor of the chosen lane by a share of its height, where it is set."""
        self.cursor_marks.move_level(self.arranging.chosen, number, share)

    def show_between_cursors(self) -> None:
        """Zoom to what lies between A and B."""
        first_s, second_s = self.cursors()
        if first_s is not None and second_s is not None and first_s != second_s:
            self.set_view(min(first_s, second_s), max(first_s, second_s))

    def begin_box(self) -> None:
        """The next drag draws a box to zoom into."""
        if self.lanes:
            self.leave_note()
            self.draws_box = True
            self.setCursor(Qt.CursorShape.CrossCursor)

    def cursor_to_edge(self, number: int, *, forward: bool) -> None:
        """Move a time cursor to the chosen lane's next edge or to the one before, and follow it."""
        if self.cursor_marks.times[number] is None:
            return
        at_s = self.cursor_marks.to_edge(number, self.arranging.chosen, forward=forward)
        start, stop = self._history.view
        if at_s is None:
            self.said.emit("There is no further edge near this cursor in the chosen lane.")
        elif not start <= at_s <= stop:
            self.set_view(at_s - (stop - start) / 2, at_s + (stop - start) / 2)

    def notes(self) -> Notes:
        """Notes as they stand."""
        return self.note_marks.notes

    def set_notes(self, notes: Notes) -> None:
        """Show a capture's notes."""
        self.note_marks.show(notes)
        self._steps.forget("notes")

    def begin_note(self) -> None:
        """The next click places a note."""
        if self.lanes and self.takes_notes:
            self.note_marks.begin()

    def begin_stretch(self) -> None:
        """The next drag marks a stretch of time."""
        if self.lanes and self.takes_notes:
            self.note_marks.begin(stretch=True)

    def can_undo(self, *, again: bool = False) -> bool:
        """Whether there is a change to undo, or to make again."""
        return self._steps.can_turn(back=not again)

    def is_asking(self) -> bool:
        """Whether a note, a mark or a box is under way, which Escape leaves."""
        return self.draws_box or self.note_marks.placing

    def undo(self) -> None:
        """Undo the last change of a note or of the lanes' arrangement."""
        self.note_marks.finish_writing()
        what = self._steps.back()
        if what is not None:
            {"notes": self.note_marks.undo, "lanes": self.arranging.undo}[what]()

    def redo(self) -> None:
        """Make it again."""
        what = self._steps.forward()
        if what is not None:
            {"notes": self.note_marks.redo, "lanes": self.arranging.redo}[what]()

    def delete_note(self) -> None:
        """Take the picked note away."""
        if self.note_marks.picked is not None:
            self.note_marks.delete()
            self.undo_offered.emit("The note is taken away.")

    def step_note(self, by: int) -> None:
        """Pick the next note, and bring it into view."""
        note = self.note_marks.step(by)
        start, stop = self._history.view
        if note is not None and not start <= note.time_s <= stop:
            self.set_view(note.time_s - (stop - start) / 2, note.time_s + (stop - start) / 2)

    def place_or_edit_note(self) -> None:
        """Place at the cursors what was begun, or in the middle of the chosen lane; else edit the picked note."""
        if not self.note_marks.placing or not self.lanes:
            if self.note_marks.picked is not None:
                self.note_marks.edit(self.note_marks.picked)
            return
        keys = [lane.key for lane in self.lanes]
        number = keys.index(self.arranging.chosen)
        lane, scale = self.lanes[number], self.scales()[number]
        middle = scale.rect.center()
        first_s, second_s = self.cursor_marks.times
        if self.note_marks.marking:
            third = (scale.stop_s - scale.start_s) / 3
            ends = (
                (scale.start_s + third, scale.stop_s - third)
                if first_s is None or second_s is None
                else (first_s, second_s)
            )
            self.note_marks.place_stretch(lane, scale, middle.y(), *ends)
            return
        if first_s is not None and scale.start_s <= first_s <= scale.stop_s:
            middle.setX(float(scale.x_of(first_s)))
        self.note_marks.place(lane, scale, middle)

    def leave_note(self) -> None:
        """Give up placing, writing or marking, and drawing a box."""
        self.draws_box = False
        self.note_marks.leave()

    # Drawing

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        try:
            self._paint_around(painter)
            self.paint(painter)
        finally:
            painter.end()  # a painter that outlives its event ends the process

    def _paint_around(self, painter: QPainter) -> None:
        """The panel's colour where no lane is: these have a ground of their own."""
        colour, below = QColor(self._theme.panel), 0.0
        for scale in self.scales():
            left, top, right = scale.rect.left(), scale.rect.top(), scale.rect.right()
            painter.fillRect(QRectF(0, below, self.width(), top - below), colour)
            painter.fillRect(QRectF(0, top, left, scale.rect.height()), colour)
            painter.fillRect(QRectF(right, top, self.width() - right, scale.rect.height()), colour)
            below = scale.rect.bottom()
        painter.fillRect(QRectF(0, below, self.width(), self.height() - below), colour)

    def paint(self, painter: QPainter) -> None:
        """Draw everything; also what a snapshot of the lanes as shown is made from."""
        painter.setFont(self.font())
        scales = self.scales()
        times = time_ticks(scales[0].rect, *self._history.view, self.font()) if scales else None
        several = len(self.lanes) > 1
        for number, (lane, scale) in enumerate(zip(self.lanes, scales, strict=True)):
            marks = self._marks.get(lane.key, ())
            paint_lane(painter, lane, scale, self._theme, marks, picked=self._picked, times=times, kept=self._kept)
            if several and lane.key == self.arranging.chosen:
                paint_chosen(painter, scale, self._theme)
            for layer in lane.layers:
                own = layer_scale(lane, layer, scale)
                self.cursor_marks.paint(painter, layer, own, self._theme, labelled=number == 0 and layer is lane)
                self.note_marks.paint(painter, layer, own, self._theme)
        if scales:
            last = scales[-1].rect
            axis = QRectF(last.left(), last.bottom() + 2, last.width(), time_axis_height(self.font()))
            paint_time_axis(painter, axis, *self._history.view, self._theme, times=times)
        if self._box is not None:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(self._theme.text), 1))
            painter.drawRect(self._box)
        if self.hasFocus():
            painter.setPen(QPen(QColor(self._theme.accent), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))

    def resizeEvent(self, event: QResizeEvent) -> None:
        self.note_marks.finish_writing()
