"""Read any other HDF5 file: one-dimensional numeric datasets as channels, step and start from the attributes around them."""

import math
import threading
from dataclasses import dataclass
from pathlib import Path

import h5py
import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Capture, Channel, IndexRange
from loomlight.signal.errors import FileProblem
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import FloatSamples, Times
from loomlight.storage.capture_file import most_held
from loomlight.storage.text_cells import unit_of

STEP_KEYS = ("dt", "step", "step_s", "interval", "sample_interval", "xinc", "x_increment", "wf_increment", "increment")
RATE_KEYS = ("sample_rate", "fs", "rate", "samplerate")
START_KEYS = ("t0", "start_s", "xorg", "x_origin", "wf_start_offset")
UNIT_KEYS = ("yunits", "unit", "units", "y_units")
TIME_UNIT_KEYS = ("xunits", "x_units", "x_unit", "time_unit", "time_units", "wf_xunit_string")
TIME_NAMES = ("time", "t", "times", "x", "zeit", "time_s")
SCALE_KEYS = ("yinc", "scale", "y_increment")
OFFSET_KEYS = ("yorg", "offset", "y_origin")
LEAST_SAMPLES = 50
MOST_CHANNELS = 64
Around = dict[str, object]
_LOCK = threading.Lock()


def read_foreign(path: Path) -> Capture:
    """Read an HDF5 file of unknown making.

    Raises
    ------
    FileProblem
        If it is damaged, or holds nothing that is a waveform with a time axis.
    """
    try:
        with _LOCK, h5py.File(path, "r") as file:
            datasets = _datasets(file, path)
            channels, notes = _channels(path, file, datasets)
    except (OSError, RuntimeError, LookupError, ValueError, TypeError, AttributeError, MemoryError) as error:
        raise FileProblem(
            "the file is damaged or was cut short", file=path, do="Take it again from the stick, or use another copy"
        ) from error
    if not channels:
        raise FileProblem(
            f"no row of at least {LEAST_SAMPLES} numbers with a step or a time beside it was found",
            file=path,
            do="Export with the sample interval, or as CSV with a time column",
        )
    return Capture(path.name, "HDF5, datasets as channels", tuple(channels), tuple(notes))


def _datasets(file: h5py.File, path: Path) -> list[h5py.Dataset]:
    """Numeric rows and tables long enough to be a waveform; links into other files are not followed."""
    found: list[h5py.Dataset] = []

    def take(_name: str, item: object) -> None:
        if not isinstance(item, h5py.Dataset) or item.dtype.kind not in "iuf" or item.ndim not in (1, 2):
            return
        if item.size * item.dtype.itemsize > most_held(item, path):
            raise ValueError("it claims more samples than it can hold")
        if max(item.shape) >= LEAST_SAMPLES and (item.ndim == 1 or min(item.shape) <= MOST_CHANNELS):
            found.append(item)

    file.visititems(take)
    return found


@dataclass(frozen=True, eq=False)
class _Axis:
    """Start and step, or the stamps themselves, seconds."""

    start_s: float
    step_s: float | None
    times_s: Times | None = None


def _channels(path: Path, file: h5py.File, datasets: list[h5py.Dataset]) -> tuple[list[Channel], list[str]]:
    notes: list[str] = []
    times = [one for one in datasets if one.ndim == 1 and _is_time(one)]
    channels: list[Channel] = []
    for dataset in datasets:
        if any(dataset == time for time in times):
            continue
        around = _around(dataset, file)
        name = _plain_name(dataset)
        segments = _number(around, ("numsegments",)) or 1
        if segments > 1:
            raise FileProblem(
                f"{name} holds {segments:.0f} segments in one row",
                file=path,
                do="Export one segment a file; several segments in one are not read",
            )
        axis = _axis(path, around, _time_beside(dataset, times), name, notes)
        if axis is None:
            notes.append(f"{name} has neither a step nor a time beside it and was left out.")
            continue
        channels += _of(path, dataset, name, around, axis, notes)
    return channels, notes


def _time_beside(dataset: h5py.Dataset, times: list[h5py.Dataset]) -> h5py.Dataset | None:
    """The time of the same length: in the same group, else the only one there is."""
    fitting = [time for time in times if time.shape[0] == max(dataset.shape)]
    near = [time for time in fitting if time.parent == dataset.parent]
    if near or len(fitting) == 1:
        return (near or fitting)[0]
    return None


def _is_time(dataset: h5py.Dataset) -> bool:
    around = {key.lower(): _plain(value) for key, value in dataset.attrs.items()}
    unit = _unit(around)[0]
    named = _plain_name(dataset).lower() in TIME_NAMES and unit in (None, "s")
    if not named and unit != "s":
        return False
    values = dataset[()]
    return bool(np.isfinite(values).all() and (np.diff(values) > 0).all())


def _plain_name(dataset: h5py.Dataset) -> str:
    parts = [part.strip() for part in dataset.name.split("/") if part.strip()]
    last = " ".join(parts[-1].split())
    if len(parts) > 1 and last.lower() in ("data", "samples", "values", "y"):
        return " ".join(parts[-2].split())
    return last


def _plain(value: object) -> object:
    """An attribute's value: one-element arrays as their element, byte strings as text."""
    one = value.item() if isinstance(value, np.ndarray | np.generic) and value.size == 1 else value
    return one.decode("utf-8", "replace") if isinstance(one, bytes) else one


