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

    def __len__(self) -> int:
        return self._starts.size

    def groups(self, scale: Scale, width: int, *, least: int, apart: int = 2) -> Groups:
        """Place the stretches on a lane of ``width`` columns, each at least ``least`` columns wide.

        Only the columns' sides are looked up, whatever the number of stretches; those that lie less than ``apart``
        columns from the one before are joined to it.
        """
        sides_s = scale.start_s + (np.arange(width + 1) - scale.rect.left()) / scale.rect.width() * (
            scale.stop_s - scale.start_s
        )
        before = np.searchsorted(self._starts, sides_s)
        before[-1] = np.searchsorted(self._starts, sides_s[-1], side="right")  # what stands on the very edge is seen
        columns = np.diff(before)
        reach = np.concatenate([[-np.inf], self._reach])
        covered = (columns > 0) | (reach[before[:-1]] > sides_s[:-1])
        edges = np.flatnonzero(np.diff(np.concatenate([[False], covered, [False]])))
        left, right = edges[::2].copy(), edges[1::2].copy()
        entered = int(np.count_nonzero(self._stops[: before[0]] > sides_s[0])) if covered.size and covered[0] else 0
        if left.size and entered:
            left[0] = -least
        if left.size and covered[-1] and reach[before[-1]] > sides_s[-1]:
            right[-1] = width + least
        short = np.maximum(least - (right - left), 0)
        left, right = left - (short + 1) // 2, right + short // 2
        left, right = _joined(left, right, apart)
        sums = np.concatenate([[0], np.cumsum(columns)])
        begun = sums[np.clip(right, 0, width)] - sums[np.clip(left, 0, width)]
        if begun.size:
            begun[0] += entered
        return Groups(left, right, begun, columns)


def _joined(left: Counts, right: Counts, apart: int) -> tuple[Counts, Counts]:
    if not left.size:
        return left, right
    begins = np.concatenate([[True], left[1:] - right[:-1] >= apart])
    ends = np.append(begins[1:], True)
    return left[begins], right[ends]
