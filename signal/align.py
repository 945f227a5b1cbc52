"""Line a suspect channel up against a known-good one by its shape."""

import math
from dataclasses import dataclass, replace

import numpy as np

from loomlight.signal.candidates import Candidate, Repeat, best_rival, candidates, largest_overlap, repeat_of
from loomlight.signal.capture import Channel
from loomlight.signal.clock_drift import clocks_apart
from loomlight.signal.correlate import Correlation, Row, correlate
from loomlight.signal.errors import CannotUse
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.refine import refined
from loomlight.signal.resample import averaged, intervals_on
from loomlight.signal.value_fit import ValueFit, value_fit

LEAST_SAMPLES = 50
MOST_POINTS = 131_072
LEAST_OVERLAP, LEAST_OVERLAP_SHARE = 32, 0.1
LEAST_FIT = 0.4
LEAST_SURENESS = 0.4
"""Below either bar a line-up is refused; set on made pairs, related and not (see the calibration test)."""
PERIODIC_FIT = 0.8
LEAST_INDEPENDENT = 0.5
REFINED = 3
"""Coarse places that are looked at again at the full step."""


@dataclass(frozen=True, eq=False)
class _Found:
    """The best place by one way of looking: the channels' means, or how lively they are."""

    best: Candidate
    coarse_value: float
    coarse_overlap: int
    repeat: Repeat | None
    ratio: float
    chance: float


def line_up(suspect: Channel, good: Channel, *, same_moment: bool = False, progress: Progress = unwatched) -> LineUp:
    """Find the shift that lays the suspect over the known-good: ``t_good = lag_s + t_suspect``.

    Both are brought to the coarser of their two steps; long ones are first correlated in a coarser form, by their means
    and by how lively they are (which finds bursts and carriers that a mean wipes out), and the best places of that are
    refined at the full step.

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
    much again), and how far artanh(r) stands above what unrelated signals of the same spectra reach by chance anywhere
    among the lags (1 at twice as much). Rivals at whole periods of a repeating signal do not count; they are told as
    ``repeats_s``.
    """
    _require(suspect, good)
    step_s = max(suspect.step_s or 0.0, good.step_s or 0.0)
    if same_moment:
        return _together(suspect, good, step_s, progress)
    longest = max(intervals_on(suspect, step_s), intervals_on(good, step_s))
    factor = 1 << max(0, math.ceil(math.log2(longest / MOST_POINTS)))
    one = _on_grid(suspect, step_s * factor, part(progress, 0.0, 0.15))
    other = _on_grid(good, step_s * factor, part(progress, 0.15, 0.3))
    if _is_flat(one) or _is_flat(other):
        return _nothing(suspect if _is_flat(one) else good)
    ways = [(one, other)]
    if factor > 1:
        liveliness = (
            _liveliness(suspect, one, step_s * factor, part(progress, 0.3, 0.4)),
            _liveliness(good, other, step_s * factor, part(progress, 0.4, 0.5)),
        )
        if not any(_is_flat(row) for row in liveliness):
            ways.append(liveliness)
    looked = [
        _looked(suspect, good, way, step_s=step_s, factor=factor, progress=part(progress, 0.5 + 0.15 * turn, 0.7))
        for turn, way in enumerate(ways)
    ]
    found = max((one for one in looked if one is not None), key=lambda one: one.best.score, default=None)
    if found is None:
        return _nothing(suspect)
    lag_s = good.start_s - suspect.start_s + found.best.lag * step_s
    fit = value_fit(suspect, good, lag_s=lag_s, step_s=step_s, progress=part(progress, 0.8, 0.95))
    answer = _answered(found, fit, lag_s=lag_s, grid_s=step_s * factor)
    if not answer.accepted:
        apart = clocks_apart(one, other, part(progress, 0.95, 1.0))
        return _with_clocks(answer, apart)
    return answer


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


