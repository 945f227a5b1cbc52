"""The difference lane: suspect minus known-good, once one is laid over the other."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.lineup import LineUp
from loomlight.signal.resample import values_at
from loomlight.signal.samples import Wave, evenly


class _Difference:
    """Worked out block by block: neither channel is held whole."""

    def __init__(self, suspect: Channel, good: Channel, lineup: LineUp, first: int, size: int) -> None:
        self._suspect, self._good, self._lineup, self._first, self._size = suspect, good, lineup, first, size

    @property
    def size(self) -> int:
        return self._size

    def block(self, start: int, stop: int) -> Wave:
        step_s = self._suspect.step_s
        assert step_s is not None
        times_s = evenly(self._suspect.start_s, step_s, self._first + start, self._first + stop)
        there = values_at(self._good, self._lineup.lag_s + self._lineup.stretch * times_s)
        here = values_at(self._suspect, times_s)
        apart: Wave = here - np.float32(self._lineup.polarity) * there
        return apart


def difference(suspect: Channel, good: Channel, lineup: LineUp) -> Channel:
    """Suspect minus known-good on the suspect's axis, over what both cover.

    As measured: neither gain nor offset is fitted, since a level that is off is what the lane is to show.

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
    ends_s = sorted((lineup.on_suspect(good.start_s), lineup.on_suspect(good.stop_s)))
    first = max(0, int(np.ceil((ends_s[0] - suspect.start_s) / suspect.step_s - 1e-6)))
    last = min(suspect.intervals, int(np.floor((ends_s[1] - suspect.start_s) / suspect.step_s + 1e-6)))
    if last <= first:
        raise CannotUse("The suspect and the known-good have no time in common at this line-up.")
    return Channel(
        name="difference",
        unit=suspect.unit,
        samples=_Difference(suspect, good, lineup, first, last - first),
        start_s=suspect.start_s + first * suspect.step_s,
        step_s=suspect.step_s,
        history=(f"{suspect.name} minus {good.name} shifted by {lineup.lag_s:.9g} s",),
    )
