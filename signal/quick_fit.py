"""How well two channels lie on each other at a glance: a few thousand points of each, all shifts, no more."""

import math

import numpy as np

from loomlight.signal.coarse import is_flat
from loomlight.signal.correlate import Row, correlate
from loomlight.signal.telling_rows import TellingRows

POINTS = 8192
LEAST_OVERLAP = 0.4
EXACT = 1e-3
"""Share of the power that is left unlike even between two recordings of one signal, at best."""


def speaks(fit: float, share: float) -> float:
    """How much a fit over a share of the shorter recording speaks for two being the same, 0 to 1.

    The logarithm of what is left unlike (Wilks 1938), against that of a perfect fit over the whole.
    """
    left = max(1.0 - fit * fit, 0.0) + EXACT
    return min(max(math.log(left) / math.log(EXACT), 0.0), 1.0) * min(max(share, 0.0), 1.0)


def at_step(rows: TellingRows, step_s: float) -> Row:
    """Means over windows of ``step_s``, at least the rows' own; shape (n,)."""
    width = step_s / rows.step_s
    count = int(rows.whole.size / width + 1e-9)
    bounds = np.arange(count + 1) * width
    running = np.concatenate([[0.0], np.cumsum(rows.whole - rows.whole[0])])
    low = np.minimum(bounds.astype(np.int64), rows.whole.size - 1)
    total = running[low] + (bounds - low) * (running[low + 1] - running[low])
    means: Row = np.diff(total) / width + rows.whole[0]
    return means


def quick_fit(query: TellingRows, entry: TellingRows) -> float:
    """How much speaks for the best shift of one over the other, 0 to 1, whichever way up; 0 where there is none."""
    shorter_s, longer_s = sorted((query.length_s, entry.length_s))
    step_s = max(longer_s / POINTS, query.step_s, entry.step_s)
    if shorter_s / step_s < 16:
        return 0.0
    one, other = at_step(query, step_s), at_step(entry, step_s)
    if is_flat(one) or is_flat(other):
        return 0.0
    size = min(one.size, other.size)
    found = correlate(one, other, least_overlap=max(8, int(LEAST_OVERLAP * size)))
    left = np.log(np.maximum(1.0 - found.values**2, 0.0) + EXACT) / math.log(EXACT)
    return float(np.clip((left * found.overlap / size).max(), 0.0, 1.0))
