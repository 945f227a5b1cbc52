"""Least and greatest value of stretches of samples, for drawing a capture of any length without losing a spike.

The first level holds 64 samples a bucket, each further one 8 buckets of the level below.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import BLOCK, Samples, Times, Wave, blocks, finite_range

FIRST_BUCKET = 64
GROWTH = 8
COARSEST_BUCKETS = 64
"""No further level once one has this few buckets."""


@dataclass(frozen=True, eq=False)
class Level:
    """One level: ``low[i]`` and ``high[i]`` over ``bucket`` samples from ``i·bucket``; the last may be shorter."""

    bucket: int
    low: Wave
    high: Wave


@dataclass(frozen=True, eq=False)
class Pyramid:
    """All levels of one channel's samples, finest first; empty for a channel shorter than one bucket."""

    size: int
    levels: tuple[Level, ...]


def min_max(values: Wave, bucket: int) -> tuple[Wave, Wave]:
    """Least and greatest of each ``bucket`` values; the last bucket may be shorter; not-a-number only if all are.

    Parameters
    ----------
    values : ndarray, shape (n,), n > 0
        Samples in the channel's unit.
    bucket : int
        Samples a bucket.

    Returns
    -------
    low, high : ndarray, shape (ceil(n / bucket),)
        In the channel's unit.
    """
    starts = np.arange(0, values.size, bucket)
    low, high = np.minimum.reduceat(values, starts), np.maximum.reduceat(values, starts)
    if np.isnan(low).any():
        # fmin and fmax, a fifth slower, pass over not-a-number: a gap must not hide the samples beside it.
        return np.fmin.reduceat(values, starts), np.fmax.reduceat(values, starts)
    return low, high


def build_pyramid(samples: Samples, progress: Progress = unwatched) -> Pyramid:
    """Build all levels in one pass over the samples.

    Parameters
    ----------
    samples : Samples
        Any length.
    progress : Progress
        0 to 1 over the samples.
    """
    if samples.size <= FIRST_BUCKET:
        return Pyramid(samples.size, ())
    assert BLOCK % FIRST_BUCKET == 0
    parts = [min_max(values, FIRST_BUCKET) for _, values in blocks(samples, progress)]
    low = np.concatenate([part[0] for part in parts])
    high = np.concatenate([part[1] for part in parts])
    levels = [Level(FIRST_BUCKET, low, high)]
    while levels[-1].low.size > COARSEST_BUCKETS:
        finer = levels[-1]
        starts = np.arange(0, finer.low.size, GROWTH)
        low, high = np.fmin.reduceat(finer.low, starts), np.fmax.reduceat(finer.high, starts)
        levels.append(Level(finer.bucket * GROWTH, low, high))
    return Pyramid(samples.size, tuple(levels))


def pyramid_of(samples: Samples, progress: Progress = unwatched) -> Pyramid:
    """The pyramid that the samples bring along (`pyramid`, from a file), else one built from them."""
    stored = getattr(samples, "pyramid", None)
    if isinstance(stored, Pyramid) and stored.size == samples.size:
        return stored
    return build_pyramid(samples, progress)


def reach(samples: Samples, pyramid: Pyramid, progress: Progress = unwatched) -> tuple[float, float] | None:
    """Least and greatest finite sample, or None where there is none: from the pyramid, where it can tell.

    Parameters
    ----------
    samples : Samples
        The channel's; read only where the pyramid has none, or holds an infinite value that hides the others.
    pyramid : Pyramid
        Of the same samples.
    progress : Progress
        0 to 1 over the samples, where they are read.
    """
    if pyramid.levels:
        low, high = np.fmin.reduce(pyramid.levels[-1].low), np.fmax.reduce(pyramid.levels[-1].high)
        if np.isfinite(low) and np.isfinite(high):
            return float(low), float(high)
        if np.isnan(low) and np.isnan(high):
            return None
    return finite_range(samples, progress)


