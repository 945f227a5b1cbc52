"""The envelope as the difference lane shows it: how far the suspect may stand from the known-good at each instant."""

import numpy as np

from loomlight.signal.band import envelope_along
from loomlight.signal.capture import Channel
from loomlight.signal.laid_values import good_times, good_values, reach
from loomlight.signal.lineup import LineUp
from loomlight.signal.samples import Wave, evenly
from loomlight.signal.tolerance_band import Envelope


class _End:
    """One end of the band less the known-good, worked out block by block."""

    def __init__(
        self,
        suspect: Channel,
        good: Channel,
        lineup: LineUp,
        envelope: Envelope,
        *,
        upper: bool,
        half: float | None,
        between: tuple[int, int],
    ) -> None:
        self._suspect, self._good, self._lineup, self._envelope = suspect, good, lineup, envelope
        self._upper, self._half = upper, half
        self._first, self.size = between[0], between[1] - between[0]

    def block(self, start: int, stop: int) -> Wave:
        assert self._suspect.step_s is not None
        times_s = evenly(self._suspect.start_s, self._suspect.step_s, self._first + start, self._first + stop)
        low, high = self._envelope.ends_at(good_times(self._lineup, times_s), self._half)
        if self._lineup.polarity < 0:
            low, high = -high, -low
        apart: Wave = (high if self._upper else low) - good_values(self._good, self._lineup, times_s)
        if self._half is not None:
            apart = np.where(np.isfinite(apart), apart, np.float32(self._half if self._upper else -self._half))
        return apart


def envelope_apart(
    suspect: Channel, good: Channel, lineup: LineUp, half: float | None
) -> tuple[Channel, Channel] | None:
    """Lower and upper end of the envelope, less the known-good, on the suspect's axis; None where there is no envelope.

    Parameters
    ----------
    suspect, good : Channel
        In the same unit; the suspect of the form ``even`` or ``pairs``.
    lineup : LineUp
        Accepted.
    half : float or None
        What the signal kind allows: the band where the envelope tells nothing, and the furthest that it reaches beyond what
        was captured.
    """
    envelope = envelope_along(lineup)
    if envelope is None or suspect.step_s is None:
        return None
    first, last = reach(suspect, good, lineup)
    if last <= first:
        return None
    lower, upper = (
        Channel(
            name=f"{name} end of the envelope",
            unit=suspect.unit,
            samples=_End(suspect, good, lineup, envelope, upper=is_upper, half=half, between=(first, last)),
            start_s=suspect.start_s + first * suspect.step_s,
            step_s=suspect.step_s,
        )
        for name, is_upper in (("lower", False), ("upper", True))
    )
    return lower, upper
