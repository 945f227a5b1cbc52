"""Folded traces side by side, at one scale."""

from collections.abc import Sequence

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QWidget

from loomlight.signal.quantity import in_words
from loomlight.viewer.fold_work import FoldOf
from loomlight.viewer.lanes.paint_fold import density_image, paint_density_legend, paint_fold
from loomlight.viewer.lanes.paint_lane import axis_width, time_axis_height
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.roles import ROLES
from loomlight.viewer.theme import Theme

UNIT_WORDS = {
    "rising edges": "{} cycles, most of {}",
    "falling edges": "{} cycles, most of {}",
    "LIN frames": "{} frames, the longest of {}",
    "LIN bits": "{} bits of {}",
    "CAN frames": "{} frames, the longest of {}",
    "CAN bits": "{} bits of {}",
}
GAP = 12.0


class FoldCanvas(QWidget):
    """Shows what was folded; asks for it anew when it has other room."""

    resized = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._shown: tuple[FoldOf, ...] = ()
        self._images: tuple[QImage | None, ...] = ()
        self.setMinimumHeight(160)
        self.setAccessibleName("Folded view")

    def show_folds(self, folds: Sequence[FoldOf]) -> None:
        """Show others."""
        self._shown = tuple(folds)
        self._make_images()
        self.setAccessibleDescription("; ".join(fold_words(one) for one in folds))
        self.update()

    def _make_images(self) -> None:
        """Once for each theme, not in every frame."""
        self._images = tuple(
            density_image(one.folded.counts, self._theme) if one.folded is not None else None for one in self._shown
        )

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self._make_images()
        self.update()

    def room(self, count: int) -> list[QRectF]:
        """The plotting area of each of ``count`` traces."""
        axis, below = axis_width(self.font()), time_axis_height(self.font())
        metrics = QFontMetricsF(self.font())
        width = max((self.width() - GAP * (count - 1)) / max(count, 1) - axis, 20.0)
        height = max(self.height() - below - 3 * metrics.height() - 16, 20.0)
        return [
            QRectF(QRectF(axis + place * (width + axis + GAP), metrics.height() + 8, width - 2, height).toRect())
            for place in range(count)
        ]

    def sizeHint(self) -> QSize:
        return QSize(900, 420)

    def resizeEvent(self, event: QResizeEvent) -> None:
        self.resized.emit()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.panel))
        painter.setFont(self.font())
        for one, image, rect in zip(self._shown, self._images, self.room(len(self._shown)), strict=True):
            self._one(painter, one, image, rect)

    def _one(self, painter: QPainter, one: FoldOf, image: QImage | None, rect: QRectF) -> None:
        metrics, theme = QFontMetricsF(painter.font()), self._theme
        trace = one.source.trace
        marker = ROLES[trace.role].marker
        words = metrics.elidedText(
            trace.heading.removeprefix(marker).strip(), Qt.TextElideMode.ElideRight, rect.width()
        )
        head = QRectF(rect.left(), 2, rect.width(), metrics.height() + 2)
        if marker:
            painter.setPen(QColor(theme.traces[trace.role]))
            painter.drawText(head, Qt.AlignmentFlag.AlignVCenter, marker)
            head.setLeft(head.left() + metrics.horizontalAdvance(f"{marker} "))
        painter.setPen(QColor(theme.text))
        painter.drawText(head, Qt.AlignmentFlag.AlignVCenter, words)
        if one.folded is None or one.starts is None:
            painter.drawText(rect, int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignCenter), one.trouble)
            return
        lane = Lane(trace.label, (trace,), one.source.lines, unit=one.source.unit)
        paint_fold(painter, rect, lane, one.folded, theme, one.starts.unit_s, image, sampled_s=one.starts.sampled_s)
        foot = rect.bottom() + time_axis_height(painter.font()) + 4
        line = metrics.height() + 2
        told = metrics.elidedText(fold_words(one), Qt.TextElideMode.ElideRight, rect.width())
        painter.drawText(QRectF(rect.left(), foot, rect.width(), line), Qt.AlignmentFlag.AlignVCenter, told)
        legend = QRectF(rect.left(), foot + line, rect.width(), line)
        paint_density_legend(painter, legend, theme, int(one.folded.counts.max(initial=0)))


def fold_words(one: FoldOf) -> str:
    """How many of what lie over one another."""
    if one.folded is None or one.starts is None:
        return one.trouble
    return UNIT_WORDS[one.starts.by].format(one.folded.laid, in_words(one.starts.unit_s, "s", digits=4))
