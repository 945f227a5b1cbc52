"""Wheels with teeth of unlike widths and distances, as on camshafts: the pattern that repeats, learnt from the capture."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.samples import Times
from loomlight.signal.wheel_teeth import Row

Mask = npt.NDArray[np.bool_]

MOST_EDGES = 80
ALIKE = 0.15
"""Two intervals of neighbouring turns are alike within this share (log), the turns' own speeds taken out."""
REPEATS = 0.85
TURNS = 2.5


@dataclass(frozen=True, eq=False)
class UnevenWheel:
    """A pattern of edges that repeats.

    Attributes
    ----------
    edges : int
        Edges a turn, both directions.
    shares : tuple of float
        Each interval's usual share of the turn, from a rising edge on.
    turn_s : ndarray
        Length of a turn at each edge, seconds.
    broken_s : tuple of (float, float)
        Stretches where the pattern does not hold.
    """

    edges: int
    shares: tuple[float, ...]
    turn_s: Row = field(repr=False)
    broken_s: tuple[tuple[float, float], ...]


def uneven_wheel(at_s: Times, rising: Mask) -> UnevenWheel | None:
    """The shortest pattern that repeats; None where none does for two and a half turns."""
    if at_s.size < 12:
        return None
    long = np.log(np.diff(at_s))
    for edges in range(2, min(MOST_EDGES, int(long.size / TURNS)) + 1, 2):
        change = long[edges:] - long[:-edges]
        steady = change - _slow(change, edges)
        same = np.abs(steady) < ALIKE
        if same.mean() >= REPEATS:
            return _described(at_s, rising, edges, same)
    return None


def _slow(change: Row, edges: int) -> Row:
    """The turns' own change of speed: the median over about a turn."""
    width = max(edges, 4) | 1
    padded = np.pad(change, width // 2, mode="edge")
    slow: Row = np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1)
    return slow


def _described(
    at_s: Times,
    rising: Mask,
    edges: int,
    same: Mask,
) -> UnevenWheel:
    turn = at_s[edges:] - at_s[:-edges]
    apart = np.diff(at_s)[: turn.size] / turn
    first = int(np.argmax(rising))
    whole = (turn.size - first) // edges
    rows = apart[first : first + whole * edges].reshape(-1, edges)
    shares = np.median(rows, axis=0) if len(rows) else apart[:edges]
    # A wrong interval differs from the one before and makes the next differ from itself: one stretch.
    wrong = np.flatnonzero(~same)
    groups = np.split(wrong, np.flatnonzero(np.diff(wrong) > edges) + 1) if wrong.size else []
    broken = tuple(
        (float(at_s[group[0] + edges]), float(at_s[min(group[-1] + edges + 1, at_s.size - 1)])) for group in groups
    )
    return UnevenWheel(edges, tuple(float(one) for one in shares), turn, broken)


def away(own: UnevenWheel, good: UnevenWheel) -> float | None:
    """Largest difference of two patterns, share of a turn, at the best turn of one on the other; None where counts differ."""
    if own.edges != good.edges:
        return None
    mine = np.cumsum(own.shares)
    best = np.inf
    for shift in range(0, own.edges, 2):
        theirs = np.cumsum(np.roll(good.shares, shift))
        off = mine - theirs
        best = min(best, float(np.abs(off - np.median(off)).max()))
    return best
