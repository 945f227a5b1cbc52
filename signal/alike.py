"""How far fingerprints are from each other: what narrows many thousand entries down to a few that are worth a line-up."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.fingerprint import PLACES, SIZE
from loomlight.signal.sketch import ROUGH, likeness_of_sketches, shown_by

Table = npt.NDArray[np.float32]
Row = npt.NDArray[np.float64]

SCATTER: dict[str, tuple[float, float]] = {
    "spectrum": (0.036, 1.0),
    "corners": (0.13, 0.5),
    "correlation": (0.065, 0.3),
    "values": (0.12, 1.0),
    "share": (0.034, 1.0),
    "high runs": (0.1, 0.7),
    "low runs": (0.1, 0.7),
    "periods": (0.05, 0.7),
    "edges": (0.2, 1.0),
    "moments": (0.06, 1.0),
}
"""By how much each group's numbers differ between two recordings of one signal, and how much each number counts.

Measured on 400 made pairs at 10 to 20 dB, shifted, of other lengths and rates (seed 1 of tests/signal/made_library.py);
the table in tests/signal/match_calibration.md is of other seeds.
"""
MOST, ONE_SIDED = 9.0, 3.0
"""Squared deviations at which a number no longer counts against an entry, and for one that only one of the two tells."""
SKETCHED, SKETCHED_CLOSELY = 1000, 150
"""The nearest whose sketches are laid on the query's, roughly and closely."""
SKETCH_COUNTS = 400.0
"""What sketches that have nothing in common count, as far as they show the signal."""
UNKNOWN_LIKENESS = 0.5
"""Taken where two sketches cannot be laid on each other."""
ROWS = 2048

_COUNTED = PLACES["sketch"].start
_SCATTER = np.ones(_COUNTED, dtype=np.float32)
_COUNTS = np.ones(_COUNTED, dtype=np.float32)
for _name, (_scatter, _count) in SCATTER.items():
    _SCATTER[PLACES[_name]], _COUNTS[PLACES[_name]] = _scatter, _count


def distances(vector: npt.NDArray[np.float32], table: Table) -> Row:
    """Distance of one fingerprint to each of others, sketches left aside.

    Parameters
    ----------
    vector : ndarray of float32, shape (SIZE,)
        Of the query.
    table : ndarray of float32, shape (n, SIZE)
        A row an entry; a row of not-a-number is infinitely far.

    Returns
    -------
    ndarray of float64, shape (n,)
        Sum of squared deviations, each at most 9 times its weight.
    """
    if table.ndim != 2 or table.shape[1] != SIZE or vector.shape != (SIZE,):
        raise ValueError(f"fingerprints have {SIZE} numbers, got {vector.shape} and {table.shape}")
    own = (vector[:_COUNTED] / _SCATTER).astype(np.float32)
    own_known = np.isfinite(own)
    found = np.empty(len(table))
    for first in range(0, len(table), ROWS):
        rows = table[first : first + ROWS, :_COUNTED] / _SCATTER
        known = np.isfinite(rows)
        apart = np.minimum(np.square(rows - own), np.float32(MOST))
        apart = np.where(known & own_known, apart, np.where(known == own_known, np.float32(0), np.float32(ONE_SIDED)))
        total = apart @ _COUNTS
        found[first : first + ROWS] = np.where(known.any(axis=1), total, np.inf)
    return found


def upside_down(vector: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Fingerprint of the same signal with its sign turned."""
    turned = vector.copy()
    turned[PLACES["values"]] = -vector[PLACES["values"]][::-1]
    turned[PLACES["share"]] = 1.0 - vector[PLACES["share"]]
    turned[PLACES["high runs"]], turned[PLACES["low runs"]] = vector[PLACES["low runs"]], vector[PLACES["high runs"]]
    skewed = PLACES["moments"].start
    turned[skewed] = -vector[skewed]
    return turned


def nearest(
    vector: npt.NDArray[np.float32], sketches: npt.NDArray[np.float32], table: Table, *, most: int
) -> tuple[npt.NDArray[np.int64], Row]:
    """The entries nearest to a query, either way up, sketches included.

    Parameters
    ----------
    vector : ndarray of float32, shape (SIZE,)
        Of the query.
    sketches : ndarray of float32, shape (k, SKETCH_SIZE)
        Of the query, begun at different shares of a window.
    table : ndarray of float32, shape (n, SIZE)
        A row an entry.
    most : int
        How many at most.

    Returns
    -------
    index : ndarray of int64, shape (m,)
        Nearest first.
    distance : ndarray of float64, shape (m,)
    """
    apart = np.minimum(distances(vector, table), distances(upside_down(vector), table))
    near = np.argsort(apart, kind="stable")[:SKETCHED]
    near = near[np.isfinite(apart[near])]
    known = table[near, PLACES["sketch"]]
    counts = SKETCH_COUNTS * shown_by(sketches[0].astype(np.float64), known)
    for most_closely, joined in ((SKETCHED_CLOSELY, ROUGH), (most, 0)):
        likeness = likeness_of_sketches(sketches, known, joined=joined)
        whole = apart[near] + counts * (1.0 - np.where(np.isfinite(likeness), likeness, UNKNOWN_LIKENESS))
        order = np.argsort(whole, kind="stable")[:most_closely]
        near, known, counts, whole = near[order], known[order], counts[order], whole[order]
    return near.astype(np.int64), whole
