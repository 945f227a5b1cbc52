"""A box to choose from, with an arrow in the text's colour: style sheets leave the system's own one half drawn."""

from PySide6.QtCore import QPointF
from PySide6.QtGui import QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QComboBox

ARROW_PIXELS = 6.0
FROM_EDGE_PIXELS = 18.0


class ChoiceBox(QComboBox):
    """As `QComboBox`; only the arrow is our own."""

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(self.palette().text().color())
        painter.setBrush(self.palette().text())
        x, y = self.width() - FROM_EDGE_PIXELS, self.height() / 2
        corners = ((-ARROW_PIXELS, -ARROW_PIXELS / 2), (ARROW_PIXELS, -ARROW_PIXELS / 2), (0.0, ARROW_PIXELS / 2))
        painter.drawPolygon(QPolygonF([QPointF(x + dx, y + dy) for dx, dy in corners]))
