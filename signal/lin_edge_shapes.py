"""How fast a LIN line falls and rises, and when it crosses the levels that limits are stated at."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.lin_decode import LinFrame, LinTraffic
from loomlight.signal.progress import Progress, unwatched

MOST_FRAMES = 120
"""Edges of this many frames, spread evenly, tell as much as those of all."""
WINDOW_BITS = 0.6
"""An edge is looked at this far to either side: further out stands the next one."""

Crossings = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class EdgeShapes:
    """Crossing times of a number of edges.

    Attributes
    ----------
    at_s : ndarray, shape (edges, levels)
        When each edge crosses each level, seconds; not-a-number where it does not.
    rising : ndarray of bool, shape (edges,)
        Direction of each.
    frame : ndarray of int, shape (edges,)
        Number of the frame in the traffic.
    """

    at_s: Crossings
    rising: npt.NDArray[np.bool_]
    frame: npt.NDArray[np.int64]


def edge_shapes(
    channel: Channel, traffic: LinTraffic, levels_v: tuple[float, ...], progress: Progress = unwatched
) -> EdgeShapes:
    """Times at which the edges of evenly chosen frames cross some levels.

    Parameters
    ----------
    channel : Channel
        Evenly spaced samples.
    traffic : LinTraffic
        Of that channel.
    levels_v : tuple of float
        Levels, volts.
    progress : Progress
        0 to 1 over the frames.
    """
    assert channel.step_s is not None
    count = len(traffic.frames)
    chosen = np.unique(np.linspace(0, max(count - 1, 0), min(count, MOST_FRAMES)).round().astype(np.int64))
    found, rising, frame = [], [], []
    for done, number in enumerate(chosen):
        progress(done / len(chosen))
        edges_s, directions = _edges_of(traffic, traffic.frames[number])
        if edges_s.size:
            found.append(_crossings(channel, edges_s, directions, traffic.frames[number].bit_s, levels_v))
            rising.append(directions)
            frame.append(np.full(edges_s.size, number, dtype=np.int64))
    if not found:
        return EdgeShapes(np.empty((0, len(levels_v))), np.empty(0, bool), np.empty(0, np.int64))
    return EdgeShapes(np.concatenate(found), np.concatenate(rising), np.concatenate(frame))


def _edges_of(traffic: LinTraffic, frame: LinFrame) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    first, last = np.searchsorted(
        traffic.edges_s, [frame.start_s - 0.5 * frame.bit_s, frame.stop_s + 0.5 * frame.bit_s]
    )
    places = np.arange(first, last)
    falls_first = traffic.starts_recessive
    return traffic.edges_s[first:last], (places % 2 == 1) if falls_first else (places % 2 == 0)


def _crossings(
    channel: Channel,
    edges_s: npt.NDArray[np.float64],
    rising: npt.NDArray[np.bool_],
    bit_s: float,
    levels_v: tuple[float, ...],
) -> Crossings:
    """The crossing of each level that stands nearest to each edge, in the edge's own direction; shape (edges, levels)."""
    assert channel.step_s is not None
    reach = max(int(WINDOW_BITS * bit_s / channel.step_s), 2)
    first = max(channel.index_at(float(edges_s[0])) - reach - 1, 0)
    values = channel.samples.block(first, min(channel.index_at(float(edges_s[-1])) + reach + 2, channel.samples.size))
    middle = np.round((edges_s - channel.start_s) / channel.step_s).astype(np.int64) - first
    offsets = np.arange(-reach, reach + 1)
    places = np.clip(middle[:, None] + offsets, 0, values.size - 1)
    window = np.where(rising[:, None], 1.0, -1.0) * values[places]
    found = np.full((edges_s.size, len(levels_v)), np.nan)
    for number, level_v in enumerate(levels_v):
        level = np.where(rising, level_v, -level_v)[:, None]
        # In the edge's own direction every crossing is upward.
        crosses = (window[:, :-1] < level) & (window[:, 1:] >= level)
        distance = np.where(crosses, np.abs(offsets[:-1] + 0.5), np.inf)
        nearest = distance.argmin(axis=1)
        rows = np.flatnonzero(np.isfinite(distance.min(axis=1)))
        left, right = window[rows, nearest[rows]], window[rows, nearest[rows] + 1]
        share = (level[rows, 0] - left) / (right - left)
        found[rows, number] = channel.start_s + (first + places[rows, nearest[rows]] + share) * channel.step_s
    return found
