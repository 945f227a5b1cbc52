"""Words on a lane that stay readable over whatever is drawn there."""

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from loomlight.viewer.theme import Theme


def paint_boxed(painter: QPainter, area: QRectF, text: str, theme: Theme) -> None:
    """Words in the middle of ``area``, on a ground that lets a little through."""
    ground = QColor(theme.ground)
    ground.setAlpha(215)
    painter.fillRect(area, ground)
    painter.setPen(QColor(theme.text))
    painter.drawText(area, Qt.AlignmentFlag.AlignCenter, text)
