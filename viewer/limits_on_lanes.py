"""A limit curve under a hand: corners set, dragged and removed on the lane."""

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QMouseEvent
from PySide6.QtWidgets import QLabel, QToolButton, QVBoxLayout, QWidget

from loomlight.signal.errors import CannotUse
from loomlight.signal.limit_curve import LimitCurve
from loomlight.signal.pyramid import pyramid_of
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.specs import Lane, LevelLine, Trace

Points = tuple[tuple[float, float], ...]
GRAB_PIXELS = 22.0
"""Half of what a finger needs."""
STEP_SHARE = 1 / 400
"""Of the view, for one press of an arrow key."""
HINT = (
    "Press on the lane to set a corner of the {side} limit; drag it, or pick one with Tab and move it with the arrows (Shift: "
    "coarse). Delete removes the picked one."
)


class LimitsBar(QWidget):
    """What is being drawn, and the buttons for what the mouse and the keys do."""

    remove_wanted = Signal()
    undo_wanted = Signal()
    done_wanted = Signal()
    given_up = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setAccessibleName("Limit curve")
        buttons = QWidget()
        self._row = FlowRow(buttons)
        self.remove_button = self._add("Remove corner", "Remove the picked corner (Delete)", self.remove_wanted.emit)
        self.undo_button = self._add("Undo step", "Take the last step back (Ctrl+Z)", self.undo_wanted.emit)
        self._add("Leave", "Leave the curve as it was (Escape)", self.given_up.emit)
        self.done_button = self._add("Use curve", "Judge with this curve (Return)", self.done_wanted.emit)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.text)
        column.addWidget(buttons)
        self.hide()

    def _add(self, text: str, tip: str, act: Callable[[], object]) -> QToolButton:
        button = QToolButton()
        button.setText(text)
        button.setToolTip(tip)
        button.setAccessibleName(text)
        button.setMinimumSize(44, 44)
        button.clicked.connect(lambda: act())
        self._row.addWidget(button)
        return button


