"""Long columns of numbers, looked at without copies of themselves: memory stays near what is kept."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.samples import BLOCK, Times

Numbers = npt.NDArray[np.float64] | npt.NDArray[np.float32]
SPARE = 1.01


class LongColumn:
    """A column that grows block by block; in double precision until it is told that single will do.

    Parameters
    ----------
    expected : int
        Rows, by the size of the file; more are taken too.
    """

    def __init__(self, expected: int) -> None:
        self._kept: Numbers = np.empty(0)
        self._rows, self._expected = 0, expected

    def append(self, values: npt.NDArray[np.float64]) -> None:
        """Add the numbers of one block."""
        stop = self._rows + values.size
        if stop > self._kept.size:
            # Room for all only with the second block: by then it is known whether single precision will do.
            room = max(self._expected, int(1.25 * self._kept.size)) if self._rows else 0
            # Not by resize: it fills the new room with zeros and lets nobody else run meanwhile.
            wider = np.empty(max(stop, room), self._kept.dtype)
            wider[: self._rows] = self._kept[: self._rows]
            self._kept = wider
        with np.errstate(over="ignore"):  # what is too large becomes infinite: beyond the range
            self._kept[self._rows : stop] = values
        self._rows = stop

    def to_single(self) -> None:
        """Hold it in single precision from now on: it is no time."""
        single = np.empty(self._kept.size, np.float32)
        with np.errstate(over="ignore"):
            single[: self._rows] = self._kept[: self._rows]
        self._kept = single

    def whole(self) -> Numbers:
        """All numbers; nothing is added any more."""
        self._kept.resize(self._rows, refcheck=False)
        return self._kept


def falls(stamps: Numbers) -> npt.NDArray[np.bool_]:
    """Where a number is smaller than the one before."""
    return np.less(stamps[1:], stamps[:-1])


def never_falls(stamps: Numbers) -> bool:
    """Whether each number is at least the one before."""
    return bool((stamps[1:] >= stamps[:-1]).all())


def largest_size(numbers: Numbers) -> float:
    """Greatest magnitude of the finite numbers; 0 where there is none."""
    found = 0.0
    for start in range(0, numbers.size, BLOCK):
        block = np.abs(numbers[start : start + BLOCK])
        found = max(found, float(np.max(block, where=np.isfinite(block), initial=0.0)))
    return found


def farthest_from_line(stamps: Times, start_s: float, step_s: float) -> float:
    """Greatest distance of the stamps from an even axis."""
    found = 0.0
    for first in range(0, stamps.size, BLOCK):
        block = stamps[first : first + BLOCK]
        line = start_s + np.arange(first, first + block.size) * step_s
        found = max(found, float(np.abs(block - line).max()))
    return found


def counts_up(numbers: Numbers) -> bool:
    """Whether each number is the one before and one."""
    head = numbers[:100]
    if numbers.size < 2 or not (head[1:] - head[:-1] == 1).all():
        return False
    blocks = ((first, numbers[first : first + BLOCK]) for first in range(0, numbers.size, BLOCK))
    return all(np.array_equal(block, numbers[0] + np.arange(first, first + block.size)) for first, block in blocks)


def filled_rows(numbers: Numbers) -> int:
    """Rows up to the last one that holds a number."""
    stop = numbers.size
    while stop:
        start = max(stop - BLOCK, 0)
        found = np.flatnonzero(np.isfinite(numbers[start:stop]))
        if found.size:
            return start + int(found[-1]) + 1
        stop = start
    return 0
