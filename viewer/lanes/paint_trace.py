"""Draw a channel of any length: one vertical stroke a pixel column, straight from a numpy buffer."""

import numpy as np
import numpy.typing as npt
import shiboken6
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from loomlight.signal.pyramid import Columns, columns
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Trace

Lines = npt.NDArray[np.float64]
DOT_PIXELS = 8.0
"""From this many pixels a sample on, samples are shown as dots."""
MARKER_EVERY = 260
"""Pixels from one role marker to the next."""


def paint_trace(painter: QPainter, trace: Trace, scale: Scale, *, colour: str, width: float, marker: str) -> None:
    """Draw one trace inside the lane's rectangle."""
    shown = visible_columns(trace, scale)
    if not shown.index.size:
        return
    times = picture_times(trace, shown)
    low, high = (-shown.high, -shown.low) if trace.upside_down else (shown.low, shown.high)
    x = scale.x_of(times)
    top, bottom = scale.y_of(high), scale.y_of(low)
    pen = QPen(QColor(colour), width)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(pen)
    if shown.step > 1 or trace.channel.form == "pairs":
        draw_lines(painter, _strokes(x, top, bottom))
    elif trace.channel.form == "changes":
        draw_lines(painter, _stairs(x, top, scale.rect.right()))
    else:
        draw_lines(painter, _polyline(x, top))
        if x.size > 1 and (x[-1] - x[0]) / (x.size - 1) >= DOT_PIXELS:
            _dots(painter, x, top, width)
    if marker:
        _markers(painter, x, top, scale.rect, marker, colour)


def visible_columns(trace: Trace, scale: Scale) -> Columns:
    """The part of a trace that the view shows, reduced to about a column a pixel, one sample beyond each edge."""
    channel = trace.channel
    begin_s, end_s = sorted(trace.lag_s + trace.stretch * one for one in (scale.start_s, scale.stop_s))
    if channel.times_s is not None:
        first = int(np.searchsorted(channel.times_s, begin_s)) - 1
        last = int(np.searchsorted(channel.times_s, end_s, side="right")) + 1
    else:
        assert channel.step_s is not None
        per = 2 if channel.form == "pairs" else 1
        first = per * (int(np.floor((begin_s - channel.start_s) / channel.step_s)) - 1)
        last = per * (int(np.ceil((end_s - channel.start_s) / channel.step_s)) + 2)
    shown = columns(channel.samples, trace.pyramid, first, last, max(int(scale.rect.width()), 1))
    if channel.form == "pairs" and shown.step == 1 and shown.index.size:
        pairs = shown.low.reshape(-1, 2)
        return Columns(shown.index[::2], pairs.min(axis=1), pairs.max(axis=1), 2)
    return shown


def picture_times(trace: Trace, shown: Columns) -> npt.NDArray[np.float64]:
    """Time of each column's middle on the picture's axis."""
    channel = trace.channel
    middle = shown.index + 0.5 * (shown.step - 1)
    if channel.times_s is not None:
        own = channel.times_s[np.minimum(middle.astype(np.int64), channel.times_s.size - 1)]
    else:
        assert channel.step_s is not None
        own = channel.start_s + middle / (2 if channel.form == "pairs" else 1) * channel.step_s
    on_picture: npt.NDArray[np.float64] = (own - trace.lag_s) / trace.stretch
    return on_picture


def draw_lines(painter: QPainter, lines: Lines) -> None:
    """Draw many lines, shape (n, 4): x1 y1 x2 y2; those with a gap are left out."""
    known = np.isfinite(lines).all(axis=1)
    kept = np.ascontiguousarray(lines if known.all() else lines[known])
    if kept.size:
        painter.drawLines(shiboken6.wrapInstance(kept.ctypes.data, QLineF), len(kept))


def _strokes(x: Lines, top: Lines, bottom: Lines) -> Lines:
    """One vertical stroke a column, reaching its neighbour's so that no step is torn, and half a pixel at least."""
    reach_top, reach_bottom = top.copy(), bottom.copy()
    reach_top[1:] = np.fmin(top[1:], np.where(np.isfinite(bottom[:-1]), bottom[:-1], top[1:]))
    reach_bottom[1:] = np.fmax(bottom[1:], np.where(np.isfinite(top[:-1]), top[:-1], bottom[1:]))
    thin = reach_bottom - reach_top < 1.0
    reach_top[thin], reach_bottom[thin] = reach_top[thin] - 0.5, reach_bottom[thin] + 0.5
    return np.column_stack([x, reach_top, x, reach_bottom])


def _polyline(x: Lines, y: Lines) -> Lines:
    return (
        np.column_stack([x[:-1], y[:-1], x[1:], y[1:]]) if x.size > 1 else np.array([[x[0] - 1, y[0], x[0] + 1, y[0]]])
    )


def _stairs(x: Lines, y: Lines, right: float) -> Lines:
    ends = np.concatenate([x[1:], [max(right, x[-1])]])
    level = np.column_stack([x, y, ends, y])
    rise = np.column_stack([x[1:], y[:-1], x[1:], y[1:]])
    return np.concatenate([level, rise])


def _dots(painter: QPainter, x: Lines, y: Lines, width: float) -> None:
    for at, height in zip(x.tolist(), y.tolist(), strict=True):
        if np.isfinite(height):
            painter.drawEllipse(QPointF(at, height), width, width)


def _markers(painter: QPainter, x: Lines, top: Lines, rect: QRectF, marker: str, colour: str) -> None:
    """The role's marker along the trace, so that it is told without its colour."""
    painter.setPen(QColor(colour))
    wanted = np.arange(rect.left() + MARKER_EVERY / 2, rect.right(), MARKER_EVERY)
    places = np.unique(np.clip(np.searchsorted(x, wanted), 0, x.size - 1))
    for place in places.tolist():
        height = float(top[place])
        if np.isfinite(height) and rect.left() <= x[place] <= rect.right():
            painter.drawText(QRectF(x[place] - 10, height - 20, 20, 18), Qt.AlignmentFlag.AlignCenter, marker)
