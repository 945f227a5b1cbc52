"""One channel's values at other times: for cursors, for laying one over another, for a common step."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.samples import BLOCK, Times, Wave

Row = npt.NDArray[np.float64]

PIECE = 65_536
"""Samples averaged at a time: the work stays in the processor's cache."""
SNAP = 1e-6
"""Share of a step within which a time is taken for the sample's own: rounding must not reach for a missing neighbour."""


def values_at(channel: Channel, times_s: Times) -> Wave:
    """Values at any times, interpolated linearly between samples.

    Parameters
    ----------
    channel : Channel
        Any form; ``pairs`` give the middle of minimum and maximum, ``changes`` hold until the next change.
    times_s : ndarray of float64, shape (n,), ascending
        Seconds on the channel's own axis.

    Returns
    -------
    ndarray of float32, shape (n,)
        Not-a-number outside the channel and beside samples that were not acquired.
    """
    found = np.full(times_s.size, np.nan, dtype=np.float32)
    if channel.times_s is not None:
        return _between_times(channel, times_s, found)
    assert channel.step_s is not None
    places = (times_s - channel.start_s) / channel.step_s
    nearest = np.round(places)
    places = np.where(np.abs(places - nearest) < SNAP, nearest, places)
    last = channel.intervals - 1
    inside = np.flatnonzero((places >= 0) & (places <= last))
    # Ascending times: walking them in runs reads each block of the channel about once.
    for first in range(0, inside.size, BLOCK):
        chosen = inside[first : first + BLOCK]
        at = places[chosen]
        low = np.floor(at).astype(np.int64)
        start, stop = int(low[0]), min(int(low[-1]) + 2, last + 1)
        if stop - start > 8 * BLOCK:
            for index, place in zip(chosen.tolist(), at.tolist(), strict=True):
                found[index] = _one(channel, place, last)
            continue
        values = instants(channel, start, stop)
        offset = low - start
        share = (at - low).astype(np.float32)
        after = np.minimum(offset + 1, values.size - 1)
        found[chosen] = np.where(share == 0, values[offset], values[offset] * (1 - share) + values[after] * share)
    return found


def _one(channel: Channel, place: float, last: int) -> np.float32:
    low = int(place)
    values = instants(channel, low, min(low + 2, last + 1))
    share = np.float32(place - low)
    result: np.float32 = values[0] if share == 0 else values[0] * (1 - share) + values[-1] * share
    return result


def instants(channel: Channel, start: int, stop: int) -> Wave:
    """One value an instant, from ``start`` to ``stop`` (half open): the samples, or the middle of each pair."""
    if channel.form != "pairs":
        return channel.samples.block(start, stop)
    pairs = channel.samples.block(2 * start, 2 * stop).reshape(-1, 2)
    middle: Wave = pairs.mean(axis=1, dtype=np.float32)
    return middle


class Instants:
    """A channel as one row: one value an instant.

    Parameters
    ----------
    channel : Channel
        Form ``even``, or ``pairs`` taken at the middle of each.
    """

    def __init__(self, channel: Channel) -> None:
        self._channel = channel

    @property
    def size(self) -> int:
        """Number of instants."""
        return self._channel.intervals

    def block(self, start: int, stop: int) -> Wave:
        """Instants ``start`` to ``stop``."""
        return instants(self._channel, start, stop)


def _between_times(channel: Channel, times_s: Times, found: Wave) -> Wave:
    own = channel.times_s
    assert own is not None
    values = channel.samples.block(0, channel.samples.size)
    if not own.size:
        return found
    if channel.form == "changes":
        place = np.searchsorted(own, times_s, side="right") - 1
        known = place >= 0
        found[known] = values[place[known]]
        return found
    inside = (times_s >= own[0]) & (times_s <= own[-1])
    found[inside] = np.interp(times_s[inside], own, values).astype(np.float32)
    return found


