"""Rows of numbers from a binary file on their way to channels, block by block: 8 and 16 bits stay counts."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import IndexRange
from loomlight.signal.samples import CountSamples, FloatSamples, Samples, Wave

MOST_COUNTS = (1 << 15) - 1
Numbers = npt.NDArray[np.generic]


class NumberRow:
    """One row of samples that is filled block by block.

    Parameters
    ----------
    size : int
        Samples.
    dtype : dtype
        As the file holds them: whole numbers, floats or booleans of any length and byte order.
    scale, offset : float
        value = number · scale + offset.
    """

    def __init__(self, size: int, dtype: np.dtype[np.generic], *, scale: float = 1.0, offset: float = 0.0) -> None:
        self._scale, self._offset = scale, offset
        self._is_short = dtype.kind == "b" or (dtype.kind in "iu" and dtype.itemsize <= 2)
        self._kept: Numbers = np.zeros(size, np.int16 if self._is_short else np.float32)
        self._gaps: list[IndexRange] = []
        self._clipped: list[IndexRange] = []
        self._low, self._high = np.inf, -np.inf

    def take(self, start: int, raw: Numbers) -> Wave:
        """Numbers from ``start`` on; given back in the base unit."""
        stop = start + raw.size
        if self._is_short and raw.dtype.kind == "u" and raw.size and int(raw.max()) > MOST_COUNTS:
            self._no_longer_short()
        if self._is_short:
            self._kept[start:stop] = raw
            return self._samples().block(start, stop)
        with np.errstate(over="ignore", invalid="ignore"):  # what is too large becomes infinite: beyond the range
            values: Wave = raw.astype(np.float32) if self._is_plain else self._scaled(raw)
        self._kept[start:stop] = values
        finite = np.isfinite(values)
        if not finite.all():
            self._gaps += _marked(np.isnan(values), start)
            self._clipped += _marked(np.isinf(values), start)
        if finite.any():
            inside = values[finite]
            self._low, self._high = min(self._low, float(inside.min())), max(self._high, float(inside.max()))
        return values

    def _no_longer_short(self) -> None:
        """Counts beyond 15 bits do not fit; a shift would cost digits in single precision."""
        self._is_short = False
        self._kept = self._scaled(self._kept)

    @property
    def _is_plain(self) -> bool:
        return self._scale == 1.0 and self._offset == 0.0

    def _scaled(self, raw: Numbers) -> Wave:
        return (raw.astype(np.float64) * self._scale + self._offset).astype(np.float32)

    def _samples(self) -> Samples:
        if self._is_short:
            counts: npt.NDArray[np.int16] = self._kept  # type: ignore[assignment]  # by its kind
            return CountSamples(counts, scale=self._scale, offset=self._offset)
        return FloatSamples(self._kept, copy=False)

    @property
    def gaps(self) -> tuple[IndexRange, ...]:
        """Where there was no number."""
        return _joined(self._gaps)

    @property
    def clipped(self) -> tuple[IndexRange, ...]:
        """Where the number was beyond the range."""
        return _joined(self._clipped)

    def samples(self) -> Samples:
        """All samples; what was beyond the range stands at the rail."""
        for start, stop in self._clipped:
            part = np.asarray(self._kept[start:stop], dtype=np.float32)
            rail = (self._low, self._high) if self._low <= self._high else (np.nan, np.nan)
            self._kept[start:stop] = np.where(part > 0, rail[1], rail[0])
        return self._samples()


def _marked(marked: npt.NDArray[np.bool_], start: int) -> list[IndexRange]:
    changes = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]]))) + start
    return list(zip(changes[::2].tolist(), changes[1::2].tolist(), strict=True))


def _joined(ranges: list[IndexRange]) -> tuple[IndexRange, ...]:
    """Ranges that touch at a block's end as one."""
    joined: list[IndexRange] = []
    for start, stop in ranges:
        if joined and joined[-1][1] == start:
            joined[-1] = (joined[-1][0], stop)
        else:
            joined.append((start, stop))
    return tuple(joined)
