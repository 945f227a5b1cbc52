"""Where a channel's numbers live: in memory or in a file, handed out in blocks."""

from collections.abc import Iterator
from typing import Protocol, Self

import numpy as np
import numpy.typing as npt

from loomlight.signal.progress import Progress, unwatched

Wave = npt.NDArray[np.float32]
Times = npt.NDArray[np.float64]


def evenly(start_s: float, step_s: float, first: int, last: int) -> Times:
    """Times of samples ``first`` to ``last`` (half open) of an even axis, seconds."""
    times: Times = start_s + np.arange(first, last, dtype=np.float64) * step_s
    return times


BLOCK = 262_144
"""Samples handled at a time by whole-channel functions: memory stays bounded, caches stay warm."""


class Samples(Protocol):
    """A row of samples in the channel's base unit."""

    @property
    def size(self) -> int:
        """Number of samples."""

    def block(self, start: int, stop: int) -> Wave:
        """Samples ``start`` to ``stop`` (half open, inside 0 to size), float32 in the base unit."""


class Counted(Protocol):
    """Samples that are 16-bit counts at heart: value = counts · scale + offset."""

    @property
    def scale(self) -> float:
        """Base units a count."""

    @property
    def offset(self) -> float:
        """The value at count 0."""

    @property
    def is_fine(self) -> bool:
        """Whether the value is worked out in double precision before it is rounded to single: as a text's numbers are."""

    def count_block(self, start: int, stop: int) -> npt.NDArray[np.int16]:
        """Counts ``start`` to ``stop``."""


def valued(counts: npt.NDArray[np.integer], scale: float, offset: float, *, is_fine: bool = False) -> Wave:
    """Counts as values: counts · scale + offset, in single precision unless ``is_fine``."""
    kind = np.float64 if is_fine else np.float32
    return (counts * kind(scale) + kind(offset)).astype(np.float32, copy=False)


def counted_of(samples: Samples) -> Counted | None:
    """The counts behind samples, where there are any."""
    counted: Counted | None = getattr(samples, "counted", None)
    return counted


class FloatSamples:
    """Samples held in memory as float32.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values in the base unit; not-a-number where nothing was acquired.
    copy : bool
        False hands the array over, where it is float32 already: the caller no longer changes it.
    """

    def __init__(self, values: npt.ArrayLike, *, copy: bool = True) -> None:
        self._values: Wave = np.array(values, dtype=np.float32, copy=True if copy else None)
        if self._values.ndim != 1:
            raise ValueError(f"samples must be one row, got shape {self._values.shape}")
        self._values.flags.writeable = False

    @property
    def size(self) -> int:
        """Number of samples."""
        return self._values.size

    def block(self, start: int, stop: int) -> Wave:
        """Samples ``start`` to ``stop``; a read-only view."""
        return self._values[start:stop]


class CountSamples:
    """Samples held in memory as int16 counts: value = counts · scale + offset.

    Parameters
    ----------
    counts : ndarray of int16, shape (n,)
        Converter counts.
    scale, offset : float
        Base units a count, and the value at count 0.
    is_fine : bool
        See `Counted.is_fine`.
    """

    def __init__(self, counts: npt.NDArray[np.int16], *, scale: float, offset: float, is_fine: bool = False) -> None:
        self.counts = counts
        self.scale, self.offset, self.is_fine = scale, offset, is_fine

    @property
    def size(self) -> int:
        """Number of samples."""
        return self.counts.size

    @property
    def counted(self) -> Self:
        """Itself."""
        return self

    def count_block(self, start: int, stop: int) -> npt.NDArray[np.int16]:
        """Counts ``start`` to ``stop``."""
        return self.counts[start:stop]

    def block(self, start: int, stop: int) -> Wave:
        """Samples ``start`` to ``stop``, scaled."""
        return valued(self.counts[start:stop], self.scale, self.offset, is_fine=self.is_fine)


class PartOf:
    """Samples ``first`` to ``last`` (half open) of others, themselves untouched.

    Parameters
    ----------
    samples : Samples
        The whole row.
    first, last : int
        ``0 <= first <= last <= samples.size``.
    """

    def __init__(self, samples: Samples, first: int, last: int) -> None:
        if not 0 <= first <= last <= samples.size:
            raise ValueError(f"{first} to {last} does not lie in 0 to {samples.size}")
        self._samples, self._first, self._size = samples, first, last - first

    @property
    def size(self) -> int:
        """Number of samples."""
        return self._size

    def block(self, start: int, stop: int) -> Wave:
        """Samples ``start`` to ``stop``, counted from the part's own begin."""
        return self._samples.block(self._first + start, self._first + stop)


def blocks(samples: Samples, progress: Progress = unwatched, *, length: int = BLOCK) -> Iterator[tuple[int, Wave]]:
    """Walk all samples as ``(start index, block)``, reporting progress before each block."""
    for start in range(0, samples.size, length):
        progress(start / samples.size)
        yield start, samples.block(start, min(start + length, samples.size))


def finite_range(samples: Samples, progress: Progress = unwatched) -> tuple[float, float] | None:
    """Least and greatest finite sample, or None where there is none; samples that know it (`reach`) are not walked."""
    known = getattr(samples, "reach", None)
    if isinstance(known, tuple):
        return known
    low, high = np.inf, -np.inf
    for _, values in blocks(samples, progress):
        finite = values[np.isfinite(values)]
        if finite.size:
            low, high = min(low, float(finite.min())), max(high, float(finite.max()))
    return (low, high) if low <= high else None
