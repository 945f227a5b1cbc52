"""Our capture file where things go wrong: full disks, files cut short while open, odd names, damaged bytes."""

import shutil
from pathlib import Path
from typing import NamedTuple

import h5py
import numpy as np
import pytest

from loomlight.signal.capture import Capture, Channel, IndexRange
from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.pyramid import pyramid_of
from loomlight.signal.samples import CountSamples, FloatSamples
from loomlight.storage import safe_write
from loomlight.storage.capture_file import SPARE_BYTES, read_capture, write_capture
from loomlight.storage.open_capture import open_capture


class Usage(NamedTuple):
    total: int
    used: int
    free: int


def made(size: int = 500_000, *, name: str = "bus", gaps: tuple[IndexRange, ...] = ()) -> Capture:
    values = np.random.default_rng(2).normal(size=size)
    return Capture("scope.csv", "made", (Channel(name, "V", FloatSamples(values), 0.0, 1e-5, gaps=gaps),))


def test_too_full_a_disk_is_refused_before_anything_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "c.h5"
    write_capture(path, made(1000))
    monkeypatch.setattr(safe_write.shutil, "disk_usage", lambda _folder: Usage(10**9, 10**9 - 10**6, 10**6))
    with pytest.raises(FileProblem, match="disk is full"):
        write_capture(path, made())
    assert read_capture(path).channels[0].samples.size == 1000
    assert [one.name for one in tmp_path.iterdir()] == ["c.h5"]


@pytest.mark.parametrize("size", [3, 1000, 131_072, 131_073, 500_000])
@pytest.mark.parametrize("counts", [True, False])
def test_the_space_asked_for_is_enough(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int, counts: bool
) -> None:
    asked: list[int] = []
    usage = shutil.disk_usage(tmp_path)

    class Watched(NamedTuple):
        total: int
        used: int

        @property
        def free(self) -> "Watching":
            return Watching(usage.free)

    class Watching(int):
        def __lt__(self, needed: int) -> bool:
            asked.append(needed)
            return int(self) < needed

    monkeypatch.setattr(safe_write.shutil, "disk_usage", lambda _folder: Watched(usage.total, usage.used))
    values = np.arange(size) % 100
    samples = CountSamples(values.astype(np.int16), scale=0.1, offset=0.0) if counts else FloatSamples(values)
    write_capture(tmp_path / "c.h5", Capture("a", "b", (Channel("bus", "V", samples, 0.0, 1e-5),)))
    (needed,) = asked
    written = (tmp_path / "c.h5").stat().st_size
    assert written <= needed <= 1.1 * written + SPARE_BYTES


def test_a_file_cut_short_while_open_never_answers_zeros(tmp_path: Path) -> None:
    path = tmp_path / "c.h5"
    write_capture(path, made())
    samples = read_capture(path).channels[0].samples
    with path.open("r+b") as file:
        file.truncate(5000)
    with pytest.raises(FileProblem, match="cannot be read any further"):
        samples.block(400_000, 400_010)
    with pytest.raises(FileProblem, match="cannot be read any further"):
        pyramid_of(samples)


def test_a_capture_that_was_saved_over_can_still_be_read(tmp_path: Path) -> None:
    path = tmp_path / "c.h5"
    write_capture(path, made(1000))
    older = read_capture(path).channels[0].samples
    write_capture(path, made(10))
    assert older.block(990, 1000).size == 10
    assert read_capture(path).channels[0].samples.size == 10


@pytest.mark.parametrize(("name", "kept"), [("a\0b", "ab"), ("", ""), ("µ/Ω\n∞", "µ/Ω\n∞")])
def test_any_name_can_be_written(tmp_path: Path, name: str, kept: str) -> None:
    write_capture(tmp_path / "c.h5", made(10, name=name))
    assert read_capture(tmp_path / "c.h5").channels[0].name == kept


def test_an_empty_channel_and_very_many_gaps(tmp_path: Path) -> None:
    write_capture(tmp_path / "c.h5", made(0))
    assert read_capture(tmp_path / "c.h5").channels[0].samples.size == 0
    gaps = tuple((place, place + 1) for place in range(0, 200_000, 4))
    write_capture(tmp_path / "d.h5", made(200_000, gaps=gaps))
    assert read_capture(tmp_path / "d.h5").channels[0].gaps == gaps


@pytest.mark.parametrize("gaps", ["[[5, 2]]", "[[0, 99]]", "[[-1, 3]]", "{", '"x"', "[[1]]"])
def test_gaps_that_cannot_be_are_damage(tmp_path: Path, gaps: str) -> None:
    write_capture(tmp_path / "c.h5", made(20))
    with h5py.File(tmp_path / "c.h5", "r+") as file:
        file["channels/0"].attrs["gaps"] = gaps
    with pytest.raises(FileProblem, match="damaged"):
        open_capture(tmp_path / "c.h5")


def test_a_pyramid_that_does_not_fit_is_built_anew(tmp_path: Path) -> None:
    write_capture(tmp_path / "c.h5", made(1000))
    with h5py.File(tmp_path / "c.h5", "r+") as file:
        del file["channels/0/min_64"], file["channels/0/max_64"]
        file["channels/0/min_64"] = file["channels/0/max_64"] = np.zeros(3, np.float32)
    samples = open_capture(tmp_path / "c.h5").channels[0].samples
    (level,) = pyramid_of(samples).levels
    assert level.low[0] == samples.block(0, 64).min()


def spoil(folder: Path, rounds: int) -> None:
    write_capture(folder / "own.h5", made(3000, gaps=((3, 5),)))
    with h5py.File(folder / "other.h5", "w") as file:
        file.create_dataset("Waves/bus\n/data", data=np.arange(900, dtype="f4"), compression="gzip")
        file["Waves"].attrs.update({"XInc": 8e-7, "YUnits": b"Volt"})
        file["time"], file["raw"] = np.arange(700.0), np.arange(700, dtype=">i2")
    contents = [(folder / name).read_bytes() for name in ("own.h5", "other.h5")]
    rng = np.random.default_rng(31)
    for turn in range(rounds):
        raw = bytearray(contents[turn % 2])
        if turn % 5 == 0:
            raw = raw[: int(rng.integers(8, len(raw)))]
        else:
            reach = int(rng.choice([800, 3000, len(raw)]))
            for place in rng.integers(8, min(reach, len(raw)), int(rng.integers(1, 10))):
                raw[place] = int(rng.choice([rng.integers(0, 256), 0, 255]))
        # A new name each time: while a file is open, the HDF5 library answers for it from memory.
        path = folder / f"spoilt {turn}.h5"
        path.write_bytes(bytes(raw))
        said = ""
        try:
            for channel in open_capture(path).channels:
                channel.samples.block(0, min(channel.samples.size, 10))
                pyramid_of(channel.samples)
        except LoomlightError as error:
            said = str(error)
        assert "\n" not in said
        path.unlink()


def test_damaged_bytes_end_in_one_line_or_a_capture(tmp_path: Path) -> None:
    spoil(tmp_path, 150)


@pytest.mark.long
def test_damaged_bytes_in_full(tmp_path: Path) -> None:
    spoil(tmp_path, 1500)
