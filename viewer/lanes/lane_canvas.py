"""Lanes over one common time axis, with cursors, notes and findings: what is shown, and how it is drawn."""

from collections.abc import Mapping, Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QPainter,
    QPaintEvent,
    QPen,
    QRegion,
    QResizeEvent,
)
from PySide6.QtWidgets import QWidget

from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.arrangement import Arrangement
from loomlight.viewer.lanes.arranging import Arranging
from loomlight.viewer.lanes.cursors import NONE, Pair
from loomlight.viewer.lanes.cursors_on_lanes import CursorsOnLanes
from loomlight.viewer.lanes.kept_pictures import KeptPictures
from loomlight.viewer.lanes.layer_scale import layer_scale
from loomlight.viewer.lanes.marks import Marks
from loomlight.viewer.lanes.note_list import Notes
from loomlight.viewer.lanes.notes_on_lanes import NotesOnLanes
from loomlight.viewer.lanes.paint_lane import (
    axis_width,
    paint_chosen,
    paint_lane,
    paint_time_axis,
    time_axis_height,
    time_ticks,
)
from loomlight.viewer.lanes.past import Steps
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.lanes.view_history import ViewHistory
from loomlight.viewer.theme import Theme

GAP = 6.0
LEAST_LANE_PIXELS = 24.0
DEEPEST_VALUES = 1e-4
"""Of a lane's own range: what the value axis can still write."""


