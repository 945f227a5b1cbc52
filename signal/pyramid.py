"""Least and greatest value of stretches of samples, for drawing a capture of any length without losing a spike.

The first level holds 64 samples a bucket, each further one 8 buckets of the level below.
"""

from dataclasses import dataclass

import numpy as np

from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import BLOCK, Samples, Wave, blocks

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
    # fmin and fmax pass over not-a-number: a gap must not hide the samples beside it.
    return np.fmin.reduceat(values, starts), np.fmax.reduceat(values, starts)


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
