"""Read any other HDF5 file: rows of numbers as channels, step and start from the attributes around them."""

import threading
from pathlib import Path

import h5py
import numpy as np

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.first_picture import FirstPicture, unseen
from loomlight.storage.foreign_axis import (
    COUNT_KEYS,
    FIRST_KEYS,
    KEYS,
    OFFSET_KEYS,
    SCALE_KEYS,
    SEGMENT_KEYS,
    TIME_NAMES,
    Around,
    Axis,
    Stamps,
    axis_of_stamps,
    number_under,
    stated_axis,
    unit_under,
)
from loomlight.storage.foreign_rows import ForeignRow, channels_of
from loomlight.storage.hdf5_guard import require_sound_heaps
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.stored_samples import most_held

LAYOUT = "HDF5, datasets as channels"
LEAST_SAMPLES = 50
MOST_CHANNELS = 64
LONGEST_TEXT = 4096
"""Bytes of an attribute that is looked at."""
SMALL_FILE, MOST_GROWTH = 1 << 28, 100
"""Samples of a file may take this many bytes unpacked, or this many times the file: more is no capture but a trap."""
LARGEST_CHUNK = 1 << 26
_LOCK = threading.Lock()


def read_foreign(
    path: Path,
    progress: Progress = unwatched,
    *,
    reading: Reading = NOTHING_SAID,
    first_picture: FirstPicture = unseen,
) -> Capture:
    """Read an HDF5 file of unknown making.

    Parameters
    ----------
    path : Path
        The file.
    progress : Progress
        0 to 1 over the samples.
    reading : Reading
        What the user said: a step and a start win over the file's.
    first_picture : callable
        Takes coarse captures while the samples are read.

    Raises
    ------
    FileProblem
        If it is damaged, or holds nothing that is a waveform with a time axis.
    """
    require_sound_heaps(path)
    try:
        with _LOCK, h5py.File(path, "r") as file:
            notes: list[str] = []
            rows = _planned(path, file, _datasets(file, path, notes), reading, notes)
            if not rows:
                raise FileProblem(
                    f"no row of at least {LEAST_SAMPLES} numbers with a step or a time beside it was found",
                    file=path,
                    do="Give the spacing with --step, or export with the sample interval or a time column",
                )
            channels = channels_of(path, LAYOUT, rows, progress, first_picture)
    except (OSError, RuntimeError, LookupError, ValueError, TypeError, AttributeError, MemoryError) as error:
        raise FileProblem(
            "the file is damaged or was cut short", file=path, do="Take it again from the stick, or use another copy"
        ) from error
    return Capture(path.name, LAYOUT, tuple(channels), tuple(notes))


def _datasets(file: h5py.File, path: Path, notes: list[str]) -> list[h5py.Dataset]:
    """Numeric rows and tables long enough to be a waveform; nothing outside the file is followed."""
    found: list[h5py.Dataset] = []

    def take(_name: str, item: object) -> None:
        if not isinstance(item, h5py.Dataset) or item.dtype.kind not in "iufb" or item.ndim not in (1, 2):
            return
        if max(item.shape) < LEAST_SAMPLES or (item.ndim == 2 and min(item.shape) > MOST_CHANNELS):
            return
        if item.is_virtual or item.external:
            notes.append(f"{_plain_name(item)} lies in another file and was left out.")
            return
        _refuse_unreadable(item, path)
        found.append(item)

    file.visititems(take)
    return found


def _refuse_unreadable(dataset: h5py.Dataset, path: Path) -> None:
    size = dataset.size * dataset.dtype.itemsize
    if size > most_held(dataset, path):
        raise ValueError("it claims more samples than it can hold")
    chunk = int(np.prod(dataset.chunks)) * dataset.dtype.itemsize if dataset.chunks else 0
    if size > max(SMALL_FILE, MOST_GROWTH * path.stat().st_size) or chunk > LARGEST_CHUNK:
        raise FileProblem(
            f"{_plain_name(dataset)} would unpack to {max(size, chunk) / 1e6:.0f} MB out of "
            f"{path.stat().st_size / 1e6:.3g} MB",
            file=path,
            do="Export it unpacked, or a shorter stretch of it",
        )
    plist = dataset.id.get_create_plist()
    for number in range(plist.get_nfilters()):
        if not h5py.h5z.filter_avail(plist.get_filter(number)[0]):
            raise FileProblem(
                f"{_plain_name(dataset)} is packed in a way that only its own program unpacks",
                file=path,
                do="Export it without packing, or packed with gzip",
            )


def _planned(
    path: Path, file: h5py.File, datasets: list[h5py.Dataset], reading: Reading, notes: list[str]
) -> list[ForeignRow]:
    times = [one for one in datasets if one.ndim == 1 and _is_time(one)]
    rows: list[ForeignRow] = []
    for dataset in datasets:
        if any(dataset == time for time in times):
            continue
        around = _around(dataset, file)
        name = _plain_name(dataset)
        segments = number_under(around, SEGMENT_KEYS) or 1
        if segments > 1:
            raise FileProblem(
                f"{name} holds {segments:.0f} segments in one row",
                file=path,
                do="Export one segment a file; several segments in one are not read",
            )
        axis = _axis(path, around, _time_beside(dataset, times), reading, name, notes)
        if axis is None:
            notes.append(f"{name} has neither a step nor a time beside it and was left out.")
            continue
        rows += _rows_of(dataset, name, around, axis, notes)
    return rows


