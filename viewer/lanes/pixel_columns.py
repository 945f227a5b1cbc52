"""What a trace covers of each column of pixels: two numbers a column, whatever its length and form."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.pyramid import Columns, columns, columns_by_time
from loomlight.viewer.lanes.scale import Places, Scale
from loomlight.viewer.lanes.specs import Trace

NOTHING = np.empty(0)


@dataclass(frozen=True, eq=False)
class PixelColumns:
    """A trace on its lane, in pixels from the lane's left and top edge.

    Attributes
    ----------
    top, bottom : ndarray of float64, shape (width,)
        What it reaches in each column of pixels; not-a-number where there is nothing.
    x, y : ndarray of float64, shape (n,)
        Where its samples stand, as long as each has a place of its own; else empty.
    blocks : bool
        Whether the columns stand for intervals whose least and greatest value is all that is known.
    """

    top: Places
    bottom: Places
    x: Places
    y: Places
    blocks: bool = False


def pixel_columns(trace: Trace, scale: Scale, width: int) -> PixelColumns:
    """Reduce a trace to the columns of a lane.

    Parameters
    ----------
    trace : Trace
        Of any form.
    scale : Scale
        Of the lane, with pixels that are counted from its first column and row.
    width : int
        Columns.
    """
    if trace.channel.times_s is not None:
        return _timed(trace, scale, width)
    shown = visible_columns(trace, scale)
    low, high = (-shown.high, -shown.low) if trace.upside_down else (shown.low, shown.high)
    top, bottom = scale.y_of(high, held=False), scale.y_of(low, held=False)
    if trace.channel.form == "pairs" and shown.step == 2:
        return _intervals(trace, shown, scale, top, bottom, width)
    x = scale.x_of(picture_times(trace, shown))
    if shown.step == 1:
        lowest, highest = _polyline(x, top, width)
        return PixelColumns(lowest, highest, x, top)
    # A column of samples that the lane's edge cuts may have its middle outside; what it holds is still shown.
    near = slice(*np.searchsorted(x, [-1.0, width + 1.0]).tolist())
    pixel = np.minimum(np.maximum(np.floor(x[near]), 0.0), width - 1.0)
    return PixelColumns(*joined(*_by_pixel(pixel, top[near], bottom[near], width)), NOTHING, NOTHING)


def _polyline(x: Places, y: Places, width: int) -> tuple[Places, Places]:
    """Lines from sample to sample: each column reaches over its samples and over where the line crosses its sides."""
    top, bottom = _by_pixel(np.floor(x), y, y, width)
    if x.size > 1:
        sides = np.interp(np.arange(width + 1.0), x, y, left=np.nan, right=np.nan)
        top, bottom = (reach(reach(one, sides[:-1]), sides[1:]) for reach, one in ((np.fmin, top), (np.fmax, bottom)))
    return top, bottom


def _timed(trace: Trace, scale: Scale, width: int) -> PixelColumns:
    """Samples with times of their own: joined straight, or held until the next one for ``changes``."""
    times_s = trace.channel.times_s
    assert times_s is not None
    shown = columns_by_time(trace.channel.samples, times_s, *own_view(trace, scale), width)
    if not shown.index.size:
        return PixelColumns(np.full(width, np.nan), np.full(width, np.nan), NOTHING, NOTHING)
    sign = -1.0 if trace.upside_down else 1.0
    x, x_last = (scale.x_of(trace.on_picture_all(times_s[one])) for one in (shown.index, shown.stop - 1))
    low, high, first, last = (
        scale.y_of(sign * one, held=False) for one in (shown.low, shown.high, shown.first, shown.last)
    )
    top, bottom = np.fmin(low, high), np.fmax(low, high)
    sides = np.arange(width + 1.0)
    if trace.channel.form == "changes":
        # A change is a line straight up or down, at its own time.
        both = np.isfinite(last[:-1]) & np.isfinite(first[1:])
        top[1:] = np.where(both, np.fmin(top[1:], last[:-1]), top[1:])
        bottom[1:] = np.where(both, np.fmax(bottom[1:], last[:-1]), bottom[1:])
        before = np.searchsorted(x_last, sides, side="right") - 1
        crossed = np.where((before >= 0) & (sides <= x_last[-1]), last[before], np.nan)
    else:
        places = np.column_stack([x, x_last]).ravel()
        crossed = np.interp(sides, places, np.column_stack([first, last]).ravel(), left=np.nan, right=np.nan)
    over_top, over_bottom = _by_pixel(np.floor(x), top, bottom, width)
    over_top = np.fmin(np.fmin(over_top, crossed[:-1]), crossed[1:])
    over_bottom = np.fmax(np.fmax(over_bottom, crossed[:-1]), crossed[1:])
    alone = not (shown.stop - shown.index > 1).any()
    return PixelColumns(over_top, over_bottom, x if alone else x[:0], first if alone else first[:0])


def _intervals(trace: Trace, shown: Columns, scale: Scale, top: Places, bottom: Places, width: int) -> PixelColumns:
    """Minimum and maximum of intervals that are about a pixel wide, or wider: each reaches over its whole time."""
    channel = trace.channel
    assert channel.step_s is not None
    begin = scale.x_of(trace.on_picture_all(channel.start_s + shown.index // 2 * channel.step_s))
    end = float(scale.x_of(trace.on_picture(channel.start_s + (shown.index[-1] // 2 + 1) * channel.step_s)))
    sides = np.arange(width + 1.0)
    first = np.maximum(np.searchsorted(begin, sides[:-1], side="right") - 1, 0)
    stop = np.maximum(np.searchsorted(begin, sides[1:], side="left"), first + 1)
    both = np.column_stack([first, stop]).ravel()
    over_top = np.fmin.reduceat(np.append(top, np.nan), both)[::2]
    over_bottom = np.fmax.reduceat(np.append(bottom, np.nan), both)[::2]
    outside = (sides[1:] <= begin[0]) | (sides[:-1] >= end)
    over_top[outside], over_bottom[outside] = np.nan, np.nan
    return PixelColumns(*joined(over_top, over_bottom), NOTHING, NOTHING, blocks=True)


def _by_pixel(pixel: Places, top: Places, bottom: Places, width: int) -> tuple[Places, Places]:
    """Least and greatest of what stands in each column of pixels; ``pixel`` rises."""
    over_top, over_bottom = np.full(width, np.nan), np.full(width, np.nan)
    inside = slice(*np.searchsorted(pixel, [0, width]).tolist())
    pixel, top, bottom = pixel[inside], top[inside], bottom[inside]
    if pixel.size:
        starts = np.append(0, np.flatnonzero(pixel[1:] != pixel[:-1]) + 1)
        columns_there = pixel[starts].astype(np.int64)
        over_top[columns_there] = np.fmin.reduceat(top, starts)
        over_bottom[columns_there] = np.fmax.reduceat(bottom, starts)
    return over_top, over_bottom


def joined(top: Places, bottom: Places) -> tuple[Places, Places]:
    """Columns that reach their neighbour's, so that no step is torn; nothing reaches into a gap."""
    reach_top, reach_bottom = top.copy(), bottom.copy()
    np.fmin(top[1:], bottom[:-1], out=reach_top[1:])
    np.fmax(bottom[1:], top[:-1], out=reach_bottom[1:])
    gap = np.isnan(top)
    if gap.any():
        reach_top[gap], reach_bottom[gap] = np.nan, np.nan
    return reach_top, reach_bottom


def own_view(trace: Trace, scale: Scale) -> tuple[float, float]:
    """What the lane shows, on the channel's own axis."""
    begin_s, end_s = sorted(trace.lag_s + trace.stretch * one for one in (scale.start_s, scale.stop_s))
    return begin_s, end_s


def visible_columns(trace: Trace, scale: Scale) -> Columns:
    """The part of an evenly sampled trace that the view shows, about a column a pixel, one sample beyond each edge."""
    channel = trace.channel
    assert channel.step_s is not None
    begin_s, end_s = own_view(trace, scale)
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
