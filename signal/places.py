"""All places where one channel fits another: a known-good that comes again and again in a long suspect."""

import math

import numpy as np

from loomlight.signal.align import LEAST_FIT, require_comparable
from loomlight.signal.candidates import Candidate
from loomlight.signal.capture import Channel
from loomlight.signal.coarse import CoarsePair, coarse_pair
from loomlight.signal.correlate import correlate
from loomlight.signal.lineup import LineUp
from loomlight.signal.phase_slope import delay_between
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.refine import refined
from loomlight.signal.resample import Row
from loomlight.signal.value_fit import value_fit

WHOLE_SHARE = 0.75
"""Share of the shorter channel that has to lie on the other."""
NEAR_BEST = 0.8
"""Of the best fit, what another place has to reach."""
APART_SHARE = 0.5
"""Places closer than this share of the shorter channel are one."""
MOST_PLACES = 400


def all_places(suspect: Channel, good: Channel, *, progress: Progress = unwatched) -> tuple[LineUp, ...]:
    """Every place where the shorter of two channels fits the longer, in order of time.

    Parameters
    ----------
    suspect, good : Channel
        Form ``even`` or ``pairs``, the same unit, any two steps.
    progress : Progress
        0 to 1.

    Returns
    -------
    tuple of LineUp
        Each a line-up of its own, with the lag, the fit and the value fit at that place; at most 400, the best; sureness is
        left at the fit. Empty where nothing fits.

    Raises
    ------
    CannotUse
        If the units differ, a channel has no even step, or fewer than 50 samples.

    Notes
    -----
    Maxima of the normalised cross-correlation that reach four fifths of the best and are at least half of the shorter
    channel apart, the highest first; each is refined at the full step. Upside down counts only where the best does.
    """
    require_comparable(suspect, good)
    rows = coarse_pair(suspect, good, part(progress, 0.0, 0.2))
    ways = rows.ways()
    if not ways:
        return ()
    found = [(_coarse_places(*way), way) for way in ways]
    places, way = max(found, key=lambda one: max((place.size for place in one[0]), default=0.0))
    laid = []
    for turn, place in enumerate(places):
        progress(0.3 + 0.7 * turn / len(places))
        laid.append(_laid_at(suspect, good, rows, way[0], place))
    best = max((one.fit for one in laid), default=0.0)
    kept = [one for one in laid if one.fit >= max(LEAST_FIT, NEAR_BEST * best)]
    return tuple(sorted(kept, key=lambda one: -one.lag_s))


def _coarse_places(one: Row, other: Row) -> list[Candidate]:
    shorter = min(one.size, other.size)
    found = correlate(one, other, least_overlap=math.ceil(WHOLE_SHARE * shorter))
    top = int(np.argmax(np.abs(found.values)))
    sense = 1.0 if found.values[top] >= 0 else -1.0
    signed = np.concatenate([[0.0], sense * found.values, [0.0]])
    inner = signed[1:-1]
    crests = np.flatnonzero((inner >= signed[:-2]) & (inner > signed[2:]) & (inner >= NEAR_BEST * inner[top]))
    taken, places = np.zeros(inner.size, dtype=bool), list[Candidate]()
    for place in crests[np.argsort(-inner[crests], kind="stable")].tolist():
        if taken[place] or len(places) == MOST_PLACES or inner[place] < LEAST_FIT * NEAR_BEST:
            continue
        reach = max(1, int(APART_SHARE * shorter))
        taken[max(0, place - reach) : place + reach + 1] = True
        places.append(Candidate(place, float(found.lags[place]), float(found.values[place]), int(found.overlap[place])))
    return places


def _laid_at(suspect: Channel, good: Channel, rows: CoarsePair, lively: Row, place: Candidate) -> LineUp:
    at = rows.full_steps(suspect, good, place)
    if rows.factor > 1:
        at = refined(suspect, good, at, lively=lively, step_s=rows.step_s, factor=rows.factor)
    lag_s = good.start_s - suspect.start_s + at.lag * rows.step_s
    polarity = 1 if at.value >= 0 else -1
    delay = delay_between(suspect, good, lag_s=lag_s, polarity=polarity, progress=unwatched)
    if delay is not None and abs(delay.late_s) <= 2.0 * rows.step_s and not delay.drift:
        lag_s += delay.late_s
    fit = value_fit(suspect, good, lag_s=lag_s, step_s=rows.step_s, progress=unwatched)
    return LineUp(
        accepted=True,
        by="shape",
        lag_s=lag_s,
        stretch=1.0,
        fit=abs(fit.likeness),
        sureness=abs(fit.likeness),
        polarity=1 if fit.likeness >= 0 else -1,
        overlap_s=fit.overlap_s,
        repeats_s=None,
        gain=fit.gain,
        offset=fit.offset,
        reason=f"One of the places where they fit: {abs(fit.likeness):.2f}.",
    )
