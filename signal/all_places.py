"""All places where a short known-good fits in a long suspect, not only the best."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.correlate import correlate, peak_between
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.resample import averaged

Row = npt.NDArray[np.float64]

MOST_POINTS = 131_072
LEAST_POINTS = 64
"""Of the known-good on the common grid: fewer tell nothing."""
SHORTER = 0.75
"""Of the suspect's length: a known-good longer than that has no room for a second place."""
LEAST_FIT, LIKE_THE_BEST = 0.4, 0.8
"""A place fits where it fits at all, and at least so well beside the best (common practice, no source)."""
APART = 0.5
"""Of the known-good's length: nearer to a better place it is the same one, or a period of what repeats inside."""
MOST_PLACES = 1000


@dataclass(frozen=True)
class Place:
    """One stretch of the suspect on which the known-good fits.

    Attributes
    ----------
    start_s, stop_s : float
        Seconds on the suspect's axis.
    lag_s : float
        The shift that lays the known-good there, at the line-up's stretch.
    fit : float
        0 to 1.
    """

    start_s: float
    stop_s: float
    lag_s: float
    fit: float


def all_places(suspect: Channel, good: Channel, lineup: LineUp, progress: Progress = unwatched) -> tuple[Place, ...]:
    """Every place of the suspect where the known-good fits about as well as at the best one, in order of time.

    The normalised cross-correlation of the whole known-good, on a grid of at most 131 072 points a channel; its peaks
    between the points. Of places nearer to each other than half the known-good's length the best is kept.

    Parameters
    ----------
    suspect, good : Channel
        Form ``even`` or ``pairs``.
    lineup : LineUp
        By shape, accepted: gives stretch, polarity and what fits well here.
    progress : Progress
        0 to 1.

    Returns
    -------
    tuple of Place
        Empty where the known-good is too long, or too short on the grid, to be looked for in more than one place.
    """
    if suspect.step_s is None or good.step_s is None:
        return ()
    own_s, good_s = suspect.stop_s - suspect.start_s, (good.stop_s - good.start_s) / lineup.stretch
    step_s = max(suspect.step_s, good.step_s / lineup.stretch, own_s / MOST_POINTS)
    if good_s > SHORTER * own_s or good_s / step_s < LEAST_POINTS:
        return ()
    record = _on_grid(suspect, step_s, math.floor(own_s / step_s), part(progress, 0.0, 0.4))
    pattern = _on_grid(good, step_s * lineup.stretch, math.floor(good_s / step_s), part(progress, 0.4, 0.6))
    found = correlate(pattern, record, least_overlap=pattern.size)
    inside = (found.lags >= 0) & (found.lags <= record.size - pattern.size)
    values = lineup.polarity * found.values[inside]
    bar = max(LEAST_FIT, LIKE_THE_BEST * float(values.max(initial=0.0)))
    before, after = np.append(-np.inf, values[:-1]), np.append(values[1:], -np.inf)
    peaks = np.flatnonzero((values >= before) & (values > after) & (values >= bar))
    kept = _apart(values, peaks, round(APART * pattern.size))
    return tuple(_place(values, place, suspect, good, lineup.stretch, step_s) for place in sorted(kept))


def _on_grid(channel: Channel, step_s: float, count: int, progress: Progress) -> Row:
    progress(0.0)
    half_s = 0.5 * (step_s - (channel.step_s or 0.0))
    return averaged(channel, step_s=step_s, start_s=channel.start_s + half_s, count=count)


def _apart(values: Row, peaks: npt.NDArray[np.int64], reach: int) -> list[int]:
    """The best first, each outside the reach of a better one."""
    free = np.ones(values.size, dtype=bool)
    kept: list[int] = []
    for place in peaks[np.argsort(-values[peaks], kind="stable")].tolist():
        if free[place]:
            kept.append(place)
            free[max(0, place - reach) : place + reach + 1] = False
            if len(kept) == MOST_PLACES:
                break
    return kept


def _place(
    values: Row,
    place: int,
    suspect: Channel,
    good: Channel,
    stretch: float,
    step_s: float,
) -> Place:
    offset, height = peak_between(values, place)
    # Windows of the grid begin with the channels' first samples: their middles differ by half a step of each.
    begin_s = suspect.start_s + (place + offset) * step_s
    own_half_s, good_half_s = 0.5 * (suspect.step_s or 0.0), 0.5 * (good.step_s or 0.0)
    lag_s = good.start_s - good_half_s - stretch * (begin_s - own_half_s)
    return Place(begin_s, begin_s + (good.stop_s - good.start_s) / stretch, lag_s, min(height, 1.0))
