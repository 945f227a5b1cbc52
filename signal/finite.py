"""Infinite samples, which some instruments write for "beyond my range", as not-a-number: neither is a level."""

from dataclasses import replace

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions, Doubt
from loomlight.signal.samples import Samples, Wave, blocks

LARGEST = 1e9
"""No volt or ampere of a vehicle: what is beyond is a mark, not a measurement."""


class FiniteSamples:
    """Others' samples with what is infinite, or no measurement, made not-a-number.

    Parameters
    ----------
    samples : Samples
        Themselves untouched.
    """

    def __init__(self, samples: Samples) -> None:
        self._samples = samples

    @property
    def size(self) -> int:
        """Number of samples."""
        return self._samples.size

    def block(self, start: int, stop: int) -> Wave:
        """Samples ``start`` to ``stop``."""
        values = self._samples.block(start, stop)
        beyond = np.abs(values) > LARGEST
        return np.where(beyond, np.float32(np.nan), values) if beyond.any() else values


def finite(channel: Channel) -> Channel:
    """The channel with infinite samples made not-a-number."""
    return replace(channel, samples=FiniteSamples(channel.samples))


def finite_besides(conditions: Conditions) -> Conditions:
    """The same of every channel that stands beside the judged one."""
    return replace(conditions, besides=tuple(replace(one, channel=finite(one.channel)) for one in conditions.besides))


def beyond_range(channel: Channel) -> Doubt | None:
    """Said where samples were infinite: what they were cannot be told."""
    count = sum(int((np.abs(values) > LARGEST).sum()) for _, values in blocks(channel.samples))
    if not count:
        return None
    return Doubt(
        "clipping",
        f"{count} of {channel.samples.size} samples of {channel.name!r} are beyond the instrument's range.",
        "Choose a larger range and repeat the capture.",
    )
