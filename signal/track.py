"""What changes over the length of a capture: speed, duty, ripple, one figure an instant."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.samples import FloatSamples


@dataclass(frozen=True, eq=False)
class Track:
    """A figure over time.

    Attributes
    ----------
    name : str
        "engine speed", "duty"…
    unit : str
        As shown: ``"V"``, ``"Hz"``, ``"rpm"``, or empty for a ratio.
    times_s : ndarray of float64, shape (n,)
        Rising, seconds on the channel's axis.
    values : ndarray of float64, shape (n,)
        NaN where it could not be told.
    note : str
        What it rests on.
    """

    name: str
    unit: str
    times_s: npt.NDArray[np.float64]
    values: npt.NDArray[np.float64]
    note: str = ""

    def __post_init__(self) -> None:
        if self.times_s.shape != self.values.shape or self.times_s.ndim != 1:
            raise ValueError(f"times {self.times_s.shape} and values {self.values.shape} must be two equal rows")
        if np.any(np.diff(self.times_s) < 0):
            raise ValueError("a track's times must rise")

    def as_channel(self) -> Channel:
        """For a lane."""
        return Channel(
            name=self.name,
            unit=self.unit or None,
            samples=FloatSamples(self.values.astype(np.float32)),
            start_s=float(self.times_s[0]) if self.times_s.size else 0.0,
            step_s=None,
            form="uneven",
            times_s=self.times_s,
        )
