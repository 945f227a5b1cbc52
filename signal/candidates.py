"""The places where two rows may lie on each other: found, told apart, and whether they repeat."""

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.correlate import Correlation, Row, peak_between

REPEAT_SHARE = 0.9
"""Peaks this near to the best count as equally good when a period is looked for."""
SAME_SHARE = 0.98
"""Of repeated places this near to the best the one with the largest overlap is taken."""
NEAR_SHARE = 0.85
"""Peaks this near to the best are looked at between the points: a carrier's highest point may be a neighbour's."""
UPSIDE_DOWN_BONUS = 0.98
"""Upside down has to be better by 2 % to be believed: a square wave fits itself upside down half a period on."""
FEWEST_REPEATS = 3
MOST_PEAKS, MOST_INTERPOLATED = 400, 60
CLOSE, CLOSE_SHARE = 24, 0.2
"""Points to either side, and share of the largest, within which every crest is looked at between the points."""
CLOSELY = 6
"""Peaks looked at that closely."""
MOST_LIKENESS = 0.995
"""Above this, likeness is a matter of noise: overlap decides."""


@dataclass(frozen=True)
class Candidate:
    """One place where the two may lie on each other.

    Attributes
    ----------
    place : int
        Index among the lags.
    lag, value : float
        Points of the grid, and likeness with its sign.
    overlap : int
        Pairs.
    """

    place: int
    lag: float
    value: float
    overlap: int

    @property
    def size(self) -> float:
        """Likeness as it is believed: upside down a little less, and never whole."""
        return min(abs(self.value) * (1.0 if self.value > 0 else UPSIDE_DOWN_BONUS), MOST_LIKENESS)

    @property
    def score(self) -> float:
        """artanh(likeness) · √pairs (Fisher 1915): a long overlap counts for more than a short one."""
        return math.atanh(self.size) * math.sqrt(self.overlap)

    def evidence(self, independent: float) -> float:
        """Logarithm of how much likelier the pairs are as related than as unrelated ones.

        -n/2 · ln(1 - r²) for n independent pairs of two normal variables (Wilks 1938).

        Parameters
        ----------
        independent : float
            Share of the pairs that count as independent, 0 to 1.
        """
        return -0.5 * self.overlap * independent * math.log1p(-(self.size**2))


@dataclass(frozen=True)
class Repeat:
    """A signal that repeats: the period in points of the grid, and how many places fit equally well."""

    period: float
    places: int


def candidates(found: Correlation) -> list[Candidate]:
    """Local maxima of the score, best first, each outside the main lobe of a better one, interpolated where near-equal."""
    sizes = np.abs(found.values) * np.where(found.values > 0, 1.0, UPSIDE_DOWN_BONUS)
    scores = np.arctanh(np.minimum(sizes, MOST_LIKENESS)) * np.sqrt(found.overlap)
    inner = scores[1:-1]
    local = np.flatnonzero((inner >= scores[:-2]) & (inner > scores[2:]) & (inner > 0)) + 1
    if not local.size:
        top = int(np.argmax(scores))
        return [_at(found, top)] if scores[top] > 0 else []
    ordered = local[np.argsort(-scores[local], kind="stable")][:MOST_PEAKS]
    lobe = _lobe(found, int(ordered[0]))
    kept, taken = [], np.zeros(scores.size, dtype=bool)
    for place in ordered.tolist():
        if not taken[place]:
            kept.append(place)
            taken[max(0, place - lobe) : place + lobe + 1] = True
    coarse = [_at(found, place) for place in kept]
    near = [one for one in coarse if abs(one.value) >= NEAR_SHARE * abs(coarse[0].value)][:MOST_INTERPOLATED]
    between = [_highest_close(found, one) for one in near[:CLOSELY]] + [
        _interpolated(found, one) for one in near[CLOSELY:]
    ]
    looked_at = {one.place for one in near} | {one.place for one in between}
    others = [one for one in coarse if one.place not in looked_at]
    ordered_again = sorted(between + others, key=lambda one: -one.score)
    return list({one.place: one for one in reversed(ordered_again)}.values())[::-1]


def highest_between(values: Row, *, near: int | None = None) -> tuple[float, float]:
    """Where between the points the likeness is largest, upside down or not, and its value with sign.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Likeness with its sign.
    near : int, optional
        Look only close to this point; else close to the largest and at all that are nearly as large.

    Returns
    -------
    place, value : float
        In points from the first value.
    """
    sizes = np.abs(values) * np.where(values > 0, 1.0, UPSIDE_DOWN_BONUS)
    top = int(np.argmax(sizes)) if near is None else near
    places = _close_peaks(values, top)
    if near is None:
        inner = sizes[1:-1]
        large = (inner >= sizes[:-2]) & (inner > sizes[2:]) & (inner >= NEAR_SHARE * sizes[top])
        places = np.union1d(places, np.flatnonzero(large) + 1)
    strongest = places[np.argsort(-sizes[places], kind="stable")][:MOST_INTERPOLATED]
    best_at, best_value, best_size = float(top), float(values[top]), 0.0
    for place in strongest.tolist():
        sign = 1.0 if values[place] >= 0 else -1.0
        offset, height = peak_between(sign * values, place)
        size = min(height, 1.0) * (1.0 if sign > 0 else UPSIDE_DOWN_BONUS)
        if size > best_size:
            best_at, best_value, best_size = place + offset, sign * min(height, 1.0), size
    return best_at, best_value


