"""The tolerance band of a known-good that was captured several times: where other good captures are to be expected."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.samples import Times, Wave


@dataclass(frozen=True)
class LeftOut:
    """A capture that the envelope does not rest on, and why."""

    index: int
    reason: str


@dataclass(frozen=True, eq=False)
class Envelope:
    """Band around several good captures, on the axis of the first.

    Of a long reference each point stands for several samples: the least of the lower ends, the greatest of the upper.

    Attributes
    ----------
    lower, middle, upper : Channel
        Form ``even``, all on the same points; not-a-number where fewer than two captures tell.
    least, greatest : Channel
        Of the captures themselves.
    spread : Channel
        Standard deviation between the captures, noise left aside.
    count : Channel
        How many captures each point rests on.
    captures : int
        How many it rests on at most.
    left_out : tuple of LeftOut
        Those that could not be laid on the first.
    slack_s : float
        How much earlier or later edges may come; the ends are widened by it.
    noise : float
        Standard deviation of the captures' noise, in their unit; it is part of the band.
    told : str
        What the band rests on, in a sentence or two.
    """

    lower: Channel = field(repr=False)
    middle: Channel = field(repr=False)
    upper: Channel = field(repr=False)
    least: Channel = field(repr=False)
    greatest: Channel = field(repr=False)
    spread: Channel = field(repr=False)
    count: Channel = field(repr=False)
    captures: int
    left_out: tuple[LeftOut, ...]
    slack_s: float
    noise: float
    told: str

    def ends_at(self, good_s: Times, half: float | None = None) -> tuple[Wave, Wave]:
        """Lower and upper end at times on the first capture's axis; not-a-number where there is none.

        Parameters
        ----------
        good_s : ndarray of float64, shape (n,)
            Seconds, in any order; not-a-number gives not-a-number.
        half : float, optional
            The band never reaches further than this beyond what was captured: few captures alone would allow nearly
            anything.
        """
        step_s = self.lower.step_s
        assert step_s is not None
        size = self.lower.samples.size
        place = (good_s - self.lower.start_s) / step_s
        inside = (place > -0.5) & (place < size - 0.5 + 1e-9)
        first = np.clip(np.floor(np.where(inside, place, 0.0) + 1e-6).astype(np.int64), 0, max(size - 1, 0))
        after = np.minimum(first + 1, size - 1)
        low = _ends_of(self.lower, first, after, np.minimum)
        high = _ends_of(self.upper, first, after, np.maximum)
        if half is not None:
            low = np.maximum(low, _ends_of(self.least, first, after, np.minimum) - np.float32(half))
            high = np.minimum(high, _ends_of(self.greatest, first, after, np.maximum) + np.float32(half))
        nothing = np.float32(np.nan)
        return np.where(inside, low, nothing), np.where(inside, high, nothing)


def _ends_of(channel: Channel, first: np.ndarray, after: np.ndarray, outer: np.ufunc) -> Wave:
    if not first.size:
        return np.empty(0, np.float32)
    begin, stop = int(first.min()), int(after.max()) + 1
    values = channel.samples.block(begin, stop)
    found: Wave = outer(values[first - begin], values[after - begin])
    return found
