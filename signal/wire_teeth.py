"""What speaks for a toothed wheel: like edges evenly spaced, but for gaps that come back at the same teeth each turn."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.wire_pulses import scatter_of
from loomlight.signal.wire_sight import Sight

Row = npt.NDArray[np.float64]
Told = tuple[float, str]

USUAL_TEETH = (60, 36)
"""Places on the wheels met most, 60-2 and 36-1: of these one turn alone is enough (common practice, no source)."""
FEWEST_PLACES, MOST_PLACES = 4, 160
NO_GAP = 0.58
"""An even swing may be anything's: never sure."""
HIGHEST_BIAS_V = 6.0
"""About which a sensor's coil is held at most (common practice, no source)."""
LONGEST_GAP = 4.6
"""Pitches; what lasts longer is no gap of a wheel."""
MOST_GAPS = 0.17
"""Of the spacings: three gaps on a wheel of thirty teeth are a tenth, and dropouts add a few."""
ALONE = 0.8
TURN_SHARE = 0.7
"""Of the turns, those whose gap is there: others are hidden by lost teeth."""


def toothed_wheel(sight: Sight) -> Told | None:
    """Likeness and reason, or None."""
    levels = sight.levels
    if levels is None or sight.channel.unit == "A" or not sight.slow.size:
        return None
    if (
        levels.greatest - levels.least < 0.25 * abs(levels.greatest)
        and abs(float(np.median(sight.slow))) > HIGHEST_BIAS_V
    ):
        return None  # a ripple on a supply, however even
    if levels.greatest > 8.0 and levels.least > 0.45 * levels.greatest:
        return None  # a supply in a start
    told = [one for rising in (True, False) if (one := _teeth(sight.spacings_s(rising=rising))) is not None]
    if told:
        return max(told)
    if sight.at_s.size < 24:
        return None
    # A coil without a gap on its wheel: swings about zero with every tooth.
    swings = levels.least < 0 < levels.greatest and 0.4 < -levels.least / levels.greatest < 2.5
    scatter = min(scatter_of(sight.spacings_s(rising=rising)) for rising in (True, False))
    if swings and scatter < 0.1 and sight.settled < 0.75:
        told_of = f"Swings about zero {sight.at_s.size // 2} times, evenly"
        return NO_GAP, f"{told_of}: an inductive sensor before a wheel without a gap, or hum."
    return None


def beside_neighbours(row: Row) -> Row:
    """Each spacing as a multiple of the lower middle of the eleven around it, which gaps do not reach."""
    padded = np.pad(row, 5, mode="reflect")
    around = np.percentile(np.lib.stride_tricks.sliding_window_view(padded, 11), 40, axis=1)
    found: Row = row / np.where(around > 0, around, np.inf)
    return found


def _teeth(spacings: Row) -> Told | None:
    if spacings.size < 12:
        return None
    beside = beside_neighbours(spacings)
    even = float(np.mean((np.abs(beside - 1.0) < 0.25) | (beside > 1.6)))
    gap = (beside > 1.6) & (beside < LONGEST_GAP)
    count = int(np.count_nonzero(gap))
    if even < 0.85 or not 1 <= count <= MOST_GAPS * spacings.size:
        return None
    apart = np.diff(np.cumsum(np.round(beside))[gap])
    if count == 2 and even > 0.9 and int(apart[0]) in USUAL_TEETH:
        return 0.75, f"{spacings.size} evenly spaced teeth and two gaps, {int(apart[0])} places of a tooth apart."
    turns = _turn_of(beside, gap)
    if turns is not None:
        places, share = turns
        return 0.5 + 0.46 * share * even, f"The same gap comes back after every {places} places of a tooth."
    if count == 1 and even > 0.9 and spacings.size >= 20 and float(beside.max()) > 2.5:
        return 0.65, f"{spacings.size} evenly spaced teeth and one gap."
    return None


def _turn_of(beside: Row, gap: npt.NDArray[np.bool_]) -> tuple[int, float] | None:
    """After how many places of a tooth a gap comes back, and in which share of the turns; None where none does.

    Gaps are counted in whole pitches: a tooth that is lost only makes a spacing longer, and does not shift the others.
    """
    pitches = np.maximum(np.round(beside), 1.0).astype(np.int64)
    at = np.concatenate([[0], np.cumsum(pitches)[:-1]])[gap]
    whole, size = int(pitches.sum()), pitches[gap]
    best: tuple[int, float] | None = None
    for places in range(FEWEST_PLACES, min(MOST_PLACES, whole // 2 + 1)):
        turns = whole / places
        fewest = 2 if places in USUAL_TEETH else 4
        if turns < fewest:
            continue
        for kind in np.unique(size):
            hits = int(np.bincount(at[size == kind] % places).max())
            share = hits / np.floor(turns)
            # Much the same count falls on each place where gaps lie anyhow: of a wheel's own, at one place nearly all do.
            chance = float(np.count_nonzero(size == kind)) / places
            # Twice at the same place is chance where there are other gaps.
            alone = hits >= 4 or hits >= ALONE * at.size
            if (
                alone
                and hits > chance + 4.0 * np.sqrt(chance) + 0.5
                and hits >= fewest
                and share >= TURN_SHARE
                and (best is None or share > best[1] + 0.1)
            ):
                best = places, float(min(share, 1.0))
    return best
