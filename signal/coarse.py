"""Channels in windows many samples wide: their means, and how lively each is inside."""

import math
from dataclasses import dataclass, replace

import numpy as np

from loomlight.signal.candidates import Candidate
from loomlight.signal.capture import Channel
from loomlight.signal.progress import Progress, part
from loomlight.signal.resample import Row, averaged, instants, intervals_on
from loomlight.signal.samples import BLOCK, Wave

WHOLE = 1e-3
"""Share of a sample by which the last window may be off and the windows still count as whole samples wide."""
LEAST_KNOWN = 25
"""Windows that have to hold something."""
MOST_POINTS = 131_072
"""Windows of the longer channel: so many that all shifts can be tried in no time."""
LEAST_POINTS, FINER = 4096, 4
"""Where the shorter channel would have fewer, up to four times as many windows are taken."""


@dataclass(frozen=True, eq=False)
class CoarseRow:
    """Windows side by side, the first beginning with the channel's first sample.

    Attributes
    ----------
    first_s : float
        Middle of the first window, on the channel's axis.
    means : ndarray of float64, shape (n,)
        Not-a-number where a window holds no sample.
    spreads : ndarray of float64, shape (n,), or None
        Standard deviation inside each window; None where windows are one sample wide.
    """

    first_s: float
    means: Row
    spreads: Row | None


@dataclass(frozen=True, eq=False)
class CoarsePair:
    """Two channels in windows of the same width.

    Attributes
    ----------
    one, other : CoarseRow
        The suspect's and the known-good's.
    step_s : float
        The coarser of the two channels' steps, seconds.
    factor : int
        Such steps a window.
    """

    one: CoarseRow
    other: CoarseRow
    step_s: float
    factor: int

    @property
    def grid_s(self) -> float:
        """Width of a window, seconds."""
        return self.step_s * self.factor

    def full_steps(self, suspect: Channel, good: Channel, place: Candidate) -> Candidate:
        """The place with its lag in full steps between the channels' first samples, instead of in windows."""
        # The windows of the two begin with their first samples, but need not hold equally many.
        begins_s = (self.other.first_s - good.start_s) - (self.one.first_s - suspect.start_s)
        return replace(place, lag=place.lag * self.factor + begins_s / self.step_s)

    def ways(self) -> list[tuple[Row, Row]]:
        """Means and liveliness of both, as far as neither is flat."""
        ways = [(self.one.means, self.other.means)]
        if self.one.spreads is not None and self.other.spreads is not None:
            ways.append((self.one.spreads, self.other.spreads))
        return [way for way in ways if not any(is_flat(row) for row in way)]


def coarse_pair(suspect: Channel, good: Channel, progress: Progress) -> CoarsePair:
    """Bring two channels to windows of one width, as wide as need be to have few enough.

    Parameters
    ----------
    suspect, good : Channel
        Form ``even`` or ``pairs``.
    progress : Progress
        0 to 1.
    """
    step_s = max(suspect.step_s or 0.0, good.step_s or 0.0)
    sizes = sorted(intervals_on(channel, step_s) for channel in (suspect, good))
    factor = 1 << max(0, math.ceil(math.log2(sizes[1] / MOST_POINTS)))
    factor = max(factor // FINER, min(factor, sizes[0] // LEAST_POINTS), 1)
    factor = 1 << int(math.log2(factor))
    one = coarse_row(suspect, step_s * factor, part(progress, 0.0, 0.5))
    return CoarsePair(one, coarse_row(good, step_s * factor, part(progress, 0.5, 1.0)), step_s, factor)


def is_flat(row: Row) -> bool:
    """Whether a row holds nothing but one value, or hardly anything known."""
    known = row[np.isfinite(row)]
    return known.size < LEAST_KNOWN or float(np.ptp(known)) <= 1e-9 * max(1.0, float(np.abs(known).max()))


def coarse_row(channel: Channel, grid_s: float, progress: Progress) -> CoarseRow:
    """Cut a channel into windows of ``grid_s``.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    grid_s : float
        Width and spacing of the windows, at least the channel's step.
    progress : Progress
        0 to 1.
    """
    assert channel.step_s is not None
    ratio = grid_s / channel.step_s
    count = max(2, int(channel.intervals / ratio + 1e-6))
    first_s = channel.start_s + 0.5 * (ratio - 1.0) * channel.step_s
    whole = round(ratio)
    if count * whole <= channel.intervals and abs(ratio - whole) * count <= WHOLE:
        means, spreads = _whole_windows(channel, whole, count, progress)
    else:
        means, spreads = _any_windows(channel, grid_s, first_s, count, progress)
    return CoarseRow(first_s, means, spreads if ratio > 1.5 else None)


def _whole_windows(channel: Channel, width: int, count: int, progress: Progress) -> tuple[Row, Row]:
    means, spreads = np.empty(count), np.empty(count)
    rows = max(1, BLOCK // width)
    for first in range(0, count, rows):
        progress(first / count)
        last = min(first + rows, count)
        windows = instants(channel, first * width, last * width).reshape(last - first, width)
        means[first:last], spreads[first:last] = _moments(windows)
    return means, spreads


def _moments(windows: Wave) -> tuple[Row, Row]:
    # Taken from the block's own level: float32 squares of a large offset would hold nothing of a small signal.
    level = windows.mean(dtype=np.float64)
    if not np.isfinite(level):
        return _moments_of_known(windows.astype(np.float64))
    if windows.shape[1] == 1:
        return windows[:, 0].astype(np.float64), np.zeros(windows.shape[0])
    windows = windows - np.float32(level)
    means = np.einsum("ij->i", windows).astype(np.float64) / windows.shape[1]
    squares = np.einsum("ij,ij->i", windows, windows).astype(np.float64) / windows.shape[1]
    return means + float(np.float32(level)), np.sqrt(np.maximum(squares - means**2, 0.0))


def _moments_of_known(windows: Row) -> tuple[Row, Row]:
    known = np.isfinite(windows)
    number = known.sum(axis=1)
    some = np.maximum(number, 1)
    means = np.where(known, windows, 0.0).sum(axis=1) / some
    squares = np.square(np.where(known, windows - means[:, np.newaxis], 0.0)).sum(axis=1) / some
    empty = number == 0
    means[empty] = squares[empty] = np.nan
    return means, np.sqrt(squares)


def _any_windows(channel: Channel, grid_s: float, first_s: float, count: int, progress: Progress) -> tuple[Row, Row]:
    means, spreads = np.empty(count), np.empty(count)
    rows = max(1, count // 16)
    for first in range(0, count, rows):
        progress(first / count)
        many = min(rows, count - first)
        part, at_s = slice(first, first + many), first_s + first * grid_s
        means[part] = averaged(channel, step_s=grid_s, start_s=at_s, count=many)
        spreads[part] = averaged(channel, step_s=grid_s, start_s=at_s, count=many, squared=True)
    return means, np.sqrt(np.maximum(spreads - means**2, 0.0))
