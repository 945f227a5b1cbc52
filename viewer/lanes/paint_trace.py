"""Draw a channel of any length: one vertical stroke a pixel column, straight from a numpy buffer."""

import numpy as np
import numpy.typing as npt
import shiboken6
from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from loomlight.signal.pyramid import Columns, columns, columns_by_time
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Trace
from loomlight.viewer.roles import ROLES

Lines = npt.NDArray[np.float64]
DOT_PIXELS = 8.0
"""From this many pixels a sample on, samples are shown as dots."""
CROWDED = 1.5
"""From this many samples a pixel on, strokes a pixel wide look the same as lines from sample to sample."""
MARKER_EVERY = 260
"""Pixels from one role marker to the next."""


def paint_trace(painter: QPainter, trace: Trace, scale: Scale, *, colour: str, width: float, marker: str) -> None:
    """Draw one trace inside the lane's rectangle."""
    pen = QPen(QColor(colour), width)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(pen)
    if trace.channel.times_s is not None:
        x, y = _paint_timed(painter, trace, scale, width)
    else:
        x, y = _paint_even(painter, trace, scale, width)
    if marker and x.size:
        phase = MARKER_EVERY * list(ROLES).index(trace.role) / len(ROLES)
        _markers(painter, x, y, scale.rect, marker, colour, phase)


def _paint_even(painter: QPainter, trace: Trace, scale: Scale, width: float) -> tuple[Lines, Lines]:
    shown = visible_columns(trace, scale)
    x = scale.x_of(picture_times(trace, shown))
    low, high = (-shown.high, -shown.low) if trace.upside_down else (shown.low, shown.high)
    top, bottom = scale.y_of(high), scale.y_of(low)
    if shown.step == 1 and x.size > CROWDED * scale.rect.width():
        x, top, bottom = _by_pixel(x, top, bottom)
    if shown.step > 1 or x.size < shown.index.size:
        painter.setPen(QPen(painter.pen().color(), 1))
        draw_lines(painter, _strokes(x, top, bottom, max(round(width), 1)))
        return x, top
    y = scale.y_of(high, held=False)
    draw_lines(painter, _held(_polyline(x, y), scale.rect))
    if x.size > 1 and (x[-1] - x[0]) / (x.size - 1) >= DOT_PIXELS:
        _dots(painter, x, y, scale.rect, width)
    return x, y


def _paint_timed(painter: QPainter, trace: Trace, scale: Scale, width: float) -> tuple[Lines, Lines]:
    """Samples with times of their own: a stroke for each column's range, and lines from column to column."""
    times_s = trace.channel.times_s
    assert times_s is not None
    shown = columns_by_time(trace.channel.samples, times_s, *_own_view(trace, scale), max(int(scale.rect.width()), 1))
    if not shown.index.size:
        return np.empty(0), np.empty(0)
    sign = -1.0 if trace.upside_down else 1.0
    x, x_last = (scale.x_of(trace.on_picture_all(times_s[one])) for one in (shown.index, shown.stop - 1))
    low, high, first, last = (
        scale.y_of(sign * one, held=False) for one in (shown.low, shown.high, shown.first, shown.last)
    )
    several = shown.stop - shown.index > 1
    thin = np.where(low - high < 1.0, 0.5, 0.0)
    lines = [np.column_stack([x, low + thin, x, high - thin])[several], _alone(x, first)]
    if trace.channel.form == "changes":
        lines.append(np.column_stack([x_last[:-1], last[:-1], x[1:], last[:-1]]))
        lines.append(np.column_stack([x[1:], last[:-1], x[1:], first[1:]]))
    else:
        lines.append(np.column_stack([x_last[:-1], last[:-1], x[1:], first[1:]]))
    draw_lines(painter, _held(np.concatenate(lines), scale.rect))
    if x.size > 1 and not several.any() and (x[-1] - x[0]) / (x.size - 1) >= DOT_PIXELS:
        _dots(painter, x, first, scale.rect, width)
    return x, high


def _own_view(trace: Trace, scale: Scale) -> tuple[float, float]:
    """What the lane shows, on the channel's own axis."""
    begin_s, end_s = sorted(trace.lag_s + trace.stretch * one for one in (scale.start_s, scale.stop_s))
    return begin_s, end_s


def visible_columns(trace: Trace, scale: Scale) -> Columns:
    """The part of an evenly sampled trace that the view shows, about a column a pixel, one sample beyond each edge."""
    channel = trace.channel
    assert channel.step_s is not None
    begin_s, end_s = _own_view(trace, scale)
    per = 2 if channel.form == "pairs" else 1
    first = per * (int(np.floor((begin_s - channel.start_s) / channel.step_s)) - 1)
    last = per * (int(np.ceil((end_s - channel.start_s) / channel.step_s)) + 2)
    shown = columns(channel.samples, trace.pyramid, first, last, max(int(scale.rect.width()), 1))
    if channel.form == "pairs" and shown.step == 1:
        pairs = shown.low.reshape(-1, 2)
        return Columns(shown.index[::2], np.fmin(*pairs.T), np.fmax(*pairs.T), 2)
    return shown