def _around(dataset: h5py.Dataset, file: h5py.File) -> Around:
    """Attributes of the root, the groups above and the dataset, nearer ones winning; names in lower case."""
    found: Around = {}
    for item in (file, dataset.parent.parent, dataset.parent, dataset):
        for key, value in item.attrs.items():
            found[key.lower()] = _plain(value)
    return found


def _number(around: Around, keys: tuple[str, ...]) -> float | None:
    for key in keys:
        try:
            value = float(around[key])  # type: ignore[arg-type]  # whatever stands there
        except (KeyError, TypeError, ValueError):
            continue
        if math.isfinite(value):
            return value
    return None


def _axis(path: Path, around: Around, beside: h5py.Dataset | None, name: str, notes: list[str]) -> _Axis | None:
    """The time axis of one dataset: a stated step first, then the stamps beside it."""
    step, rate = _number(around, STEP_KEYS), _number(around, RATE_KEYS)
    if step is None and rate:
        step = 1.0 / rate
    if step is not None and step > 0:
        factor = _seconds_in(path, around, name, notes)
        return _Axis((_number(around, START_KEYS) or 0.0) * factor, step * factor)
    if beside is None:
        return None
    unit, factor = _unit({key.lower(): _plain(value) for key, value in beside.attrs.items()})
    if unit is None:
        notes.append(f"{name}: its time is taken for seconds; the file does not say so.")
    times = np.asarray(beside[()], dtype=np.float64) * factor
    step = float(times[-1] - times[0]) / (times.size - 1)
    off = np.abs(times - (times[0] + np.arange(times.size) * step)).max()
    rounding = (
        min(float(np.finfo(beside.dtype).eps * np.abs(times).max()), 0.5 * step) if beside.dtype.kind == "f" else 0
    )
    if off <= max(0.01 * step, rounding):
        notes.append(f"{name}: step {in_words(step, 's', digits=6)} from the span of its time.")
        return _Axis(float(times[0]), step)
    notes.append(f"{name}: the time steps differ: read as unevenly spaced samples.")
    return _Axis(float(times[0]), None, times)


def _seconds_in(path: Path, around: Around, name: str, notes: list[str]) -> float:
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


def _of(path: Path, dataset: h5py.Dataset, name: str, around: Around, axis: _Axis, notes: list[str]) -> list[Channel]:
    values = dataset[()]
    rows = [values] if values.ndim == 1 else list(values if values.shape[0] < values.shape[1] else values.T)
    if values.ndim == 2:
        notes.append(
            f"{name}: a table of {values.shape[0]} × {values.shape[1]}; its longer side is taken for the samples."
        )
    unit, factor = _unit(around)
    if values.dtype.kind in "iu":
        scale, origin = _number(around, SCALE_KEYS), _number(around, OFFSET_KEYS)
        if scale is None:
            unit, factor = "counts", 1.0
            notes.append(f"{name} holds whole numbers and no scale: they are counts, not volts.")
        else:
            rows = [row * scale + (origin or 0.0) for row in rows]
    if unit is None:
        notes.append(f"{name}: the file gives no unit.")
    elif factor != 1.0:
        notes.append(f"{name} is scaled to {unit} by {factor:g}.")
    start, count = _valid(around, rows[0].size)
    if count < rows[0].size:
        notes.append(f"{name}: {count} of {rows[0].size} stored samples are valid.")
    return [
        _channel(
            path,
            name if len(rows) == 1 else f"{name} {number}",
            unit,
            np.asarray(row[start : start + count], dtype=np.float64) * factor,
            axis if axis.times_s is None else _Axis(axis.start_s, None, axis.times_s[start : start + count]),
        )
        for number, row in enumerate(rows, start=1)
    ]


def _channel(path: Path, name: str, unit: str | None, values: npt.NDArray[np.float64], axis: _Axis) -> Channel:
    gaps, clipped = _ranges(np.isnan(values)), _ranges(np.isinf(values))
    if clipped:
        finite = values[np.isfinite(values)]
        values = np.clip(values, finite.min(), finite.max()) if finite.size else np.full(values.size, np.nan)
    return Channel(
        name=name,
        unit=unit,
        samples=FloatSamples(values),
        start_s=axis.start_s,
        step_s=axis.step_s,
        form="even" if axis.times_s is None else "uneven",
        gaps=gaps,
        clipped=clipped,
        history=(f"read from {path.name}, dataset {name}",),
        times_s=axis.times_s,
    )


def _ranges(marked: npt.NDArray[np.bool_]) -> tuple[IndexRange, ...]:
    changes = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]])))
    return tuple(zip(changes[::2].tolist(), changes[1::2].tolist(), strict=True))


def _unit(around: Around) -> tuple[str | None, float]:
    for key in UNIT_KEYS:
        text = around.get(key)
        unit = unit_of(text) if isinstance(text, str) else None
        if unit is not None:
            return unit[0] or None, unit[1]
    return None, 1.0


def _valid(around: Around, size: int) -> tuple[int, int]:
    """Where only part of the stored row was acquired: its first place, counted from 0, and its length."""
    count, start = _number(around, ("numpoints",)), _number(around, ("start",))
    if count is None or not 0 < count < size:
        return 0, size
    first = int(start) - 1 if start is not None and 1 <= start <= size - count + 1 else 0
    return first, int(count)
