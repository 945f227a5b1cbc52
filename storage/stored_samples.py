"""Samples that stay in an HDF5 file, and are read block by block."""

import os
import threading
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import numpy.typing as npt

from loomlight.signal.errors import FileProblem
from loomlight.signal.pyramid import Level, Pyramid
from loomlight.signal.samples import Wave, valued

MOST_PACKED = 1100
"""Deflate packs at most about 1030 to 1."""
UNREADABLE = (OSError, RuntimeError, LookupError, ValueError, TypeError, AttributeError, MemoryError, ArithmeticError)
"""What h5py and the checks raise on a damaged file."""


class StoredSamples:
    """Samples that stay in the file and are read block by block.

    The handle stays inside; where the file can no longer be read (the stick was pulled), `block` raises `FileProblem`.
    """

    def __init__(self, path: Path, file: h5py.File, group: str, lock: threading.Lock) -> None:
        self._path, self._file, self._group, self._lock = path, file, group, lock
        self._whole = _stored_bytes(file)
        dataset = file[group]["samples"]
        if dataset.ndim != 1 or dataset.dtype.kind not in "iuf":
            raise ValueError("samples are one row of numbers")
        if dataset.size * dataset.dtype.itemsize > most_held(dataset, path):
            raise ValueError("it claims more samples than it can hold")
        self._size = int(dataset.shape[0])
        self._is_counts = dataset.dtype.kind in "iu"
        self._is_short = dataset.dtype in (np.int8, np.uint8, np.int16)
        self.scale = float(file[group].attrs.get("scale", 1.0))
        self.offset = float(file[group].attrs.get("offset", 0.0))
        self.is_fine = bool(file[group].attrs.get("is_fine", False))
        self._pyramid: Pyramid | None = None

    @property
    def size(self) -> int:
        """Number of samples."""
        return self._size

    def block(self, start: int, stop: int) -> Wave:
        """Samples ``start`` to ``stop``, float32 in the base unit.

        Raises
        ------
        FileProblem
            If the file can no longer be read.
        """
        with self._lock, _read_errors_told(self._path):
            self._require_whole()
            raw = self._file[self._group]["samples"][start:stop]
        if self._is_counts:
            raw = valued(raw, self.scale, self.offset, is_fine=self.is_fine)
        return np.asarray(raw, dtype=np.float32)

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            self._file.close()

    def _require_whole(self) -> None:
        # Beyond the end of a file that was cut short the HDF5 library reads zeros without a word.
        if _stored_bytes(self._file) < self._whole:
            raise OSError("the file was cut short")

    @property
    def pyramid(self) -> Pyramid | None:
        """The pyramid that is stored beside the samples, or None where there is none that fits."""
        if self._pyramid is None:
            with self._lock, _read_errors_told(self._path):
                self._require_whole()
                self._pyramid = _stored_pyramid(self._file[self._group], self._size, self.scale, self.offset)
        return self._pyramid

    @property
    def counted(self) -> "StoredSamples | None":
        """Itself where the samples are 16-bit counts: what another file needs to hold the same ones."""
        return self if self._is_counts and self._is_short else None

    def count_block(self, start: int, stop: int) -> npt.NDArray[np.int16]:
        """Counts ``start`` to ``stop``; errors as `block`."""
        with self._lock, _read_errors_told(self._path):
            self._require_whole()
            return np.asarray(self._file[self._group]["samples"][start:stop], dtype=np.int16)

    @property
    def reach(self) -> tuple[float, float] | None:
        """Least and greatest sample as the stored pyramid tells them, or None where it does not."""
        pyramid = self.pyramid
        if pyramid is None:
            return None
        coarsest = pyramid.levels[-1]
        low, high = np.fmin.reduce(coarsest.low), np.fmax.reduce(coarsest.high)
        return (float(low), float(high)) if np.isfinite(low) and np.isfinite(high) else None


def _stored_bytes(file: h5py.File) -> int:
    """Size of the open file, by its handle: another file may have taken its name since. In memory it stays what it is."""
    if file.driver == "core":
        return int(file.id.get_filesize())
    return os.fstat(file.id.get_vfd_handle()).st_size


def most_held(dataset: h5py.Dataset, path: Path) -> int:
    """Bytes that a dataset can hold at most, by the size of its file; one that claims more is damaged."""
    stored = min(int(dataset.id.get_storage_size()), path.stat().st_size)
    return stored * (MOST_PACKED if dataset.compression or dataset.scaleoffset is not None else 1)


class _read_errors_told:  # noqa: N801 (reads as a statement)
    """Turn what h5py raises on an unreadable file into one clear line."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: Any, error: BaseException | None, trace: Any) -> None:
        if isinstance(error, UNREADABLE):
            raise FileProblem(
                "it cannot be read any further (is the stick still in, is the file whole?)",
                file=self._path,
                do="Open it again, from a copy if there is one",
            ) from error


def _stored_pyramid(group: h5py.Group, size: int, scale: float, offset: float) -> Pyramid | None:
    levels = []
    buckets = sorted(int(name[4:]) for name in group if name.startswith("min_") and name[4:].isdecimal())
    for bucket in buckets:
        low, high = (group[f"{end}_{bucket}"][()] for end in ("min", "max"))
        if low.shape != (-(-size // bucket),) or high.shape != low.shape:
            return None
        if low.dtype.kind in "iu":
            low, high = valued(low, scale, offset), valued(high, scale, offset)
        levels.append(Level(bucket, low.astype(np.float32), high.astype(np.float32)))
    return Pyramid(size, tuple(levels)) if levels else None