@dataclass(frozen=True, eq=False)
class Columns:
    """What to draw for a stretch of samples.

    Attributes
    ----------
    index : ndarray of int64, shape (n,)
        First sample of each column; of single samples their index.
    low, high : ndarray of float32, shape (n,)
        Least and greatest of each column's samples; the same where every sample is drawn.
    step : int
        Samples a column; 1 where every sample is drawn.
    """

    index: npt.NDArray[np.int64]
    low: Wave
    high: Wave
    step: int


def columns(samples: Samples, pyramid: Pyramid, first: int, last: int, width: int) -> Columns:
    """Reduce samples ``first`` to ``last`` to about one column a pixel, without losing one.

    Columns are whole numbers of buckets and start at multiples of the column's step, so that nothing shimmers while the
    view is panned, and each sample belongs to exactly one column. Below four samples a pixel all samples are given.

    Parameters
    ----------
    samples : Samples
        The channel's.
    pyramid : Pyramid
        Of the same samples.
    first, last : int
        Half-open range, cut to what there is.
    width : int
        Pixels.
    """
    first, last = max(first, 0), min(last, samples.size)
    a_pixel = (last - first) / max(width, 1)
    if last <= first:
        empty = np.empty(0, np.float32)
        return Columns(np.empty(0, np.int64), empty, empty, 1)
    if a_pixel < 4:
        values = samples.block(first, last)
        return Columns(np.arange(first, last), values, values, 1)
    fitting = [level for level in pyramid.levels if level.bucket <= a_pixel / 4]
    bucket = fitting[-1].bucket if fitting else 1
    buckets = int(a_pixel / bucket)
    step = bucket * buckets
    begin, end = first // step, -(-last // step)
    if fitting:
        low, high = (row[begin * buckets : end * buckets] for row in (fitting[-1].low, fitting[-1].high))
    else:
        low = high = samples.block(begin * step, min(end * step, samples.size))
    starts = np.arange(0, low.size, buckets)
    low, high = np.fmin.reduceat(low, starts), np.fmax.reduceat(high, starts)
    return Columns((begin + np.arange(starts.size)) * step, low, high, step)


@dataclass(frozen=True, eq=False)
class TimedColumns:
    """What to draw of samples that do not lie evenly in time.

    Attributes
    ----------
    index, stop : ndarray of int64, shape (n,)
        First sample of each column, and the one after its last.
    low, high : ndarray of float32, shape (n,)
        Least and greatest of each column's samples.
    first, last : ndarray of float32, shape (n,)
        Value of each column's first and last sample: what joins it to its neighbours.
    """

    index: npt.NDArray[np.int64]
    stop: npt.NDArray[np.int64]
    low: Wave
    high: Wave
    first: Wave
    last: Wave


def columns_by_time(samples: Samples, times_s: Times, begin_s: float, end_s: float, width: int) -> TimedColumns:
    """Reduce samples with times of their own to one column a pixel at most, without losing one.

    A column holds the samples of one pixel's stretch of time; stretches without a sample have none. One sample beyond
    each end is given too, so that lines reach the edges. Where samples are fewer than pixels each has its own column.

    Parameters
    ----------
    samples : Samples
        The channel's.
    times_s : ndarray of float64, shape (samples.size,)
        Rising.
    begin_s, end_s : float
        What is to be drawn, seconds, ``begin_s < end_s``.
    width : int
        Pixels.
    """
    first = max(int(np.searchsorted(times_s, begin_s)) - 1, 0)
    last = min(int(np.searchsorted(times_s, end_s, side="right")) + 1, samples.size)
    if last - first <= width:
        starts = np.arange(first, last)
    else:
        edges = np.searchsorted(times_s, np.linspace(begin_s, end_s, width + 1))
        starts = np.unique(np.concatenate([[first], np.clip(edges, first, last - 1)]))
    if not starts.size:
        empty = np.empty(0, np.float32)
        return TimedColumns(starts, starts, empty, empty, empty, empty)
    stops = np.append(starts[1:], last)
    values = samples.block(first, last)
    low, high = np.fmin.reduceat(values, starts - first), np.fmax.reduceat(values, starts - first)
    return TimedColumns(starts, stops, low, high, values[starts - first], values[stops - 1 - first])
