"""Draw notes: a text with an arrow, or a marked stretch of time with its text."""

from collections.abc import Sequence

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen

from loomlight.signal.job import Note
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.theme import Theme

TEXT_PIXELS = 260
ARROW_PIXELS = 7.0


def is_seen(note: Note, scale: Scale) -> bool:
    """Whether a note stands in the view."""
    begin_s, end_s = note.span
    return begin_s <= scale.stop_s and end_s >= scale.start_s


def note_box(note: Note, scale: Scale, font: QFont) -> QRectF:
    """Where a note's text stands: above its arrow's tip or its stretch, held inside the lane."""
    metrics = QFontMetricsF(font)
    size = metrics.boundingRect(QRectF(0, 0, TEXT_PIXELS, 1000), int(Qt.TextFlag.TextWordWrap), note.text)
    width, height = size.width() + 12, size.height() + 8
    y = float(scale.y_of(note.value))
    if note.until_s is None:
        left, up, down = float(scale.x_of(note.time_s)) + 16, 18.0, 18.0
    else:  # over the middle of what is seen of it
        ends = (max(note.time_s, scale.start_s), min(note.until_s, scale.stop_s))
        left, up, down = float(scale.x_of(0.5 * (ends[0] + ends[1]))) - width / 2, 6.0, 6.0
    left = min(max(left, scale.rect.left() + 2), scale.rect.right() - width - 2)
    top = y - height - up
    if top < scale.rect.top() + metrics.height() + 8:
        top = min(y + down, scale.rect.bottom() - height - 2)
    return QRectF(left, top, width, height)


def stretch_rect(note: Note, scale: Scale) -> QRectF:
    """The marked stretch itself, over the lane's whole height."""
    left, right = scale.x_of(note.span).tolist()
    return QRectF(left, scale.rect.top(), right - left, scale.rect.height())


def paint_notes(
    painter: QPainter, scale: Scale, theme: Theme, notes: Sequence[Note], *, picked: int | None = None
) -> None:
    """Notes of one lane; the picked one with a heavier outline."""
    painter.save()
    painter.setClipRect(scale.rect.toAlignedRect())
    for number, note in enumerate(notes):
        if not is_seen(note, scale):
            continue
        box = note_box(note, scale, painter.font())
        if note.until_s is None:
            _arrow(painter, note, scale, box, theme)
        else:
            _stretch(painter, note, scale, theme, heavy=number == picked)
        painter.fillRect(box, QColor(theme.raised))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(theme.text), 3 if number == picked else 1))
        painter.drawRect(box)
        painter.drawText(box.adjusted(6, 4, -6, -4), int(Qt.TextFlag.TextWordWrap), note.text)
    painter.restore()


def _arrow(painter: QPainter, note: Note, scale: Scale, box: QRectF, theme: Theme) -> None:
    x, y = float(scale.x_of(note.time_s)), float(scale.y_of(note.value))
    painter.setPen(QPen(QColor(theme.text), 1.5))
    edge_y = box.bottom() if y > box.bottom() else box.top()
    painter.drawLine(QLineF(box.left() + 8, edge_y, x, y))
    painter.setBrush(QColor(theme.text))
    painter.drawEllipse(QRectF(x - 3, y - 3, 6, 6))


def _stretch(painter: QPainter, note: Note, scale: Scale, theme: Theme, *, heavy: bool) -> None:
    """Both ends as lines over the lane's height, and an arrow from end to end."""
    rect = stretch_rect(note, scale)
    left, right = max(rect.left(), scale.rect.left() - 20), min(rect.right(), scale.rect.right() + 20)
    shade = QColor(theme.text)
    shade.setAlpha(22)
    painter.fillRect(QRectF(left, rect.top(), right - left, rect.height()), shade)
    painter.setPen(QPen(QColor(theme.text), 3 if heavy else 1.5, Qt.PenStyle.DashLine))
    for x in (left, right):
        painter.drawLine(QLineF(x, rect.top(), x, rect.bottom()))
    painter.setPen(QPen(QColor(theme.text), 1.5))
    y = float(scale.y_of(note.value))
    painter.drawLine(QLineF(left, y, right, y))
    for x, inward in ((left, 1.0), (right, -1.0)):
        for slope in (-0.5, 0.5):
            tip = QPointF(x, y)
            painter.drawLine(tip, tip + QPointF(inward * ARROW_PIXELS, slope * ARROW_PIXELS))
