"""A painter's own pixels, on screens that are magnified too."""

import math

from PySide6.QtCore import QPointF, QRect, QRectF
from PySide6.QtGui import QImage, QPainter, QTransform


def device_rect(placed: QTransform, rect: QRectF) -> QRect:
    """The whole pixels that ``rect`` touches, where ``placed`` is the painter's `deviceTransform`."""
    there = placed.mapRect(rect)
    left, top = math.floor(there.left() + 1e-6), math.floor(there.top() + 1e-6)
    width, height = math.ceil(there.right() - 1e-6) - left, math.ceil(there.bottom() - 1e-6) - top
    return QRect(left, top, max(width, 1), max(height, 1))


def draw_on_device(painter: QPainter, left: int, top: int, image: QImage) -> None:
    """Draw a picture pixel on pixel, so that nothing is smoothed or moved."""
    placed = painter.deviceTransform()
    if not (placed.isScaling() or placed.isRotating()):
        painter.drawImage(QPointF(left - placed.dx(), top - placed.dy()), image)
        return
    painter.save()
    painter.setWorldTransform(placed.inverted()[0] * painter.worldTransform())
    painter.drawImage(left, top, image)
    painter.restore()
