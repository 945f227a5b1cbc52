"""Line a suspect channel up against a known-good one by its shape."""

import math
from dataclasses import dataclass, replace

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.correlate import Correlation, Row, correlate, peak_between
from loomlight.signal.errors import CannotUse
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.resample import averaged

LEAST_SAMPLES = 50
MOST_POINTS = 131_072
LEAST_OVERLAP_SHARE = 0.1
LEAST_FIT = 0.4
LEAST_SURENESS = 0.25
"""Below either bar a line-up is refused; set on made pairs, related and not (see the calibration test)."""
PERIODIC_FIT = 0.8
FEWEST_REPEATS = 3
REPEAT_SHARE = 0.9
"""Peaks this near to the best count as equally good when a period is looked for."""
STRETCHES, STRETCH_POINTS = 16, 32_768
UPSIDE_DOWN_BONUS = 0.98
"""Upside down has to be better by 2 % to be believed: a square wave fits itself upside down half a period on."""


@dataclass(frozen=True)
class _Candidate:
    """One place where the two may lie on each other: lag in points of the grid, likeness with its sign, pairs."""

    lag: float
    value: float
    overlap: int


def line_up(suspect: Channel, good: Channel, *, same_moment: bool = False, progress: Progress = unwatched) -> LineUp:
    """Find the shift that lays the suspect over the known-good: ``t_good = lag_s + t_suspect``.

    Both are brought to the coarser of their two steps; long ones are first correlated in a coarser form, and the best
    places of that refined at the full step.

    Parameters
    ----------
    suspect, good : Channel
        Form ``even`` or ``pairs``, the same unit, any two steps.
    same_moment : bool
        Recorded together on one time axis: the lag is 0 by the clock; fit and value fit are worked out there.
    progress : Progress
        0 to 1.

    Returns
    -------
    LineUp
        Refused where unsure; the best candidate stands in it all the same.

    Raises
    ------
    CannotUse
        If the units differ, a channel has no even step, or fewer than 50 samples.

    Notes
    -----
    The score of a lag is artanh(r) · √(independent pairs) (Fisher 1915), so that a long overlap counts for more than a
    short one. ``sureness`` is the lesser of two shares: how far the best score stands above its best rival (1 at half as
    much again), and how far the fit stands above what unrelated signals of the same spectra reach by chance anywhere
    among the lags (1 at twice as much). Rivals at whole periods of a repeating signal do not count; they are told as
    ``repeats_s``.
    """
    _require(suspect, good)
    step_s = max(suspect.step_s or 0.0, good.step_s or 0.0)
    if same_moment:
        return _together(suspect, good, step_s, progress)
    longest = max(_points(suspect, step_s), _points(good, step_s))
    factor = 1 << max(0, math.ceil(math.log2(longest / MOST_POINTS)))
    grid_s = step_s * factor
    one = _on_grid(suspect, grid_s, part(progress, 0.0, 0.3))
    other = _on_grid(good, grid_s, part(progress, 0.3, 0.6))
    if _is_flat(one) or _is_flat(other):
        return _nothing(suspect if _is_flat(one) else good)
    least = max(32, round(LEAST_OVERLAP_SHARE * min(one.size, other.size)))
    found = correlate(one, other, least_overlap=min(least, one.size, other.size))
    progress(0.8)
    peaks = _peaks(found)
    if not peaks:
        return _nothing(suspect)
    period = _period(found, peaks[0])
    if factor > 1:
        refined = [_refined(suspect, good, peak, step_s, factor) for peak in peaks[:3]]
        best = max(refined, key=lambda one: _score(one.value, one.overlap))
    else:
        best = _between_points(found, peaks[0])
    progress(0.95)
    lag_s = good.start_s - suspect.start_s + best.lag * step_s
    carried = _carried(one, other, int(peaks[0].lag))
    chance = _chance(found, peaks[0].overlap, carried)
    return _answered(suspect, good, peaks, period, best, chance=chance, lag_s=lag_s, step_s=step_s, grid_s=grid_s)


