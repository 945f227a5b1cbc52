"""A small sketch of a whole recording, on windows of a common scale, and how well sketches lie on each other."""

import math

import numpy as np
import numpy.typing as npt

from loomlight.signal.spectrum_traits import Power
from loomlight.signal.telling_rows import Row, TellingRows

POINTS = 512
SKETCH_SIZE = POINTS + 3
"""The windows' means, then how many there are, their width as a power of two of seconds, and their share of the power."""
BEGINS = (0.0, 1.0 / 3.0, 2.0 / 3.0)
"""Shares of a window at which a query's sketches begin: where a window begins ought not to matter."""
ROUGH = 2
"""Times that neighbouring windows are joined for a first look."""
LEAST_OVERLAP, FEWEST_POINTS = 0.5, 16
EXACT = 0.01
"""Share of the power that noise and the windows' own places leave unlike, even between two sketches of one signal."""
LEVELS = 2
"""Sketches of widths further apart than by four are not laid on each other."""

Sketches = npt.NDArray[np.float32]
Counts = npt.NDArray[np.int64]


def sketch(rows: TellingRows, power: Power, *, begin: float = 0.0) -> Row:
    """Means over windows of a power of two of seconds, 256 to 512 of them, with mean 0 and deviation 1.

    Parameters
    ----------
    rows : TellingRows
        Of the channel.
    power : Power
        Of the same.
    begin : float
        Share of a window at which the first one begins, 0 to 1.

    Returns
    -------
    ndarray, shape (SKETCH_SIZE,)
    """
    level = math.ceil(math.log2(max(rows.length_s / POINTS, rows.step_s)) - 1e-9)
    width = 2.0**level / rows.step_s
    count = min(POINTS, max(0, int(rows.whole.size / width - begin + 1e-9)))
    bounds = (begin + np.arange(count + 1)) * width
    running = np.concatenate([[0.0], np.cumsum(rows.whole - rows.whole.mean())])
    low = np.minimum(bounds.astype(np.int64), rows.whole.size - 1)
    total = running[low] + (bounds - low) * (running[low + 1] - running[low])
    means = np.diff(total) / width
    found = np.zeros(SKETCH_SIZE)
    deviation = float(means.std()) if count else 0.0
    if deviation > 0:
        found[:count] = (means - means.mean()) / deviation
    noise = power.noise / (2.0 * width * rows.step_s)
    found[POINTS:] = count, level, min(1.0, max(deviation**2 - noise, 0.0) / max(power.total, deviation**2, 1e-300))
    return found


def shown_by(one: Row, others: Sketches) -> Row:
    """How much of both signals a sketch and each of others show, 0 to 1, shape (n,)."""
    share = others[:, POINTS + 2].astype(np.float64)
    return np.sqrt(np.maximum(share * float(one[POINTS + 2]), 0.0))


def likeness_of_sketches(begun: Sketches, others: Sketches, *, joined: int) -> Row:
    """How well a query's sketches lie on each of others, at the best shift and begin.

    Parameters
    ----------
    begun : ndarray of float32, shape (k, SKETCH_SIZE)
        Of the query, at each of `BEGINS`.
    others : ndarray of float32, shape (n, SKETCH_SIZE)
        Of the entries.
    joined : int
        How many times neighbouring windows are joined first: 0 for the closest look.

    Returns
    -------
    ndarray, shape (n,)
        0 to 1: how much speaks for the best shift, against what would speak for a perfect one over the whole of the
        shorter. Not-a-number where the two are too short or too unlike in length to be laid on each other.

    Notes
    -----
    Each pair of windows speaks with the logarithm of what is left unlike (Wilks 1938).
    """
    found = np.full(len(others), np.nan)
    levels = others[:, POINTS + 1].astype(np.int64)
    own_level = int(begun[0, POINTS + 1])
    for level in range(own_level - LEVELS, own_level + LEVELS + 1):
        rows = np.flatnonzero(levels == level)
        if not rows.size:
            continue
        common = max(level, own_level) + joined
        mine = [_begun(row, place if joined else 0, common - own_level) for place, row in enumerate(begun)]
        found[rows] = _best(mine, *_joined(others[rows, :POINTS], _counts(others[rows]), common - level))
    return found


def _counts(sketches: Sketches) -> Counts:
    return sketches[:, POINTS].astype(np.int64)


def _begun(row: Sketches, past: int, times: int) -> tuple[Sketches, int]:
    """The query's windows, the first few left out so that joined ones too begin at different shares."""
    values, counts = _joined(row[None, past:POINTS], _counts(row[None]) - past, times)
    return values[0], int(counts[0])


def _joined(values: Sketches, counts: Counts, times: int) -> tuple[Sketches, Counts]:
    for _ in range(times):
        even = values[:, : values.shape[1] // 2 * 2]
        values, counts = np.float32(0.5) * (even[:, ::2] + even[:, 1::2]), counts // 2
    past = np.arange(values.shape[1]) >= counts[:, None]
    return np.where(past, np.float32(0), values), counts


def _best(begun: list[tuple[Sketches, int]], theirs: Sketches, counts: Counts) -> Row:
    """Most that speaks for any shift of any of the query's sketches, upside down or not."""
    from scipy import fft

    length = fft.next_fast_len(begun[0][0].size + theirs.shape[1], real=True)
    ones = (np.arange(theirs.shape[1]) < counts[:, None]).astype(np.float32)
    other = [fft.rfft(rows, length, axis=1) for rows in (theirs, theirs * theirs, ones)]
    best = np.full(len(theirs), np.nan)
    for mine, count in begun:
        if count < FEWEST_POINTS:
            continue
        here = (np.arange(mine.size) < count).astype(np.float32)
        own = [np.conj(fft.rfft(row, length)) for row in (mine, mine * mine, here)]
        laid = [
            fft.irfft(own[a] * other[b], length, axis=1) for a, b in ((0, 0), (2, 2), (0, 2), (1, 2), (2, 0), (2, 1))
        ]
        found = _evidence(*laid, count=count, counts=counts)
        best = np.fmax(best, found)
    return np.where(counts >= FEWEST_POINTS, best, np.nan)


def _evidence(
    both: Sketches,
    pairs: Sketches,
    sums_a: Sketches,
    squares_a: Sketches,
    sums_b: Sketches,
    squares_b: Sketches,
    *,
    count: int,
    counts: Counts,
) -> Row:
    pairs = np.maximum(np.round(pairs), 1.0)
    spread_a, spread_b = squares_a - sums_a**2 / pairs, squares_b - sums_b**2 / pairs
    shorter = np.maximum(np.minimum(count, counts), 1)[:, None]
    usable = (
        (pairs >= np.maximum(LEAST_OVERLAP * shorter, FEWEST_POINTS))
        & (spread_a > 1e-3 * pairs)
        & (spread_b > 1e-3 * pairs)
    )
    shared = both - sums_a * sums_b / pairs
    squared = np.where(usable, shared * shared / np.where(usable, spread_a * spread_b, 1.0), 0.0)
    left = np.log1p(EXACT - np.minimum(squared, 1.0)) * (1.0 / math.log(EXACT))
    found: Row = np.clip((left * pairs / shorter).max(axis=1), 0.0, 1.0).astype(np.float64)
    return found
