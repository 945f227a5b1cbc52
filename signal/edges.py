"""Edges of a two-state signal, with hysteresis, in blocks."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import Samples, Wave, blocks

Indices = npt.NDArray[np.int64]
Positions = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Edges:
    """All state changes of a signal, in order; rising and falling ones alternate.

    Attributes
    ----------
    at : ndarray of float64, shape (n,)
        Where the signal crossed ``level`` on its way, in samples, interpolated.
    decided : ndarray of int64, shape (n,)
        Index of the first sample beyond the far threshold: where a comparator would have switched.
    rising : ndarray of bool, shape (n,)
        True for edges to the high state.
    starts_high : bool or None
        State before the first edge; None where no sample passed either threshold.
    level : float
        The level of ``at``.
    """

    at: Positions
    decided: Indices
    rising: npt.NDArray[np.bool_]
    starts_high: bool | None
    level: float


def find_edges(
    samples: Samples, *, low: float, high: float, level: float | None = None, progress: Progress = unwatched
) -> Edges:
    """Edges of a comparator with hysteresis: high above ``high``, low below ``low``, else as before.

    Parameters
    ----------
    samples : Samples
        Any length. Not-a-number passes neither threshold: the state holds over a gap.
    low, high : float
        Thresholds, in the channel's unit, ``low <= high``.
    level : float, optional
        The level whose crossing is timed; half way between the thresholds if not given.
    progress : Progress
        0 to 1 over the samples.

    Raises
    ------
    ValueError
        If ``low`` is above ``high`` or ``level`` is not between them.
    """
    level = 0.5 * (low + high) if level is None else level
    if not low <= level <= high:
        raise ValueError(f"thresholds must be in order, got low {low}, level {level}, high {high}")
    walker = _Walker(low, high, level)
    for start, values in blocks(samples, progress):
        walker.take(start, values)
    return walker.edges()


class _Walker:
    """What has to be carried from block to block."""

    def __init__(self, low: float, high: float, level: float) -> None:
        self._low, self._high, self._level = np.float32(low), np.float32(high), level
        self._state: bool | None = None
        self._starts_high: bool | None = None
        self._last = np.float32(np.nan)
        self._crossed = {True: (-1.0), False: (-1.0)}
        self._at: list[Positions] = []
        self._decided: list[Indices] = []
        self._rising: list[npt.NDArray[np.bool_]] = []

    def take(self, start: int, values: Wave) -> None:
        joined = np.concatenate([[self._last], values])
        self._last = values[-1]
        above, below = joined > self._high, joined < self._low
        ups = np.flatnonzero(above[1:] & ~above[:-1])
        downs = np.flatnonzero(below[1:] & ~below[:-1])
        decided = np.concatenate([ups, downs])
        rising = np.concatenate([np.ones(ups.size, bool), np.zeros(downs.size, bool)])
        order = np.argsort(decided, kind="stable")
        decided, rising = decided[order], rising[order]
        if self._state is None and decided.size:
            # The first decision tells the state from the start on; it is no edge: nothing was seen to change.
            self._state = self._starts_high = bool(rising[0])
        if decided.size:
            before = np.concatenate([[self._state], rising[:-1]])
            kept = rising != before
            self._state = bool(rising[-1])
            decided, rising = decided[kept], rising[kept]
        at = np.empty(decided.size)
        for direction in (True, False):
            at[rising == direction] = self._timed(joined, start, decided[rising == direction], direction)
        self._at.append(at)
        self._decided.append(decided + start)
        self._rising.append(rising)

    def _timed(self, joined: Wave, start: int, decided: Indices, rising: bool) -> Positions:
        """Last crossing of the level at or before each decision; places are counted from the channel's first sample."""
        beyond = joined > self._level if rising else joined < self._level
        index = np.flatnonzero(beyond[1:] & ~beyond[:-1])
        before, after = joined[index].astype(np.float64), joined[index + 1].astype(np.float64)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = (self._level - before) / (after - before)
        crossings = start + index - 1 + np.where(np.isfinite(share), share, 1.0)
        known = np.concatenate([[self._crossed[rising]], crossings])
        places = np.concatenate([[-1], index])
        if crossings.size:
            self._crossed[rising] = float(crossings[-1])
        found: Positions = known[np.searchsorted(places, decided, side="right") - 1]
        return found

    def edges(self) -> Edges:
        joined: Indices = np.concatenate(self._decided) if self._decided else np.empty(0, np.int64)
        return Edges(
            at=np.concatenate(self._at) if self._at else np.empty(0),
            decided=joined,
            rising=np.concatenate(self._rising) if self._rising else np.empty(0, bool),
            starts_high=self._starts_high,
            level=self._level,
        )
