"""Many stretches of one channel laid over one another: how often the signal passed each spot."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import BLOCK, Times

Counts = npt.NDArray[np.int64]
Rows = npt.NDArray[np.float64]

MOST_CELLS = 1 << 16
"""Strokes (start × column), and samples with those that several stretches share, handled at a time."""


@dataclass(frozen=True, eq=False)
class Folded:
    """Stretches laid over one another.

    Attributes
    ----------
    counts : ndarray of int64, shape (rows, columns)
        How many stretches passed each spot, the lowest values in row 0.
    begin_s, end_s : float
        The columns' reach, seconds from each start.
    low, high : float
        The rows' reach, in the channel's unit; what lies beyond is counted in the outermost row.
    laid : int
        Stretches that have at least one sample.
    """

    counts: Counts = field(repr=False)
    begin_s: float
    end_s: float
    low: float
    high: float
    laid: int


def fold(
    channel: Channel,
    starts_s: Times,
    *,
    begin_s: float,
    end_s: float,
    low: float,
    high: float,
    columns: int,
    rows: int,
    progress: Progress = unwatched,
) -> Folded:
    """Lay the stretches from ``start + begin_s`` to ``start + end_s`` over one another.

    In each column a stretch fills every spot from the least to the greatest value that it passes there, the lines between
    its samples included: no sample is left out, and a spike one sample wide is seen however many samples a column holds.

    Parameters
    ----------
    channel : Channel
        Any form. ``pairs`` fill from minimum to maximum over their whole interval, ``changes`` hold and then step.
        Samples that were not acquired leave their spots empty.
    starts_s : ndarray of float64, shape (n,)
        Ascending, seconds on the channel's own axis.
    begin_s, end_s : float
        Seconds from each start, ``begin_s < end_s``.
    low, high : float
        In the channel's unit, ``low < high``.
    columns, rows : int
        At least 1 each.
    progress : Progress
        0 to 1 over the starts.

    Raises
    ------
    ValueError
        If a range is empty.
    """
    if not (begin_s < end_s and low < high and columns >= 1 and rows >= 1):
        raise ValueError(f"nothing to fill: {begin_s} to {end_s} s, {low} to {high}, {columns} columns, {rows} rows")
    edges_s = np.linspace(begin_s, end_s, columns + 1)
    walk = _TimedWalk(channel) if channel.times_s is not None else _EvenWalk(channel)
    marks = np.zeros((rows + 1) * columns, dtype=np.int64)
    laid = 0
    for first, last in _batches(starts_s, walk, edges_s):
        progress(first / max(starts_s.size, 1))
        least, most = walk.reach(starts_s[first:last], edges_s)
        laid += int((~np.isnan(least)).any(axis=1).sum())
        _add(marks, least, most, low, high, rows)
    counts: Counts = np.cumsum(marks.reshape(rows + 1, columns)[:-1], axis=0)
    return Folded(counts, begin_s, end_s, low, high, laid)


def _add(marks: Counts, least: Rows, most: Rows, low: float, high: float, rows: int) -> None:
    """Mark where each stroke begins and where it has ended; the running sum over the rows then fills it."""
    columns = least.shape[1]
    known = ~np.isnan(least)  # beyond the rail is beyond the outermost row
    column = np.nonzero(known)[1]
    for values, sign in ((least[known], 1), (most[known], -1)):
        row = np.clip((values - low) / (high - low) * rows, 0, rows - 1).astype(np.int64)
        place = (row + (sign < 0)) * columns + column
        marks += sign * np.bincount(place, minlength=marks.size)


def _batches(starts_s: Times, walk: "_EvenWalk | _TimedWalk", edges_s: Times) -> Iterator[tuple[int, int]]:
    """Neighbouring starts that lie within one block together; a stretch longer than a block comes alone."""
    first_at, last_at = walk.index_at(starts_s + edges_s[0]), walk.index_at(starts_s + edges_s[-1])
    most = max(MOST_CELLS // edges_s.size, 1)
    read = np.concatenate([[0], np.cumsum(last_at - first_at + 2)])
    first = 0
    while first < starts_s.size:
        within = int(np.searchsorted(last_at, first_at[first] + BLOCK, side="right"))
        few_enough = int(np.searchsorted(read, read[first] + MOST_CELLS, side="right")) - 1
        last = min(max(min(within, few_enough), first + 1), first + most)
        yield first, last
        first = last


class _EvenWalk:
    """Least and greatest value in each column, for evenly spaced samples or pairs."""

    def __init__(self, channel: Channel) -> None:
        assert channel.step_s is not None
        self._channel, self._step_s = channel, channel.step_s

    def index_at(self, times_s: Times) -> Counts:
        """The instant at or before each time, held inside the channel."""
        places = np.floor((times_s - self._channel.start_s) / self._step_s)
        return np.clip(places, 0, self._channel.intervals).astype(np.int64)

    def reach(self, starts_s: Times, edges_s: Times) -> tuple[Rows, Rows]:
        """Arrays of shape (starts, columns); not-a-number where nothing is known."""
        places = (starts_s[:, None] + edges_s - self._channel.start_s) / self._step_s
        # A time that is a sample's own must not reach for its neighbour because of rounding.
        near = np.round(places)
        places = np.where(np.abs(places - near) < 1e-6, near, places)
        shape = (starts_s.size, edges_s.size - 1)
        least, most = np.full(shape, np.nan), np.full(shape, np.nan)
        last = self._channel.intervals - 1
        # A stretch that begins where the record ends still meets its last interval.
        begin = min(max(int(np.floor(places[0, 0])), 0), max(last, 0))
        end = min(int(np.floor(places[:, -1].max())) + 1, last)
        for start in range(begin, end + 1, BLOCK):
            stop = min(start + BLOCK, end)
            # Blocks share an instant, so that the line between them is drawn too.
            self._take(places, start, stop, least, most)
        return least, most

    def _take(self, places: Rows, start: int, stop: int, least: Rows, most: Rows) -> None:
        lower, upper = self._values(start, stop + 1)
        self._at_edges(places, start, lower, upper, least, most)
        self._inside(places, start, lower, upper, least, most)

    def _values(self, start: int, stop: int) -> tuple[Rows, Rows]:
        if self._channel.form == "pairs":
            pairs = self._channel.samples.block(2 * start, 2 * stop).reshape(-1, 2).astype(np.float64)
            return np.fmin(*pairs.T), np.fmax(*pairs.T)
        values = self._channel.samples.block(start, stop).astype(np.float64)
        return values, values

    def _at_edges(self, places: Rows, start: int, lower: Rows, upper: Rows, least: Rows, most: Rows) -> None:
        """What the signal reads just at the columns' edges counts for the columns on both sides."""
        held = self._channel.form == "pairs"
        reach = lower.size if held else lower.size - 1
        inside = (places >= start) & (places <= start + reach)
        if not inside.any():
            return
        at = np.where(inside, places - start, 0.0)
        index = np.minimum(np.floor(at).astype(np.int64), lower.size - 1)
        share = at - index
        after = np.minimum(index + 1, lower.size - 1)
        for rows, join, found in ((lower, np.fmin, least), (upper, np.fmax, most)):
            values = rows[index] if held else _between(rows[index], rows[after], share)
            values = np.where(inside, values, np.nan)
            found[:] = join(found, join(values[:, :-1], values[:, 1:]))

    def _inside(self, places: Rows, start: int, lower: Rows, upper: Rows, least: Rows, most: Rows) -> None:
        """The samples between the columns' edges."""
        first = np.clip(np.ceil(places[:, 0]).astype(np.int64) - start, 0, lower.size)
        last = np.clip(np.floor(places[:, -1]).astype(np.int64) + 1 - start, 0, lower.size)
        if self._channel.form == "pairs":
            last = np.clip(np.ceil(places[:, -1]).astype(np.int64) - start, 0, lower.size)
        counts = np.maximum(last - first, 0)
        if not counts.any():
            return
        row = np.repeat(np.arange(first.size), counts)
        index = np.repeat(first, counts) + np.arange(row.size) - np.repeat(np.cumsum(counts) - counts, counts)
        width = (places[:, -1] - places[:, 0]) / least.shape[1]
        column = np.clip((index + start - places[row, 0]) / width[row], 0, least.shape[1] - 1).astype(np.int64)
        _gather(row * least.shape[1] + column, lower[index], upper[index], least, most)


