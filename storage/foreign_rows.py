"""Channels read from the datasets of an HDF5 file, block by block, with a coarse picture of all of them first."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import h5py
import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.progress import Progress, part
from loomlight.storage.first_picture import PLACES, WHOLE_SHARES, CoarseRow, FirstPicture, coarse_capture, unseen
from loomlight.storage.foreign_axis import BLOCK, Axis
from loomlight.storage.number_rows import NumberRow

GLANCE_BYTES = 16 << 20
"""What the first picture may unpack."""


@dataclass(frozen=True, eq=False)
class ForeignRow:
    """One channel that is to be read.

    ``column`` is its place in a table, None in a single row; ``first`` and ``count`` say which samples are valid.
    """

    dataset: h5py.Dataset
    column: int | None
    name: str
    unit: str | None
    scale: float
    offset: float
    first: int
    count: int
    axis: Axis


@dataclass(eq=False)
class _Coarse:
    """What is known of all rows while they are read; those without a step are not shown before they are whole."""

    source_name: str
    layout: str
    rows: dict[ForeignRow, CoarseRow]
    first_picture: FirstPicture

    def show(self) -> None:
        channels = tuple(row.channel() for row in self.rows.values() if np.isfinite(row.low).any())
        if channels:
            self.first_picture(coarse_capture(self.source_name, self.layout, channels))

    def glance(self, groups: list[list[ForeignRow]], progress: Progress) -> None:
        """Short stretches all over each dataset."""
        for group in groups:
            for start, stop in _glances(group[0]):
                progress(0.0)
                for row, raw in _block(group, start, stop):
                    seen = NumberRow(raw.size, raw.dtype, scale=row.scale, offset=row.offset)
                    self.take(row, start, seen.take(0, raw))
        self.show()

    def take(self, row: ForeignRow, start: int, values: npt.NDArray[np.float32]) -> None:
        if row in self.rows:
            self.rows[row].take(start, values)


def channels_of(
    path: Path, layout: str, rows: list[ForeignRow], progress: Progress, first_picture: FirstPicture
) -> list[Channel]:
    """All samples of the rows, dataset by dataset; coarse pictures while they are read.

    Parameters
    ----------
    path, layout : Path, str
        For the coarse captures and the channels' history.
    rows : list of ForeignRow
        Those of one dataset one after the other.
    progress : Progress
        0 to 1 over the samples.
    first_picture : callable
        Takes the coarse captures.
    """
    groups = _by_dataset(rows)
    coarse = None
    if first_picture is not unseen:
        seen = {
            row: CoarseRow(row.name, row.unit, row.count, row.axis.start_s, row.axis.step_s)
            for row in rows
            if row.axis.step_s is not None
        }
        coarse = _Coarse(path.name, layout, seen, first_picture)
        coarse.glance(groups, progress)
    kept: dict[ForeignRow, NumberRow] = {}
    for number, group in enumerate(groups):
        share = part(progress, number / len(groups), (number + 1) / len(groups))
        kept |= {row: NumberRow(row.count, row.dataset.dtype, scale=row.scale, offset=row.offset) for row in group}
        total, shown = group[0].count, 0.0
        for start, stop in _blocks(group[0]):
            share(start / total)
            for row, raw in _block(group, start, stop):
                values = kept[row].take(start, raw)
                if coarse is not None:
                    coarse.take(row, start, values)
            if coarse is not None and stop < total and stop / total >= shown + 1 / WHOLE_SHARES:
                shown = stop / total
                coarse.show()
    return [_channel(path, row, kept.pop(row)) for row in rows]


def _by_dataset(rows: list[ForeignRow]) -> list[list[ForeignRow]]:
    groups: list[list[ForeignRow]] = []
    for row in rows:
        if groups and groups[-1][0].dataset == row.dataset:
            groups[-1].append(row)
        else:
            groups.append([row])
    return groups


def _block(group: list[ForeignRow], start: int, stop: int) -> Iterator[tuple[ForeignRow, npt.NDArray[np.generic]]]:
    """Samples ``start`` to ``stop`` of all channels that one dataset holds, read once."""
    dataset, first = group[0].dataset, group[0].first
    if dataset.ndim == 1:
        yield group[0], dataset[first + start : first + stop]
        return
    is_long = dataset.shape[0] >= dataset.shape[1]
    both = dataset[first + start : first + stop, :] if is_long else dataset[:, first + start : first + stop]
    for row in group:
        yield row, np.ascontiguousarray(both[:, row.column] if is_long else both[row.column])


def _chunk(row: ForeignRow) -> int:
    """Samples that are unpacked together, 1 where nothing is."""
    dataset = row.dataset
    if not dataset.chunks or not dataset.id.get_create_plist().get_nfilters():
        return 1
    return int(dataset.chunks[0 if dataset.ndim == 1 or dataset.shape[0] >= dataset.shape[1] else 1])


def _blocks(row: ForeignRow) -> Iterator[tuple[int, int]]:
    chunk = _chunk(row)
    length = max(BLOCK // max(min(row.dataset.shape) if row.dataset.ndim == 2 else 1, 1) // chunk, 1) * chunk
    start = 0
    while start < row.count:
        stop = min(start + length - (row.first + start) % chunk, row.count)
        yield start, stop
        start = stop


def _glances(row: ForeignRow) -> Iterator[tuple[int, int]]:
    """Short stretches all over a dataset, few enough to be read in a fraction of a second."""
    wide = row.dataset.dtype.itemsize * (min(row.dataset.shape) if row.dataset.ndim == 2 else 1)
    chunk = max(_chunk(row), 64)
    many = int(min(max(GLANCE_BYTES // (chunk * wide), 16), PLACES // 4, max(row.count // chunk, 1)))
    for place in range(many):
        start = place * row.count // many
        yield start, min(start + min(chunk, BLOCK), row.count)


def _channel(path: Path, row: ForeignRow, kept: NumberRow) -> Channel:
    return Channel(
        name=row.name,
        unit=row.unit,
        samples=kept.samples(),
        start_s=row.axis.start_s,
        step_s=row.axis.step_s,
        form="even" if row.axis.times_s is None else "uneven",
        gaps=kept.gaps,
        clipped=kept.clipped,
        history=(f"read from {path.name}, dataset {row.name}",),
        times_s=row.axis.times_s,
    )
