"""A channel in a bounded number of buckets: least, greatest and mean of each, walked once."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import BLOCK

Row = npt.NDArray[np.float64]

MOST_BUCKETS = 65_536


@dataclass(frozen=True, eq=False)
class Outline:
    """A channel, coarser.

    Attributes
    ----------
    start_s : float
        Begin of the first bucket, seconds on the channel's axis.
    step_s : float
        Length of a bucket.
    instants : int
        Instants a bucket; 1 where the channel was short enough to be kept whole.
    least, greatest, mean : ndarray of float64, shape (n,)
        Of each bucket; not-a-number where nothing was acquired.
    """

    start_s: float
    step_s: float
    instants: int
    least: Row
    greatest: Row
    mean: Row

    @property
    def times_s(self) -> Row:
        """Middle of each bucket, seconds."""
        middles: Row = self.start_s + (np.arange(self.mean.size, dtype=np.float64) + 0.5) * self.step_s
        return middles

    def level(self) -> float:
        """Median of the means: what is held most of the time; not-a-number where nothing was acquired."""
        return _median(self.mean)

    def end_levels(self) -> tuple[float, float]:
        """Median of the first and of the last twentieth."""
        many = max(1, self.mean.size // 20)
        return _median(self.mean[:many]), _median(self.mean[-many:])


def _median(row: Row) -> float:
    known = row[np.isfinite(row)]
    return float(np.median(known)) if known.size else float("nan")


def require_even(channel: Channel) -> float:
    """The sample spacing, seconds.

    Raises
    ------
    CannotUse
        If the channel is not evenly spaced.
    """
    if channel.step_s is None:
        raise CannotUse(
            f"The samples of {channel.name!r} are not evenly spaced, and this signal kind needs that. Export the capture "
            "with a fixed sample interval."
        )
    return channel.step_s


def outline_of(channel: Channel, progress: Progress = unwatched, *, most: int = MOST_BUCKETS) -> Outline:
    """Walk a channel once.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    progress : Progress
        0 to 1.
    most : int
        Buckets at most.

    Raises
    ------
    CannotUse
        If the channel is not evenly spaced.
    """
    step_s = require_even(channel)
    instants = max(1, -(-channel.intervals // most))
    rows: list[tuple[Row, Row, Row]] = []
    length = max(1, BLOCK // instants) * instants
    for first in range(0, channel.intervals, length):
        progress(first / channel.intervals)
        low, high = ends(channel, first, min(first + length, channel.intervals))
        rows.append(_buckets(low, high, instants))
    joined = [np.concatenate(row) if rows else np.empty(0) for row in zip(*rows, strict=True)] or [np.empty(0)] * 3
    return Outline(channel.start_s, instants * step_s, instants, *joined)


def ends(channel: Channel, first: int, last: int) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32]]:
    """Least and greatest value of each instant, ``first`` to ``last`` (half open)."""
    if channel.form != "pairs":
        values = channel.samples.block(first, last)
        return values, values
    pairs = channel.samples.block(2 * first, 2 * last)
    return pairs[::2], pairs[1::2]


def _buckets(low: npt.NDArray[np.float32], high: npt.NDArray[np.float32], instants: int) -> tuple[Row, Row, Row]:
    middle = low if low is high else np.float32(0.5) * (low + high)
    if instants == 1:
        return low.astype(np.float64), high.astype(np.float64), middle.astype(np.float64)
    whole = low.size // instants * instants
    parts = [_reduced(*(one[:whole].reshape(-1, instants) for one in (low, high, middle)))] if whole else []
    if whole < low.size:
        parts.append(_reduced(*(one[whole:].reshape(1, -1) for one in (low, high, middle))))
    least, greatest, mean = (np.concatenate(row) for row in zip(*parts, strict=True))
    return least, greatest, mean


def _reduced(
    low: npt.NDArray[np.float32], high: npt.NDArray[np.float32], middle: npt.NDArray[np.float32]
) -> tuple[Row, Row, Row]:
    mean = middle.mean(axis=1, dtype=np.float64)
    if not np.isfinite(mean).all():
        known = np.isfinite(middle)
        count = known.sum(axis=1)
        total = np.where(known, middle, 0.0).sum(axis=1, dtype=np.float64)
        mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return np.fmin.reduce(low, axis=1).astype(np.float64), np.fmax.reduce(high, axis=1).astype(np.float64), mean
