"""Edges of each talker by itself: whose driver, or whose way to the probe, is slower than the others'."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal.can_decode import CanTraffic
from loomlight.signal.can_edge_shapes import edge_shapes
from loomlight.signal.samples import Samples

MOST_TALKERS, MOST_EDGES = 32, 100
FEWEST_OTHERS = 3
FEWEST_EDGES = 30
"""Fewer leave the mean edge too noisy to be held against others (tried on made pairs at 20 dB)."""
SLOWER = 1.6
"""Times the others' median: two makes of driver may differ by some tenths (common practice, no source)."""
SPREADS = 6.0
"""Median deviations of the others' edges."""


@dataclass(frozen=True)
class TalkerEdge:
    """Edge of one identifier's talker.

    Attributes
    ----------
    name : str
        The identifier in hex.
    time_s : float
        To dominant, 10 % to 90 %, seconds.
    edges : int
        How many were laid over one another.
    """

    name: str
    time_s: float
    edges: int


@dataclass(frozen=True)
class OddEdge:
    """The one whose edge is clearly slower, and what is usual among the others."""

    slow: TalkerEdge
    usual_s: float

    @property
    def times(self) -> float:
        """How many times slower."""
        return self.slow.time_s / self.usual_s


def talker_edges(traffic: CanTraffic, samples: Samples, start_s: float, step_s: float) -> tuple[TalkerEdge, ...]:
    """Edges to dominant by identifier, those with most frames first; only from frames whose check is right.

    Parameters
    ----------
    traffic : CanTraffic
        What was read.
    samples : Samples
        The voltage that frames are read from: rests low.
    start_s, step_s : float
        Where its samples lie.
    """
    read = traffic.read
    keys = np.where(read.good, read.identifier * 2 + read.extended, -1)
    names, counts = np.unique(keys[keys >= 0], return_counts=True)
    found = []
    for key in names[np.argsort(-counts, kind="stable")][:MOST_TALKERS].tolist():
        shape = edge_shapes(traffic, samples, start_s, step_s, frames=keys == key, most=MOST_EDGES).to_dominant
        if shape is not None and np.isfinite(shape.time_s):
            name = f"0x{key >> 1:08X}" if key & 1 else f"0x{key >> 1:03X}"
            found.append(TalkerEdge(name, shape.time_s, shape.edges))
    return tuple(found)


def odd_edge(edges: tuple[TalkerEdge, ...], step_s: float) -> OddEdge | None:
    """The slowest edge, if it stands clearly apart from the others'; None where none does, or too few were seen.

    Parameters
    ----------
    edges : tuple of TalkerEdge
        One an identifier.
    step_s : float
        Sample step, seconds: what differs by less is not told apart.
    """
    edges = tuple(one for one in edges if one.edges >= FEWEST_EDGES)
    if len(edges) <= FEWEST_OTHERS:
        return None
    slow = max(edges, key=lambda one: one.time_s)
    others = np.array([one.time_s for one in edges if one is not slow])
    usual = float(np.median(others))
    spread = float(np.median(np.abs(others - usual)))
    if slow.time_s <= max(SLOWER * usual, usual + SPREADS * spread, usual + step_s):
        return None
    return OddEdge(slow, usual)
