"""Draw a channel of any length: a stroke a column of pixels, samples as dots where there is room, its role's marker."""

from functools import lru_cache

import numpy as np
import shiboken6
from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QImage, QPainter

from loomlight.viewer.lanes.pixel_columns import PixelColumns, joined, pixel_columns
from loomlight.viewer.lanes.raster import Overlay, Patch, checkered, patch_of, thickened
from loomlight.viewer.lanes.scale import Places, Scale
from loomlight.viewer.lanes.specs import Trace
from loomlight.viewer.roles import ROLES

DOT_PIXELS = 8.0
"""From this many pixels a sample on, samples are shown as dots."""
MARKER_WIDTH, MARKER_HEIGHT = 20, 18
MARKER_EVERY = 260
"""Pixels from one role marker to the next."""


def paint_trace(painter: QPainter, trace: Trace, scale: Scale, *, colour: str, width: float, marker: str) -> None:
    """Draw one trace inside the lane's rectangle."""
    patch = patch_of(painter.deviceTransform(), scale)
    shown = pixel_columns(trace, patch.scale, patch.width)
    if not np.isfinite(shown.top).any():
        return
    overlay, pixels = Overlay(patch), patch.pixels(width)
    if shown.blocks:
        _blocks(overlay, patch, shown, pixels, colour)
    else:
        overlay.strokes(*thickened(shown.top, shown.bottom, pixels), colour)
    if shown.x.size:
        _samples(overlay, patch, shown, pixels, colour)
    overlay.paint(painter)
    if marker:
        _markers(painter, scale, patch, shown, trace, colour, marker)


def _samples(overlay: Overlay, patch: Patch, shown: PixelColumns, pixels: int, colour: str) -> None:
    """Samples as dots where there is room; one that no line leads to or from always."""
    seen = np.isfinite(shown.y)
    if shown.x.size > 1 and (shown.x[-1] - shown.x[0]) / (shown.x.size - 1) >= DOT_PIXELS * patch.ratio:
        overlay.squares(shown.x[seen], shown.y[seen], 2 * pixels + 1, colour)
    else:
        alone = seen & ~np.append(seen[1:], False) & ~np.append(False, seen[:-1])
        overlay.squares(shown.x[alone], shown.y[alone], pixels + 1, colour)


def _blocks(overlay: Overlay, patch: Patch, shown: PixelColumns, pixels: int, colour: str) -> None:
    """Least and greatest as lines, and what lies between, where the signal was somewhere, as a half tone."""
    overlay.strokes(shown.top, shown.bottom, colour, within=checkered(patch))
    for edge in (shown.top, shown.bottom):
        overlay.strokes(*thickened(*joined(edge, edge), pixels), colour)


def draw_lines(painter: QPainter, lines: Places) -> None:
    """Draw many lines, shape (n, 4): x1 y1 x2 y2; those with a gap are left out."""
    known = np.isfinite(lines).all(axis=1)
    kept = np.ascontiguousarray(lines if known.all() else lines[known])
    if kept.size:
        painter.drawLines(shiboken6.wrapInstance(kept.ctypes.data, QLineF), len(kept))


def _markers(
    painter: QPainter, scale: Scale, patch: Patch, shown: PixelColumns, trace: Trace, colour: str, marker: str
) -> None:
    """The role's marker along the trace, so that it is told without its colour; each role at places of its own."""
    rect, font = scale.rect, painter.font()
    picture = _marker_picture(marker, colour, font.toString(), patch.ratio)
    place = list(ROLES).index(trace.role) / len(ROLES) + (int(marker) / 9 if marker.isdecimal() else 0.0)
    phase = MARKER_EVERY * (place % 1.0)
    wanted = np.arange(MARKER_EVERY / 4 + phase, rect.width(), MARKER_EVERY)
    columns = np.minimum((wanted * patch.ratio).astype(np.int64), patch.width - 1)
    heights = rect.top() + shown.top[columns] / patch.ratio
    inside = (heights >= rect.top()) & (heights <= rect.bottom())
    lefts, tops = rect.left() + wanted[inside] - MARKER_WIDTH / 2, heights[inside] - MARKER_HEIGHT - 2
    for left, top in zip(lefts.round().tolist(), tops.round().tolist(), strict=True):
        painter.drawImage(QPointF(left, top), picture)


@lru_cache(maxsize=64)
def _marker_picture(marker: str, colour: str, font: str, ratio: float) -> QImage:
    """A marker as it is laid down many times a frame."""
    size = QSize(round(MARKER_WIDTH * ratio), round(MARKER_HEIGHT * ratio))
    image = QImage(size, QImage.Format.Format_ARGB32_Premultiplied)
    image.setDevicePixelRatio(ratio)
    image.fill(QColor(0, 0, 0, 0))
    painter, letters = QPainter(image), QFont()
    letters.fromString(font)
    painter.setFont(letters)
    painter.setPen(QColor(colour))
    painter.drawText(QRectF(0, 0, MARKER_WIDTH, MARKER_HEIGHT), Qt.AlignmentFlag.AlignCenter, marker)
    painter.end()
    return image
