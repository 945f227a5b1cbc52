"""Two recordings of one signal whose clocks, or bit rates, differ: each piece fits, but the shift grows along the way."""

import numpy as np

from loomlight.signal.correlate import Row, correlate
from loomlight.signal.progress import Progress

PIECES = 16
LEAST_POINTS = 64
LEAST_FIT = 0.6
LEAST_PIECES = 11
LEAST_DRIFT = 3.0
"""Points that the shift must grow by over the whole; less is no clock's doing."""
MOST_SCATTER = 0.1
"""Scatter about the straight line, as a share of that growth."""


def clocks_apart(one: Row, other: Row, progress: Progress) -> float | None:
    """How much slower the second row's clock runs, as a share; None where the pieces do not say so together.

    Parameters
    ----------
    one, other : ndarray, shape (n,) and (m,)
        At what is taken for the same step.
    progress : Progress
        0 to 1.

    Notes
    -----
    The first row is cut into sixteen pieces, each laid on the second by itself; the best lags must fall on a straight line.
    """
    size = one.size // PIECES
    if size < LEAST_POINTS or other.size < size:
        return None
    middles, lags = [], []
    for number in range(PIECES):
        progress(number / PIECES)
        piece = one[number * size : (number + 1) * size]
        if not np.isfinite(piece).any() or np.nanstd(piece) == 0:
            continue
        found = correlate(piece, other, least_overlap=size)
        best = int(np.argmax(np.abs(found.values)))
        if abs(found.values[best]) >= LEAST_FIT:
            middles.append((number + 0.5) * size)
            lags.append(float(found.lags[best]) + number * -size)
    if len(lags) < LEAST_PIECES:
        return None
    slope, level = np.polyfit(middles, lags, 1)
    growth = abs(float(slope)) * one.size
    scatter = float(np.std(np.array(lags) - np.polyval([slope, level], middles)))
    return float(slope) if growth >= LEAST_DRIFT and scatter <= MOST_SCATTER * growth else None
