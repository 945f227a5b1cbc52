"""Pixels of a lane, filled by numpy a column at a time and laid over what is painted already.

Thousands of strokes a lane cost Qt several milliseconds, one at a time. A mask of the whole lane, filled by one comparison
and drawn as one picture, costs a fifth of a millisecond whatever it shows, at any width of line.
"""

import math
import threading
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PySide6.QtGui import QImage, QPaintEngine, QPainter, QTransform

from loomlight.viewer.lanes.device import device_rect, draw_on_device
from loomlight.viewer.lanes.scale import Places, Scale

Mask = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]


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


def patch_of(placed: QTransform, scale: Scale) -> Patch:
    """The pixels under a lane, where ``placed`` is the painter's `deviceTransform`."""
    there = device_rect(placed, scale.rect)
    left, top = there.left(), there.top()
    rect = placed.mapRect(scale.rect).translated(-left, -top)
    own = Scale(rect, scale.start_s, scale.stop_s, scale.low, scale.high)
    return Patch(left, top, there.width(), there.height(), placed.m11(), own)


class _Spare(threading.local):
    """Memory that each frame fills anew: to ask the system for a lane's pixels takes longer than to fill them."""

    def __init__(self) -> None:
        self._bytes: dict[str, npt.NDArray[np.uint8]] = {}

    def rows(self, use: str, kind: npt.DTypeLike, shape: tuple[int, int]) -> npt.NDArray[np.generic]:
        """An array with anything in it, the same memory for each ``use``."""
        wanted = math.prod(shape) * np.dtype(kind).itemsize
        kept = self._bytes.get(use)
        if kept is None or kept.size < wanted:
            kept = self._bytes[use] = np.empty(wanted, np.uint8)
        return kept[:wanted].view(kind).reshape(shape)


_SPARE = _Spare()


class Overlay:
    """Opaque pixels on a patch, the rest clear; to be painted before the next one of the same thread is begun."""

    def __init__(self, patch: Patch) -> None:
        self._patch = patch
        shape = patch.height, patch.width
        self._pixels = _SPARE.rows("pixels", np.uint32, shape)
        # The narrowest numbers that count the rows: the time goes by the bytes.
        self._kind = np.dtype(np.uint8 if patch.height < 256 else np.uint16)
        self._filled = _SPARE.rows("filled", np.bool_, shape)
        self._below = _SPARE.rows("below", self._kind, shape)
        self._begin = self._end = 0  # rows that were cleared or filled; the others hold anything

    def strokes(self, top: Places, bottom: Places, colour: str, *, within: Mask | None = None) -> None:
        """Fill each column of pixels from ``top`` to ``bottom``, shape (width,), the row of ``bottom`` left out.

        Columns with a not-a-number stay clear; ``within`` lets only some pixels be filled.
        """
        # Not-a-number fails every comparison, and is never used.
        first = np.floor(np.maximum(top, 0.0))
        stop = np.floor(np.minimum(bottom, self._patch.height))
        used = stop > first
        if not used.any():
            return
        first, count = np.where(used, first, 0.0), np.where(used, stop - first, 0.0)
        begin, end = int(np.min(first, where=used, initial=self._patch.height)), int((first + count).max())
        filled, below = self._filled[begin:end], self._below[begin:end]
        rows = np.arange(begin, end, dtype=self._kind)[:, np.newaxis]
        # One comparison: rows above the first wrap round to large numbers.
        np.subtract(rows, first.astype(self._kind), out=below)
        np.less(below, count.astype(self._kind), out=filled)
        if within is not None:
            filled &= within[begin:end]
        if self._begin == self._end:
            np.multiply(filled, _pixel(colour), out=self._pixels[begin:end])
            self._begin, self._end = begin, end
        else:
            self._clear(begin, end)
            np.copyto(self._pixels[begin:end], _pixel(colour), where=filled)

    def _clear(self, begin: int, end: int) -> None:
        """Make sure that some rows can be filled in part."""
        if self._begin == self._end:
            self._begin = self._end = begin
        self._pixels[begin : self._begin] = 0
        self._pixels[self._end : end] = 0
        self._begin, self._end = min(begin, self._begin), max(end, self._end)

    def rows(self, first: int, stop: int, columns: Numbers, colour: str) -> None:
        """Fill rows ``first`` to ``stop`` (not included) of some columns."""
        first, stop = max(first, 0), min(stop, self._patch.height)
        if first >= stop or not columns.size:
            return
        self._clear(first, stop)
        if stop - first < 8:
            for row in range(first, stop):  # a row lies together in memory, columns do not
                self._pixels[row, columns] = _pixel(colour)
        else:
            self._pixels[first:stop, columns] = _pixel(colour)

    def squares(self, x: Places, y: Places, side: int, colour: str) -> None:
        """Fill a square around each of a few places."""
        if not x.size:
            return
        down, across = np.divmod(np.arange(side * side), side)
        columns = (np.floor(x - (side - 1) / 2)[:, np.newaxis] + across).ravel()
        rows = (np.floor(y - (side - 1) / 2)[:, np.newaxis] + down).ravel()
        inside = (columns >= 0) & (columns < self._patch.width) & (rows >= 0) & (rows < self._patch.height)
        if inside.any():
            rows, columns = rows[inside].astype(np.int64), columns[inside].astype(np.int64)
            self._clear(int(rows.min()), int(rows.max()) + 1)
            self._pixels[rows, columns] = _pixel(colour)

    def paint(self, painter: QPainter) -> None:
        """Lay the pixels over the picture."""
        if self._begin == self._end:
            return
        # Opaque or clear: what Qt lays over a picture fastest. (From a table of colours it takes ten times as long.)
        used = self._pixels[self._begin : self._end]
        height, width = used.shape
        image = QImage(used.data, width, height, 4 * width, QImage.Format.Format_ARGB32_Premultiplied)
        if painter.paintEngine().type() != QPaintEngine.Type.Raster:
            image = image.copy()  # such an engine may look at it later
        draw_on_device(painter, self._patch.left, self._patch.top + self._begin, image)


