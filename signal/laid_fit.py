"""How alike two channels are as a line-up lays them: gain, offset, likeness, whatever way the line-up was made."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.laid_values import good_values, reach
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import BLOCK, evenly
from loomlight.signal.value_fit import ValueFit

FLAT_SHARE = 1e-9
"""A variance below this share of the mean square is rounding, not signal."""


def laid_fit(suspect: Channel, good: Channel, lineup: LineUp, progress: Progress = unwatched) -> ValueFit:
    """Fit the suspect's values to the known-good's as it is laid, over what ought to look alike.

    Parameters
    ----------
    suspect, good : Channel
        The suspect of the form ``even`` or ``pairs``.
    lineup : LineUp
        Its shift, stretch and pieces are taken; its polarity is not: the likeness has its own sign.
    progress : Progress
        0 to 1.

    Returns
    -------
    ValueFit
        suspect ≈ gain · good + offset; likeness -1 to 1, 0 where one of the two is flat there.
    """
    step_s = suspect.step_s
    assert step_s is not None
    first, last = reach(suspect, good, lineup)
    sums = np.zeros(6)
    for begin in range(first, last, BLOCK):
        progress((begin - first) / (last - first))
        times_s = evenly(suspect.start_s, step_s, begin, min(begin + BLOCK, last))
        there = lineup.polarity * good_values(good, lineup, times_s).astype(np.float64)
        here = own_values(suspect, begin, begin + times_s.size)
        known = np.isfinite(here) & np.isfinite(there)
        if lineup.laid is not None:
            known &= lineup.laid.is_fair(times_s)
        a, b = here[known], there[known]
        sums += [a.size, a.sum(), b.sum(), np.square(a).sum(), np.square(b).sum(), (a * b).sum()]
    return _from_sums(sums, step_s)


def own_values(suspect: Channel, first: int, last: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """One value an instant: the samples, or the middle of each minimum and maximum."""
    if suspect.form != "pairs":
        return suspect.samples.block(first, last).astype(np.float64)
    pairs = suspect.samples.block(2 * first, 2 * last).astype(np.float64)
    middle: np.ndarray[tuple[int], np.dtype[np.float64]] = pairs.reshape(-1, 2).mean(axis=1)
    return middle


def _from_sums(sums: np.ndarray[tuple[int], np.dtype[np.float64]], step_s: float) -> ValueFit:
    count, sum_a, sum_b, square_a, square_b, both = sums.tolist()
    if count < 2:
        return ValueFit(1.0, 0.0, 0.0, 0.0)
    spread_a, spread_b = square_a - sum_a**2 / count, square_b - sum_b**2 / count
    shared = both - sum_a * sum_b / count
    if spread_b <= FLAT_SHARE * square_b:
        return ValueFit(1.0, (sum_a - sum_b) / count, 0.0, count * step_s)
    if spread_a <= FLAT_SHARE * square_a:
        return ValueFit(0.0, sum_a / count, 0.0, count * step_s)
    gain = shared / spread_b
    likeness = max(-1.0, min(1.0, shared / float(np.sqrt(spread_a * spread_b))))
    return ValueFit(gain, (sum_a - gain * sum_b) / count, likeness, count * step_s)
