"""Stretches of time or of samples: joined, cut, laid over each other."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Spans = npt.NDArray[np.float64]
"""Shape (n, 2): start and stop of each stretch, in order, not overlapping."""


def spans_of(pairs: Sequence[tuple[float, float]] | npt.NDArray[np.float64]) -> Spans:
    """Stretches from pairs, empty ones dropped, in order of their starts."""
    found = np.asarray(pairs, dtype=np.float64).reshape(-1, 2)
    found = found[found[:, 1] > found[:, 0]]
    ordered: Spans = found[np.argsort(found[:, 0], kind="stable")]
    return ordered


def shrunk(spans: Spans, before: float, after: float) -> Spans:
    """Each stretch without its first ``before`` and its last ``after``; what vanishes is dropped."""
    return spans_of(spans + np.array([before, -after]))


def joined(spans: Spans, gap: float) -> Spans:
    """Neighbours with at most ``gap`` between them made one."""
    if len(spans) < 2:
        return spans
    reach = np.maximum.accumulate(spans[:, 1])
    fresh = np.flatnonzero(spans[1:, 0] - reach[:-1] > gap) + 1
    firsts = np.concatenate([[0], fresh])
    lasts = np.concatenate([fresh - 1, [len(spans) - 1]])
    return np.column_stack([spans[firsts, 0], reach[lasts]])


def common(one: Spans, other: Spans) -> Spans:
    """Where both hold.

    Parameters
    ----------
    one, other : ndarray, shape (n, 2) and (m, 2)
        In order, each without overlaps.
    """
    if not len(one) or not len(other):
        return np.empty((0, 2))
    first = np.searchsorted(other[:, 1], one[:, 0], side="right")
    last = np.searchsorted(other[:, 0], one[:, 1], side="left")
    counts = np.maximum(last - first, 0)
    mine = np.repeat(np.arange(len(one)), counts)
    within = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    theirs = np.repeat(first, counts) + within
    return spans_of(
        np.column_stack([np.maximum(one[mine, 0], other[theirs, 0]), np.minimum(one[mine, 1], other[theirs, 1])])
    )


def total(spans: Spans) -> float:
    """Summed length."""
    return float((spans[:, 1] - spans[:, 0]).sum())