class _TimedWalk:
    """Least and greatest value in each column, for samples with times of their own."""

    def __init__(self, channel: Channel) -> None:
        assert channel.times_s is not None
        self._channel, self._times_s = channel, channel.times_s

    def index_at(self, times_s: Times) -> Counts:
        """The sample at or before each time, held inside the channel."""
        found: Counts = np.maximum(np.searchsorted(self._times_s, times_s, side="right") - 1, 0).astype(np.int64)
        return found

    def reach(self, starts_s: Times, edges_s: Times) -> tuple[Rows, Rows]:
        """Arrays of shape (starts, columns); not-a-number where nothing is known."""
        shape = (starts_s.size, edges_s.size - 1)
        least, most = np.full(shape, np.nan), np.full(shape, np.nan)
        at_s = starts_s[:, None] + edges_s
        begin = int(self.index_at(at_s[:1, 0])[0])
        end = min(int(self.index_at(at_s[:, -1]).max()) + 2, self._times_s.size)
        for start in range(begin, end, BLOCK):
            # One sample more, so that the line from block to block is drawn too.
            stop = min(start + BLOCK + 1, end)
            self._take(at_s, start, stop, least, most)
        return least, most

    def _take(self, at_s: Rows, start: int, stop: int, least: Rows, most: Rows) -> None:
        times_s = self._times_s[start:stop]
        values = self._channel.samples.block(start, stop).astype(np.float64)
        # ``changes`` hold their last value to the end of what was recorded, which is the last change.
        inside = (at_s >= times_s[0]) & (at_s <= times_s[-1])
        index = np.clip(np.searchsorted(times_s, at_s, side="right") - 1, 0, values.size - 1)
        found = values[index]
        if self._channel.form != "changes" and values.size > 1:
            index = np.minimum(index, values.size - 2)
            share = (at_s - times_s[index]) / (times_s[index + 1] - times_s[index])
            found = _between(values[index], values[index + 1], share)
        found = np.where(inside, found, np.nan)
        least[:] = np.fmin(least, np.fmin(found[:, :-1], found[:, 1:]))
        most[:] = np.fmax(most, np.fmax(found[:, :-1], found[:, 1:]))
        first = np.searchsorted(times_s, at_s[:, 0], side="left")
        last = np.searchsorted(times_s, at_s[:, -1], side="right")
        counts = np.maximum(last - first, 0)
        if not counts.any():
            return
        row = np.repeat(np.arange(first.size), counts)
        place = np.repeat(first, counts) + np.arange(row.size) - np.repeat(np.cumsum(counts) - counts, counts)
        width_s = (at_s[:, -1] - at_s[:, 0]) / least.shape[1]
        column = np.clip((times_s[place] - at_s[row, 0]) / width_s[row], 0, least.shape[1] - 1).astype(np.int64)
        _gather(row * least.shape[1] + column, values[place], values[place], least, most)


def _between(before: Rows, after: Rows, share: Rows) -> Rows:
    with np.errstate(invalid="ignore"):  # a value beyond the rail has no middle with another one
        found: Rows = np.where(share == 0, before, before * (1 - share) + after * share)
    return found


def _gather(keys: Counts, lower: Rows, upper: Rows, least: Rows, most: Rows) -> None:
    """Take values in, by their place in ``least`` and ``most``; equal keys stand beside each other."""
    starts = np.flatnonzero(np.concatenate([[True], keys[1:] != keys[:-1]]))
    where = keys[starts]
    for rows, found, join, reduce in (
        (lower, least, np.fmin, np.fmin.reduceat),
        (upper, most, np.fmax, np.fmax.reduceat),
    ):
        flat = found.reshape(-1)
        flat[where] = join(flat[where], reduce(rows, starts))
