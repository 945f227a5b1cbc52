"""Pixels of a lane, filled by numpy a column at a time and laid over what is painted already.

Thousands of strokes a lane cost Qt several milliseconds, one at a time. A mask of the whole lane, filled by one comparison
and drawn as one picture, costs a fifth of a millisecond whatever it shows, at any width of line.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from PySide6.QtGui import QColor, QImage, QPainter

from loomlight.viewer.lanes.scale import Places, Scale

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Patch:
    """The device's pixels that a lane covers.

    Attributes
    ----------
    left, top : int
        Place of its first pixel on the device.
    width, height : int
        Pixels.
    ratio : float
        Device pixels a unit of the painter: 1.5 on a screen that is magnified so.
    scale : Scale
        The lane's scale, in pixels of the patch.
    """

    left: int
    top: int
    width: int
    height: int
    ratio: float
    scale: Scale

    def pixels(self, units: float) -> int:
        """A width in whole device pixels, one at least."""
        return max(round(units * self.ratio), 1)


def patch_of(painter: QPainter, scale: Scale) -> Patch:
    """The pixels under a lane, on whatever the painter paints on."""
    placed = painter.deviceTransform()
    rect = placed.mapRect(scale.rect)
    left, top = math.floor(rect.left() + 1e-6), math.floor(rect.top() + 1e-6)
    width, height = math.ceil(rect.right() - 1e-6) - left, math.ceil(rect.bottom() - 1e-6) - top
    own = replace(scale, rect=rect.translated(-left, -top))
    return Patch(left, top, max(width, 1), max(height, 1), placed.m11(), own)


class Ink:
    """One colour's pixels on a patch."""

    def __init__(self, patch: Patch) -> None:
        self._patch = patch
        self._mask: Mask = np.zeros((patch.height, patch.width), np.bool_)
        # The narrowest numbers that count the rows: the time goes by the bytes.
        kind = np.uint8 if patch.height < 256 else np.uint16
        self._rows = np.arange(patch.height, dtype=kind)[:, np.newaxis]

    def strokes(self, top: Places, bottom: Places, *, within: Mask | None = None) -> None:
        """Fill each column of pixels from ``top`` to ``bottom``, shape (width,), the row of ``bottom`` left out.

        Columns with a not-a-number stay clear; ``within`` lets only some pixels be filled.
        """
        known = np.isfinite(top) & np.isfinite(bottom)
        first, stop = (np.clip(np.where(known, np.floor(one), 0.0), 0, self._patch.height) for one in (top, bottom))
        kind = self._rows.dtype
        # One comparison: rows above the first wrap round to large numbers.
        filled = self._rows - first.astype(kind) < np.maximum(stop - first, 0.0).astype(kind)
        if within is not None:
            filled &= within
        self._mask |= filled

    def squares(self, x: Places, y: Places, side: int) -> None:
        """Fill a square around each of a few places."""
        across, down = np.meshgrid(np.arange(side), np.arange(side))
        columns = (np.floor(x - (side - 1) / 2)[:, np.newaxis] + across.ravel()).ravel()
        rows = (np.floor(y - (side - 1) / 2)[:, np.newaxis] + down.ravel()).ravel()
        inside = (columns >= 0) & (columns < self._patch.width) & (rows >= 0) & (rows < self._patch.height)
        self._mask[rows[inside].astype(np.int64), columns[inside].astype(np.int64)] = True

    def paint(self, painter: QPainter, colour: str) -> None:
        """Lay the pixels over the picture."""
        # Opaque or clear: what Qt lays over a picture fastest. (From a table of colours it takes ten times as long.)
        pixels = self._mask * np.uint32(QColor(colour).rgba())
        height, width = pixels.shape
        image = QImage(pixels.data, width, height, 4 * width, QImage.Format.Format_ARGB32_Premultiplied)
        painter.save()
        # Pixel on pixel, so that nothing is smoothed or moved on a magnified screen.
        painter.setWorldTransform(painter.deviceTransform().inverted()[0] * painter.worldTransform())
        painter.drawImage(self._patch.left, self._patch.top, image)
        painter.restore()


def rising_lines(patch: Patch, apart: int) -> Mask:
    """Pixels of rising lines, ``apart`` pixels from one to the next, at the same places of the device in every lane."""
    first = (patch.left + patch.top) % apart
    row = (np.arange(patch.width + patch.height) + first) % apart == 0
    # Each row is the one above, moved by a pixel: a view, nothing is copied.
    return np.lib.stride_tricks.as_strided(row, (patch.height, patch.width), (1, 1), writeable=False)


def checkered(patch: Patch) -> Mask:
    """Every other pixel, by row and column."""
    return rising_lines(patch, 2)


def thickened(top: Places, bottom: Places, pixels: int) -> tuple[Places, Places]:
    """Columns of a line of no width, for one of ``pixels``; a column with nothing in it stays so."""
    known = np.isfinite(top) & np.isfinite(bottom)
    wide_top, wide_bottom = top.copy(), bottom.copy()
    for shift in range(1, pixels):
        # In turn from the left and from the right.
        by = -((shift + 1) // 2) if shift % 2 else shift // 2
        there, here = (slice(None, by), slice(-by, None)) if by < 0 else (slice(by, None), slice(None, -by))
        wide_top[here] = np.fmin(wide_top[here], top[there])
        wide_bottom[here] = np.fmax(wide_bottom[here], bottom[there])
    wide_top[~known] = np.nan
    up = 0.5 * (pixels - 1)
    return wide_top - up, np.floor(wide_bottom - up) + pixels
