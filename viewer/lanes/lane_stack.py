"""The lanes under a hand: mouse, touchpad, touch screen and keyboard."""

from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QContextMenuEvent, QKeyEvent, QKeySequence, QMouseEvent, QNativeGestureEvent, QWheelEvent
from PySide6.QtWidgets import QGestureEvent, QPinchGesture, QWidget

from loomlight.viewer.lanes import drags
from loomlight.viewer.lanes.cursors_on_lanes import GRAB_PIXELS
from loomlight.viewer.lanes.lane_canvas import LaneCanvas
from loomlight.viewer.lanes.lane_keys import action_of
from loomlight.viewer.lanes.paint_lane import head_rect
from loomlight.viewer.theme import Theme

BORDER_PIXELS = 5.0
"""On either side of the border between two lanes; beside the value axis it is the 44 px that a finger needs."""


class LaneStack(LaneCanvas):
    """Lanes that can be moved, zoomed, measured, arranged and written on; it holds only what a hand is doing just now."""

    menu_wanted = Signal(str, object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self._drag: drags.Drag | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.grabGesture(Qt.GestureType.PinchGesture)
        self.setAccessibleName("Lanes")
        self.setAccessibleDescription(
            "Left and right move, plus and minus zoom, Home shows all, Backspace goes back. C sets cursors; Control or Shift "
            "with left and right moves cursor A or B, with Alt to the next edge. L sets level cursors. N and then Return "
            "places a note, M a marked stretch, brackets pick one, Return edits and Delete removes it. Control with plus and "
            "minus zooms the values, Page Up and Page Down move them. Control with up and down chooses a lane, Alt with up "
            "and down moves it. F1 lists all keys."
        )

    # Mouse

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or not self.lanes:
            return
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self.note_marks.finish_writing()
        self._drag = self._begun(event.position(), event.modifiers())
        self.update()

    def _begun(self, place: QPointF, held: Qt.KeyboardModifier) -> drags.Drag | None:
        """What a hand that presses here begins; what was asked for by button or key comes first."""
        lane = self.lane_at(place.y())
        if self.note_marks.placing:
            if lane is None:
                return None
            if self.note_marks.marking:
                return drags.MarkStretch(self, place, lane)
            self.note_marks.place(self.lanes[lane], self.scales()[lane], place)
            return None
        hold = self.note_marks.at(place)
        self.note_marks.picked = hold.number if hold is not None else None
        if self.draws_box or held & Qt.KeyboardModifier.ShiftModifier:
            return drags.Box(self, place, lane)
        if hold is not None:
            return drags.MoveNote(self, place, hold)
        border = self._border_at(place)
        if border is not None:
            return drags.LaneHeight(self, place, border)
        on_axis = place.x() < self.scales()[0].rect.left()
        if lane is not None and (held & Qt.KeyboardModifier.ControlModifier or on_axis):
            return drags.MoveValues(self, place, lane)
        cursor = self._cursor_at(place, lane)
        if cursor is not None:
            return cursor
        if lane is not None and len(self.lanes) > 1 and self._head_at(place) == lane:
            return drags.MoveLane(self, place, lane)
        return drags.Pan(self, place)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._drag is not None and self.lanes:
            self._drag.move(event.position(), exactly=bool(event.modifiers() & Qt.KeyboardModifier.AltModifier))
        elif event.buttons() == Qt.MouseButton.NoButton:
            self._show_pointer(event.position())

    def _show_pointer(self, place: QPointF) -> None:
        """Say by the pointer's shape what can be taken here."""
        if not self.lanes or self.note_marks.placing or self.draws_box:
            return
        lane = self.lane_at(place.y())
        if self._border_at(place) is not None:
            self.setCursor(Qt.CursorShape.SplitVCursor)
        elif (cursor := self._cursor_at(place, lane)) is not None:
            across = isinstance(cursor, drags.TimeCursor)
            self.setCursor(Qt.CursorShape.SplitHCursor if across else Qt.CursorShape.SplitVCursor)
        elif self.note_marks.at(place) is not None or (len(self.lanes) > 1 and self._head_at(place) is not None):
            self.setCursor(Qt.CursorShape.OpenHandCursor)
        else:
            self.unsetCursor()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        drag, self._drag = self._drag, None
        if drag is not None and self.lanes:
            drag.drop(event.position())
            if self.draws_box:
                self.draws_box = False
                self.unsetCursor()
        self.update()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        hold = self.note_marks.at(event.position())
        head = self._head_at(event.position())
        if hold is not None:
            self.note_marks.edit(hold.number)
        elif head is not None and len(self.lanes) > 1:
            self.menu_wanted.emit(self.lanes[head].key, self.mapToGlobal(event.position().toPoint()))
        else:
            self.fit()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        lane = self.lane_at(event.pos().y())
        if lane is not None:
            self.arranging.choose(self.lanes[lane].key)
            self.menu_wanted.emit(self.lanes[lane].key, event.globalPos())

    def leave_note(self) -> None:
        """Give up placing, writing, marking or drawing a box; what is being dragged stays where it was."""
        self._drag = None
        self.show_rubber(None)
        super().leave_note()

    # What is under a finger

    def _cursor_at(self, place: QPointF, lane: int | None) -> drags.Drag | None:
        """The nearest cursor within reach; where two are as near, the time cursor."""
        found: list[tuple[float, drags.Drag]] = []
        time = self.cursor_marks.time_at(place.x())
        if time is not None:
            found.append((time[1], drags.TimeCursor(self, time[0])))
        for layer in self.lanes[lane].layers if lane is not None else ():
            level = self.cursor_marks.level_at(layer.key, place)
            if level is not None:
                found.append((level[1], drags.LevelCursor(self, layer.key, level[0])))
        return min(found, key=lambda one: one[0])[1] if found else None

    def _border_at(self, place: QPointF) -> int | None:
        """Number of the lane whose lower border is here, another lane being below it."""
        rects = [scale.rect for scale in self.scales()]
        for number, (upper, lower) in enumerate(zip(rects, rects[1:], strict=False)):
            reach = (
                BORDER_PIXELS if place.x() >= upper.left() else min(GRAB_PIXELS, upper.height() / 3, lower.height() / 3)
            )
            if abs(place.y() - 0.5 * (upper.bottom() + lower.top())) <= reach:
                return number
        return None

    def _head_at(self, place: QPointF) -> int | None:
        number = self.lane_at(place.y())
        if number is None:
            return None
        head = head_rect(self.lanes[number], self.scales()[number].rect, self.font())
        return number if head.contains(place) else None

    # Wheel, touchpad, touch screen

    def wheelEvent(self, event: QWheelEvent) -> None:
        scales = self.scales()
        if not scales:
            return
        turn, aside = event.angleDelta().y() / 120.0, event.angleDelta().x() / 120.0
        held = event.modifiers()
        if event.position().x() < scales[0].rect.left() or held & Qt.KeyboardModifier.AltModifier:
            # With Alt some systems turn the wheel sideways.
            self.zoom_values(0.85 ** (turn or aside), around_y=event.position().y())
        elif held & Qt.KeyboardModifier.ShiftModifier or abs(aside) > abs(turn):
            self.pan(-0.1 * (aside or turn))
        else:  # also with Control: that is how some touchpads tell a pinch
            self.zoom(0.8**turn, scales[0].time_at(event.position().x()), moving=True)
        event.accept()

    def event(self, event: QEvent) -> bool:
        """Take a pinch for a zoom at the fingers, and the lanes' own keys before a page's shortcuts take them."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and self._takes(event):
            event.accept()
            return True
        if isinstance(event, QNativeGestureEvent) and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
            self._pinched(1.0 + event.value(), event.position().x())
            return True
        if isinstance(event, QGestureEvent):
            pinch = event.gesture(Qt.GestureType.PinchGesture)
            if isinstance(pinch, QPinchGesture):
                self._drag = None  # the first finger's drag
                self._pinched(pinch.scaleFactor(), self.mapFromGlobal(pinch.centerPoint()).x())
                event.accept()
                return True
        return super().event(event)

    def _pinched(self, factor: float, x: float) -> None:
        scales = self.scales()
        if scales:
            self.zoom(1.0 / max(factor, 0.2), scales[0].time_at(x), moving=True)

    # Keyboard

    def _takes(self, event: QKeyEvent) -> bool:
        """Whether a key is for the lanes now: undoing only where they have something to undo."""
        if event.matches(QKeySequence.StandardKey.Undo) or event.matches(QKeySequence.StandardKey.Redo):
            return self.can_undo(again=event.matches(QKeySequence.StandardKey.Redo))
        if event.key() == Qt.Key.Key_Escape:
            return self.is_asking() or self._drag is not None
        return action_of(self, event) is not None

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Everything that the mouse can do with the view, the cursors, the lanes and the notes."""
        action = action_of(self, event)
        if action is not None:
            action()
        else:
            super().keyPressEvent(event)
