"""What was recorded: channels, and the capture that holds them."""

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from loomlight.signal.errors import NoSuchChannel
from loomlight.signal.samples import Samples, Times

Form = Literal["even", "pairs", "changes", "uneven"]
IndexRange = tuple[int, int]
"""Half-open range of sample indices."""


@dataclass(frozen=True, eq=False)
class Channel:
    """One wire as it was recorded.

    Attributes
    ----------
    name : str
        As the file or the user calls it.
    unit : str or None
        Base unit: ``"V"``, ``"A"``, ``"Ω"``, ``"s"``, ``"counts"``…; None where the file does not say.
    samples : Samples
        ``size`` and ``block(start, stop)``: float32 in the base unit, at the wire, after the probe factor. For the
        form ``pairs`` minimum and maximum of each interval follow each other, so ``size`` is twice the intervals.
    start_s : float
        Time of the first sample (of the first interval), seconds on the file's own axis.
    step_s : float or None
        Spacing of samples (of intervals, for ``pairs``), seconds; None for ``changes`` and ``uneven``.
    form : {"even", "pairs", "changes", "uneven"}
        How the samples lie in time; ``changes`` means "from here on".
    gaps, clipped : tuple of (int, int)
        Half-open index ranges that were not acquired, or stand at the instrument's rail.
    history : tuple of str
        What was done to the samples since the file, oldest first.
    segments : int
        How many stretches the recording of this wire has in its file; each is a channel of its own.
    times_s : ndarray of float64, shape (size,), or None
        Each sample's time; only for ``changes`` and ``uneven``.
    """

    name: str
    unit: str | None
    samples: Samples = field(repr=False)
    start_s: float
    step_s: float | None
    form: Form = "even"
    gaps: tuple[IndexRange, ...] = ()
    clipped: tuple[IndexRange, ...] = ()
    history: tuple[str, ...] = ()
    segments: int = 1
    times_s: Times | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        has_step = self.form in ("even", "pairs")
        if has_step and not (self.step_s is not None and math.isfinite(self.step_s) and self.step_s > 0):
            raise ValueError(f"channel {self.name!r}: step_s must be above 0 s, got {self.step_s}")
        if has_step != (self.times_s is None) or (self.times_s is not None and self.times_s.size != self.samples.size):
            raise ValueError(f"channel {self.name!r}: form {self.form!r} and its times do not go together")
        if not math.isfinite(self.start_s):
            raise ValueError(f"channel {self.name!r}: start_s must be finite, got {self.start_s}")
        if self.form == "pairs" and self.samples.size % 2:
            raise ValueError(
                f"channel {self.name!r}: minimum/maximum pairs need an even count, got {self.samples.size}"
            )

    @property
    def intervals(self) -> int:
        """Number of instants: half the samples for ``pairs``, else the samples."""
        return self.samples.size // 2 if self.form == "pairs" else self.samples.size

    @property
    def stop_s(self) -> float:
        """Time just after the last sample, seconds on the file's own axis."""
        if self.step_s is None:
            return float(self.times_s[-1]) if self.times_s is not None and self.times_s.size else self.start_s
        return self.start_s + self.intervals * self.step_s

    def index_at(self, time_s: float) -> int:
        """Index of the sample (of the pair's minimum) nearest to ``time_s``, held inside the channel."""
        if self.step_s is None:
            assert self.times_s is not None
            return int(np.clip(np.searchsorted(self.times_s, time_s), 0, max(self.samples.size - 1, 0)))
        instant = round((time_s - self.start_s) / self.step_s)
        instant = min(max(instant, 0), max(self.intervals - 1, 0))
        return 2 * instant if self.form == "pairs" else instant


@dataclass(frozen=True, eq=False)
class Capture:
    """What one file holds.

    Attributes
    ----------
    source_name : str
        The file's name, without its folder.
    layout : str
        How the file was read, in words: "columns divided by semicolons, decimal comma".
    channels : tuple of Channel
        At least one, in the file's order.
    notes : tuple of str
        Everything that was assumed or left out while reading, one sentence each.
    questions : tuple of str
        What the file leaves open and was guessed, one sentence each.
    """

    source_name: str
    layout: str
    channels: tuple[Channel, ...]
    notes: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()

    def channel(self, wanted: str) -> Channel:
        """Find a channel: the exact name, else the only one alike but for case, else ``#1`` by number.

        Raises
        ------
        NoSuchChannel
            If none of the three finds exactly one; the message lists those there are.
        """
        names = tuple(channel.name for channel in self.channels)
        exact = [channel for channel in self.channels if channel.name == wanted]
        folded = [channel for channel in self.channels if channel.name.casefold() == wanted.casefold()]
        for found in (exact, folded):
            if len(found) == 1:
                return found[0]
        if wanted.startswith("#") and wanted[1:].isdecimal() and 1 <= int(wanted[1:]) <= len(names):
            return self.channels[int(wanted[1:]) - 1]
        raise NoSuchChannel(wanted, source=self.source_name, names=names)