class LimitsOnLanes(QObject):
    """Holds the corners while they are being set, on the picture's axis."""

    done = Signal(str, object)
    given_up = Signal()

    def __init__(self, lanes: LaneStack, bar: LimitsBar, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._lanes, self._bar = lanes, bar
        self._lane: Lane | None = None
        self.side = ""
        self.points: Points = ()
        self.picked: int | None = None
        self._before: list[Points] = []
        self._grabbed = False
        bar.remove_wanted.connect(self.remove)
        bar.undo_wanted.connect(self.undo)
        bar.done_wanted.connect(self.finish)
        bar.given_up.connect(self.leave)

    @property
    def is_on(self) -> bool:
        """Whether a curve is being drawn."""
        return self._lane is not None

    def begin(self, lane: Lane, side: str, points: Points) -> None:
        """Draw the ``side`` curve over this lane, beginning with these corners."""
        self._lane, self.side, self.points = lane, side, points
        self.picked, self._before, self._grabbed = None, [], False
        self._lanes.installEventFilter(self)
        self._lanes.setCursor(Qt.CursorShape.CrossCursor)
        self._bar.show()
        self._draw()
        self._lanes.setFocus()

    def end(self) -> None:
        """Let go of the lanes; what is shown then is up to the page."""
        self._lanes.removeEventFilter(self)
        self._lanes.unsetCursor()
        self._bar.hide()
        self._lane = None

    # What the hand does

    def set_corner(self, at_s: float, level: float) -> None:
        """Add a corner, and pick it."""
        if any(one == at_s for one, _ in self.points):
            return
        self._take(tuple(sorted((*self.points, (at_s, level)))))
        self.picked = self.points.index((at_s, level))
        self._draw()

    def move(self, by_s: float, by: float) -> None:
        """Move the picked corner."""
        if self.picked is not None:
            at_s, level = self.points[self.picked]
            self._take(self._moved(at_s + by_s, level + by))

    def remove(self) -> None:
        """Remove the picked corner."""
        if self.picked is not None:
            rest = (*self.points[: self.picked], *self.points[self.picked + 1 :])
            self.picked = None
            self._take(rest)

    def undo(self) -> None:
        """Take the last step back."""
        if self._before:
            self.points, self.picked = self._before.pop(), None
            self._draw()

    def finish(self) -> None:
        """Hand the curve over; fewer than two corners are none."""
        side, points = self.side, self.points
        self.end()
        self.done.emit(side, LimitCurve(points) if len(points) >= 2 else None)

    def leave(self) -> None:
        """Leave the curve as it was."""
        self.end()
        self.given_up.emit()

    def _moved(self, at_s: float, level: float) -> Points:
        """The picked corner elsewhere, held between its neighbours."""
        assert self.picked is not None
        before = self.points[self.picked - 1][0] if self.picked else float("-inf")
        after = self.points[self.picked + 1][0] if self.picked + 1 < len(self.points) else float("inf")
        if not before < at_s < after:
            at_s = self.points[self.picked][0]
        return (*self.points[: self.picked], (at_s, level), *self.points[self.picked + 1 :])

    def _take(self, points: Points) -> None:
        if points != self.points:
            self._before.append(self.points)
            self.points = points
        self._draw()

    def _draw(self) -> None:
        assert self._lane is not None
        traces = self._lane.traces
        if len(self.points) >= 2:
            try:
                channel = LimitCurve(self.points).as_channel(f"{self.side} limit", self._lane.unit or None)
                traces = (*traces, Trace(channel, pyramid_of(channel.samples), "other", channel.name, says_form=False))
            except CannotUse:
                pass  # a corner is being dragged over another
        lines = self._lane.lines
        if len(self.points) == 1:
            lines = (*lines, LevelLine(self.points[0][1], f"first corner, at {self.points[0][0]:.6g} s"))
        lane = Lane(self._lane.key, traces, lines, unit=self._lane.unit)
        self._lanes.show_lanes((lane,), keep_view=True)
        count = len(self.points)
        corners = f"{count} corner{'' if count == 1 else 's'}"
        picked = ""
        if self.picked is not None:
            at_s, level = self.points[self.picked]
            picked = f" Picked: {at_s:.6g} s, {level:.4g} {self._lane.unit}."
        self._bar.text.setText(f"{HINT.format(side=self.side)} {corners}.{picked}")
        self._bar.remove_button.setEnabled(self.picked is not None)
        self._bar.undo_button.setEnabled(bool(self._before))
        self._bar.done_button.setEnabled(count != 1)

    # Mouse and keys

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take what sets and moves corners; all else stays the lanes' own."""
        if self._lane is None or not self._lanes.lanes:
            return False
        if isinstance(event, QMouseEvent):
            return self._mouse(event)
        if not isinstance(event, QKeyEvent):
            return False
        if event.type() == QEvent.Type.ShortcutOverride and event.key() in TAKEN:
            event.accept()  # before a shortcut of the window takes it
            return True
        return event.type() == QEvent.Type.KeyPress and self._key(event)

    def _mouse(self, event: QMouseEvent) -> bool:
        scale, place, kind = self._lanes.scales()[0], event.position(), event.type()
        at_s, level = scale.time_at(place.x()), scale.value_at(place.y())
        plain = event.button() == Qt.MouseButton.LeftButton and event.modifiers() == Qt.KeyboardModifier.NoModifier
        if kind in (QEvent.Type.MouseButtonPress, QEvent.Type.MouseButtonDblClick) and plain:
            if not scale.rect.contains(place):
                return False
            self._lanes.setFocus(Qt.FocusReason.MouseFocusReason)
            near = self._near(place.x(), place.y())
            if near is None:
                self.set_corner(at_s, level)
            else:
                self.picked = near
                self._before.append(self.points)
                self._draw()
            self._grabbed = True
            return True
        if not self._grabbed:
            return False
        if kind == QEvent.Type.MouseMove and self.picked is not None:
            self.points = self._moved(at_s, level)
            self._draw()
            return True
        if kind == QEvent.Type.MouseButtonRelease:
            self._grabbed = False
            if self._before and self._before[-1] == self.points:
                self._before.pop()  # it was only picked
                self._draw()
            return True
        return False

    def _near(self, x: float, y: float) -> int | None:
        scale = self._lanes.scales()[0]
        best: tuple[float, int] | None = None
        for number, (at_s, level) in enumerate(self.points):
            away = max(abs(float(scale.x_of(at_s)) - x), abs(float(scale.y_of(level)) - y))
            if away <= GRAB_PIXELS and (best is None or away < best[0]):
                best = away, number
        return best[1] if best is not None else None

    def _key(self, event: QKeyEvent) -> bool:
        if event.matches(QKeySequence.StandardKey.Undo):
            self.undo()
            return True
        key = event.key()
        coarse = 10.0 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0
        start_s, stop_s = self._lanes.view()
        scale = self._lanes.scales()[0]
        step_s, step = coarse * STEP_SHARE * (stop_s - start_s), coarse * STEP_SHARE * (scale.high - scale.low)
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if len(self.points) != 1:
                self.finish()
        elif key == Qt.Key.Key_Escape:
            self.leave()
        elif key == Qt.Key.Key_Insert:
            self.set_corner(0.5 * (start_s + stop_s), 0.5 * (scale.high + scale.low))
        elif key in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab) and self.points:
            by = 1 if key == Qt.Key.Key_Tab else -1
            self.picked = (-1 if self.picked is None and by > 0 else self.picked or 0) + by
            self.picked %= len(self.points)
            self._draw()
        elif self.picked is None:
            return False
        elif key in MOVES:
            across, up = MOVES[key]
            self.move(across * step_s, up * step)
        elif key == Qt.Key.Key_Delete:
            self.remove()
        else:
            return False
        return True


TAKEN = (Qt.Key.Key_Escape, Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Delete, Qt.Key.Key_Insert)
MOVES = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, 1),
    Qt.Key.Key_Down: (0, -1),
}
