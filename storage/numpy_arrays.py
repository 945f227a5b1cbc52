"""The arrays of a ``.npy`` or ``.npz`` file as columns of numbers, read block by block; nothing in them is ever run.

The formats are those of NumPy Enhancement Proposal 1 and of the ``numpy.lib.format`` documentation.
"""

import math
import zipfile
from ast import literal_eval
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import numpy as np
import numpy.typing as npt

from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, part
from loomlight.storage.foreign_axis import TIME_NAMES, Around
from loomlight.storage.number_rows import NumberRow, Numbers
from loomlight.storage.reading import Reading
from loomlight.storage.text_cells import name_and_unit

NPY_SIGNATURE = b"\x93NUMPY"
LEAST_SAMPLES = 50
MOST_CHANNELS = 64
LONGEST_TEXT = 4096
LONGEST_HEADER = 1 << 16
BLOCK_BYTES = 1 << 22
SMALL_FILE, MOST_GROWTH = 1 << 28, 100
"""An archive may unpack to this many bytes, or to this many times its size: more is no capture but a trap."""
KINDS = "iufb"


class ArrayColumn:
    """One row of numbers that is filled block by block; its stamps as they are where it may be the time."""

    def __init__(self, number: int, name: str, size: int, dtype: np.dtype[np.generic], *, may_be_time: bool) -> None:
        self.number, self.size, self.is_whole = number, size, dtype.kind in "iu"
        self.name, self.unit = name_and_unit(name)
        self.row = NumberRow(size, dtype)
        self.stamps: npt.NDArray[np.generic] | None = np.empty(size, dtype) if may_be_time else None

    def take(self, start: int, block: Numbers) -> None:
        """Numbers from ``start`` on."""
        self.row.take(start, block)
        if self.stamps is not None:
            self.stamps[start : start + block.size] = block


class Arrays:
    """The arrays of one file, as columns; single values stand in ``around``."""

    def __init__(self, path: Path, reading: Reading) -> None:
        self.path, self._reading = path, reading
        self.columns: list[ArrayColumn] = []
        self.around: Around = {}
        self.tables: list[tuple[str, tuple[int, ...]]] = []
        self.too_wide: list[tuple[str, tuple[int, ...]]] = []

    def take_all(self, progress: Progress) -> None:
        """Those of an archive."""
        with zipfile.ZipFile(self.path) as archive:
            members = [one for one in archive.infolist() if one.filename.endswith(".npy")]
            most = max(SMALL_FILE, MOST_GROWTH * self.path.stat().st_size)
            if sum(one.file_size for one in members) > most:
                raise FileProblem("it would unpack to far more than it is", file=self.path, do="Save it unpacked")
            for number, member in enumerate(members):
                share = part(progress, number / len(members), (number + 1) / len(members))
                with archive.open(member) as file:
                    self.take(file, " ".join(member.filename.removesuffix(".npy").split()), member.file_size, share)

    def take(self, file: IO[bytes], name: str, size: int, progress: Progress) -> None:
        """One array, where it holds samples or a single value."""
        shape, is_turned, dtype = _header(file)
        held = math.prod(shape) * dtype.itemsize
        if dtype.hasobject or not 0 <= held <= size:
            raise ValueError("objects, or more samples than the file holds")
        if math.prod(shape) == 1 and held <= LONGEST_TEXT:
            value = np.frombuffer(_bytes(file, held), dtype)[0].item()
            self.around[name.lower()] = value.decode("utf-8", "replace") if isinstance(value, bytes) else value
            return
        shape = tuple(length for length in shape if length != 1)[:: -1 if is_turned else 1]
        if not shape or max(shape) < LEAST_SAMPLES or len(shape) > 2:
            return
        if dtype.names is not None and len(shape) == 1:
            self._take_fields(file, dtype, shape[0], progress)
        elif dtype.kind in KINDS and len(shape) == 1:
            column = self._column(name, shape[0], dtype)
            for start, block in _blocks(file, dtype, shape[0], progress):
                column.take(start, block)
        elif dtype.kind in KINDS and min(shape) <= MOST_CHANNELS:
            self._take_table(file, dtype, shape, name, progress)
        elif dtype.kind in KINDS:
            self.too_wide.append((name, shape))

    def _take_fields(self, file: IO[bytes], dtype: np.dtype[Any], size: int, progress: Progress) -> None:
        fields = {name: one[0] for name, one in (dtype.fields or {}).items() if one[0].kind in KINDS}
        columns = {name: self._column(name, size, one) for name, one in fields.items()}
        for start, block in _blocks(file, dtype, size, progress):
            for name, column in columns.items():
                column.take(start, np.ascontiguousarray(block[name]))

    def _take_table(
        self, file: IO[bytes], dtype: np.dtype[np.generic], shape: tuple[int, ...], name: str, progress: Progress
    ) -> None:
        """The longer side is taken for the samples; the first row of numbers may be the time."""
        count, size = min(shape), max(shape)
        self.tables.append((name, shape))
        columns = [self._column(f"{name} {place + 1}", size, dtype, may_be_time=place == 0) for place in range(count)]
        if shape[0] == size:
            for start, block in _blocks(file, dtype, size, progress, wide=count):
                for place, column in enumerate(columns):
                    column.take(start, np.ascontiguousarray(block[place::count]))
            return
        for place, column in enumerate(columns):
            for start, block in _blocks(file, dtype, size, part(progress, place / count, (place + 1) / count)):
                column.take(start, block)

    def _column(self, name: str, size: int, dtype: np.dtype[np.generic], *, may_be_time: bool = False) -> ArrayColumn:
        number = len(self.columns) + 1
        plain, unit = name_and_unit(name)
        stated = plain.lower() in TIME_NAMES or (unit is not None and unit[0] == "s")
        said = self._reading.time_column == number
        self.columns.append(ArrayColumn(number, name, size, dtype, may_be_time=may_be_time or stated or said))
        return self.columns[-1]


def _header(file: IO[bytes]) -> tuple[tuple[int, ...], bool, np.dtype[Any]]:
    """Shape, whether the first axis runs fastest, and the kind of number."""
    start = _bytes(file, 8)
    if not start.startswith(NPY_SIGNATURE):
        raise ValueError("no array")
    wide = 2 if start[6] == 1 else 4
    length = int.from_bytes(_bytes(file, wide), "little")
    if length > LONGEST_HEADER:
        raise ValueError("a header longer than any table's")
    said = literal_eval(_bytes(file, length).decode("utf-8").strip())
    shape, is_turned = said["shape"], said["fortran_order"]
    if not isinstance(shape, tuple) or not all(isinstance(one, int) and one >= 0 for one in shape):
        raise ValueError("no shape")
    return shape, bool(is_turned), np.lib.format.descr_to_dtype(said["descr"])


def _bytes(file: IO[bytes], count: int) -> bytes:
    content = file.read(count)
    if len(content) != count:
        raise EOFError("cut short")
    return content


def _blocks(
    file: IO[bytes], dtype: np.dtype[Any], rows: int, progress: Progress, *, wide: int = 1
) -> Iterator[tuple[int, npt.NDArray[Any]]]:
    """Rows of ``wide`` numbers one block after the other, as ``(first row, numbers)``."""
    length = max(BLOCK_BYTES // (dtype.itemsize * wide), 1)
    for start in range(0, rows, length):
        progress(start / rows)
        count = min(length, rows - start) * wide
        yield start, np.frombuffer(_bytes(file, count * dtype.itemsize), dtype)
