"""Every stretch that a two-state line stands high or low: when, at which level once settled, and how long its edges take."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.edges import Edges, find_edges
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.samples import BLOCK, Samples

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

PLACES = 9
"""Samples whose median is a stretch's settled level: a spike moves none of it, noise is a third."""
SETTLED_FROM, SETTLED_TO = 0.5, 0.9
"""Part of a stretch in which its level is read: the edge before is over, the one after has not begun."""
LEVEL_FROM, LEVEL_TO = 0.2, 0.8
"""Edges are timed between these shares of the way: noise reaches 10 % and 90 % too often (IEEE 181 allows other shares)."""


@dataclass(frozen=True, eq=False)
class LineStates:
    """Stretches of one channel, in order; high and low ones alternate.

    Attributes
    ----------
    start_s, stop_s : ndarray of float64, shape (n,)
        Crossings of the middle level, seconds; the channel's own ends for the first and the last.
    high : ndarray of bool, shape (n,)
        Whether it stands high.
    level_v : ndarray of float64, shape (n,)
        Settled level, in the channel's unit; NaN where no sample is known.
    edge_s : ndarray of float64, shape (n,)
        Time that the edge into the stretch takes from 20 % to 80 % of the way; NaN for the first.
    """

    start_s: Floats = field(repr=False)
    stop_s: Floats = field(repr=False)
    high: Bools = field(repr=False)
    level_v: Floats = field(repr=False)
    edge_s: Floats = field(repr=False)

    @property
    def length_s(self) -> Floats:
        """How long each lasts, seconds."""
        found: Floats = self.stop_s - self.start_s
        return found

    @property
    def is_whole(self) -> Bools:
        """Whether begin and end were both seen."""
        whole = np.ones(self.start_s.size, bool)
        whole[:1] = whole[-1:] = False
        return whole

    def within(self, start_s: float, stop_s: float) -> slice:
        """Stretches that begin and end between two times."""
        first = int(np.searchsorted(self.start_s, start_s - 1e-12))
        last = int(np.searchsorted(self.stop_s, stop_s + 1e-12, side="right"))
        return slice(first, max(last, first))

    def levels_between(self, start_s: float, stop_s: float, *, high: bool, at_least_s: float = 0.0) -> Floats:
        """Settled levels of one sense between two times, of stretches that last long enough."""
        inside = self.within(start_s, stop_s)
        wanted = (self.high[inside] == high) & (self.length_s[inside] >= at_least_s)
        found = self.level_v[inside][wanted]
        known: Floats = found[np.isfinite(found)]
        return known


def read_states(
    channel: Channel, *, low: float, high: float, levels: tuple[float, float], progress: Progress = unwatched
) -> LineStates:
    """Stretches of a comparator with hysteresis, with their settled levels and the times of their edges.

    Parameters
    ----------
    channel : Channel
        Evenly spaced.
    low, high : float
        Thresholds, in the channel's unit.
    levels : tuple of float
        Low and high state level: edges are timed between 20 % and 80 % of the way.
    progress : Progress
        0 to 1 over four walks of the samples.
    """
    assert channel.step_s is not None
    edges = find_edges(channel.samples, low=low, high=high, progress=part(progress, 0.0, 0.25))
    at_s = channel.start_s + edges.at * channel.step_s
    bounds = np.concatenate([[channel.start_s], at_s, [channel.stop_s]])
    start_s, stop_s = bounds[:-1], bounds[1:]
    if edges.starts_high is None:
        empty = np.empty(0)
        return LineStates(empty, empty, np.empty(0, bool), empty, empty)
    is_high = np.concatenate([[edges.starts_high], edges.rising])
    level_v = settled_levels(channel, start_s, stop_s, part(progress, 0.25, 0.5))
    edge_s = np.concatenate([[np.nan], _edge_times(channel, edges, (low, high), levels, part(progress, 0.5, 1.0))])
    return LineStates(start_s, stop_s, is_high, level_v, edge_s)


def settled_levels(channel: Channel, start_s: Floats, stop_s: Floats, progress: Progress = unwatched) -> Floats:
    """Median of nine samples in the settled part of each stretch; NaN where none is known.

    Parameters
    ----------
    channel : Channel
        Evenly spaced.
    start_s, stop_s : ndarray of float64, shape (n,)
        Stretches in order, seconds.
    progress : Progress
        0 to 1.
    """
    assert channel.step_s is not None
    shares = np.linspace(SETTLED_FROM, SETTLED_TO, PLACES)
    at_s = start_s[:, None] + shares * (stop_s - start_s)[:, None]
    places = np.clip(np.rint((at_s - channel.start_s) / channel.step_s), 0, max(channel.samples.size - 1, 0))
    values = picked(channel.samples, places.astype(np.int64).ravel(), progress).reshape(-1, PLACES)
    # Sorting puts what is not a number last; the median of what is left is then a matter of counting.
    ordered = np.sort(values, axis=1)
    known = np.count_nonzero(np.isfinite(ordered), axis=1)
    middle = ordered[np.arange(len(ordered)), np.maximum(known - 1, 0) // 2]
    found: Floats = np.where(known > 0, middle, np.nan)
    return found


def picked(samples: Samples, places: npt.NDArray[np.int64], progress: Progress = unwatched) -> Floats:
    """Samples at some places, which rise; only blocks that hold one are read.

    Parameters
    ----------
    samples : Samples
        Any length.
    places : ndarray of int64, shape (n,)
        Rising, inside the samples.
    """
    found = np.empty(places.size)
    place = 0
    while place < places.size:
        progress(place / places.size)
        start = int(places[place])
        stop = min(start + BLOCK, samples.size)
        end = int(np.searchsorted(places, stop))
        found[place:end] = samples.block(start, int(places[end - 1]) + 1)[places[place:end] - start]
        place = end
    return found


def _edge_times(
    channel: Channel, edges: Edges, thresholds: tuple[float, float], levels: tuple[float, float], progress: Progress
) -> Floats:
    """Time from 20 % to 80 % of the way, seconds; not finite where an edge misses one of the two."""
    assert channel.step_s is not None
    low, high = thresholds
    reach = levels[1] - levels[0]
    marks = [levels[0] + share * reach for share in (LEVEL_FROM, LEVEL_TO)]
    at = []
    for number, mark in enumerate(marks):
        walk = part(progress, 0.5 * number, 0.5 + 0.5 * number)
        found = find_edges(channel.samples, low=min(low, mark), high=max(high, mark), level=mark, progress=walk)
        at.append(_nearest(found, edges))
    took: Floats = np.abs(at[1] - at[0]) * channel.step_s
    return took


def _nearest(found: Edges, edges: Edges) -> Floats:
    """For each edge the crossing of another level by the same transition; NaN where there is none."""
    answer = np.full(edges.at.size, np.nan)
    for rising in (True, False):
        mine, theirs = np.flatnonzero(edges.rising == rising), np.flatnonzero(found.rising == rising)
        if not mine.size or not theirs.size:
            continue
        # The other transition is decided at or after this one, and before the next of the same sense.
        place = np.searchsorted(found.decided[theirs], edges.decided[mine])
        inside = place < theirs.size
        at, decided = (
            found.at[theirs[np.minimum(place, theirs.size - 1)]],
            found.decided[theirs[np.minimum(place, theirs.size - 1)]],
        )
        following = np.append(edges.decided[mine][1:], np.iinfo(np.int64).max)
        fits = inside & (decided < following)
        answer[mine[fits]] = at[fits]
    return answer