def _pixel(colour: str) -> np.uint32:
    return np.uint32(0xFF000000 | int(colour[1:], 16))


def rising_lines(patch: Patch, apart: int) -> Mask:
    """Pixels of rising lines, ``apart`` pixels from one to the next, at the same places of the device in every lane."""
    first = (patch.left + patch.top) % apart
    thick = max(apart // 8, 1)  # finer pixels, as for print, take more of them a line
    row = (np.arange(patch.width + patch.height) + first) % apart < thick
    # Each row is the one above, moved by a pixel: a view, nothing is copied.
    return np.lib.stride_tricks.as_strided(row, (patch.height, patch.width), (1, 1), writeable=False)


def falling_lines(patch: Patch, apart: int) -> Mask:
    """As `rising_lines`, the other way."""
    return rising_lines(patch, apart)[::-1]


def checkered(patch: Patch) -> Mask:
    """Every other pixel, by row and column."""
    return rising_lines(patch, 2)


def thickened(top: Places, bottom: Places, pixels: int) -> tuple[Places, Places]:
    """Columns of a line of no width, for one of ``pixels``; a column with nothing in it stays so."""
    wide_top, wide_bottom = top.copy(), bottom.copy()
    for shift in range(1, pixels):
        # In turn from the left and from the right.
        by = -((shift + 1) // 2) if shift % 2 else shift // 2
        there, here = (slice(None, by), slice(-by, None)) if by < 0 else (slice(by, None), slice(None, -by))
        np.fmin(wide_top[here], top[there], out=wide_top[here])
        np.fmax(wide_bottom[here], bottom[there], out=wide_bottom[here])
    gap = np.isnan(top)
    if gap.any():
        wide_top[gap] = np.nan
    up = 0.5 * (pixels - 1)
    return wide_top - up, np.floor(wide_bottom - up) + pixels