def _close_peaks(values: Row, top: int) -> npt.NDArray[np.int64]:
    """Maxima and minima round a point, low ones too: of a fast carrier the points may all miss the highest crest."""
    first = max(1, top - CLOSE)
    at = values[first : min(values.size - 1, top + CLOSE + 1)]
    before, after = values[first - 1 : first - 1 + at.size], values[first + 1 : first + 1 + at.size]
    crest = (at > 0) & (at >= before) & (at > after) | (at < 0) & (at <= before) & (at < after)
    crest &= np.abs(at) >= CLOSE_SHARE * abs(values[top])
    return np.union1d(np.flatnonzero(crest) + first, [top])


def repeat_of(found: Correlation, best: Candidate) -> Repeat | None:
    """Spacing and number of equally good lags; None where the best stands alone."""
    signed = found.values * np.sign(best.value)
    inner = signed[1:-1]
    is_peak = (inner >= signed[:-2]) & (inner > signed[2:]) & (inner >= REPEAT_SHARE * abs(best.value))
    lags = found.lags[1:-1][is_peak].astype(np.float64)
    apart = np.abs(lags - best.lag)
    others = np.sort(apart[apart > _lobe(found, best.place)])
    if others.size < FEWEST_REPEATS:
        return None
    near = others[others < 1.3 * others[0]]
    first = float(near[np.argmin(np.abs(near - np.median(near)))])
    fitted = _exact_period(others, first)
    off = np.abs(others / fitted - np.round(others / fitted))
    if float(np.mean(off < 0.15)) <= 0.8:
        return None
    return Repeat(fitted, int(np.unique(np.round((lags - best.lag) / fitted)).size))


def _exact_period(apart: npt.NDArray[np.float64], first: float) -> float:
    """The period that all spacings are whole multiples of, by least squares, near ones first: far ones turn many times."""
    period = first
    reach = 4.0
    while True:
        used = apart[apart < reach * period]
        whole = np.round(used / period)
        period = float((used @ whole) / (whole @ whole))
        if used.size == apart.size:
            return period
        reach *= 2.0


def largest_overlap(among: list[Candidate], best: Candidate) -> Candidate:
    """Of the places of a repeating signal that fit as well as the best, the one with the largest overlap."""
    as_good = [
        one for one in among if one.value * np.sign(best.value) >= SAME_SHARE * min(abs(best.value), MOST_LIKENESS)
    ]
    return max(as_good, key=lambda one: one.overlap, default=best)


def best_rival(among: list[Candidate], best: Candidate, repeat: Repeat | None) -> Candidate | None:
    """The best other place; whole periods of a repeating signal are the same answer."""
    for other in among:
        if other.place == best.place or (repeat is not None and _is_repeat(other, best, repeat)):
            continue
        return other
    return None


def _is_repeat(other: Candidate, best: Candidate, repeat: Repeat) -> bool:
    turns = (other.lag - best.lag) / repeat.period
    upside_down = np.sign(other.value) != np.sign(best.value)
    return abs(turns - round(turns)) < 0.1 or (bool(upside_down) and abs(turns % 1.0 - 0.5) < 0.1)


def _at(found: Correlation, place: int) -> Candidate:
    return Candidate(place, float(found.lags[place]), float(found.values[place]), int(found.overlap[place]))


def _highest_close(found: Correlation, one: Candidate) -> Candidate:
    at, value = highest_between(found.values, near=one.place)
    place = round(at)
    return Candidate(place, float(found.lags[0]) + at, value, int(found.overlap[place]))


def _interpolated(found: Correlation, one: Candidate) -> Candidate:
    sign = 1.0 if one.value >= 0 else -1.0
    offset, height = peak_between(sign * found.values, one.place)
    return replace(one, lag=one.lag + offset, value=sign * min(height, 1.0))


def _lobe(found: Correlation, place: int) -> int:
    """Points from the best lag to where its likeness has fallen to less than a half on both sides."""
    values = found.values * np.sign(found.values[place])
    below = values < 0.5 * values[place]
    after = int(np.argmax(below[place:])) or below.size - place
    before = int(np.argmax(below[place::-1])) or place
    return max(after, before, 1)
