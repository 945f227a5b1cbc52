"""Line a suspect channel up against a known-good one by its shape."""

import math
from dataclasses import dataclass

from loomlight.signal.candidates import Candidate, Repeat, best_rival, candidates, largest_overlap, repeat_of
from loomlight.signal.capture import Channel
from loomlight.signal.coarse import CoarsePair, coarse_pair, is_flat
from loomlight.signal.correlate import Row, correlate
from loomlight.signal.errors import CannotUse
from loomlight.signal.lineup import LineUp, refused
from loomlight.signal.odds import BAR, Evidence, evidence_of
from loomlight.signal.phase_slope import delay_between
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.refine import refined
from loomlight.signal.stretch_search import MOST_STRETCH, rate_between, retimed
from loomlight.signal.value_fit import ValueFit, value_fit

LEAST_SAMPLES = 50
LEAST_OVERLAP, LEAST_OVERLAP_SHARE = 32, 0.1
LEAST_FIT = 0.4
"""Below it, or below the bar of the evidence, a line-up is refused."""
PERIODIC_FIT = 0.8
DECISIVE = 1.5
"""A place this much better than the next is looked at alone."""
FAR = 1.5
"""Steps that the phase may move a line-up by without the fit being asked."""
MOST_TURNS = 3
REFINED = 3
"""Coarse places that are looked at again at the full step."""


@dataclass(frozen=True, eq=False)
class _Found:
    """The best place by one way of looking: the channels' means, or how lively they are."""

    best: Candidate
    coarse: Candidate
    repeat: Repeat | None
    evidence: Evidence


@dataclass(frozen=True, eq=False)
class _Laid:
    """A line-up at one ratio of clocks, the suspect retimed by it, and by how much that ratio may still be off."""

    answer: LineUp
    stretch: float
    drift: float


def line_up(
    suspect: Channel,
    good: Channel,
    *,
    same_moment: bool = False,
    any_rate: bool = True,
    progress: Progress = unwatched,
) -> LineUp:
    """Find what lays the suspect over the known-good: ``t_good = lag_s + stretch · t_suspect``.

    Both are brought to the coarser of their two steps; long ones are first correlated in a coarser form, by their means
    and by how lively they are (which finds bursts and carriers that a mean wipes out), and the best places of that are
    refined at the full step, then to a fraction of it by the phase of their cross-spectrum. Where that is no line-up, or
    the shift grows along the way, other ratios of the two clocks are tried, up to 15 % apart.

    Parameters
    ----------
    suspect, good : Channel
        Form ``even`` or ``pairs``, the same unit, any two steps.
    same_moment : bool
        Recorded together on one time axis: the lag is 0 by the clock; fit and value fit are worked out there.
    any_rate : bool
        False leaves out other ratios of the two clocks, which is what takes long where two are not alike.
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
    The score of a lag is artanh(r) · √pairs (Fisher 1915), so that a long overlap counts for more than a short one.
    ``sureness`` is by the lesser of two odds: that unrelated signals of the same spectra come out as alike anywhere among
    the places tried, and that it is the best other place (see `evidence_of`). Rivals at whole periods of a repeating
    signal do not count; they are told as ``repeats_s``.
    """
    require_comparable(suspect, good)
    if same_moment:
        return _together(suspect, good, max(suspect.step_s or 0.0, good.step_s or 0.0), progress)
    rows = coarse_pair(suspect, good, part(progress, 0.0, 0.2))
    laid = _laid(suspect, good, rows, 1.0, part(progress, 0.2, 0.6))
    if laid is None:
        return _nothing(suspect if is_flat(rows.one.means) else good)
    laid = _without_drift(suspect, good, laid, part(progress, 0.6, 0.75))
    if laid.answer.accepted or not any_rate:
        return laid.answer
    return _at_other_rates(suspect, good, rows, laid, part(progress, 0.75, 1.0))


def _laid(
    suspect: Channel, good: Channel, rows: CoarsePair, stretch: float, progress: Progress, *, tries: float = 1.0
) -> _Laid | None:
    """The best line-up of a suspect that was retimed by ``stretch``; None where there is nothing to lay."""
    found = None
    for turn, way in enumerate(rows.ways()):
        looked = _looked(suspect, good, rows, way, tries, part(progress, 0.3 * turn, 0.3 * turn + 0.3))
        if looked is not None and (found is None or looked.best.score > found.best.score):
            found = looked
        if found is not None and found.evidence.sureness >= 1.0:
            break
    if found is None:
        return None
    polarity = 1 if found.best.value >= 0 else -1
    lag_s = good.start_s - suspect.start_s + found.best.lag * rows.step_s
    delay = delay_between(suspect, good, lag_s=lag_s, polarity=polarity, progress=part(progress, 0.6, 0.8))
    fit = None
    if delay is not None and not delay.drift:
        fit = value_fit(suspect, good, lag_s=lag_s + delay.late_s, step_s=rows.step_s, progress=part(progress, 0.8, 1))
        if abs(delay.late_s) <= FAR * rows.step_s or _is_better(fit, suspect, good, lag_s, rows.step_s):
            lag_s += delay.late_s
        else:
            fit = None
    if fit is None:
        fit = value_fit(suspect, good, lag_s=lag_s, step_s=rows.step_s, progress=part(progress, 0.8, 1.0))
    answer = _answered(found, fit, lag_s=lag_s, stretch=stretch, grid_s=rows.grid_s)
    return _Laid(answer, stretch, delay.drift if delay is not None else 0.0)


