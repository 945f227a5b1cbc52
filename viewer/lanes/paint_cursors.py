"""Draw the cursors: time cursors A and B over all lanes, level cursors C and D in their lane."""

from collections.abc import Sequence

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen

from loomlight.viewer.lanes.cursors import LEVEL_NAMES, TIME_NAMES, Pair
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.theme import Theme
from loomlight.viewer.units import on_screen


def paint_cursors(
    painter: QPainter, scale: Scale, theme: Theme, cursors_s: Sequence[float | None], *, labelled: bool
) -> None:
    """Two time cursors, A and B."""
    metrics = QFontMetricsF(painter.font())
    for name, at_s in zip(TIME_NAMES, cursors_s, strict=True):
        if at_s is None or not scale.start_s <= at_s <= scale.stop_s:
            continue
        x = float(scale.x_of(at_s))
        painter.setPen(QPen(QColor(theme.text), 2))
        painter.drawLine(QLineF(x, scale.rect.top(), x, scale.rect.bottom()))
        if labelled:
            width = metrics.horizontalAdvance(name) + 12
            box = QRectF(x - width / 2, scale.rect.bottom() - metrics.height() - 6, width, metrics.height() + 4)
            _tab(painter, box, name, theme)


def paint_level_cursors(painter: QPainter, scale: Scale, theme: Theme, levels: Pair, unit: str) -> None:
    """Two level cursors, C and D, each with its value at the right."""
    metrics = QFontMetricsF(painter.font())
    for name, value in zip(LEVEL_NAMES, levels, strict=True):
        if value is None or not scale.low <= value <= scale.high:
            continue
        y = float(scale.y_of(value))
        painter.setPen(QPen(QColor(theme.text), 2))
        painter.drawLine(QLineF(scale.rect.left(), y, scale.rect.right(), y))
        text = f"{name} {on_screen(value, unit, digits=4)}"
        width, height = metrics.horizontalAdvance(text) + 12, metrics.height() + 4
        top = min(max(y - height / 2, scale.rect.top() + 1), scale.rect.bottom() - height - 1)
        _tab(painter, QRectF(scale.rect.right() - width - 2, top, width, height), text, theme)


def _tab(painter: QPainter, box: QRectF, text: str, theme: Theme) -> None:
    painter.fillRect(box, QColor(theme.text))
    painter.setPen(QColor(theme.ground))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
