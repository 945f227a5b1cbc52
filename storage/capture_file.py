"""Our capture file, ``.h5``: samples as counts or float32, with the pyramid of each channel beside them.

Root attributes ``format``, ``version``, ``created``, ``source_name``, ``layout``, ``notes``; groups ``channels/0…`` with
``samples``, ``min_64``, ``max_64``, ``min_512``…, for ``changes`` and ``uneven`` ``times_s``, and the attributes ``name, unit,
form, start_s, step_s, scale, offset, is_fine, gaps, clipped, history, segments``. Where a person set a channel up, ``setup``
(JSON) stands beside the samples as they were read, and the file's version is 2. A library entry has the root attributes
``entry`` (JSON) and ``sha256`` (`check_sum`) too, and its further captures in ``more/1…``, each laid out as the root is.
"""

import json
import threading
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

import h5py
import numpy as np

from loomlight.signal.capture import Capture, Channel, IndexRange
from loomlight.signal.channel_setup import set_up, stored_of
from loomlight.signal.entry import Entry
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.pyramid import FIRST_BUCKET, GROWTH, build_pyramid
from loomlight.signal.samples import blocks, counted_of
from loomlight.storage.check_sum import MARK, ZEROS, seal
from loomlight.storage.entry_json import entry_from_json, entry_to_json
from loomlight.storage.hdf5_guard import require_sound_heaps
from loomlight.storage.hdf5_writing import hdf5_written
from loomlight.storage.safe_write import require_space, written_whole
from loomlight.storage.stored_samples import UNREADABLE, StoredSamples
from loomlight.storage.stored_setup import setup_from_json, setup_to_json

FORMAT = "loomlight capture"
VERSION = 2
WITHOUT_SETUP = 1
CHUNK = 131_072
SPARE_BYTES = 1 << 18


def write_capture(
    path: Path,
    capture: Capture,
    *,
    entry: Entry | None = None,
    more: Sequence[Capture] = (),
    created: str | None = None,
    progress: Progress = unwatched,
    release: Callable[[], object] | None = None,
) -> None:
    """Write a capture, whole or not at all.

    Parameters
    ----------
    path : Path
        Ends in ``.h5`` by custom.
    capture : Capture
        Any forms.
    entry : Entry, optional
        Makes it a library entry, with a check sum.
    more : sequence of Capture
        The entry's further captures.
    created : str, optional
        ISO 8601; now if not given.
    progress : Progress
        0 to 1 over all samples.
    release : callable, optional
        Called when all is written, before the file takes its place: some systems move nothing over an open file.

    Raises
    ------
    FileProblem
        As `written_whole`.
    """
    captures = (capture, *more)
    channels = [channel for one in captures for channel in one.channels]
    require_space(path, sum(_bytes_of(channel) for channel in channels) + SPARE_BYTES * len(captures))
    with written_whole(path) as partial:
        with hdf5_written(partial) as writing:
            file, progress = writing.file, writing.watching(progress)
            if entry is not None:
                # First of all attributes, so that it stands near the file's begin.
                file.attrs["sha256"] = np.bytes_(MARK + ZEROS)
            file.attrs["format"] = FORMAT
            # What a set-up means an older version does not know: it would show the stored values as they are.
            has_setup = any(not stored_of(channel)[1].is_plain for channel in channels)
            file.attrs["version"] = VERSION if has_setup else WITHOUT_SETUP
            file.attrs["created"] = created or datetime.now(UTC).isoformat(timespec="seconds")
            if entry is not None:
                file.attrs["entry"] = entry_to_json(entry)
            share = 1.0 / len(channels)
            done = 0
            for place, one in enumerate(captures):
                group = file.create_group(f"more/{place}") if place else file
                group.attrs["source_name"] = _without_nul(one.source_name)
                group.attrs["layout"] = _without_nul(one.layout)
                group.attrs["notes"] = json.dumps(one.notes)
                for number, channel in enumerate(one.channels):
                    into = group.create_group(f"channels/{number}")
                    _write_channel(into, channel, part(progress, done * share, (done + 1) * share))
                    done += 1
        if entry is not None:
            seal(partial)
        if release is not None:
            release()


