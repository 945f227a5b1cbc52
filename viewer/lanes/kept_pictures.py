"""Pictures of what stands still while the view is moved, drawn once and laid down in every frame."""

from collections.abc import Callable, Hashable

from PySide6.QtCore import QPoint, QRectF
from PySide6.QtGui import QColor, QImage, QPainter, QTransform

from loomlight.viewer.lanes.device import device_rect, draw_on_device

MOST_KEPT = 64


class KeptPictures:
    """Keeps the last picture of each part of a canvas, for as long as what it shows stays the same."""

    def __init__(self) -> None:
        self._kept: dict[Hashable, tuple[tuple[object, ...], QImage, QPoint]] = {}

    def paint(
        self,
        painter: QPainter,
        area: QRectF,
        draw: Callable[[QPainter], None],
        *,
        part: Hashable,
        shows: tuple[object, ...],
        ground: str | None = None,
    ) -> None:
        """Lay down a part's picture.

        Parameters
        ----------
        painter : QPainter
            Where it is wanted; its font is used.
        area : QRectF
            What the picture covers.
        draw : callable
            Draws it, in the same units as on ``painter``; called only where nothing fitting is kept.
        part : hashable
            Names the part; a newer picture of it takes the older one's place.
        shows : tuple
            All that the picture depends on, beside place and font.
        ground : str, optional
            Colour beneath; without one the picture is clear where nothing is drawn.
        """
        placed, font = painter.deviceTransform(), painter.font()
        state = (*shows, area, placed, font)
        kept = self._kept.get(part)
        if kept is None or kept[0] != state:
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            corner = device_rect(placed, area).topLeft()
            kept = self._kept[part] = (state, _drawn(painter, area, draw, ground), corner)
        draw_on_device(painter, kept[2].x(), kept[2].y(), kept[1])


def _drawn(painter: QPainter, area: QRectF, draw: Callable[[QPainter], None], ground: str | None) -> QImage:
    placed = painter.deviceTransform()
    rect = device_rect(placed, area)
    opaque, clear = QImage.Format.Format_RGB32, QImage.Format.Format_ARGB32_Premultiplied
    image = QImage(rect.width(), rect.height(), clear if ground is None else opaque)
    image.fill(QColor(0, 0, 0, 0) if ground is None else QColor(ground))
    own = QPainter(image)
    own.setWorldTransform(placed * QTransform.fromTranslate(-rect.left(), -rect.top()))
    own.setFont(painter.font())
    draw(own)
    own.end()
    return image
