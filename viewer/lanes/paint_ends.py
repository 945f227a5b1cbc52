"""Draw a tolerance band that varies over time: its field, and a line along either end."""

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.lanes.pixel_columns import picture_times, visible_columns
from loomlight.viewer.lanes.scale import Places, Scale
from loomlight.viewer.lanes.specs import Trace
from loomlight.viewer.theme import Theme

FIELD_ALPHA = 150


def paint_ends(painter: QPainter, ends: tuple[Trace, Trace], scale: Scale, theme: Theme) -> None:
    """Fill what lies between the lower and the upper end; nothing where either tells nothing, or cannot be read."""
    try:
        lower, upper = (visible_columns(one, scale) for one in ends)
    except LoomlightError:
        return  # the difference itself cannot be read then either, which the lane tells
    count = min(lower.index.size, upper.index.size)
    if not count:
        return
    x = scale.x_of(picture_times(ends[1], upper))[:count]
    top, bottom = scale.y_of(upper.high[:count]), scale.y_of(lower.low[:count])
    field = QColor(theme.grid)
    field.setAlpha(FIELD_ALPHA)
    painter.save()
    painter.setBrush(field)
    for start, stop in _runs(np.isfinite(top) & np.isfinite(bottom)):
        along = slice(start, stop)
        painter.setPen(Qt.PenStyle.NoPen)
        there, back = _points(x[along], top[along]), _points(x[along][::-1], bottom[along][::-1])
        painter.drawPolygon(QPolygonF(there + back))
        painter.setPen(QPen(QColor(theme.rule), 1))
        painter.drawPolyline(QPolygonF(there))
        painter.drawPolyline(QPolygonF(back))
    painter.restore()


def _runs(known: np.ndarray) -> list[tuple[int, int]]:
    changes = np.flatnonzero(np.diff(known, prepend=False, append=False))
    return list(zip(changes[::2].tolist(), changes[1::2].tolist(), strict=True))


def _points(x: Places, y: Places) -> list[QPointF]:
    return [QPointF(*one) for one in zip(x.tolist(), y.tolist(), strict=True)]
