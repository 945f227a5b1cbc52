"""Many stretches of time on a lane: which columns of pixels they cover, at a cost that does not grow with their number."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.viewer.lanes.scale import Places, Scale

Counts = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Groups:
    """Stretches as they stand on a lane, those that would touch taken as one.

    Attributes
    ----------
    left, right : ndarray of int64, shape (n,)
        Columns of pixels, ``right`` not included; -1 and beyond the width where a stretch goes on outside the lane.
    begun : ndarray of int64, shape (n,)
        How many stretches begin in each, or came into it from outside the lane: one at least.
    columns : ndarray of int64, shape (width,)
        How many begin in each column of pixels.
    """

    left: Counts
    right: Counts
    begun: Counts
    columns: Counts


class Stretches:
    """Stretches of time, made ready once for drawing them in every frame.

    Parameters
    ----------
    spans_s : ndarray of float64, shape (n, 2)
        Begin and end of each, in any order; a stretch may have no length.
    """

    def __init__(self, spans_s: Places) -> None:
        order = np.argsort(spans_s[:, 0], kind="stable")
        self._starts, self._stops = spans_s[order, 0], spans_s[order, 1]
        self._reach = np.maximum.accumulate(self._stops) if order.size else self._stops
        self._reach_before = np.append(-np.inf, self._reach)  # of so many from the first

    def __len__(self) -> int:
        return self._starts.size

    def groups(self, scale: Scale, width: int, *, least: int, apart: int = 2) -> Groups:
        """Place the stretches on a lane of ``width`` columns, each at least ``least`` columns wide.

        Only the columns' sides are looked up, whatever the number of stretches; those that lie less than ``apart``
        columns from the one before are joined to it.
        """
        a_pixel = (scale.stop_s - scale.start_s) / scale.rect.width()
        sides_s = np.arange(width + 1) * a_pixel + (scale.start_s - scale.rect.left() * a_pixel)
        before = np.searchsorted(self._starts, sides_s)
        before[-1] = np.searchsorted(self._starts, sides_s[-1], side="right")  # what stands on the very edge is seen
        if before[-1] == 0 or (before[0] == before[-1] and self._reach[before[0] - 1] <= sides_s[0]):
            nothing = np.empty(0, np.int64)
            return Groups(nothing, nothing, nothing, np.zeros(width, np.int64))
        columns = before[1:] - before[:-1]
        covered = np.zeros(width + 2, np.bool_)
        covered[1:-1] = (columns > 0) | (self._reach_before[before[:-1]] > sides_s[:-1])
        edges = np.flatnonzero(covered[1:] != covered[:-1])
        left, right = edges[::2].copy(), edges[1::2].copy()
        entered = int(np.count_nonzero(self._stops[: before[0]] > sides_s[0])) if covered[1] else 0
        if left.size and entered:
            left[0] = -least
        if left.size and covered[-2] and self._reach_before[before[-1]] > sides_s[-1]:
            right[-1] = width + least
        short = np.maximum(least - (right - left), 0)
        left, right = left - (short + 1) // 2, right + short // 2
        left, right = _joined(left, right, apart)
        begun = before[np.minimum(right, width)] - before[np.maximum(left, 0)]
        if begun.size:
            begun[0] += entered
        return Groups(left, right, begun, columns)


def _joined(left: Counts, right: Counts, apart: int) -> tuple[Counts, Counts]:
    if not left.size:
        return left, right
    begins = np.concatenate([[True], left[1:] - right[:-1] >= apart])
    ends = np.append(begins[1:], True)
    return left[begins], right[ends]
