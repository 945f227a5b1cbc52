"""Read any other HDF5 file: one-dimensional numeric datasets as channels, step and start from the attributes around them."""

import math
import threading
from pathlib import Path

import h5py
import numpy as np

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.errors import FileProblem
from loomlight.signal.samples import FloatSamples
from loomlight.storage.text_cells import unit_of

STEP_KEYS = ("dt", "step", "step_s", "interval", "sample_interval", "xinc", "x_increment", "wf_increment", "increment")
RATE_KEYS = ("sample_rate", "fs", "rate", "samplerate")
START_KEYS = ("t0", "start_s", "xorg", "x_origin", "wf_start_offset")
UNIT_KEYS = ("yunits", "unit", "units", "y_units")
LEAST_SAMPLES = 50
MOST_CHANNELS = 64
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
            datasets = _datasets(file)
            channels, notes = _channels(path, file, datasets)
    except (OSError, RuntimeError, KeyError, ValueError, TypeError) as error:
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


def _datasets(file: h5py.File) -> list[h5py.Dataset]:
    """Numeric rows and tables long enough to be a waveform; links into other files are not followed."""
    found: list[h5py.Dataset] = []

    def take(_name: str, item: object) -> None:
        if not isinstance(item, h5py.Dataset) or item.dtype.kind not in "iuf" or item.ndim not in (1, 2):
            return
        if max(item.shape) >= LEAST_SAMPLES and (item.ndim == 1 or min(item.shape) <= MOST_CHANNELS):
            found.append(item)

    file.visititems(take)
    return found


def _channels(path: Path, file: h5py.File, datasets: list[h5py.Dataset]) -> tuple[list[Channel], list[str]]:
    notes: list[str] = []
    times = [one for one in datasets if one.ndim == 1 and _is_time(one)]
    channels: list[Channel] = []
    for dataset in datasets:
        if any(dataset == time for time in times):
            continue
        around = _around(dataset, file)
        beside = [time for time in times if time.shape[0] == max(dataset.shape)]
        axis = _axis(around, beside[0][()] if beside else None)
        name = _plain_name(dataset)
        if axis is None:
            notes.append(f"{name} has neither a step nor a time beside it and was left out.")
            continue
        channels += _of(path, dataset, name, around, axis, notes)
    return channels, notes


def _is_time(dataset: h5py.Dataset) -> bool:
    if _plain_name(dataset).lower() not in ("time", "t", "times", "x", "zeit", "time_s"):
        return False
    values = dataset[()]
    return bool(np.isfinite(values).all() and (np.diff(values) > 0).all())


def _plain_name(dataset: h5py.Dataset) -> str:
    parts = [part.strip() for part in dataset.name.split("/") if part.strip()]
    last = " ".join(parts[-1].split())
    if len(parts) > 1 and last.lower() in ("data", "samples", "values", "y"):
        return " ".join(parts[-2].split())
    return last


def _around(dataset: h5py.Dataset, file: h5py.File) -> dict[str, object]:
    """Attributes of the root, the groups above and the dataset, nearer ones winning; names in lower case."""
    found: dict[str, object] = {}
    for item in (file, dataset.parent.parent, dataset.parent, dataset):
        for key, value in item.attrs.items():
            plain = value.item() if isinstance(value, np.ndarray) and value.size == 1 else value
            found[key.lower()] = plain.decode("utf-8", "replace") if isinstance(plain, bytes) else plain
    return found


def _number(around: dict[str, object], keys: tuple[str, ...]) -> float | None:
    for key in keys:
        try:
            value = float(around[key])  # type: ignore[arg-type]  # whatever stands there
        except (KeyError, TypeError, ValueError):
            continue
        if math.isfinite(value):
            return value
    return None


def _axis(
    around: dict[str, object], times: np.ndarray[tuple[int], np.dtype[np.float64]] | None
) -> tuple[float, float] | None:
    """Start and step, seconds."""
    step = _number(around, STEP_KEYS)
    rate = _number(around, RATE_KEYS)
    if step is None and rate:
        step = 1.0 / rate
    if step is not None and step > 0:
        return _number(around, START_KEYS) or 0.0, step
    if times is not None and times.size > 1:
        step = float(times[-1] - times[0]) / (times.size - 1)
        even = np.abs(times - (times[0] + np.arange(times.size) * step)).max() <= 0.5 * step
        return (float(times[0]), step) if even else None
    return None


def _of(
    path: Path,
    dataset: h5py.Dataset,
    name: str,
    around: dict[str, object],
    axis: tuple[float, float],
    notes: list[str],
) -> list[Channel]:
    values = dataset[()]
    rows = [values] if values.ndim == 1 else list(values if values.shape[0] < values.shape[1] else values.T)
    if values.ndim == 2:
        notes.append(
            f"{name}: a table of {values.shape[0]} × {values.shape[1]}; its longer side is taken for the samples."
        )
    unit, factor = _unit(around)
    is_counts = values.dtype.kind in "iu"
    if is_counts:
        scale, origin = (
            _number(around, ("yinc", "scale", "y_increment")),
            _number(around, ("yorg", "offset", "y_origin")),
        )
        if scale is None:
            unit, factor = "counts", 1.0
            notes.append(f"{name} holds whole numbers and no scale: they are counts, not volts.")
        else:
            rows = [row * scale + (origin or 0.0) for row in rows]
    if unit is None:
        notes.append(f"{name}: the file gives no unit.")
    start, count = _valid(around, rows[0].size)
    return [
        Channel(
            name=name if len(rows) == 1 else f"{name} {number}",
            unit=unit,
            samples=FloatSamples(np.asarray(row[start : start + count], dtype=np.float64) * factor),
            start_s=axis[0],
            step_s=axis[1],
            history=(f"read from {path.name}, dataset {name}",),
        )
        for number, row in enumerate(rows, start=1)
    ]


def _unit(around: dict[str, object]) -> tuple[str | None, float]:
    for key in UNIT_KEYS:
        text = around.get(key)
        unit = unit_of(text) if isinstance(text, str) else None
        if unit is not None:
            return unit[0] or None, unit[1]
    return None, 1.0


def _valid(around: dict[str, object], size: int) -> tuple[int, int]:
    """Where only part of the stored row was acquired: its first place, counted from 0, and its length."""
    count, start = _number(around, ("numpoints",)), _number(around, ("start",))
    if count is None or not 0 < count < size:
        return 0, size
    first = int(start) - 1 if start is not None and 1 <= start <= size - count + 1 else 0
    return first, int(count)
