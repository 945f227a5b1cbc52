"""Levels at which a signal spends its time, as hills of its histogram, however many there are."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.levels import StateLevels

HILL_BINS, MOST_HILLS = 240, 6
HILL_FOOT, LEAST_HILL, BESIDE = 0.05, 0.004, 4
LEAST_APART = 2.6
RARE_ABOVE = 98.0


@dataclass(frozen=True)
class Hill:
    """One level.

    Attributes
    ----------
    share : float
        Of the samples.
    level, spread : float
        Its median, and the scatter about it by the median deviation.
    """

    share: float
    level: float
    spread: float


def commonest_levels(values: npt.NDArray[np.float32]) -> StateLevels | None:
    """The two levels at which most of the time is spent, whatever spikes go beyond them.

    Where a coil flies back to several times the supply, the upper half of the range holds spikes only, and the halves'
    modes (`state_levels`) are no states.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Finite values.

    Returns
    -------
    StateLevels or None
        None where there are not two hills in the histogram.
    """
    hills = level_hills(values)
    if len(hills) < 2:
        return None
    low, high = sorted(hills[:2], key=lambda one: one.level)
    return levels_between(low, high, values)


def levels_between(low: Hill, high: Hill, values: npt.NDArray[np.float32]) -> StateLevels:
    """Two hills as state levels; the reach is that of all ``values``."""
    return StateLevels(True, low.level, high.level, low.spread, high.spread, float(values.min()), float(values.max()))


def level_hills(values: npt.NDArray[np.float32], *, above: float = RARE_ABOVE) -> list[Hill]:
    """Hills of the histogram that stand clear of each other, the one with most samples first.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Finite values, neighbours in time for the most part: the noise is told from one to the next.
    above : float
        Percentile above which values are spikes.
    """
    if values.size < 3:
        return []
    least, greatest = float(values.min()), float(values.max())
    # An ignition coil's spike is thirty times as high as the levels are apart, and takes a thousandth of the time.
    bottom, top_end = np.percentile(values, [100.0 - max(above, 99.8), above]).tolist()
    margin = 0.1 * (top_end - bottom)
    bottom, top_end = max(bottom - margin, least), min(top_end + margin, greatest)
    if top_end <= bottom:
        return []
    which = np.floor((values - bottom) * (HILL_BINS / (top_end - bottom))).astype(np.int64)
    which = np.where(which == HILL_BINS, HILL_BINS - 1, which)
    counts = np.bincount(which[(which >= 0) & (which < HILL_BINS)], minlength=HILL_BINS)
    # As wide as the noise is: one level's own jagged top makes no hills.
    noise = float(np.median(np.abs(np.diff(values, n=2)))) * 1.4826 / float(np.sqrt(6.0))
    noise = max(noise, _converter_step(values))
    spread = noise * HILL_BINS / (top_end - bottom)
    kernel = np.ones(max(3, round(2.0 * spread) | 1))
    if kernel.size >= HILL_BINS:
        return []
    left = np.convolve(counts, kernel, mode="same")
    beside = max(BESIDE, round(spread))
    found: list[Hill] = []
    for _ in range(MOST_HILLS):
        top = int(np.argmax(left))
        if left[top] <= 0:
            break
        first, last = _hill(left, top)
        left[max(first - beside, 0) : last + beside] = 0
        inside = values[(which >= first) & (which < last)]
        share = inside.size / values.size
        if share < LEAST_HILL:
            continue
        middle = float(np.median(inside))
        if any(abs(middle - one.level) < LEAST_APART * noise for one in found):
            continue
        # The noise of a state: spikes' feet and slow edges beside it are not its own.
        found.append(Hill(share, middle, 1.4826 * float(np.median(np.abs(inside - middle)))))
    return sorted(found, key=lambda one: -one.share)


def _converter_step(values: npt.NDArray[np.float32]) -> float:
    """Least distance of two values that occur: a level between two steps of a coarse converter stands at both."""
    steps = np.diff(np.unique(values[:: max(1, values.size // 20_000)]).astype(np.float64))
    return float(np.percentile(steps, 5.0)) if steps.size else 0.0


def _hill(counts: npt.NDArray[np.float64], top: int) -> tuple[int, int]:
    """Half-open range about a mode, down to where a twentieth of it is left, or where it rises again to twice the valley."""
    ends = []
    for way in (-1, 1):
        place, valley = top, counts[top]
        while 0 <= place + way < counts.size and counts[place + way] > HILL_FOOT * counts[top]:
            if counts[place + way] > 2.0 * valley and valley < 0.3 * counts[top]:
                break
            place += way
            valley = min(valley, counts[place])
        ends.append(place)
    return ends[0], ends[1] + 1
