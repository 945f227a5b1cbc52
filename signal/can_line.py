"""A CAN pair as a row of edges: recessive at rest, with bursts of traffic between longer rests."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.samples import Times

REST_BITS = 9.3
"""Recessive bits before a frame's start: acknowledge delimiter, end of frame and intermission make 11; no frame holds 8 in it."""
GLITCH_BITS = 0.2
"""Shorter than this no bit is: ringing that passes the thresholds again."""


@dataclass(frozen=True, eq=False)
class CanLine:
    """All edges of one pair.

    Attributes
    ----------
    edges_s : ndarray of float64, shape (n,)
        Ascending; dominant and recessive alternate.
    starts_recessive : bool
        State before the first edge.
    start_s, stop_s : float
        Begin and end of the capture, seconds.
    """

    edges_s: Times = field(repr=False)
    starts_recessive: bool
    start_s: float
    stop_s: float

    @property
    def falls_s(self) -> Times:
        """Edges from recessive to dominant."""
        return self.edges_s[0 if self.starts_recessive else 1 :: 2]

    @property
    def rises_s(self) -> Times:
        """Edges from dominant to recessive."""
        return self.edges_s[1 if self.starts_recessive else 0 :: 2]

    def dominant_at(self, times_s: Times) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.int64]]:
        """State at each time, and how many edges lie before it."""
        before = np.searchsorted(self.edges_s, times_s, side="right")
        return (before % 2 == 1) == self.starts_recessive, before

    def dominant_spans(self) -> Times:
        """Whole dominant stretches, shape (n, 2)."""
        falls, rises = self.falls_s, self.rises_s
        if not self.starts_recessive:
            rises = rises[1:]
        count = min(falls.size, rises.size)
        return np.column_stack([falls[:count], rises[:count]])

    def bursts(self, bit_s: float) -> Times:
        """Start and end of each stretch of traffic, shape (n, 2): what stands between rests of `REST_BITS`.

        Traffic that was under way when the capture began is left out.
        """
        falls, rises = self.falls_s, self.rises_s
        if not falls.size:
            return np.empty((0, 2))
        before = self.start_s if self.starts_recessive else rises[0]
        last_rise = np.concatenate([[before], rises[0 if self.starts_recessive else 1 :]])[: falls.size]
        fresh = np.flatnonzero(falls - last_rise >= REST_BITS * bit_s)
        ends = np.concatenate(
            [last_rise[fresh[1:]], [rises[-1] if rises.size and rises[-1] > falls[-1] else self.stop_s]]
        )
        return np.column_stack([falls[fresh], ends[: fresh.size]])


def without_glitches(line: CanLine, shortest_s: float) -> CanLine:
    """The line without stretches shorter than ``shortest_s``: both their edges go."""
    edges = line.edges_s
    for _ in range(4):
        short = np.flatnonzero(np.diff(edges) < shortest_s)
        if not short.size:
            break
        apart = short[np.concatenate([[True], np.diff(short) > 1])]
        kept = np.ones(edges.size, dtype=bool)
        kept[apart] = kept[apart + 1] = False
        edges = edges[kept]
    return CanLine(edges, line.starts_recessive, line.start_s, line.stop_s)
