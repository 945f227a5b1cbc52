"""A coarse picture of a file that is still being read: the least and greatest value of some thousand places in it."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.samples import FloatSamples, Times, Wave

FirstPicture = Callable[[Capture], None]
"""Takes a coarse capture while the whole one is still being read; may be called several times, on the reading thread."""
PLACES = 2048
COARSE = "A first, coarse picture: the rest of the file is still being read."
WHOLE_SHARES = 5
"""How often the picture is refined while the file is read."""


def unseen(_capture: Capture) -> None:
    """For those who wait for the whole capture."""


@dataclass(eq=False)
class CoarseRow:
    """The extremes of a row of samples, place by place, as far as they are known.

    Parameters
    ----------
    name, unit : str, str or None
        The channel's.
    size : int
        Samples of the whole row.
    start_s, step_s : float
        First sample and spacing, seconds.
    """

    name: str
    unit: str | None
    size: int
    start_s: float
    step_s: float
    low: Wave = field(init=False)
    high: Wave = field(init=False)

    def __post_init__(self) -> None:
        self.length = -(-self.size // PLACES)
        places = -(-self.size // self.length)
        self.low = np.full(places, np.nan, np.float32)
        self.high = np.full(places, np.nan, np.float32)

    def take(self, start: int, values: Wave) -> None:
        """Samples from ``start`` on are known now."""
        finite = np.where(np.isfinite(values), values, np.float32(np.nan))
        cuts = np.arange(start - start % self.length, start + values.size, self.length)
        first = start // self.length
        within = slice(first, first + cuts.size)
        starts = np.maximum(cuts - start, 0)
        self.low[within] = np.fmin(self.low[within], np.fmin.reduceat(finite, starts))
        self.high[within] = np.fmax(self.high[within], np.fmax.reduceat(finite, starts))

    def channel(self) -> Channel:
        """Minimum and maximum of each place; what is between known places is taken from the one before."""
        known = np.isfinite(self.low)
        at = np.maximum.accumulate(np.where(known, np.arange(known.size), 0))
        both = np.stack([self.low[at], self.high[at]], axis=1).reshape(-1)
        step_s = self.length * self.step_s
        return Channel(self.name, self.unit, FloatSamples(both), self.start_s, step_s, "pairs")


def coarse_capture(source_name: str, layout: str, channels: tuple[Channel, ...]) -> Capture:
    """What is known so far, told as such."""
    return Capture(source_name, layout, channels, (COARSE,))


def uneven_extremes(
    times_s: Times, values: Wave, starts: npt.NDArray[np.int64], *, name: str, unit: str | None
) -> Channel | None:
    """A channel of the extremes of stretches of samples, at each stretch's first and last time; None where time falls.

    Parameters
    ----------
    times_s, values : ndarray, shape (n,)
        Samples of all stretches one after the other.
    starts : ndarray of int64
        First sample of each stretch.
    name, unit : str, str or None
        The channel's.
    """
    stops = np.append(starts[1:], times_s.size)
    times = np.stack([times_s[starts], times_s[stops - 1]], axis=1).reshape(-1)
    both = np.stack([np.fmin.reduceat(values, starts), np.fmax.reduceat(values, starts)], axis=1).reshape(-1)
    if not np.isfinite(times).all() or (np.diff(times) < 0).any() or not np.isfinite(both).any():
        return None
    both[~np.isfinite(both)] = np.nan
    return Channel(name, unit, FloatSamples(both), float(times[0]), None, "uneven", times_s=times)
