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


def without(one: Spans, other: Spans) -> Spans:
    """Where the one holds and the other does not; each in order, without overlaps."""
    if not len(other):
        return one
    starts = np.concatenate([[-np.inf], other[:, 1]])
    stops = np.concatenate([other[:, 0], [np.inf]])
    return common(one, spans_of(np.column_stack([starts, stops])))


def total(spans: Spans) -> float:
    """Summed length."""
    return float((spans[:, 1] - spans[:, 0]).sum())


def covered(spans: Spans, by: Spans) -> npt.NDArray[np.float64]:
    """How much of each stretch others cover, shape (n,).

    Parameters
    ----------
    spans, by : ndarray, shape (n, 2) and (m, 2)
        ``by`` in order and without overlaps; ``spans`` in any order.
    """
    if not len(by):
        return np.zeros(len(spans))
    before = np.concatenate([[0.0], np.cumsum(by[:, 1] - by[:, 0])])

    def until(times: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        place = np.searchsorted(by[:, 0], times, side="right")
        last = np.maximum(place - 1, 0)
        over = np.where(place > 0, np.maximum(by[last, 1] - times, 0.0), 0.0)
        length: npt.NDArray[np.float64] = before[place] - over
        return length

    found: npt.NDArray[np.float64] = until(spans[:, 1]) - until(spans[:, 0])
    return found


def touched(spans: Spans, by: Spans) -> npt.NDArray[np.bool_]:
    """Which stretches share more than an end with any of the others, shape (n,); ``by`` in order of its starts."""
    if not len(by):
        return np.zeros(len(spans), dtype=bool)
    reach = np.concatenate([[-np.inf], np.maximum.accumulate(by[:, 1])])
    found: npt.NDArray[np.bool_] = reach[np.searchsorted(by[:, 0], spans[:, 1], side="left")] > spans[:, 0]
    return found
