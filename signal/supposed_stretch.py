"""The stretch of a known-good in which a fault is supposed, and the channel that comes of it."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.finite import finite
from loomlight.signal.quantity import in_words
from loomlight.signal.resample import instants
from loomlight.signal.samples import FloatSamples
from loomlight.signal.supposal import SupposedFault

Row = npt.NDArray[np.float64]
MOST_SAMPLES = 2_000_000


@dataclass(frozen=True, eq=False)
class Stretch:
    """Samples of a known-good.

    Attributes
    ----------
    channel : Channel
        Where they are from.
    start_s, step_s : float
        Of the first sample, and the spacing, seconds.
    values : ndarray, shape (n,)
        In the channel's unit; what was not acquired is not-a-number.
    """

    channel: Channel
    start_s: float
    step_s: float
    values: Row

    @property
    def times_s(self) -> Row:
        """Time of each sample, seconds on the channel's axis."""
        found: Row = self.start_s + self.step_s * np.arange(self.values.size, dtype=np.float64)
        return found


def stretch_of(channel: Channel, start_s: float, stop_s: float) -> Stretch:
    """Take a stretch, begin and end in seconds on the channel's axis.

    Raises
    ------
    CannotUse
        If nothing lies in it, or more than can be worked out while a person waits.
    """
    assert channel.step_s is not None
    known, step_s = finite(channel), channel.step_s
    first = max(int(np.ceil((start_s - channel.start_s) / step_s)), 0)
    last = min(int((stop_s - channel.start_s) / step_s) + 1, channel.intervals)
    if not 0 < last - first <= MOST_SAMPLES:
        most_s = in_words(MOST_SAMPLES * step_s, "s")
        raise CannotUse(f"Zoom in to {most_s} or less: what is supposed is worked out for what is in sight.")
    return Stretch(channel, channel.start_s + first * step_s, step_s, instants(known, first, last).astype(np.float64))


def supposed_channel(stretch: Stretch, fault: SupposedFault, values: Row) -> Channel:
    """The stretch with its new values, named after the fault."""
    return Channel(
        name=f"supposed: {fault.in_words()}",
        unit=stretch.channel.unit,
        samples=FloatSamples(values.astype(np.float32)),
        start_s=stretch.start_s,
        step_s=stretch.step_s,
        history=(f"worked out from {stretch.channel.name}",),
    )