def _on_grid(channel: Channel, grid_s: float, progress: Progress, *, squared: bool = False) -> Row:
    count = intervals_on(channel, grid_s)
    rows = max(1, count // 16)
    pieces = []
    for first in range(0, count, rows):
        progress(first / count)
        many, at_s = min(rows, count - first), channel.start_s + first * grid_s
        pieces.append(averaged(channel, step_s=grid_s, start_s=at_s, count=many, squared=squared))
    return np.concatenate(pieces)


def _liveliness(channel: Channel, means: Row, grid_s: float, progress: Progress) -> Row:
    """Standard deviation inside each window of the grid."""
    spread = _on_grid(channel, grid_s, progress, squared=True) - means * means
    lively: Row = np.sqrt(np.maximum(spread, 0.0))
    return lively


def _is_flat(row: Row) -> bool:
    known = row[np.isfinite(row)]
    if known.size < LEAST_SAMPLES // 2:
        return True
    return float(np.ptp(known)) <= 1e-9 * max(1.0, float(np.abs(known).max()))


def _looked(
    suspect: Channel, good: Channel, way: tuple[Row, Row], *, step_s: float, factor: int, progress: Progress
) -> _Found | None:
    """The best place by one way of looking, at the full step, with what speaks against it."""
    one, other = way
    least = max(LEAST_OVERLAP, round(LEAST_OVERLAP_SHARE * min(one.size, other.size)))
    found = correlate(one, other, least_overlap=min(least, one.size, other.size))
    progress(0.5)
    among = candidates(found)
    if not among:
        return None
    repeat = repeat_of(found, among[0])
    tops = [largest_overlap(among, among[0]) if repeat is not None else among[0]]
    tops += [other for other in among[: REFINED + 1] if other.place != tops[0].place][: REFINED - 1]
    close = tops
    if factor > 1:
        close = [refined(suspect, good, top, lively=one, step_s=step_s, factor=factor) for top in tops]
    best = max(close, key=lambda one: one.score)
    if repeat is not None:
        best = largest_overlap(close, best)
    coarse = tops[close.index(best)]
    rival = best_rival(among, coarse, repeat)
    if coarse.score < rival:  # only the full step told them apart
        ratio = best.score / max(best_rival(close, best, repeat), 1e-9)
    else:
        ratio = coarse.score / max(rival, 1e-9)
    chance = _chance(found, coarse, _carried(one, other, round(coarse.lag)))
    return _Found(best, coarse.value, coarse.overlap, repeat, ratio, chance)


def _carried(one: Row, other: Row, lag: int) -> float:
    """Share of the overlap that carries the likeness, 0 to 1: a single burst laid on a single burst is little evidence.

    The participation ratio of the products, against a third, which is what a normal signal on itself has.
    """
    begin, stop = max(0, -lag), min(one.size, other.size - lag)
    products = np.abs((one[begin:stop] - np.nanmean(one)) * (other[begin + lag : stop + lag] - np.nanmean(other)))
    products = products[np.isfinite(products)]
    squares = float(np.square(products).sum())
    return min(1.0, 3.0 * float(products.sum()) ** 2 / (squares * products.size)) if squares > 0 else 1.0


def _chance(found: Correlation, coarse: Candidate, carried: float) -> float:
    """Greatest likeness that unrelated signals of these spectra would reach somewhere among the lags."""
    # Fisher 1915: artanh(r) of n pairs scatters by 1/√(n - 3).
    independent = max(coarse.overlap * found.independent * carried - 3.0, LEAST_INDEPENDENT)
    tries = max(int((found.overlap > 0).sum()) * found.independent, 2.0)
    return min(0.999, math.tanh(math.sqrt(2.0 * math.log(tries) / independent)))


def _answered(found: _Found, fit: ValueFit, *, lag_s: float, grid_s: float) -> LineUp:
    likeness = fit.likeness
    above_chance = math.atanh(min(abs(found.coarse_value), 0.999)) / math.atanh(found.chance) - 1.0
    if found.repeat is not None and found.repeat.places * found.repeat.period >= 0.5 * found.coarse_overlap:
        # A signal that repeats has little in it that chance could miss; that it is as alike as this is what counts.
        above_chance = max(above_chance, (abs(likeness) - PERIODIC_FIT) / (1.0 - PERIODIC_FIT))
    sureness = max(0.0, min((found.ratio - 1.0) / 0.5, above_chance, 1.0))
    repeats_s = found.repeat.period * grid_s if found.repeat is not None and abs(likeness) >= LEAST_FIT else None
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
        reason=_reason(accepted, abs(likeness), found, repeats_s),
    )


def _reason(accepted: bool, fit: float, found: _Found, repeats_s: float | None) -> str:
    repeats = ""
    if repeats_s is not None and found.repeat is not None:
        repeats = f" It repeats every {in_words(repeats_s, 's')}; {found.repeat.places} equally good places."
    if accepted:
        return f"Fit {fit:.2f}; unrelated signals would reach {found.chance:.2f}.{repeats}"
    if found.ratio < 1.0 + 0.5 * LEAST_SURENESS and fit >= LEAST_FIT:
        return f"Another place fits nearly as well (the best is only {found.ratio:.2f} times it).{repeats}"
    return f"The two do not look alike: fit {fit:.2f}, and unrelated signals would reach {found.chance:.2f}.{repeats}"


def _with_clocks(answer: LineUp, apart: float | None) -> LineUp:
    if apart is None:
        return answer
    told = f" Piece by piece they fit, but the shift grows by {abs(apart):.2%} along the way: their clocks or bit rates differ."
    return replace(answer, reason=answer.reason + told)


def _together(suspect: Channel, good: Channel, step_s: float, progress: Progress) -> LineUp:
    fit = value_fit(suspect, good, lag_s=0.0, step_s=step_s, progress=progress)
    shared = fit.overlap_s > 0
    return LineUp(
        accepted=shared,
        by="shape",
        lag_s=0.0,
        stretch=1.0,
        fit=abs(fit.likeness),
        sureness=1.0 if shared else 0.0,
        polarity=1 if fit.likeness >= 0 else -1,
        overlap_s=fit.overlap_s,
        repeats_s=None,
        gain=fit.gain,
        offset=fit.offset,
        reason="Recorded together on one time axis." if shared else "The two channels have no time in common.",
    )


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
