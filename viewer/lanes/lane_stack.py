"""The lanes under a hand: mouse, touchpad and keyboard."""

from PySide6.QtCore import QEvent, QPointF, QRectF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QNativeGestureEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.lane_canvas import LaneCanvas
from loomlight.viewer.lanes.lane_keys import action_of
from loomlight.viewer.theme import Theme

GRAB_PIXELS = 22.0
"""Half of the 44 px that a cold finger needs."""
MOVE_PIXELS = 4.0


class LaneStack(LaneCanvas):
    """Lanes that can be moved, zoomed, measured and written on; it holds only what a hand is doing just now."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self._drag: str = ""
        self._pressed_at = QPointF()
        self._pressed_view = (0.0, 1.0)
        self._pressed_values = (0.0, 1.0)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAccessibleName("Lanes")
        self.setAccessibleDescription(
            "Left and right move, plus and minus zoom, Home shows all, Backspace goes back. C sets cursors; Control or Shift "
            "with left and right moves cursor A or B. N and then Return places a note, brackets pick one, Return edits and "
            "Delete removes it. Control with plus and minus zooms the values, Page Up and Page Down move them."
        )

    # Mouse and touchpad

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or not self._lanes:
            return
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self._notes.finish_writing()
        place, lane = event.position(), self._lane_at(event.position().y())
        self._pressed_at, self._pressed_view = place, self._history.view
        if self._notes.placing:
            if lane is not None:
                self._notes.place(self._lanes[lane], self.scales()[lane], place)
            return
        note, cursor = self._notes.at(place), self._cursor_at(place.x())
        self._notes.picked = note
        if note is not None:
            self._drag = "note"
        elif event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self._drag = "box"
        elif event.modifiers() & Qt.KeyboardModifier.ControlModifier and lane is not None:
            self._drag, self._pressed_values = f"values {lane}", self._ranges[lane]
        else:
            self._drag = f"cursor {cursor}" if cursor is not None else "pan"
        self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        place = event.position()
        scales = self.scales()
        if not self._drag or not scales:
            return
        moved = place - self._pressed_at
        if self._drag.startswith("cursor"):
            self._drag_cursor(int(self._drag.split()[1]), scales[0].time_at(place.x()))
        elif self._drag == "note" and moved.manhattanLength() > MOVE_PIXELS:
            self._notes.drag(moved)
        elif self._drag.startswith("values"):
            lane = int(self._drag.split()[1])
            low, high = self._pressed_values
            shift = moved.y() / max(scales[lane].rect.height(), 1) * (high - low)
            self._ranges[lane] = low + shift, high + shift
            self.update()
        elif self._drag == "box":
            self._box = QRectF(
                self._pressed_at.x(), 0, place.x() - self._pressed_at.x(), self.height() - 1
            ).normalized()
            self.update()
        elif self._drag == "pan":
            start, stop = self._pressed_view
            shift = (self._pressed_at.x() - place.x()) / max(scales[0].rect.width(), 1) * (stop - start)
            self._history.show(start + shift, stop + shift, moving=True)
            self._changed_view()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        place, drag, self._drag = event.position(), self._drag, ""
        moved = (place - self._pressed_at).manhattanLength() > MOVE_PIXELS
        if drag == "box" and self._box is not None:
            scale, box, self._box = self.scales()[0], self._box, None
            if box.width() > MOVE_PIXELS:
                self.set_view(scale.time_at(box.left()), scale.time_at(box.right()))
        elif drag == "note" and moved:
            self._notes.drag(place - self._pressed_at, drop=True)
        elif drag == "pan" and not moved:
            finding = self._finding_at(place)
            if finding is not None:
                self.finding_picked.emit(finding)
        self.update()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        note = self._notes.at(event.position())
        if note is not None:
            self._notes.edit(note)
        else:
            self.fit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        scales = self.scales()
        if not scales:
            return
        turn, aside = event.angleDelta().y() / 120.0, event.angleDelta().x() / 120.0
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.zoom_values(0.85**turn, around_y=event.position().y())
        elif event.modifiers() & Qt.KeyboardModifier.ShiftModifier or abs(aside) > abs(turn):
            self.pan(-0.1 * (aside or turn))
        else:
            self.zoom(0.8**turn, scales[0].time_at(event.position().x()), moving=True)
        event.accept()

    def event(self, event: QEvent) -> bool:
        """Take a pinch on the touchpad for a zoom."""
        if isinstance(event, QNativeGestureEvent) and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
            scales = self.scales()
            if scales:
                around_s = scales[0].time_at(event.position().x())
                self.zoom(1.0 / max(1.0 + event.value(), 0.2), around_s, moving=True)
            return True
        return super().event(event)

    def _cursor_at(self, x: float) -> int | None:
        scales = self.scales()
        apart = {
            number: abs(float(scales[0].x_of(at_s)) - x)
            for number, at_s in enumerate(self._cursors)
            if at_s is not None and scales
        }
        near = min(apart, key=lambda number: apart[number], default=None)
        return near if near is not None and apart[near] <= GRAB_PIXELS else None

    def _finding_at(self, place: QPointF) -> Finding | None:
        number = self._lane_at(place.y())
        if number is None:
            return None
        scale = self.scales()[number]
        slack = 6.0 * (scale.stop_s - scale.start_s) / max(scale.rect.width(), 1)
        found = self._findings.get(self._lanes[number].key)
        return found.near(scale.time_at(place.x()), slack) if found is not None else None

    # Keyboard

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Everything that the mouse can do with the view, the cursors and the notes."""
        action = action_of(self, event)
        if action is not None:
            action()
        else:
            super().keyPressEvent(event)
