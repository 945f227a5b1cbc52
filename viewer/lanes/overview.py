"""The whole capture in one thin strip, a tick for each finding, the view as a frame that can be dragged."""

from collections.abc import Sequence
from typing import Literal

import numpy as np
from PySide6.QtCore import QLineF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPixmap, QResizeEvent
from PySide6.QtWidgets import QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.marks import Marks
from loomlight.viewer.lanes.paint_trace import draw_lines, paint_trace
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Trace
from loomlight.viewer.theme import Theme

Held = Literal["none", "frame", "start", "stop"]
HEIGHT = 56
TICK_HEIGHT = 12.0
LEAST_FRAME_PIXELS = 8.0
TARGET_PIXELS = 44.0
"""What a cold finger needs, for the frame itself and for each of its two handles."""
HANDLE_APART_PIXELS = 30.0
"""From the middle of a narrow frame to its handles, which stand beside it then: the frame stays free to be taken."""
MOVE_PIXELS = 3.0
CROWD = 7
"""Findings in one column of pixels that are a crowd, however few there are elsewhere."""


class Overview(QWidget):
    """Shows one trace as a whole; asks for another view, and never changes it by itself."""

    view_wanted = Signal(float, float)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._trace: Trace | None = None
        self._findings = Marks(())
        self._strip: QPixmap | None = None
        self._full, self._view = (0.0, 1.0), (0.0, 1.0)
        self._grip_s, self._pressed_x = 0.0, 0.0
        self._held: Held = "none"
        self.setMouseTracking(True)
        self.setFixedHeight(HEIGHT)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Overview of the whole capture")
        self.setAccessibleDescription("Left and right move the view, up and down zoom it.")
        self.setToolTip(
            "The whole capture. Drag the frame to move the view, its handles to zoom; press elsewhere to go there. Each tick "
            "is a finding, a taller one several."
        )

    def show_trace(self, trace: Trace | None, full: tuple[float, float]) -> None:
        """Show another trace over ``full`` seconds."""
        self._trace, self._full = trace, full
        self._redraw()

    def show_findings(self, findings: Sequence[Finding]) -> None:
        """Mark findings."""
        self._findings = findings if isinstance(findings, Marks) else Marks(findings)
        self._redraw()

    def show_view(self, start_s: float, stop_s: float) -> None:
        """Frame what the lanes show."""
        self._view = (start_s, stop_s)
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self._redraw()

    def _redraw(self) -> None:
        self._strip = None
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._strip = None

    def sizeHint(self) -> QSize:
        return QSize(900, HEIGHT)

    def _scale(self) -> Scale:
        values = self._trace.value_range() if self._trace is not None else None
        low, high = values if values is not None else (0.0, 1.0)
        room = 0.08 * ((high - low) or 1.0)
        rect = QRectF(4, TICK_HEIGHT + 4, max(self.width() - 8, 10), HEIGHT - TICK_HEIGHT - 8)
        return Scale(rect, *self._full, low - room, high + room)

    def _frame(self, scale: Scale) -> QRectF:
        left, right = scale.x_of(self._view).tolist()
        left, right = max(left, scale.rect.left()), min(right, scale.rect.right())
        width = max(right - left, LEAST_FRAME_PIXELS)
        begin = min(max((left + right - width) / 2, scale.rect.left()), scale.rect.right() - width)
        return QRectF(begin, 1, width, HEIGHT - 3)

    def _handles(self, frame: QRectF) -> tuple[float, float]:
        """Where the handles of both edges stand: on the edges, or beside a frame that is too narrow for that."""
        half = max(frame.width() / 2, HANDLE_APART_PIXELS)
        return frame.center().x() - half, frame.center().x() + half

    def paintEvent(self, event: QPaintEvent) -> None:
        scale = self._scale()
        strip = self._drawn_strip(scale)
        painter = QPainter(self)
        painter.drawPixmap(0, 0, strip)
        frame = self._frame(scale)
        text = QColor(self._theme.text)
        painter.setPen(QPen(text, 2))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(frame)
        for x, edge in zip(self._handles(frame), (frame.left(), frame.right()), strict=True):
            painter.fillRect(QRectF(x - 3, frame.center().y() - 9, 6, 18), text)
            painter.drawLine(QLineF(x, frame.center().y(), edge, frame.center().y()))
        if self.hasFocus():
            painter.setPen(QPen(QColor(self._theme.accent), 2))
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))

    def _drawn_strip(self, scale: Scale) -> QPixmap:
        """All but the frame, which alone moves with the view: drawn once, and again only when it is another."""
        ratio = self.devicePixelRatioF()
        if self._strip is None or self._strip.devicePixelRatio() != ratio:
            self._strip = QPixmap(self.size() * ratio)
            self._strip.setDevicePixelRatio(ratio)
            self._strip.fill(QColor(self._theme.ground))
            painter = QPainter(self._strip)
            try:
                paint_overview(painter, scale, self._theme, self._trace, self._findings)
            except LoomlightError:
                pass  # a file that is gone is told in its lane
            finally:
                painter.end()
        return self._strip

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        x = event.position().x()
        at_s, (start, stop) = self._scale().time_at(x), self._view
        self._held, self._pressed_x = self._part_at(x), x
        # Where the hand took it, that place goes with the hand.
        self._grip_s = at_s - {"start": start, "stop": stop, "frame": start, "none": 0.5 * (start + stop)}[self._held]
        if self._held == "none":
            self._held, self._grip_s = "frame", 0.5 * (stop - start)
            self._move(at_s)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        x = event.position().x()
        at_s = self._scale().time_at(x) - self._grip_s
        least_s = 1e-6 * (self._full[1] - self._full[0])
        start, stop = self._view
        if self._held == "frame":
            if x != self._pressed_x:
                self.view_wanted.emit(at_s, at_s + stop - start)
        elif self._held == "start":
            self.view_wanted.emit(min(at_s, stop - least_s), stop)
        elif self._held == "stop":
            self.view_wanted.emit(start, max(at_s, start + least_s))
        else:
            self._show_pointer(x)

    def _show_pointer(self, x: float) -> None:
        part = self._part_at(x)
        if part == "none":
            self.unsetCursor()
        else:
            self.setCursor(Qt.CursorShape.OpenHandCursor if part == "frame" else Qt.CursorShape.SizeHorCursor)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        x, frame = event.position().x(), self._frame(self._scale())
        only_pressed = abs(x - self._pressed_x) <= MOVE_PIXELS
        if self._held == "frame" and only_pressed and not frame.left() <= x <= frame.right():
            # Beside a narrow frame: it could have been taken there, but it was not moved.
            self._grip_s = 0.5 * (self._view[1] - self._view[0])
            self._move(self._scale().time_at(x))
        self._held = "none"

    def _part_at(self, x: float) -> Held:
        """What of the frame a finger at ``x`` takes: a handle, the frame, or none of it."""
        frame = self._frame(self._scale())
        left, right = self._handles(frame)
        narrow = frame.width() < 2 * HANDLE_APART_PIXELS
        inward = HANDLE_APART_PIXELS - TARGET_PIXELS / 2 if narrow else min(TARGET_PIXELS / 2, frame.width() / 4)
        outward = TARGET_PIXELS - inward
        if left - outward <= x < left + inward:
            return "start"
        if right - inward < x <= right + outward:
            return "stop"
        return "frame" if left <= x <= right else "none"

    def _move(self, at_s: float) -> None:
        start, stop = self._view
        begin = at_s - self._grip_s
        self.view_wanted.emit(begin, begin + stop - start)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        start, stop = self._view
        length, middle = stop - start, 0.5 * (start + stop)
        wanted = {
            Qt.Key.Key_Left: (start - 0.25 * length, stop - 0.25 * length),
            Qt.Key.Key_Right: (start + 0.25 * length, stop + 0.25 * length),
            Qt.Key.Key_Up: (middle - 0.35 * length, middle + 0.35 * length),
            Qt.Key.Key_Down: (middle - 0.7 * length, middle + 0.7 * length),
        }.get(Qt.Key(event.key()))
        if wanted is not None:
            self.view_wanted.emit(*wanted)
        else:
            super().keyPressEvent(event)