def _is_better(fit: ValueFit, suspect: Channel, good: Channel, lag_s: float, step_s: float) -> bool:
    before = value_fit(suspect, good, lag_s=lag_s, step_s=step_s, progress=unwatched)
    return abs(fit.likeness) > abs(before.likeness)


def _without_drift(suspect: Channel, good: Channel, laid: _Laid, progress: Progress) -> _Laid:
    """Follow a shift that grows along the way until it no longer does, as long as the fit gains by it."""
    for turn in range(MOST_TURNS):
        stretch = laid.stretch * (1.0 + laid.drift)
        if not laid.drift or abs(math.log(stretch)) > MOST_STRETCH:
            break
        again = _laid_at(suspect, good, stretch, part(progress, turn / MOST_TURNS, (turn + 1) / MOST_TURNS))
        if again is None or again.answer.fit <= laid.answer.fit:
            break
        laid = again
    return laid


def _laid_at(
    suspect: Channel, good: Channel, stretch: float, progress: Progress, *, tries: float = 1.0
) -> _Laid | None:
    by_good = retimed(suspect, stretch)
    rows = coarse_pair(by_good, good, part(progress, 0.0, 0.3))
    return _laid(by_good, good, rows, stretch, part(progress, 0.3, 1.0), tries=tries)


def _at_other_rates(suspect: Channel, good: Channel, rows: CoarsePair, laid: _Laid, progress: Progress) -> LineUp:
    best = laid
    for turn, (one, other) in enumerate(rows.ways()):
        rate = rate_between(one, other, part(progress, 0.4 * turn, 0.4 * turn + 0.3))
        if rate is None:
            continue
        to_end = part(progress, 0.4 * turn + 0.3, 0.4 * turn + 0.4)
        again = _laid_at(suspect, good, rate.stretch, to_end, tries=rate.tried)
        if again is None:
            continue
        again = _without_drift(suspect, good, again, unwatched)
        if (again.answer.accepted, again.answer.fit) > (best.answer.accepted, best.answer.fit):
            best = again
        if best.answer.accepted:
            break
    return best.answer if best.answer.accepted else laid.answer


def require_comparable(suspect: Channel, good: Channel) -> None:
    """Refuse two channels that cannot be laid over each other by shape.

    Raises
    ------
    CannotUse
        If the units differ, a channel has no even step, or fewer than 50 samples.
    """
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


def _looked(
    suspect: Channel, good: Channel, rows: CoarsePair, way: tuple[Row, Row], tries: float, progress: Progress
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
    if repeat is None and len(tops) > 1 and tops[0].score >= DECISIVE * tops[1].score:
        tops = tops[:1]
    close = [rows.full_steps(suspect, good, top) for top in tops]
    if rows.factor > 1:
        close = [refined(suspect, good, top, lively=one, step_s=rows.step_s, factor=rows.factor) for top in close]
    best = max(close, key=lambda one: one.score)
    if repeat is not None:
        best = largest_overlap(close, best)
    coarse = tops[close.index(best)]
    rival = best_rival(among, coarse, repeat)
    told_by, against = coarse, rival
    if rival is not None and coarse.score < rival.score:  # only the full step told them apart
        told_by, against = best, best_rival(close, best, repeat)
    return _Found(best, coarse, repeat, evidence_of(found, one, other, told_by, against, coarse=coarse, tries=tries))


def _answered(found: _Found, fit: ValueFit, *, lag_s: float, stretch: float, grid_s: float) -> LineUp:
    likeness, evidence = fit.likeness, found.evidence
    sureness = evidence.sureness
    if found.repeat is not None and found.repeat.places * found.repeat.period >= 0.5 * found.coarse.overlap:
        # A signal that repeats has little in it that chance could miss; that it is as alike as this is what counts.
        alike = (abs(likeness) - PERIODIC_FIT) / (1.0 - PERIODIC_FIT)
        sureness = max(sureness, min(alike, evidence.sureness_against_rival))
    repeats_s = found.repeat.period * grid_s if found.repeat is not None and abs(likeness) >= LEAST_FIT else None
    accepted = abs(likeness) >= LEAST_FIT and sureness >= BAR
    return LineUp(
        accepted=accepted,
        by="shape",
        lag_s=lag_s,
        stretch=stretch,
        fit=abs(likeness),
        sureness=sureness,
        polarity=1 if likeness >= 0 else -1,
        overlap_s=fit.overlap_s / stretch,
        repeats_s=repeats_s,
        gain=fit.gain,
        offset=fit.offset,
        reason=_reason(accepted, abs(likeness), found, repeats_s) + _told_rate(stretch),
    )


def _told_rate(stretch: float) -> str:
    if stretch == 1.0:
        return ""
    return f" The suspect runs {abs(stretch - 1.0):.3%} {'faster' if stretch > 1 else 'slower'} than the known-good."


def _reason(accepted: bool, fit: float, found: _Found, repeats_s: float | None) -> str:
    repeats = ""
    if repeats_s is not None and found.repeat is not None:
        repeats = f" It repeats every {in_words(repeats_s, 's')}; {found.repeat.places} equally good places."
    if accepted:
        return f"Fit {fit:.2f}; unrelated signals would reach {found.evidence.chance:.2f}.{repeats}"
    if found.evidence.sureness_against_rival < BAR and fit >= LEAST_FIT:
        return f"Another place fits nearly as well ({found.evidence.rival:.2f} against {fit:.2f}).{repeats}"
    return f"The two do not look alike: fit {fit:.2f}, and unrelated signals would reach {found.evidence.chance:.2f}.{repeats}"


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
    return refused("shape", f"There is no signal on {channel.name!r} to line up.")
