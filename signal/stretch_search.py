"""Two recordings of one signal whose clocks, bit rates or speeds differ: by how much.

A long overlap at the wrong rate comes to nothing, a short piece bears it. So short pieces of the one are tried at all
rates on the whole of the other, and the best are made longer step by step, the rate finer each time.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.correlate import Correlation, Row, correlate
from loomlight.signal.progress import Progress

MOST_STRETCH = math.log(1.0 / 0.85)
"""Logarithm of the largest ratio of two clocks, 15 % apart: what fits beyond is another signal."""
PIECE_INDEPENDENT = 48.0
"""Independent points of the first pieces: as many as still tell one place from another at a rate half a step off."""
RATE_STEP = 2.0
"""Of a step in rate, the widths of a feature by which the two ends of a piece are moved against each other."""
MOST_WIDTHS = 200.0
"""Features that a first piece is at most long: more would want finer rates."""
HOPELESS = 0.8
"""Of what chance gives, what a lengthened piece has to reach to be followed further."""
PIECES, KEPT, LEAST_POINTS = 4, 4, 64
CARRIED, BELOW = 0.95, 0.35
"""Share of the power that lies below this share of the rate that rows are averaged down to."""
ENOUGH = 16_384
"""Points of a row that are looked at to learn what it is like."""
LEAST_A_PERIOD = 12.0
"""A signal that repeats with fewer independent points a period fits any other of its kind at some rate."""


@dataclass(frozen=True)
class Rate:
    """A ratio of clocks at which a piece fits.

    Attributes
    ----------
    stretch : float
        Seconds of the other a second of the one.
    begin, stop : int
        The piece, in points of the one, averaged down.
    place : float
        Where its middle lies in the other, in points.
    value : float
        Likeness there, with its sign.
    tried : float
        How many rates can be told apart within the bounds.
    """

    stretch: float
    begin: int
    stop: int
    place: float
    value: float
    tried: float = 1.0


@dataclass(frozen=True)
class _Feature:
    """How wide a feature is, in points, and the share of points that count as independent."""

    width: float
    independent: float


def retimed(channel: Channel, stretch: float) -> Channel:
    """The same samples by a clock that shows ``stretch`` times as much."""
    if stretch == 1.0:
        return channel
    assert channel.step_s is not None
    return replace(channel, start_s=stretch * channel.start_s, step_s=stretch * channel.step_s)


def rate_between(one: Row, other: Row, progress: Progress) -> Rate | None:
    """The rate at which one row fits the other, to about the width of a feature over the whole overlap.

    Parameters
    ----------
    one, other : ndarray, shape (n,) and (m,)
        At what is taken for the same step; not-a-number counts as the mean.
    progress : Progress
        0 to 1.

    Returns
    -------
    Rate or None
        Its ``stretch`` within 15 % of 1; None for rows too short, or that repeat too soon for a rate to be told.
    """
    one, other = _levelled(one), _levelled(other)
    both = [correlate(row, row, least_overlap=max(2, row.size // 10)) for row in (_middle(one), _middle(other))]
    independent = min(found.independent for found in both)
    if any(_repeats_soon(found, independent) for found in both):
        return None
    factor = min(_needless(row) for row in (one, other))
    one, other = _averaged(one, factor), _averaged(other, factor)
    feature = _Feature(max(1.0, min(_half_width(found) for found in both) / factor), min(1.0, independent * factor))
    size = max(LEAST_POINTS, round(min(PIECE_INDEPENDENT / feature.independent, MOST_WIDTHS * feature.width)))
    if size > min(one.size, other.size) // 2:
        return None
    found = _first(one, other, size, feature, progress)
    while found:
        if found[0].stop - found[0].begin >= 0.95 * _most(found[0], one, other):
            return replace(found[0], tried=_rates(one.size, feature))
        longer = [_longer(rate, one, other, feature) for rate in found]
        kept = [rate for rate in longer if rate is not None and not _is_chance(rate, other, feature)]
        found = sorted(kept, key=lambda rate: -_score(rate))[: max(1, len(found) // 2)]
    return None


def _rates(size: int, feature: _Feature) -> float:
    return max(1.0, 2.0 * MOST_STRETCH * size / (RATE_STEP * feature.width))


def _is_chance(rate: Rate, other: Row, feature: _Feature) -> bool:
    """Whether unrelated rows would reach as much somewhere among all rates and places."""
    independent = max((rate.stop - rate.begin) * feature.independent - 3.0, 1.0)
    tries = _rates(rate.stop - rate.begin, feature) * max(other.size * feature.independent, 2.0)
    return math.atanh(min(abs(rate.value), 0.999)) < HOPELESS * math.sqrt(2.0 * math.log(tries) / independent)


def _half_width(found: Correlation) -> float:
    """Points from the middle of a row's correlation with itself to where it has fallen to a half, between the points."""
    after = found.values[found.lags.size // 2 :]
    below = int(np.argmax(after < 0.5))
    return below - (0.5 - after[below]) / (after[below - 1] - after[below]) if below else float(after.size)


def _needless(row: Row) -> int:
    """Factor by which a row can be averaged down and still carry nearly all of its power."""
    power = np.abs(np.fft.rfft(row)) ** 2
    total = np.cumsum(power)
    highest = int(np.searchsorted(total, CARRIED * total[-1])) + 1
    return max(1, int(BELOW * row.size / highest))


def _score(rate: Rate) -> float:
    return math.atanh(min(abs(rate.value), 0.995)) * math.sqrt(rate.stop - rate.begin)


def _levelled(row: Row) -> Row:
    """Without its straight-line trend, which would hide how wide its features are; 0 where nothing is known."""
    at, known = np.linspace(-1.0, 1.0, row.size), np.isfinite(row)
    line = np.polynomial.Polynomial.fit(at[known], row[known], 1)
    levelled: Row = np.where(known, row - line(at), 0.0)
    return levelled


def _middle(row: Row) -> Row:
    """Enough of a row to see how wide its features are."""
    first = max(0, (row.size - ENOUGH) // 2)
    return row[first : first + ENOUGH]


def _averaged(row: Row, factor: int) -> Row:
    averaged: Row = row[: row.size // factor * factor].reshape(-1, factor).mean(axis=1)
    return averaged


def _repeats_soon(found: Correlation, independent: float) -> bool:
    """Whether a row is nearly the same again after a few of its features."""
    middle = found.lags.size // 2
    after = found.values[middle:]
    fallen = int(np.argmax(after < 0.5))
    if after[fallen] >= 0.5:
        return False
    beyond = after[fallen : fallen + max(2, int(LEAST_A_PERIOD / independent))]
    return bool(beyond.max() > 0.9)


def _first(one: Row, other: Row, size: int, feature: _Feature, progress: Progress) -> list[Rate]:
    """The best places of a few lively pieces at every rate."""
    starts = np.unique(np.linspace(0, one.size - size, 4 * PIECES).astype(int))
    lively = np.array([one[start : start + size].std() for start in starts])
    starts = np.sort(starts[np.argsort(-lively, kind="stable")[:PIECES]])
    turns = math.ceil(0.5 * _rates(size, feature))
    rates = np.exp(np.linspace(-MOST_STRETCH, MOST_STRETCH, 2 * turns + 1))
    record = _Record(other, math.ceil(size * math.exp(MOST_STRETCH)) + 1)
    found = []
    for index, rate in enumerate(rates.tolist()):
        progress(0.7 * index / rates.size)
        pieces = [_at_rate(one, start, start + size, rate) for start in starts.tolist()]
        for start, (place, value) in zip(starts.tolist(), record.best_places(pieces), strict=True):
            found.append(Rate(rate, start, start + size, place + 0.5 * (pieces[0].size - 1), value))
    return sorted(found, key=lambda rate: -_score(rate))[: 2 * KEPT]


class _Record:
    """A long row made ready for laying many short pieces on it: its spectra in blocks a few pieces long."""

    def __init__(self, row: Row, longest: int) -> None:
        from scipy import fft

        self._row, self._length = row, fft.next_fast_len(4 * longest, real=True)
        self._hop = self._length - longest + 1
        blocks = -(-row.size // self._hop)
        padded = np.zeros(blocks * self._hop + self._length, dtype=np.float32)
        padded[: row.size] = row
        views = np.lib.stride_tricks.sliding_window_view(padded, self._length)[: blocks * self._hop : self._hop]
        self._spectra = fft.rfft(views)
        self._totals = _totals(row)

    def best_places(self, pieces: list[Row]) -> list[tuple[int, float]]:
        """Start and likeness of the best place of each piece; all equally long."""
        from scipy import fft

        size = pieces[0].size
        room = self._row.size - size + 1
        scale = _scale(self._totals, size).astype(np.float32)
        best = []
        for piece in pieces:
            spectrum = np.conj(fft.rfft(piece.astype(np.float32), self._length))
            crossed = fft.irfft(self._spectra * spectrum, self._length)[:, : self._hop].reshape(-1)[:room] * scale
            place = int(np.argmax(np.abs(crossed)))
            energy = float(piece @ piece)
            best.append((place, float(crossed[place]) / math.sqrt(energy) if energy > 0 else 0.0))
        return best


def _at_rate(one: Row, begin: int, stop: int, rate: float) -> Row:
    """A piece on the other's points, centred, its mean taken off."""
    count = max(2, int((stop - begin - 1) * rate) + 1)
    middle = 0.5 * (begin + stop - 1)
    places = middle + (np.arange(count) - 0.5 * (count - 1)) / rate
    values: Row = np.interp(places, np.arange(begin, stop), one[begin:stop])
    centred: Row = values - values.mean()
    return centred


def _totals(row: Row) -> tuple[Row, Row]:
    return np.concatenate([[0.0], np.cumsum(row)]), np.concatenate([[0.0], np.cumsum(row**2)])


def _scale(totals: tuple[Row, Row], size: int) -> Row:
    """What products with a centred piece are multiplied by: 1 / √(Σb² - (Σb)²/n) at each place; 0 where it is flat."""
    sums, squares = (total[size:] - total[:-size] for total in totals)
    spread = squares - sums**2 / size
    flat = 1e-6 * totals[1][-1] / max(totals[1].size - 1, 1) * size
    scale: Row = np.where(spread > flat, 1.0 / np.sqrt(np.maximum(spread, max(flat, 1e-300))), 0.0)
    return scale


def _most(rate: Rate, one: Row, other: Row) -> int:
    """Points of the one that lie on the other."""
    begin, stop = _reach(rate, one, other)
    return stop - begin


def _reach(rate: Rate, one: Row, other: Row) -> tuple[int, int]:
    middle = 0.5 * (rate.begin + rate.stop - 1)
    begin = max(0, math.ceil(middle - rate.place / rate.stretch))
    stop = min(one.size, math.floor(middle + (other.size - 1 - rate.place) / rate.stretch) + 1)
    return begin, stop


def _longer(rate: Rate, one: Row, other: Row, feature: _Feature) -> Rate | None:
    """Twice as long a piece round the same middle where there is room, at rates close by."""
    low, high = _reach(rate, one, other)
    size = rate.stop - rate.begin
    begin = max(low, rate.begin - size // 2)
    stop = min(high, begin + 2 * size)
    begin = max(low, stop - 2 * size)
    if stop - begin <= size:
        return None
    step = 0.5 * RATE_STEP * feature.width / (stop - begin)
    reach = math.ceil(6.0 * feature.width)
    shifted = 0.5 * (begin + stop - rate.begin - rate.stop)
    best = None
    for stretch in (rate.stretch + np.arange(-3, 4) * step).tolist():
        if abs(math.log(stretch)) > 1.02 * MOST_STRETCH:
            continue
        found = _near(one, other, begin, stop, rate.place + shifted * stretch, stretch, reach)
        if found is not None and (best is None or abs(found.value) > abs(best.value)):
            best = found
    return best


def _near(one: Row, other: Row, begin: int, stop: int, place: float, stretch: float, reach: int) -> Rate | None:
    from scipy import fft

    piece = _at_rate(one, begin, stop, stretch)
    wanted = round(place - 0.5 * (piece.size - 1))
    first, last = max(0, wanted - reach), min(other.size, wanted + reach + piece.size)
    if last - first < piece.size:
        short = piece.size - (last - first)
        piece = piece[(short + 1) // 2 : piece.size - short // 2]
        piece = piece - piece.mean()
    there: npt.NDArray[np.float64] = other[first:last]
    length = fft.next_fast_len(there.size, real=True)
    crossed = fft.irfft(np.conj(fft.rfft(piece, length)) * fft.rfft(there, length), length)[
        : there.size - piece.size + 1
    ]
    values = crossed * _scale(_totals(there), piece.size) / math.sqrt(max(float(piece @ piece), 1e-300))
    top = int(np.argmax(np.abs(values)))
    return Rate(stretch, begin, stop, first + top + 0.5 * (piece.size - 1), float(values[top]))
