"""How alike a suspect and a known-good are from moment to moment: leads the eye to where they part."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.laid_fit import own_values
from loomlight.signal.laid_values import good_values, reach
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import BLOCK, FloatSamples, evenly

Row = npt.NDArray[np.float64]

WINDOWS = 600
"""More than a strip has room for at a glance, few enough to be read."""
LEAST_SAMPLES = 16
"""In a window; a shorter one says nothing."""
MOST_CYCLES = 2000


@dataclass(frozen=True, eq=False)
class LocalFit:
    """Fit window by window, or cycle by cycle.

    Attributes
    ----------
    bounds_s : ndarray of float64, shape (n + 1,)
        Begin of each window and end of the last, seconds on the suspect's axis.
    fit : ndarray of float64, shape (n,)
        0 to 1; not-a-number where nothing is to be compared.
    """

    bounds_s: Row = field(repr=False)
    fit: Row = field(repr=False)

    def channel(self) -> Channel:
        """As a channel that holds each window's fit until the next, for a lane."""
        return Channel(
            name="local fit",
            unit=None,
            samples=FloatSamples(np.append(self.fit, self.fit[-1:])),
            start_s=float(self.bounds_s[0]),
            step_s=None,
            form="changes",
            times_s=self.bounds_s,
        )


def local_fit(suspect: Channel, good: Channel, lineup: LineUp, progress: Progress = unwatched) -> LocalFit:
    """Fit of each window: the share of the suspect's variation that the known-good, as it is laid, accounts for there.

    √(1 - Σd² / (n · v)), d being the suspect less the fitted known-good (gain and offset of the line-up) and v the suspect's
    variance over all that is compared; 0 where d is larger than that. Over the whole this is the fit itself; unlike a
    correlation of each window alone it says 1, and not nothing, where both rest on the same level.

    Parameters
    ----------
    suspect, good : Channel
        The suspect of the form ``even`` or ``pairs``.
    lineup : LineUp
        Accepted or not; by cycle each window is a cycle.
    progress : Progress
        0 to 1.

    Raises
    ------
    CannotUse
        If the two have no time in common.
    """
    first, last = reach(suspect, good, lineup)
    step_s = suspect.step_s
    if step_s is None or last - first < LEAST_SAMPLES:
        raise CannotUse("The suspect and the known-good have no time in common at this line-up.")
    bounds_s = _bounds(suspect.start_s + first * step_s, suspect.start_s + last * step_s, lineup, last - first)
    many = bounds_s.size - 1
    sums = np.zeros((4, many))
    for begin in range(first, last, BLOCK):
        progress((begin - first) / (last - first))
        times_s = evenly(suspect.start_s, step_s, begin, min(begin + BLOCK, last))
        here = own_values(suspect, begin, begin + times_s.size)
        there = lineup.polarity * good_values(good, lineup, times_s).astype(np.float64)
        known = np.isfinite(here) & np.isfinite(there)
        if lineup.laid is not None:
            known &= lineup.laid.is_fair(times_s)
        place = np.clip(np.searchsorted(bounds_s, times_s[known], side="right") - 1, 0, many - 1)
        here, apart = here[known], here[known] - (lineup.gain * there[known] + lineup.offset)
        for row, weights in enumerate((np.ones(here.size), here, here * here, apart * apart)):
            sums[row] += np.bincount(place, weights=weights, minlength=many)
    return LocalFit(bounds_s, _fits(sums))


def _fits(sums: Row) -> Row:
    count = sums[0].sum()
    variance = sums[2].sum() / max(count, 1.0) - (sums[1].sum() / max(count, 1.0)) ** 2
    fit = np.full(sums.shape[1], np.nan)
    some = sums[0] >= min(LEAST_SAMPLES, max(1.0, 0.25 * sums[0].max()))
    if variance > 0:
        fit[some] = np.sqrt(np.clip(1.0 - sums[3][some] / (sums[0][some] * variance), 0.0, 1.0))
    return fit


def _bounds(start_s: float, stop_s: float, lineup: LineUp, samples: int) -> Row:
    if lineup.by == "cycle" and lineup.laid is not None and len(lineup.laid.pairs_s) >= 2:
        begins = lineup.laid.pairs_s[:, 0]
        every = -(-begins.size // MOST_CYCLES)
        return np.append(begins[::every], stop_s)
    windows = max(1, min(WINDOWS, samples // LEAST_SAMPLES))
    bounds: Row = np.linspace(start_s, stop_s, windows + 1)
    return bounds
