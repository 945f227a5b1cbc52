"""A box to choose from, with an arrow in the text's colour: style sheets leave the system's own one half drawn."""

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QComboBox, QStyle, QStyleOptionComboBox, QStylePainter

ARROW_PIXELS = 6.0
FROM_EDGE_PIXELS = 18.0
INSIDE_PIXELS = 4
"""Between the words and the field's ends."""


class ChoiceBox(QComboBox):
    """As `QComboBox`; the arrow is our own, and words that do not fit end in "…"."""

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QStylePainter(self)
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        part = QStyle.SubControl.SC_ComboBoxEditField
        field = self.style().subControlRect(QStyle.ComplexControl.CC_ComboBox, option, part, self)
        words = self.currentText()
        option.currentText = self.fontMetrics().elidedText(  # type: ignore[attr-defined]
            words, Qt.TextElideMode.ElideRight, field.width() - INSIDE_PIXELS
        )
        painter.drawComplexControl(QStyle.ComplexControl.CC_ComboBox, option)
        if not self.isEditable():
            painter.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(self.palette().text().color())
        painter.setBrush(self.palette().text())
        x, y = self.width() - FROM_EDGE_PIXELS, self.height() / 2
        corners = ((-ARROW_PIXELS, -ARROW_PIXELS / 2), (ARROW_PIXELS, -ARROW_PIXELS / 2), (0.0, ARROW_PIXELS / 2))
        painter.drawPolygon(QPolygonF([QPointF(x + dx, y + dy) for dx, dy in corners]))
        painter.end()
