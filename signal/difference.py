"""The difference lane: suspect minus known-good, once one is laid over the other."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.laid_fit import own_values
from loomlight.signal.laid_values import good_values, reach
from loomlight.signal.lineup import LineUp
from loomlight.signal.samples import Wave, evenly


class _Difference:
    """Worked out block by block: neither channel is held whole."""

    def __init__(self, suspect: Channel, good: Channel, lineup: LineUp, first: int, size: int) -> None:
        self._suspect, self._good, self._lineup, self._first, self._size = suspect, good, lineup, first, size

    @property
    def size(self) -> int:
        return self._size

    def block(self, start: int, stop: int) -> Wave:
        step_s, first = self._suspect.step_s, self._first
        assert step_s is not None
        times_s = evenly(self._suspect.start_s, step_s, first + start, first + stop)
        there = good_values(self._good, self._lineup, times_s)
        here = own_values(self._suspect, first + start, first + stop).astype(np.float32)
        apart: Wave = here - there
        if self._lineup.laid is not None:
            apart[~self._lineup.laid.is_fair(times_s)] = np.nan
        return apart


def difference(suspect: Channel, good: Channel, lineup: LineUp) -> Channel:
    """Suspect minus known-good on the suspect's axis, over what both cover.

    As measured: neither gain nor offset is fitted, since a level that is off is what the lane is to show. By frame, words
    that say different things are left out: they differ by right.

    Parameters
    ----------
    suspect, good : Channel
        In the same unit; the suspect of the form ``even`` or ``pairs``.
    lineup : LineUp
        Accepted or not.

    Returns
    -------
    Channel
        Form ``even``, named "difference", computed lazily; not-a-number where either has no sample.

    Raises
    ------
    CannotUse
        If the two have no time in common, or the suspect has no step.
    """
    if suspect.step_s is None:
        raise CannotUse(f"{suspect.name!r} has no even step, so no difference lane can be drawn.")
    first, last = reach(suspect, good, lineup)
    if last <= first:
        raise CannotUse("The suspect and the known-good have no time in common at this line-up.")
    return Channel(
        name="difference",
        unit=suspect.unit,
        samples=_Difference(suspect, good, lineup, first, last - first),
        start_s=suspect.start_s + first * suspect.step_s,
        step_s=suspect.step_s,
        history=(f"{suspect.name} minus {good.name} {_how(lineup)}",),
    )


def _how(lineup: LineUp) -> str:
    stretched = f" and stretched by {lineup.stretch:.9g}" if lineup.stretch != 1.0 else ""
    if lineup.laid is not None:
        return f"laid {lineup.by} by {lineup.by}, about {lineup.lag_s:.9g} s on{stretched}"
    return f"shifted by {lineup.lag_s:.9g} s{stretched}"