def intervals_on(channel: Channel, step_s: float) -> int:
    """Number of points of ``step_s`` from the channel's first instant to its last, at least 2."""
    assert channel.step_s is not None
    return max(2, int((channel.intervals - 1) * channel.step_s / step_s + 1e-6) + 1)


def averaged(
    channel: Channel, *, step_s: float, start_s: float, count: int, squared: bool = False
) -> npt.NDArray[np.float64]:
    """Mean over windows of ``step_s`` around evenly spaced times: keeps what a coarser step can carry, and no alias.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    step_s : float
        Window and spacing, seconds, at least the channel's own step.
    start_s : float
        Middle of the first window, on the channel's axis.
    count : int
        Number of windows.
    squared : bool
        Mean of the squares instead.

    Returns
    -------
    ndarray of float64, shape (count,)
        Windows reach at most to the channel's ends; samples that were not acquired are left out; not-a-number where a
        window holds none.
    """
    assert channel.step_s is not None
    ratio = step_s / channel.step_s
    first = (start_s - channel.start_s) / channel.step_s + 0.5 - 0.5 * ratio
    means = np.full(count, np.nan)
    rows = max(1, int(PIECE / max(ratio, 1.0)))
    same_step = abs(ratio - 1.0) * count < SNAP and not squared
    for begin in range(0, count, rows):
        many = min(rows, count - begin)
        row = _between(channel, first + begin, many) if same_step else None
        if row is not None:
            means[begin : begin + many] = row
            continue
        bounds: Row = first + (begin + np.arange(many + 1, dtype=np.float64)) * ratio
        low, high = max(int(bounds[0]), 0), min(int(np.ceil(bounds[-1])) + 1, channel.intervals)
        if high <= low:
            continue
        values = instants(channel, low, high).astype(np.float64)
        if squared:
            values *= values
        means[begin : begin + many] = _window_means(values, bounds - low)
    return means


def _between(channel: Channel, first: float, count: int) -> Wave | None:
    """Windows one sample wide from a place between two samples on; None beside an end or a gap."""
    low = round(first) if abs(first - round(first)) < SNAP else int(np.floor(first))
    share = np.float32(max(0.0, first - low))
    if low < 0 or low + count + 1 > channel.intervals + (share < SNAP):
        return None
    values = instants(channel, low, low + count + int(share >= SNAP))
    if not np.isfinite(values.sum()):
        return None
    return values if share < SNAP else values[:-1] * (1 - share) + values[1:] * share


def _window_means(values: Row, bounds: Row) -> Row:
    """Means between neighbouring bounds, which are given in samples from the row's begin and may reach beyond it."""
    whole_and_inside = bounds[0] >= 0 and bounds[-1] < values.size and np.isfinite(values.sum())
    if whole_and_inside:
        low = bounds.astype(np.int64)
        if low[-1] - low[0] == low.size - 1 and bounds[1] - bounds[0] < 1 + 1e-9:
            share = float(bounds[0] - low[0])
            row = values[low[0] : low[-1] + 1]
            return row[:-1] if share < 1e-6 else row[:-1] * (1 - share) + row[1:] * share
        if (np.diff(low) > 0).all():
            beyond = (bounds - low) * values[low]
            sums: Row = np.add.reduceat(values, low)[:-1] + np.diff(beyond)
            return sums / np.diff(bounds)
    bounds = np.clip(bounds, 0, values.size)
    known = np.isfinite(values)
    total = _integral(np.where(known, values, 0.0), bounds)
    weights = _integral(known.astype(np.float64), bounds)
    means = np.full(total.size, np.nan)
    some = weights > 1e-9
    means[some] = total[some] / weights[some]
    return means


def _integral(values: Row, bounds: Row) -> Row:
    """Integral of a staircase between neighbouring bounds, given in samples from its begin."""
    running = np.concatenate([[0.0], np.cumsum(values)])
    whole = np.minimum(bounds.astype(np.int64), values.size - 1)
    at_bounds = running[whole] + (bounds - whole) * values[whole]
    return np.diff(at_bounds)