class LaneCanvas(QWidget):
    """Shows lanes; it holds the view and the findings, and joins arrangement, cursors and notes."""

    view_changed = Signal(float, float)
    cursors_changed = Signal()
    notes_changed = Signal()
    arranged = Signal()
    finding_picked = Signal(object)
    said = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._findings: dict[str, Marks] = {}
        self._marks: dict[str, Marks] = {}
        self._picked: Finding | None = None
        self._own: dict[str, tuple[float, float]] = {}
        self._history = ViewHistory()
        self._kept = KeptPictures()
        self._steps = Steps()
        self.arranging = Arranging(self)
        self.arranging.changed.connect(self._arrange)
        self.arranging.said.connect(self.said)
        self.arranging.edited.connect(lambda: self._steps.add("lanes"))
        self.cursor_marks = CursorsOnLanes(self, self.layers)
        self.cursor_marks.changed.connect(self.cursors_changed)
        self.note_marks = NotesOnLanes(self, self.layers)
        self.note_marks.changed.connect(self.notes_changed)
        self.note_marks.edited.connect(lambda: self._steps.add("notes"))
        self._box: QRectF | None = None
        self.takes_notes = True
        self.draws_box = False
        self.setMinimumHeight(160)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)  # nothing shows through: nothing is painted beneath

    # What is shown

    def show_lanes(
        self, lanes: Sequence[Lane], *, keep_view: bool = False, arrangement: Arrangement | None = None
    ) -> None:
        """Show other lanes; the view goes back to all of them unless ``keep_view``."""
        self._steps.forget("lanes")
        self.cursor_marks.new_samples()
        self._own = {}
        if lanes:
            spans = [lane.span() for lane in lanes]
            full = min(one[0] for one in spans), max(one[1] for one in spans)
            view, values = self._history.view, self._history.values
            self._history.reset(full)
            if keep_view:
                self._history.show(*view, values=values)
            if any(at_s is not None and not full[0] <= at_s <= full[1] for at_s in self.cursor_marks.times):
                self.cursor_marks.forget()  # they were set in another stretch of time
        self._picked = None
        self.arranging.begin(lanes, arrangement)
        self._changed_view()

    def _arrange(self) -> None:
        """Take over what the arrangement gives; a lane whose scale was set stands at it."""
        self._kept = KeptPictures()
        own = {lane.key: lane.value_range() for lane in self.lanes}
        stale = {key for key, reach in self._own.items() if key in own and own[key] != reach}
        self._own = own
        if stale & set(self._history.values):
            self._history.show_values({key: one for key, one in self._history.values.items() if key not in stale})
        self._gather_marks()
        self.arranged.emit()
        self.cursors_changed.emit()

    @property
    def lanes(self) -> tuple[Lane, ...]:
        """The lanes that are shown, top to bottom."""
        return self.arranging.shown

    def show_findings(self, findings: Mapping[str, Sequence[Finding]]) -> None:
        """Mark findings, by lane key."""
        self._findings = {key: Marks(found) for key, found in findings.items()}
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

    def can_step(self) -> tuple[bool, bool]:
        """Whether there is a view to go back to, and one to go forward to."""
        return self._history.can_go_back, self._history.can_go_forward

    def value_range(self, key: str) -> tuple[float, float]:
        """Least and greatest value that a lane shows now."""
        return self._history.values.get(key) or self._own[key]

    def zoom_values(self, factor: float, *, around_y: float | None = None) -> None:
        """Make the values' range ``factor`` times as wide: of the lane at ``around_y`` pixels, or of all."""
        found = dict(self._history.values)
        for lane, scale in zip(self.lanes, self.scales(), strict=True):
            if around_y is not None and not scale.rect.top() <= around_y <= scale.rect.bottom():
                continue
            low, high = scale.low, scale.high
            around = 0.5 * (low + high) if around_y is None else scale.value_at(around_y)
            found[lane.key] = self._held(lane.key, around, (around - low) / (high - low), (high - low) * factor)
        self._history.show_values(found, moving=True)
        self._changed_view()

    def _held(self, key: str, around: float, below: float, span: float) -> tuple[float, float]:
        """A range of values, held between what the axis can write and ten times all there is."""
        own_low, own_high = self._own[key]
        span = min(max(span, DEEPEST_VALUES * (own_high - own_low)), 10.0 * (own_high - own_low))
        return around - below * span, around + (1.0 - below) * span

    def move_values(self, share: float) -> None:
        """Move the values of all lanes by a share of what is shown."""
        found = dict(self._history.values)
        for lane in self.lanes:
            low, high = self.value_range(lane.key)
            found[lane.key] = low + share * (high - low), high + share * (high - low)
        self._history.show_values(found, moving=True)
        self._changed_view()

    def show_values(self, key: str, low: float, high: float, *, moving: bool = False) -> None:
        """Show a range of values in one lane."""
        reach = self._held(key, 0.5 * (low + high), 0.5, high - low)
        self._history.show_values(self._history.values | {key: reach}, moving=moving)
        self._changed_view()

    def show_box(self, start_s: float, stop_s: float, key: str, low: float, high: float) -> None:
        """Show a stretch of time, and a range of values in one lane: one step back together."""
        reach = self._held(key, 0.5 * (low + high), 0.5, high - low)
        self._history.show(start_s, stop_s, values=self._history.values | {key: reach})
        self._changed_view()

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
        self.note_marks.delete()

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

    # Geometry

    def scales(self) -> list[Scale]:
        """Scale of each lane, top to bottom."""
        lanes = self.lanes
        if not lanes:
            return []
        left = axis_width(self.font())
        usable = max(self.height() - time_axis_height(self.font()) - GAP * (len(lanes) - 1) - 2, 1.0)
        least = min(LEAST_LANE_PIXELS, usable / len(lanes))
        whole = sum(lane.weight for lane in lanes)
        spare = usable - least * len(lanes)
        found, top = [], 1.0
        for lane in lanes:
            height = least + spare * lane.weight / whole
            rect = QRectF(QRectF(left, top, max(self.width() - left - 2, 10.0), height).toRect())
            found.append(Scale(rect, *self._history.view, *self.value_range(lane.key)))
            top += height + GAP
        return found

    def layers(self) -> list[tuple[Lane, Scale]]:
        """Each lane and what is laid over it, with the scale that it is drawn at."""
        return [
            (layer, layer_scale(lane, layer, scale))
            for lane, scale in zip(self.lanes, self.scales(), strict=True)
            for layer in lane.layers
        ]

    def lane_at(self, y: float) -> int | None:
        """Number of the lane at some height, pixels."""
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
            around = QRegion(self.rect())
            for scale in self.scales():  # the lanes have a ground of their own
                around -= QRegion(scale.rect.toRect())
            for part in around:
                painter.fillRect(part, QColor(self._theme.panel))
            self.paint(painter)
        finally:
            painter.end()  # a painter that outlives its event ends the process

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