def picture_times(trace: Trace, shown: Columns) -> npt.NDArray[np.float64]:
    """Time of each column's middle on the picture's axis."""
    channel = trace.channel
    assert channel.step_s is not None
    if channel.form == "pairs":  # each pair stands for a whole interval, not for an instant
        return trace.on_picture_all(channel.start_s + 0.5 * (shown.index + 0.5 * shown.step) * channel.step_s)
    return trace.on_picture_all(channel.start_s + (shown.index + 0.5 * (shown.step - 1)) * channel.step_s)


def draw_lines(painter: QPainter, lines: Lines) -> None:
    """Draw many lines, shape (n, 4): x1 y1 x2 y2; those with a gap are left out."""
    known = np.isfinite(lines).all(axis=1)
    kept = np.ascontiguousarray(lines if known.all() else lines[known])
    if kept.size:
        painter.drawLines(shiboken6.wrapInstance(kept.ctypes.data, QLineF), len(kept))


def _by_pixel(x: Lines, top: Lines, bottom: Lines) -> tuple[Lines, Lines, Lines]:
    """Least and greatest of the samples in each column of pixels: thousands of sloping lines take many times as long."""
    pixel = np.floor(x)
    starts = np.flatnonzero(np.concatenate([[True], pixel[1:] != pixel[:-1]]))
    return pixel[starts] + 0.5, np.fmin.reduceat(top, starts), np.fmax.reduceat(bottom, starts)


def _strokes(x: Lines, top: Lines, bottom: Lines, pixels: int) -> Lines:
    """One vertical stroke a column, reaching its neighbour's so that no step is torn.

    Columns stand a pixel apart, so a line of several ``pixels`` is drawn by strokes one pixel wide that reach over their
    neighbours too: many times faster than a wide pen, which draws each pixel several times.
    """
    reach_top, reach_bottom = top.copy(), bottom.copy()
    both = np.isfinite(bottom[:-1]) & np.isfinite(top[1:])  # a gap is not reached into
    reach_top[1:][both] = np.minimum(top[1:], bottom[:-1])[both]
    reach_bottom[1:][both] = np.maximum(bottom[1:], top[:-1])[both]
    known = np.isfinite(reach_top)
    wide_top, wide_bottom = reach_top.copy(), reach_bottom.copy()
    for shift in range(1, pixels):
        # In turn from the left and from the right.
        there, here = (slice(None, -1), slice(1, None)) if shift % 2 else (slice(1, None), slice(None, -1))
        wide_top[here] = np.fmin(wide_top[here], reach_top[there])
        wide_bottom[here] = np.fmax(wide_bottom[here], reach_bottom[there])
    wide_top[~known] = np.nan
    lacking = np.maximum(pixels - (wide_bottom - wide_top), 0.0) / 2
    return np.column_stack([x, wide_top - lacking, x, wide_bottom + lacking])


def _polyline(x: Lines, y: Lines) -> Lines:
    return np.concatenate([np.column_stack([x[:-1], y[:-1], x[1:], y[1:]]), _alone(x, y)])


def _alone(x: Lines, y: Lines) -> Lines:
    """A short line for each sample that has a gap, or nothing, on both sides."""
    padded = np.concatenate([[False], np.isfinite(y), [False]])
    alone = padded[1:-1] & ~padded[:-2] & ~padded[2:]
    return np.column_stack([x[alone] - 1.0, y[alone], x[alone] + 1.0, y[alone]])


def _held(lines: Lines, rect: QRectF) -> Lines:
    """Lines cut a little outside the lane's left and right edge, on their own slope: deep zooms reach very far."""
    low, high = rect.left() - 8.0, rect.right() + 8.0
    for near, far in ((0, 2), (2, 0)):
        at, other = lines[:, near], lines[:, far]
        for edge, out in ((low, (at < low) & (other > low)), (high, (at > high) & (other < high))):
            if out.any():
                cut = lines[out]
                share = (edge - cut[:, near]) / (cut[:, far] - cut[:, near])
                lines[out, near + 1] = cut[:, near + 1] + share * (cut[:, far + 1] - cut[:, near + 1])
                lines[out, near] = edge
    return lines


def _dots(painter: QPainter, x: Lines, y: Lines, rect: QRectF, width: float) -> None:
    seen = np.isfinite(y) & (x >= rect.left() - 8) & (x <= rect.right() + 8)
    side = np.full(int(seen.sum()), 2.0 * width + 1.0)
    squares = np.column_stack([x[seen] - side / 2, y[seen] - side / 2, side, side])
    if squares.size:
        painter.setBrush(painter.pen().color())
        painter.setPen(Qt.PenStyle.NoPen)
        painter.drawRects(shiboken6.wrapInstance(squares.ctypes.data, QRectF), len(squares))
        painter.setBrush(Qt.BrushStyle.NoBrush)


def _markers(painter: QPainter, x: Lines, y: Lines, rect: QRectF, marker: str, colour: str, phase: float) -> None:
    """The role's marker along the trace, so that it is told without its colour; each role at places of its own."""
    painter.setPen(QColor(colour))
    wanted = np.arange(rect.left() + MARKER_EVERY / 4 + phase, rect.right(), MARKER_EVERY)
    wanted = wanted[(wanted >= x[0]) & (wanted <= x[-1])]
    for at, height in zip(wanted.tolist(), np.interp(wanted, x, y).tolist(), strict=True):
        if rect.top() <= height <= rect.bottom():
            painter.drawText(QRectF(at - 10, height - 20, 20, 18), Qt.AlignmentFlag.AlignCenter, marker)