def _axis(
    path: Path, around: Around, beside: h5py.Dataset | None, reading: Reading, name: str, notes: list[str]
) -> Axis | None:
    """The time axis of one dataset: what the user said, a stated step, then the stamps beside it."""
    if reading.step_s is not None:
        notes.append(f"{name}: the step is as you said.")
        return Axis(reading.start_s or 0.0, reading.step_s)
    stated = stated_axis(around, name, notes, path)
    if stated is not None or beside is None:
        return stated
    if unit_under(_attributes(beside))[0] is None:
        notes.append(f"{name}: its time is taken for seconds; the file does not say so.")
    return axis_of_stamps(_stamps(beside), name, notes)


def _time_beside(dataset: h5py.Dataset, times: list[h5py.Dataset]) -> h5py.Dataset | None:
    """The time of the same length: in the same group, else the only one there is."""
    fitting = [time for time in times if time.shape[0] == max(dataset.shape)]
    near = [time for time in fitting if time.parent == dataset.parent]
    if near or len(fitting) == 1:
        return (near or fitting)[0]
    return None


def _is_time(dataset: h5py.Dataset) -> bool:
    unit = unit_under(_attributes(dataset))[0]
    named = _plain_name(dataset).lower() in TIME_NAMES and unit in (None, "s")
    return (named or unit == "s") and _stamps(dataset).rises()


def _stamps(dataset: h5py.Dataset) -> Stamps:
    factor = unit_under(_attributes(dataset))[1]
    return Stamps(dataset.shape[0], dataset.dtype, lambda start, stop: dataset[start:stop], factor)


def _plain_name(dataset: h5py.Dataset) -> str:
    parts = [part.strip() for part in str(dataset.name).split("/") if part.strip()]
    last = " ".join(parts[-1].split())
    if len(parts) > 1 and last.lower() in ("data", "samples", "values", "y"):
        return " ".join(parts[-2].split())
    return last


def _attributes(item: h5py.Group | h5py.Dataset) -> Around:
    """Those attributes that say something about samples; names in lower case."""
    found: Around = {}
    for key in item.attrs:
        name = key.lower() if isinstance(key, str) else ""
        if name in KEYS:
            stored = item.attrs.get_id(key)
            size = stored.get_space().get_simple_extent_npoints() * stored.get_type().get_size()
            if 0 < size <= LONGEST_TEXT:
                found[name] = _plain(item.attrs[key])
    return found


def _plain(value: object) -> object:
    """An attribute's value: one-element arrays as their element, byte strings as text."""
    one = value.item() if isinstance(value, np.ndarray | np.generic) and value.size == 1 else value
    return one.decode("utf-8", "replace") if isinstance(one, bytes) else one


def _around(dataset: h5py.Dataset, file: h5py.File) -> Around:
    """Attributes of the root, the groups above and the dataset, nearer ones winning."""
    found: Around = {}
    for item in (file, dataset.parent.parent, dataset.parent, dataset):
        found |= _attributes(item)
    return found


def _rows_of(dataset: h5py.Dataset, name: str, around: Around, axis: Axis, notes: list[str]) -> list[ForeignRow]:
    size = max(dataset.shape)
    if dataset.ndim == 2:
        notes.append(
            f"{name}: a table of {dataset.shape[0]} × {dataset.shape[1]}; its longer side is taken for the samples."
        )
    unit, factor = unit_under(around)
    scale, offset = 1.0, 0.0
    if dataset.dtype.kind in "iu":
        stated = number_under(around, SCALE_KEYS)
        if stated is None:
            unit, factor = "counts", 1.0
            notes.append(f"{name} holds whole numbers and no scale: they are counts, not volts.")
        else:
            scale, offset = stated, number_under(around, OFFSET_KEYS) or 0.0
    if unit is None:
        notes.append(f"{name}: the file gives no unit.")
    elif factor != 1.0:
        notes.append(f"{name} is scaled to {unit} by {factor:g}.")
    first, count = _valid(around, size)
    if count < size:
        notes.append(f"{name}: {count} of {size} stored samples are valid.")
    columns: list[int | None] = [None] if dataset.ndim == 1 else list(range(min(dataset.shape)))
    return [
        ForeignRow(
            dataset,
            column,
            name if len(columns) == 1 else f"{name} {place}",
            unit,
            scale * factor,
            offset * factor,
            first,
            count,
            axis.cut(first, count),
        )
        for place, column in enumerate(columns, start=1)
    ]


def _valid(around: Around, size: int) -> tuple[int, int]:
    """Where only part of the stored row was acquired: its first place, counted from 0, and its length."""
    count, start = number_under(around, COUNT_KEYS), number_under(around, FIRST_KEYS)
    if count is None or not 0 < count < size:
        return 0, size
    first = int(start) - 1 if start is not None and 1 <= start <= size - count + 1 else 0
    return first, int(count)
