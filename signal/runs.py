"""Runs of samples beyond zero, found in blocks, and joined where there are too many to read."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.samples import Wave

Indices = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Runs:
    """Runs in order, not touching each other.

    Attributes
    ----------
    first, last : ndarray of int64, shape (n,)
        Half-open range of each run.
    worst : ndarray of float32, shape (n,)
        Greatest value in each run.
    """

    first: Indices
    last: Indices
    worst: Wave


def runs_above_zero(rows: Iterable[tuple[int, Wave]], *, most: int) -> Runs:
    """Runs of values above zero; beyond ``most`` of them the nearest neighbours are joined.

    Memory stays bounded by ``most`` and one block.

    Parameters
    ----------
    rows : iterable of (int, ndarray)
        Index of the first value, and the values, block after block; not-a-number is not above zero.
    most : int
        At least 2.

    Returns
    -------
    Runs
        The whole reach of the values above zero, in at most ``most`` runs.
    """
    kept = Runs(np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, np.float32))
    for start, values in rows:
        kept = _fewer(_linked(kept, _in_block(start, values)), 2 * most)
    return _fewer(kept, most)


def _in_block(start: int, values: Wave) -> Runs:
    above = values > 0
    changes = np.flatnonzero(np.diff(above, prepend=False, append=False))
    first, last = changes[::2], changes[1::2]
    if not first.size:
        return Runs(first, last, np.empty(0, np.float32))
    worst: Wave = np.maximum.reduceat(np.where(above, values, np.float32(0)), first)
    return Runs(first + start, last + start, worst)


def _linked(before: Runs, after: Runs) -> Runs:
    """Both in a row; a run over the blocks' border is one."""
    first, last = np.append(before.first, after.first), np.append(before.last, after.last)
    worst = np.append(before.worst, after.worst)
    return _merged(first, last, worst, np.flatnonzero(first[1:] > last[:-1]) + 1)


def _fewer(runs: Runs, most: int) -> Runs:
    """Cut at the ``most - 1`` widest gaps only."""
    if runs.first.size <= most:
        return runs
    gaps = runs.first[1:] - runs.last[:-1]
    widest = np.argpartition(gaps, gaps.size - (most - 1))[gaps.size - (most - 1) :]
    return _merged(runs.first, runs.last, runs.worst, np.sort(widest) + 1)


def _merged(first: Indices, last: Indices, worst: Wave, cuts: Indices) -> Runs:
    """One run from each cut to the next."""
    if not first.size:
        return Runs(first, last, worst)
    starts = np.concatenate([[0], cuts])
    stops = np.concatenate([cuts - 1, [first.size - 1]])
    return Runs(first[starts], last[stops], np.maximum.reduceat(worst, starts))
