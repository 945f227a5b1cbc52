"""The time axis of rows of numbers in a binary file: a stated step, or stamps beside them, walked block by block."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from loomlight.signal.errors import FileProblem
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import Times
from loomlight.storage.text_cells import unit_of

STEP_KEYS = ("dt", "step", "step_s", "interval", "sample_interval", "xinc", "x_increment", "wf_increment", "increment")
RATE_KEYS = ("sample_rate", "fs", "rate", "samplerate")
START_KEYS = ("t0", "start_s", "xorg", "x_origin", "wf_start_offset")
UNIT_KEYS = ("yunits", "unit", "units", "y_units")
TIME_UNIT_KEYS = ("xunits", "x_units", "x_unit", "time_unit", "time_units", "wf_xunit_string")
TIME_NAMES = ("time", "t", "times", "x", "zeit", "time_s")
SCALE_KEYS = ("yinc", "scale", "y_increment")
OFFSET_KEYS = ("yorg", "offset", "y_origin")
COUNT_KEYS, FIRST_KEYS, SEGMENT_KEYS = ("numpoints",), ("start",), ("numsegments",)
ALL_KEYS = (STEP_KEYS, RATE_KEYS, START_KEYS, UNIT_KEYS, TIME_UNIT_KEYS, SCALE_KEYS, OFFSET_KEYS)
PART_KEYS = (COUNT_KEYS, FIRST_KEYS, SEGMENT_KEYS)
KEYS = frozenset(key for keys in (*ALL_KEYS, *PART_KEYS) for key in keys)
"""Everything else that stands beside the samples is passed over."""
BLOCK = 1 << 20
Around = dict[str, object]


@dataclass(frozen=True, eq=False)
class Axis:
    """Start and step, or the stamps themselves, seconds."""

    start_s: float
    step_s: float | None
    times_s: Times | None = None

    def cut(self, first: int, count: int) -> "Axis":
        """The axis of ``count`` samples from ``first`` on, where the stamps are those of more samples."""
        if self.times_s is None:
            return self
        times = self.times_s[first : first + count]
        return Axis(float(times[0]), None, times)


@dataclass(frozen=True)
class Stamps:
    """A row of stamps that lies in a file.

    Attributes
    ----------
    size : int
        How many.
    dtype : dtype
        As the file holds them.
    part : callable
        ``part(start, stop)`` reads some.
    factor : float
        To seconds.
    """

    size: int
    dtype: np.dtype[np.generic]
    part: Callable[[int, int], npt.NDArray[np.generic]]
    factor: float = 1.0

    def blocks(self) -> Iterator[tuple[int, Times]]:
        """All of them in seconds, as ``(start index, block)``."""
        for start in range(0, self.size, BLOCK):
            with np.errstate(over="ignore", invalid="ignore"):  # what is no number is found by those who ask
                times = self.part(start, min(start + BLOCK, self.size)).astype(np.float64) * self.factor
            yield start, times

    def rises(self) -> bool:
        """Whether each stamp is a number above the one before."""
        last = -math.inf
        for _, times in self.blocks():
            if not (np.isfinite(times).all() and times[0] > last and (times[1:] > times[:-1]).all()):
                return False
            last = float(times[-1])
        return self.size > 1 and math.isfinite(last - float(self.part(0, 1)[0]) * self.factor)


def axis_of_stamps(stamps: Stamps, name: str, notes: list[str]) -> Axis:
    """An even axis where the stamps differ from one by no more than their digits do, else the stamps."""
    first = float(stamps.part(0, 1)[0]) * stamps.factor
    last = float(stamps.part(stamps.size - 1, stamps.size)[0]) * stamps.factor
    step = (last - first) / (stamps.size - 1)
    largest = max(abs(first), abs(last))
    rounding = min(float(np.finfo(stamps.dtype.str).eps) * largest, 0.5 * step) if stamps.dtype.kind == "f" else 0.0
    allowed = max(0.01 * step, rounding)
    is_even = all(
        np.abs(times - (first + np.arange(start, start + times.size) * step)).max() <= allowed
        for start, times in stamps.blocks()
    )
    if is_even:
        notes.append(f"{name}: step {in_words(step, 's', digits=6)} from the span of its time.")
        return Axis(first, step)
    notes.append(f"{name}: the time steps differ: read as unevenly spaced samples.")
    return Axis(first, None, np.concatenate([times for _, times in stamps.blocks()]))


def stated_axis(around: Around, name: str, notes: list[str], path: Path) -> Axis | None:
    """The axis that a stated step or rate gives, in the unit of time that is stated, or None."""
    step, rate = number_under(around, STEP_KEYS), number_under(around, RATE_KEYS)
    if step is None and rate:
        step = 1.0 / rate
    if step is None or not step > 0:
        return None
    factor = _seconds_in(around, name, notes, path)
    start = number_under(around, START_KEYS)
    return Axis((start or 0.0) * factor, step * factor)


def _seconds_in(around: Around, name: str, notes: list[str], path: Path) -> float:
    """Factor of the stated step and start: seconds unless the file names another unit of time."""
    for key in TIME_UNIT_KEYS:
        text = around.get(key)
        unit = unit_of(text) if isinstance(text, str) else None
        if unit is not None and unit[0] == "s":
            if unit[1] != 1.0:
                notes.append(f"{name}: the time is in {text} in the file.")
            return unit[1]
        if unit is not None and unit[0] == "Hz":
            raise FileProblem(
                "this is a spectrum (levels over frequency), not a waveform",
                file=path,
                do="Export the waveform itself, volts over time",
            )
    return 1.0


def number_under(around: Around, keys: tuple[str, ...]) -> float | None:
    """The first finite number under any of the keys, or None."""
    for key in keys:
        try:
            value = float(around[key])  # type: ignore[arg-type]  # whatever stands there
        except (KeyError, TypeError, ValueError):
            continue
        if math.isfinite(value):
            return value
    return None


def unit_under(around: Around) -> tuple[str | None, float]:
    """Base unit and factor of the unit that stands there, ``(None, 1.0)`` where none is known."""
    for key in UNIT_KEYS:
        text = around.get(key)
        unit = unit_of(text) if isinstance(text, str) else None
        if unit is not None:
            return unit[0] or None, unit[1]
    return None, 1.0
