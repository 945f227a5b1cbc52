"""Single time stamps that were spoilt, where all the others stand in line by the number of their row."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.samples import Times

MOST_SHARE = 0.01
WITHIN = 0.01
ENDS = 3
LEAST_STAMPS = 20


def in_line(stamps: Times, *, digit_s: float) -> tuple[Times, int] | None:
    """The stamps with the spoilt ones put in line, and how many they were; None where that cannot be told.

    A row that was lost or doubled shifts all later ones off the line, so nothing is moved in time by this: it holds only
    where every other stamp agrees with its own row's number, and each spoilt one stands alone between such.

    Parameters
    ----------
    stamps : ndarray of float64, shape (n,)
        Seconds; not-a-number where the cell was none.
    digit_s : float
        One unit of the last written digit, seconds.
    """
    if stamps.size < LEAST_STAMPS:
        return None
    lines = (_line(stamps, first, last, digit_s) for first, last in _ends(stamps))
    best = max(lines, key=lambda one: np.count_nonzero(one[1]), default=None)
    if best is None:
        return None
    line, agreeing = best
    spoilt = np.flatnonzero(~agreeing)
    is_few = 0 < spoilt.size <= max(MOST_SHARE * stamps.size, 1.0)
    is_alone = is_few and spoilt[0] > 0 and spoilt[-1] < stamps.size - 1 and (np.diff(spoilt) > 1).all()
    return (line, spoilt.size) if is_alone else None


def _ends(stamps: Times) -> list[tuple[int, int]]:
    finite = np.flatnonzero(np.isfinite(stamps))
    return [(int(first), int(last)) for first in finite[:ENDS] for last in finite[-ENDS:] if last > first]


def _line(stamps: Times, first: int, last: int, digit_s: float) -> tuple[Times, npt.NDArray[np.bool_]]:
    """The line through two stamps, and which stamps lie on it."""
    step_s = (stamps[last] - stamps[first]) / (last - first)
    line: Times = stamps[first] + (np.arange(stamps.size) - first) * step_s
    if step_s <= 0:
        return line, np.zeros(stamps.size, dtype=np.bool_)
    allowed_s = max(WITHIN * step_s, min(1.01 * digit_s, 0.5 * step_s))
    with np.errstate(invalid="ignore"):
        return line, np.abs(stamps - line) <= allowed_s
