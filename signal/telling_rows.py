"""A channel as a fingerprint sees it: all of it in few enough points, and pieces of it with every sample."""

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.progress import Progress
from loomlight.signal.resample import instants, values_at
from loomlight.signal.samples import BLOCK, Wave

Row = npt.NDArray[np.float64]

MOST_POINTS = 131_072
"""Points of the whole; a channel with no more samples than these is taken as it is."""
PIECES, PIECE = 8, 16_384
"""Pieces with every sample, spread over a longer channel."""
FEWEST_KNOWN = 50


@dataclass(frozen=True, eq=False)
class TellingRows:
    """What a fingerprint is made from.

    Attributes
    ----------
    whole : ndarray of float64, shape (n,), n <= 131 072
        Means over ``factor`` samples each; what was not acquired holds the value before it.
    step_s : float
        Spacing of ``whole``, seconds.
    factor : int
        1 where ``whole`` has every sample.
    pieces : tuple of ndarray of float64
        With every sample, ``step_s / factor`` apart; empty where ``factor`` is 1.
    """

    whole: Row = field(repr=False)
    step_s: float
    factor: int
    pieces: tuple[Row, ...] = field(repr=False)

    @property
    def fine_step_s(self) -> float:
        """Spacing of the samples themselves, seconds."""
        return self.step_s / self.factor

    @property
    def length_s(self) -> float:
        """Seconds from the first point to the end of the last."""
        return self.whole.size * self.step_s


def telling_rows(channel: Channel, progress: Progress) -> TellingRows:
    """Read a channel once, in blocks.

    Parameters
    ----------
    channel : Channel
        Any form; of ``pairs`` the middle counts, ``changes`` and ``uneven`` are brought to an even step first.
    progress : Progress
        0 to 1.

    Raises
    ------
    CannotUse
        If fewer than 50 samples are known.
    """
    rows = _of_times(channel) if channel.step_s is None else _of_steps(channel, progress)
    known = int(np.isfinite(rows.whole).sum())
    if known * rows.factor < FEWEST_KNOWN:
        raise CannotUse(
            f"{channel.name!r} has {known * rows.factor} known samples; to be told from others it needs at least "
            f"{FEWEST_KNOWN}. Record a longer stretch."
        )
    return TellingRows(_held(rows.whole), rows.step_s, rows.factor, tuple(_held(one) for one in rows.pieces))


def _of_steps(channel: Channel, progress: Progress) -> TellingRows:
    assert channel.step_s is not None
    count = channel.intervals
    factor = max(1, math.ceil(count / MOST_POINTS))
    if factor == 1:
        progress(0.0)
        return TellingRows(instants(channel, 0, count).astype(np.float64), channel.step_s, 1, ())
    points = count // factor
    whole = np.empty(points)
    begins = np.linspace(0, count - PIECE, PIECES).astype(np.int64).tolist()
    pieces = [np.empty(PIECE) for _ in begins]
    a_block = max(1, BLOCK // factor)
    for first in range(0, points, a_block):
        progress(first / points)
        last = min(first + a_block, points)
        values = instants(channel, first * factor, last * factor)
        whole[first:last] = _means(values.reshape(last - first, factor))
        for begin, piece in zip(begins, pieces, strict=True):
            _laid_in(piece, values, first * factor - begin)
    for begin, piece in zip(begins, pieces, strict=True):  # what does not fill a last point
        if begin + PIECE > points * factor:
            piece[points * factor - begin :] = instants(channel, points * factor, begin + PIECE)
    return TellingRows(whole, channel.step_s * factor, factor, tuple(pieces))


def _laid_in(piece: Row, values: Wave, at: int) -> None:
    """Copy what of a block, which begins at the piece's place ``at``, belongs to the piece."""
    first, last = max(at, 0), min(at + values.size, piece.size)
    if last > first:
        piece[first:last] = values[first - at : last - at]


def _means(windows: Wave) -> Row:
    means: Row = np.einsum("ij->i", windows).astype(np.float64) / windows.shape[1]
    torn = np.flatnonzero(~np.isfinite(means))
    if torn.size:
        known = np.isfinite(windows[torn])
        total = np.where(known, windows[torn], 0.0).sum(axis=1)
        number = known.sum(axis=1)
        means[torn] = np.where(number > 0, total / np.maximum(number, 1), np.nan)
    return means


def _of_times(channel: Channel) -> TellingRows:
    times_s = channel.times_s
    assert times_s is not None
    span_s = float(times_s[-1] - times_s[0]) if times_s.size > 1 else 0.0
    if times_s.size < 4 or span_s <= 0:
        raise CannotUse(f"{channel.name!r} has {times_s.size} values; to be told from others it needs more.")
    apart = np.diff(times_s)
    # A sixth of the short spacings shows where within them something changed.
    step_s = max(float(np.quantile(apart[apart > 0], 0.05)) / 6.0, span_s / (MOST_POINTS - 1))
    at_s = times_s[0] + step_s * np.arange(int(span_s / step_s) + 1)
    return TellingRows(values_at(channel, at_s).astype(np.float64), step_s, 1, ())


def _held(row: Row) -> Row:
    """Values that are no number take the one before them (at the start, the one after)."""
    known = np.isfinite(row)
    if known.all():
        return row
    if not known.any():
        return np.zeros(row.size)
    place = np.maximum.accumulate(np.where(known, np.arange(row.size), -1))
    held: Row = row[np.where(place >= 0, place, int(np.argmax(known)))]
    return held