def _require(suspect: Channel, good: Channel) -> None:
    if suspect.unit != good.unit and None not in (suspect.unit, good.unit):
        raise CannotUse(
            f"{suspect.name!r} is in {suspect.unit} and {good.name!r} in {good.unit}: choose two channels of the same unit."
        )
    for channel in (suspect, good):
        if channel.step_s is None:
            raise CannotUse(
                f"{channel.name!r} has no even time step, so it cannot be lined up by shape. Export it with every sample."
            )
        if channel.intervals < LEAST_SAMPLES:
            raise CannotUse(
                f"{channel.name!r} has {channel.intervals} samples; a line-up needs at least {LEAST_SAMPLES}. "
                "Record a longer stretch."
            )


def _points(channel: Channel, step_s: float) -> int:
    assert channel.step_s is not None
    return max(2, int((channel.intervals - 1) * channel.step_s / step_s + 1e-6) + 1)


def _on_grid(channel: Channel, grid_s: float, progress: Progress) -> Row:
    count = _points(channel, grid_s)
    rows = max(1, count // 16)
    pieces = []
    for first in range(0, count, rows):
        progress(first / count)
        many = min(rows, count - first)
        pieces.append(averaged(channel, step_s=grid_s, start_s=channel.start_s + first * grid_s, count=many))
    return np.concatenate(pieces)


def _is_flat(row: Row) -> bool:
    known = row[np.isfinite(row)]
    if known.size < LEAST_SAMPLES // 2:
        return True
    return float(np.ptp(known)) <= 1e-9 * max(1.0, float(np.abs(known).max()))


def _score(value: float, overlap: int, independent: float = 1.0) -> float:
    size = abs(value) * (1.0 if value > 0 else UPSIDE_DOWN_BONUS)
    return math.atanh(min(size, 0.995)) * math.sqrt(overlap * independent)


def _peaks(found: Correlation) -> list[_Candidate]:
    """Local maxima of the score, best first, each outside the main lobe of a better one."""
    sizes = np.abs(found.values) * np.where(found.values > 0, 1.0, UPSIDE_DOWN_BONUS)
    scores = np.arctanh(np.minimum(sizes, 0.995)) * np.sqrt(found.overlap)
    inner = scores[1:-1]
    local = np.flatnonzero((inner >= scores[:-2]) & (inner > scores[2:]) & (inner > 0)) + 1
    if not local.size:
        place = int(np.argmax(scores))
        return [_at(found, place)] if scores[place] > 0 else []
    ordered = local[np.argsort(-scores[local], kind="stable")][:400]
    lobe = _lobe(found, int(ordered[0]))
    kept: list[int] = []
    for place in ordered.tolist():
        if all(abs(place - other) > lobe for other in kept):
            kept.append(place)
    return [_at(found, place) for place in kept]


def _at(found: Correlation, place: int) -> _Candidate:
    return _Candidate(float(found.lags[place]), float(found.values[place]), int(found.overlap[place]))


def _lobe(found: Correlation, place: int) -> int:
    """Points from the best lag to where its likeness has fallen to less than a half on both sides."""
    values = found.values * np.sign(found.values[place])
    below = values < 0.5 * values[place]
    after = int(np.argmax(below[place:])) or below.size - place
    before = int(np.argmax(below[place::-1])) or place
    return max(after, before, 1)


def _period(found: Correlation, best: _Candidate) -> float | None:
    """Spacing of equally good lags, points; None where the best stands alone."""
    signed = found.values * np.sign(best.value)
    inner = signed[1:-1]
    is_peak = (inner >= signed[:-2]) & (inner > signed[2:]) & (inner >= REPEAT_SHARE * abs(best.value))
    lags = found.lags[1:-1][is_peak].astype(np.float64)
    lobe = _lobe(found, int(np.flatnonzero(found.lags == best.lag)[0]))
    apart = np.abs(lags - best.lag)
    others = np.sort(apart[apart > lobe])
    if others.size < FEWEST_REPEATS:
        return None
    shortest = float(others[0])
    near = others[others < 1.3 * shortest]
    first = float(near[np.argmin(np.abs(near - np.median(near)))])
    whole = np.round(others / first)
    # A slowly drifting estimate of the period is made exact on the farthest whole multiple.
    fitted = float((others @ whole) / (whole @ whole))
    off = np.abs(others / fitted - np.round(others / fitted))
    return fitted if float(np.mean(off < 0.15)) > 0.8 else None


def _between_points(found: Correlation, peak: _Candidate) -> _Candidate:
    """The best of the near-equal points around a peak, interpolated: a carrier's highest point may be a neighbour's."""
    place = int(np.flatnonzero(found.lags == peak.lag)[0])
    signed = found.values * np.sign(peak.value)
    offset, height = peak_between(signed, place)
    value = float(np.sign(peak.value)) * min(height, 1.0)
    return replace(peak, lag=peak.lag + offset, value=value)


def _refined(suspect: Channel, good: Channel, peak: _Candidate, step_s: float, factor: int) -> _Candidate:
    """Correlate the most active stretches at the full step, a little to either side of a coarse lag."""
    reach = max(2 * factor, 48)
    starts = _active_stretches(suspect, good, peak, step_s, factor)
    size = min(STRETCH_POINTS, _points(suspect, step_s))
    sums = np.zeros((5, 2 * reach + 1))
    count = np.zeros(2 * reach + 1)
    coarse_lag_s = peak.lag * step_s * factor
    for start in starts:
        here = averaged(suspect, step_s=step_s, start_s=suspect.start_s + start * step_s, count=size)
        there_s = good.start_s + coarse_lag_s + (start - reach) * step_s
        there = averaged(good, step_s=step_s, start_s=there_s, count=size + 2 * reach)
        _add_sums(sums, count, here, there, reach)
    values = _pooled(sums, count)
    place = int(np.argmax(np.abs(values)))
    sign = float(np.sign(values[place])) or 1.0
    offset, height = peak_between(sign * values, place)
    lag = peak.lag * factor + (place - reach) + offset
    return _Candidate(lag, sign * min(height, 1.0), peak.overlap)


def _active_stretches(suspect: Channel, good: Channel, peak: _Candidate, step_s: float, factor: int) -> list[int]:
    """Starts, in full-rate points of the suspect, of the liveliest stretches that both channels cover."""
    total = _points(suspect, step_s)
    size = min(STRETCH_POINTS, total)
    low = max(0, math.ceil(-peak.lag * factor))
    high = min(total, math.floor(_points(good, step_s) - peak.lag * factor)) - size
    if high <= low:
        return [max(0, min(low, total - size))]
    starts = np.unique(np.linspace(low, high, 4 * STRETCHES).astype(np.int64))
    liveliness = []
    for start in starts.tolist():
        at_s = suspect.start_s + start * step_s
        values = averaged(suspect, step_s=8 * step_s, start_s=at_s, count=size // 8)
        liveliness.append(float(np.nanstd(values)) if np.isfinite(values).any() else 0.0)
    chosen: list[int] = starts[np.argsort(-np.array(liveliness), kind="stable")[:STRETCHES]].tolist()
    return chosen


def _add_sums(sums: Row, count: Row, here: Row, there: Row, reach: int) -> None:
    from scipy import fft

    known_a, known_b = np.isfinite(here), np.isfinite(there)
    if not known_a.any() or not known_b.any():
        return
    a = np.where(known_a, here, 0.0)
    b = np.where(known_b, there, 0.0)
    length = fft.next_fast_len(b.size, real=True)
    lags = slice(0, 2 * reach + 1)

    def slid(left: Row, right: Row) -> Row:
        product = fft.irfft(np.conj(fft.rfft(left, length)) * fft.rfft(right, length), length)
        row: Row = product[lags]
        return row

    ones_a, ones_b = known_a.astype(np.float64), known_b.astype(np.float64)
    count += slid(ones_a, ones_b)
    for row, (left, right) in enumerate(((a, ones_b), (ones_a, b), (a * a, ones_b), (ones_a, b * b), (a, b))):
        sums[row] += slid(left, right)


def _pooled(sums: Row, count: Row) -> Row:
    many = np.maximum(count, 1.0)
    spread_a = sums[2] - sums[0] ** 2 / many
    spread_b = sums[3] - sums[1] ** 2 / many
    product = spread_a * spread_b
    usable = (count > 1) & (product > 1e-12 * max(float(product.max()), 1e-300))
    values = np.zeros(count.size)
    values[usable] = (sums[4] - sums[0] * sums[1] / many)[usable] / np.sqrt(product[usable])
    return np.clip(values, -1.0, 1.0)


def _together(suspect: Channel, good: Channel, step_s: float, progress: Progress) -> LineUp:
    fit = _value_fit(suspect, good, 0.0, step_s, progress)
    return LineUp(
        accepted=fit.overlap_s > 0,
        by="shape",
        lag_s=0.0,
        stretch=1.0,
        fit=abs(fit.likeness),
        sureness=1.0 if fit.overlap_s > 0 else 0.0,
        polarity=1 if fit.likeness >= 0 else -1,
        overlap_s=fit.overlap_s,
        repeats_s=None,
        gain=fit.gain,
        offset=fit.offset,
        reason="Recorded together on one time axis."
        if fit.overlap_s > 0
        else "The two channels have no time in common.",
    )


@dataclass(frozen=True)
class _ValueFit:
    """suspect ≈ gain · good + offset over the overlap, and their likeness there."""

    gain: float
    offset: float
    likeness: float
    overlap_s: float


def _value_fit(suspect: Channel, good: Channel, lag_s: float, step_s: float, progress: Progress) -> _ValueFit:
    start_s = max(suspect.start_s, good.start_s - lag_s)
    stop_s = min(suspect.stop_s, good.stop_s - lag_s)
    overlap_s = max(0.0, stop_s - start_s)
    total = int(overlap_s / step_s)
    if total < 2:
        return _ValueFit(1.0, 0.0, 0.0, 0.0)
    sums = np.zeros(6)
    rows = 262_144
    for first in range(0, total, rows):
        progress(first / total)
        many = min(rows, total - first)
        at_s = start_s + first * step_s
        a = averaged(suspect, step_s=step_s, start_s=at_s, count=many)
        b = averaged(good, step_s=step_s, start_s=at_s + lag_s, count=many)
        known = np.isfinite(a) & np.isfinite(b)
        a, b = a[known], b[known]
        sums += [a.size, a.sum(), b.sum(), a @ a, b @ b, a @ b]
    count, sum_a, sum_b, square_a, square_b, both = sums.tolist()
    if count < 2:
        return _ValueFit(1.0, 0.0, 0.0, overlap_s)
    spread_a, spread_b = square_a - sum_a**2 / count, square_b - sum_b**2 / count
    shared = both - sum_a * sum_b / count
    tiny = 1e-9 * max(square_a, square_b, 1e-30)
    if spread_b <= tiny or spread_a <= tiny:
        return _ValueFit(1.0, (sum_a - sum_b) / count, 0.0, overlap_s)
    gain = shared / spread_b
    return _ValueFit(gain, (sum_a - gain * sum_b) / count, shared / math.sqrt(spread_a * spread_b), overlap_s)


def _answered(
    suspect: Channel,
    good: Channel,
    peaks: list[_Candidate],
    period: float | None,
    best: _Candidate,
    *,
    chance: float,
    lag_s: float,
    step_s: float,
    grid_s: float,
) -> LineUp:
    fit = _value_fit(suspect, good, lag_s, step_s, unwatched)
    likeness = fit.likeness if fit.overlap_s > 0 else best.value
    rival = _rival(peaks, period)
    ratio = _score(peaks[0].value, peaks[0].overlap) / rival if rival > 0 else math.inf
    above_rival = min(max((ratio - 1.0) / 0.5, 0.0), 1.0)
    above_chance = min(max(abs(peaks[0].value) / chance - 1.0, 0.0), 1.0)
    if period is not None:
        # A signal that repeats has little in it that chance could miss; that it is as alike as this is what counts.
        above_chance = max(above_chance, min(max((abs(likeness) - PERIODIC_FIT) / (1.0 - PERIODIC_FIT), 0.0), 1.0))
    sureness = min(above_rival, above_chance)
    repeats_s = period * grid_s if period is not None and abs(likeness) >= LEAST_FIT else None
    accepted = abs(likeness) >= LEAST_FIT and sureness >= LEAST_SURENESS
    return LineUp(
        accepted=accepted,
        by="shape",
        lag_s=lag_s,
        stretch=1.0,
        fit=abs(likeness),
        sureness=sureness,
        polarity=1 if likeness >= 0 else -1,
        overlap_s=fit.overlap_s,
        repeats_s=repeats_s,
        gain=fit.gain,
        offset=fit.offset,
        reason=_reason(accepted, abs(likeness), ratio, chance, repeats_s),
    )


def _rival(peaks: list[_Candidate], period: float | None) -> float:
    """Score of the best other place; whole periods of a repeating signal are the same answer."""
    for peak in peaks[1:]:
        if period is not None:
            turns = (peak.lag - peaks[0].lag) / period
            upside_down = np.sign(peak.value) != np.sign(peaks[0].value)
            if abs(turns - round(turns)) < 0.1 or (upside_down and abs(turns % 1.0 - 0.5) < 0.1):
                continue
        return _score(peak.value, peak.overlap)
    return 0.0


def _carried(one: Row, other: Row, lag: int) -> float:
    """Share of the overlap that carries the likeness, 0 to 1: a single burst laid on a single burst is little evidence.

    The participation ratio of the products, against a third, which is what a normal signal on itself has.
    """
    begin, stop = max(0, -lag), min(one.size, other.size - lag)
    products = np.abs((one[begin:stop] - np.nanmean(one)) * (other[begin + lag : stop + lag] - np.nanmean(other)))
    products = products[np.isfinite(products)]
    squares = float(products @ products)
    return min(1.0, 3.0 * float(products.sum()) ** 2 / (squares * products.size)) if squares > 0 else 1.0


def _chance(found: Correlation, overlap: int, carried: float) -> float:
    """Greatest likeness that unrelated signals of these spectra would reach somewhere among the lags."""
    independent = max(overlap * found.independent * carried, 2.0)
    tries = max(int((found.overlap > 0).sum()) * found.independent, 2.0)
    return min(0.99, math.sqrt(2.0 * math.log(tries)) / math.sqrt(independent))


def _reason(accepted: bool, fit: float, ratio: float, chance: float, repeats_s: float | None) -> str:
    repeats = f" The signal repeats every {in_words(repeats_s, 's')}: whole periods fit as well." if repeats_s else ""
    if accepted:
        return f"Fit {fit:.2f}; unrelated signals would reach {chance:.2f}.{repeats}"
    if fit < LEAST_FIT or fit < (1 + LEAST_SURENESS) * chance:
        return f"The two do not look alike: fit {fit:.2f}, and unrelated signals would reach {chance:.2f}.{repeats}"
    return f"Another place fits nearly as well (the best is only {ratio:.2f} times it).{repeats}"


def _nothing(channel: Channel) -> LineUp:
    return LineUp(
        accepted=False,
        by="shape",
        lag_s=0.0,
        stretch=1.0,
        fit=0.0,
        sureness=0.0,
        polarity=1,
        overlap_s=0.0,
        repeats_s=None,
        gain=1.0,
        offset=0.0,
        reason=f"There is no signal on {channel.name!r} to line up.",
    )