def _bytes_of(channel: Channel) -> int:
    """What a channel takes in the file at most: samples, pyramid, times, texts."""
    size = channel.samples.size
    chunk = max(min(CHUNK, size), 1)
    samples = -(-size // chunk) * chunk * (4 if counted_of(stored_of(channel)[0].samples) is None else 2)
    pyramid = size * 8 // FIRST_BUCKET * GROWTH // (GROWTH - 1)
    times = 0 if channel.times_s is None else 8 * size
    return samples + pyramid + times + 40 * (len(channel.gaps) + len(channel.clipped))


def _without_nul(text: str) -> str:
    """HDF5 holds no text with a NUL inside."""
    return text.replace("\0", "")


def _write_channel(group: h5py.Group, as_shown: Channel, progress: Progress) -> None:
    channel, setup = stored_of(as_shown)
    samples = channel.samples
    attributes: dict[str, object] = {
        "name": _without_nul(channel.name),
        "unit": _without_nul(channel.unit or ""),
        "form": channel.form,
        "start_s": channel.start_s,
        "step_s": np.nan if channel.step_s is None else channel.step_s,
        "gaps": json.dumps(channel.gaps),
        "clipped": json.dumps(channel.clipped),
        "history": json.dumps(channel.history),
    }
    if not setup.is_plain:
        attributes["setup"] = setup_to_json(setup)
    if channel.segments != 1:
        attributes["segments"] = channel.segments
    counted = counted_of(samples)
    if counted is not None:
        attributes |= {"scale": counted.scale, "offset": counted.offset}
        if counted.is_fine:
            attributes["is_fine"] = True
    for name, value in attributes.items():
        group.attrs[name] = value
    chunk = (min(CHUNK, samples.size),) if samples.size else None
    dataset = group.create_dataset("samples", (samples.size,), dtype="<f4" if counted is None else "<i2", chunks=chunk)
    for start, values in blocks(samples, part(progress, 0.0, 0.6)):
        stop = start + values.size
        dataset[start:stop] = values if counted is None else counted.count_block(start, stop)
    for level in build_pyramid(samples, part(progress, 0.6, 1.0)).levels:
        group.create_dataset(f"min_{level.bucket}", data=level.low)
        group.create_dataset(f"max_{level.bucket}", data=level.high)
    if channel.times_s is not None:
        group.create_dataset("times_s", data=channel.times_s)


def read_capture(path: Path) -> Capture:
    """Open one of our capture files; the samples stay in the file.

    Raises
    ------
    FileProblem
        If it is not one of ours, was made by a newer version, or is damaged.
    """
    return read_captures(path)[0]


def read_captures(path: Path, *, in_memory_below: int = 0) -> tuple[Capture, ...]:
    """Open one of our capture files with its further captures; errors as `read_capture`.

    Parameters
    ----------
    path : Path
        The file.
    in_memory_below : int
        Files of fewer bytes are read whole and closed again: a pulled stick takes nothing away from them, and where the
        system moves no open file they can still be written anew.
    """
    file = _opened(path, in_memory_below=in_memory_below)
    lock = threading.Lock()
    try:
        further = file.get("more", ())
        names = ["", *(f"more/{name}/" for name in sorted(further, key=int))]
        captures = tuple(_read_one(path, file, name, lock) for name in names)
    except UNREADABLE as error:
        file.close()
        raise _damaged(path) from error
    if not all(capture.channels for capture in captures):
        file.close()
        raise _damaged(path)
    return captures


def _read_one(path: Path, file: h5py.File, where: str, lock: threading.Lock) -> Capture:
    group = file[where or "/"]
    names = sorted(group["channels"], key=int)
    channels = tuple(_read_channel(path, file, f"{where}channels/{name}", lock) for name in names)
    notes = tuple(str(note) for note in json.loads(group.attrs["notes"]))
    layout = str(group.attrs.get("layout", "a Loomlight capture"))
    return Capture(str(group.attrs["source_name"]), layout, channels, notes)


def _read_channel(path: Path, file: h5py.File, name: str, lock: threading.Lock) -> Channel:
    group = file[name]
    attributes = group.attrs
    form = str(attributes["form"])
    if form not in ("even", "pairs", "changes", "uneven"):
        raise ValueError(f"form {form!r}")
    step_s = float(attributes["step_s"])
    samples = StoredSamples(path, file, name, lock)
    channel = Channel(
        name=str(attributes["name"]),
        unit=str(attributes["unit"]) or None,
        samples=samples,
        start_s=float(attributes["start_s"]),
        step_s=step_s if np.isfinite(step_s) else None,
        form=form,  # type: ignore[arg-type]  # checked above
        gaps=_ranges(attributes["gaps"], samples.size),
        clipped=_ranges(attributes["clipped"], samples.size),
        history=tuple(str(line) for line in json.loads(attributes["history"])),
        segments=int(attributes.get("segments", 1)),
        times_s=group["times_s"][()].astype(np.float64) if "times_s" in group else None,
    )
    return set_up(channel, setup_from_json(str(attributes["setup"]))) if "setup" in attributes else channel


def _ranges(text: str, size: int) -> tuple[IndexRange, ...]:
    ranges = tuple((int(start), int(stop)) for start, stop in json.loads(text))
    if not all(0 <= start < stop <= size for start, stop in ranges):
        raise ValueError(f"ranges outside 0 to {size}")
    return ranges


def read_entry(path: Path) -> Entry | None:
    """What is known about a library entry, or None where the capture is no entry.

    Raises
    ------
    FileProblem
        As `read_capture`.
    """
    with _opened(path) as file:
        try:
            if "sha256" in file.attrs and not bytes(file.attrs["sha256"]).startswith(MARK):
                raise _damaged(path)  # the check sum itself was hit
            return entry_from_json(str(file.attrs["entry"])) if "entry" in file.attrs else None
        except UNREADABLE as error:
            raise _damaged(path) from error


def is_capture_file(path: Path) -> bool:
    """Whether an HDF5 file says that it is one of ours.

    Raises
    ------
    FileProblem
        If it is damaged so that it must not be opened.
    """
    require_sound_heaps(path)
    try:
        with h5py.File(path, "r") as file:
            return bool(file.attrs.get("format") == FORMAT)
    except UNREADABLE:
        return False


def close_captures(captures: Sequence[Capture]) -> None:
    """Let go of the files behind captures; their samples can no longer be read."""
    for channel in (one for capture in captures for one in capture.channels):
        samples = stored_of(channel)[0].samples
        if isinstance(samples, StoredSamples):
            samples.close()


def _opened(path: Path, *, in_memory_below: int = 0) -> h5py.File:
    require_sound_heaps(path)
    try:
        if path.stat().st_size < in_memory_below:
            file = h5py.File(h5py.h5f.open_file_image(path.read_bytes()))
        else:
            file = h5py.File(path, "r")
    except FileNotFoundError as error:
        raise FileProblem("there is no such file", file=path, do="Check the name and the folder") from error
    except UNREADABLE as error:
        raise _damaged(path) from error
    try:
        if file.attrs.get("format") != FORMAT:
            raise FileProblem("it is not a Loomlight capture", file=path, do="Open it as a foreign HDF5 file")
        if int(file.attrs["version"]) > VERSION:
            raise FileProblem(
                f"it was made by a newer Loomlight (format version {file.attrs['version']}, this one reads {VERSION})",
                file=path,
                do="Update Loomlight on this machine",
            )
    except FileProblem:
        file.close()
        raise
    except UNREADABLE as error:
        file.close()
        raise _damaged(path) from error
    return file


def _damaged(path: Path) -> FileProblem:
    return FileProblem(
        "the file is damaged or was cut short", file=path, do="Take it again from the stick, or use another copy"
    )