def paint_overview(
    painter: QPainter, scale: Scale, theme: Theme, trace: Trace | None, findings: Sequence[Finding]
) -> None:
    """Draw the strip; ticks stand above it, taller where findings crowd."""
    whole = scale.rect.adjusted(-4, -TICK_HEIGHT - 4, 4, 4)
    painter.fillRect(whole, QColor(theme.ground))
    painter.setPen(QPen(QColor(theme.rule), 1))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(whole.adjusted(0, 0, -1, -1))
    if trace is not None:
        painter.save()
        painter.setClipRect(scale.rect.toAlignedRect())
        paint_trace(painter, trace, scale, colour=theme.traces[trace.role], width=1.0, marker="")
        painter.restore()
    if not findings:
        return
    marks = findings if isinstance(findings, Marks) else Marks(findings)
    places = np.round(scale.x_of(marks.spans_s.mean(axis=1))).astype(np.int64)
    columns, counts = np.unique(places, return_counts=True)
    foot = np.full(columns.size, scale.rect.top() - 2)
    # Each doubling adds as much: ten are told from one, and a thousand from ten.
    share = np.log2(1.0 + counts) / np.log2(1.0 + max(int(counts.max()), CROWD))
    heights = TICK_HEIGHT * (0.4 + 0.6 * share)
    painter.setPen(QPen(QColor(theme.text), 2))
    draw_lines(painter, np.column_stack([columns, foot - heights, columns, foot]).astype(np.float64))
