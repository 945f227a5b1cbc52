"""Where a cursor snaps to: crossings of the middle between two levels, near one place."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.levels import levels_of
from loomlight.signal.readings import samples_between
from loomlight.signal.samples import BLOCK, PartOf, Times

PIECES = 64
"""A stretch too long to be read at once is looked at in this many pieces, evenly spread."""
MOST_SEARCHED = 4 * BLOCK
"""Samples that are searched for the next edge: what fits into the time of one key press."""


def levels_between(channel: Channel, begin_s: float, end_s: float) -> tuple[float, float] | None:
    """Low and high state level of what stands between two times, from at most `BLOCK` samples; None without two levels.

    Parameters
    ----------
    channel : Channel
        Any form.
    begin_s, end_s : float
        Seconds on the channel's own axis, ``begin_s <= end_s``.
    """
    first, last = samples_between(channel, begin_s, end_s)
    if last - first <= BLOCK:
        values = channel.samples.block(first, last)
    else:
        length = BLOCK // PIECES
        starts = np.linspace(first, last - length, PIECES).astype(np.int64).tolist()
        values = np.concatenate([channel.samples.block(start, start + length) for start in starts])
    levels = levels_of(values) if values.size else None
    return (levels.low, levels.high) if levels is not None and levels.two_states else None


def nearest_crossing(channel: Channel, level: float, at_s: float, reach_s: float) -> float | None:
    """Time of the crossing nearest to ``at_s``, interpolated between samples; None where there is none within reach.

    Parameters
    ----------
    channel : Channel
        Of ``pairs`` no crossing is known to better than an interval: None.
    level : float
        In the channel's unit.
    at_s, reach_s : float
        Seconds on the channel's own axis; where the reach holds more than `BLOCK` samples, only the nearest of them count.
    """
    found = _crossings(channel, level, at_s - reach_s, at_s + reach_s, around_s=at_s, most=BLOCK)
    found = found[np.abs(found - at_s) <= reach_s]
    return float(found[np.argmin(np.abs(found - at_s))]) if found.size else None


def next_crossing(channel: Channel, level: float, at_s: float, *, forward: bool) -> float | None:
    """Time of the first crossing after ``at_s``, or of the last one before it; None within `MOST_SEARCHED` samples.

    Parameters as for `nearest_crossing`.
    """
    # A crossing is known to no better than this: without it a cursor that stands on one finds the same again.
    slack_s = 1e-6 * (channel.step_s or 0.0) + 4.0 * float(np.spacing(abs(at_s)))
    ends_s = (at_s, channel.stop_s) if forward else (channel.start_s, at_s)
    found = _crossings(channel, level, *ends_s, around_s=at_s, most=2 * MOST_SEARCHED)
    found = found[found > at_s + slack_s] if forward else found[found < at_s - slack_s]
    return float(found[0 if forward else -1]) if found.size else None


def _crossings(channel: Channel, level: float, begin_s: float, end_s: float, *, around_s: float, most: int) -> Times:
    if channel.form == "pairs" or not channel.samples.size:
        return np.empty(0)
    first, last = samples_between(channel, begin_s, end_s)
    middle = channel.index_at(around_s)
    # One more at either end: the crossing may lie between a sample inside and one outside.
    first = max(first - 1, middle - most // 2, 0)
    last = min(last + 1, middle + most // 2 + 1, channel.samples.size)
    if last - first < 2:
        return np.empty(0)
    edges = find_edges(PartOf(channel.samples, first, last), low=level, high=level)
    # With one threshold each crossing lies in the step that decides it; after a gap it is put on the first sample.
    placed, decided = edges.at, edges.decided
    own = channel.times_s
    if own is None:
        assert channel.step_s is not None
        even: Times = channel.start_s + (first + placed) * channel.step_s
        return even
    if channel.form == "changes":
        changes: Times = own[first + decided]
        return changes
    share = placed - (decided - 1)
    between: Times = own[first + decided - 1] * (1.0 - share) + own[first + decided] * share
    return between
