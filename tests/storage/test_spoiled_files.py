"""Thousands of spoiled files: each gives channels that hold together, or one clear error; none hangs or takes memory."""

import io
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest
import spoiling
from layout_examples import EXAMPLES, REFUSED

from loomlight.signal.capture import Capture
from loomlight.signal.errors import LoomlightError
from loomlight.signal.progress import unwatched
from loomlight.storage.open_capture import open_capture

FILES = 20_000
LONGEST_S = 5.0
MOST_TIMES, SPARE_BYTES = 10, 6_000_000
"""Memory: ten times the file, and what any file takes (head and tables are small here)."""


def _binary() -> dict[str, bytes]:
    """NumPy and HDF5 files."""
    volts = 12 + np.sin(np.arange(900) / 9)
    made = {}
    for name, save in (("npz", np.savez), ("packed npz", np.savez_compressed)):
        buffer = io.BytesIO()
        save(buffer, t=np.arange(900) * 1e-5, bus=volts, lamp=(volts * 100).astype(np.int16))
        made[name] = buffer.getvalue()
    buffer = io.BytesIO()
    np.save(buffer, np.column_stack([np.arange(900) * 1e-5, volts]))
    made["npy"] = buffer.getvalue()
    for packing in (None, "gzip"):
        buffer = io.BytesIO()
        with h5py.File(buffer, "w") as file:
            file.create_dataset("Waves/bus\n/data", data=volts.astype("f4"), compression=packing, chunks=(128,))
            file["Waves"].attrs.update({"XInc": 8e-7, "YUnits": b"Volt"})
            file["time"], file["raw"] = np.arange(900) * 1e-5, (volts * 100).astype(">i2")
        made[f"hdf5 {packing}"] = buffer.getvalue()
    return made


SEEDS = {name: example.content for name, example in EXAMPLES.items()} | {
    name: content for name, (content, _) in REFUSED.items() if content
}
BINARY = _binary()


def require_whole(capture: Capture, size: int) -> None:
    """Channels that hold together."""
    assert capture.channels
    assert all(isinstance(note, str) and "\n" not in note for note in capture.notes)
    for channel in capture.channels:
        count = channel.samples.size
        values = channel.samples.block(0, count)
        assert values.dtype == np.float32
        assert values.shape == (count,)
        assert not np.isinf(values).any()
        marked = np.zeros(count, bool)
        for start, stop in (*channel.gaps, *channel.clipped):
            assert 0 <= start < stop <= count
            marked[start:stop] = True
        # What is no number was not acquired, and is told to be so.
        assert marked[np.isnan(values)].all()
        assert count <= 4 * size + 4
        if channel.times_s is not None:
            assert np.isfinite(channel.times_s).all()
            assert (np.diff(channel.times_s) >= 0).all()


def try_one(path: Path, content: bytes) -> str:
    """Open one file; what was said."""
    path.write_bytes(content)
    try:
        require_whole(open_capture(path, unwatched), len(content))
    except LoomlightError as error:
        said = str(error)
        assert said.startswith(path.name)
        assert said.count("\n") == 0
        assert said.endswith(".")
        return said
    finally:
        path.unlink()
    return ""


def spoil(folder: Path, seeds: dict[str, bytes], files: int, seed: int, spoiled: Callable[..., bytes]) -> None:
    names = list(seeds)
    slowest = 0.0
    for turn in range(files):
        rng = np.random.default_rng([seed, turn])
        content = spoiled(seeds[names[turn % len(names)]], rng)
        start = time.process_time()
        try:
            # A new name each time: while a file is open, the HDF5 library answers for it from memory.
            try_one(folder / f"spoiled {turn}.csv", content)
        except Exception as error:
            error.add_note(f"seed [{seed}, {turn}] of {names[turn % len(names)]!r}")
            raise
        slowest = max(slowest, time.process_time() - start)
    assert slowest < LONGEST_S


def test_spoiled_texts(tmp_path: Path) -> None:
    spoil(tmp_path, SEEDS, FILES // 10 - 300, 1, spoiling.spoiled)


def test_spoiled_binary_files(tmp_path: Path) -> None:
    spoil(tmp_path, BINARY, 300, 2, spoiling.spoiled_binary)


@pytest.mark.long
def test_spoiled_texts_in_full(tmp_path: Path) -> None:
    spoil(tmp_path, SEEDS, FILES - 3000, 3, spoiling.spoiled)


@pytest.mark.long
def test_spoiled_binary_files_in_full(tmp_path: Path) -> None:
    spoil(tmp_path, BINARY, 3000, 4, spoiling.spoiled_binary)


def test_memory_stays_near_the_size_of_a_spoiled_file(tmp_path: Path) -> None:
    names = list(SEEDS)
    for turn in range(24):
        rng = np.random.default_rng([5, turn])
        content = spoiling.spoiled(SEEDS[names[turn % len(names)]] * 3, rng)
        tracemalloc.start()
        try:
            try_one(tmp_path / "spoiled.csv", content)
            _, peak = tracemalloc.get_traced_memory()
        finally:
            tracemalloc.stop()
        assert peak < MOST_TIMES * len(content) + SPARE_BYTES, names[turn % len(names)]
