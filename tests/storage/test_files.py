"""Safe writing, our capture file, other HDF5 files, and data inside pictures."""

import contextlib
import errno
import os
from pathlib import Path

import h5py
import numpy as np
import pytest
from PySide6.QtCore import QBuffer, QByteArray, QIODevice
from PySide6.QtGui import QImage

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.entry import Entry
from loomlight.signal.errors import FileProblem
from loomlight.signal.pyramid import build_pyramid, pyramid_of
from loomlight.signal.samples import CountSamples, FloatSamples
from loomlight.storage import safe_write
from loomlight.storage.capture_file import read_capture, read_entry, write_capture
from loomlight.storage.open_capture import open_capture
from loomlight.storage.picture_data import NoPicture, data_of, with_data
from loomlight.storage.safe_write import write_bytes, write_text, written_whole

FIRST_VERSION = Path(__file__).parents[1] / "data" / "capture_version_1.h5"


# Safe writing


def test_content_is_there_and_nothing_else(tmp_path: Path) -> None:
    write_text(tmp_path / "a.txt", "one\n")
    write_bytes(tmp_path / "a.txt", b"two\n")
    assert (tmp_path / "a.txt").read_bytes() == b"two\n"
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


def test_what_fails_half_way_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_bytes(path, b"old")

    def broken_off() -> None:
        with written_whole(path) as partial:
            partial.write_bytes(b"ne")
            raise RuntimeError("half way")

    with pytest.raises(RuntimeError, match="half way"):
        broken_off()
    assert path.read_bytes() == b"old"
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]


@pytest.mark.parametrize(
    ("number", "about"),
    [(errno.ENOSPC, "disk is full"), (errno.EACCES, "cannot be written"), (errno.EIO, "could not be saved")],
)
def test_errors_of_the_disk_are_told_and_cost_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, about: str
) -> None:
    path = tmp_path / "a.txt"
    write_bytes(path, b"old")

    def refuse(_handle: int) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(safe_write.os, "fsync", refuse)
    with pytest.raises(FileProblem, match=about):
        write_bytes(path, b"new")
    assert path.read_bytes() == b"old"
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]


def test_a_full_disk_for_real(tmp_path: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.fail("this system has no /dev/full to stand for a full disk")
    with pytest.raises(OSError, match="No space"):
        Path("/dev/full").write_bytes(b"x")
    with pytest.raises(FileProblem, match="not there"):
        write_bytes(tmp_path / "missing" / "a.txt", b"x")
    with pytest.raises(FileProblem, match="folder"):
        write_bytes(tmp_path, b"x")
    with pytest.raises(FileProblem):
        write_bytes(Path("/proc/nowhere.txt"), b"x")


# Our capture file


def made() -> Capture:
    rng = np.random.default_rng(1)
    counts = rng.integers(-2000, 2000, 200_003).astype(np.int16)
    floats = rng.normal(size=1000).astype(np.float32)
    floats[10:20] = np.nan
    return Capture(
        "scope.csv",
        "columns divided by commas",
        (
            Channel("bus µ", "V", CountSamples(counts, scale=0.01, offset=-0.5), -0.02, 2e-6, history=("read",)),
            Channel("clamp", None, FloatSamples(floats), 0.0, 1e-3, gaps=((10, 20),), clipped=((5, 6),)),
            Channel("pairs", "A", FloatSamples(np.arange(100)), 1.0, 0.1, "pairs"),
            Channel("list", "", FloatSamples([0, 1, 0]), 0.0, None, "changes", times_s=np.array([0.0, 0.5, 0.75])),
        ),
        ("Something was assumed.",),
    )


def test_a_capture_comes_back_as_it_was(tmp_path: Path) -> None:
    capture = made()
    write_capture(tmp_path / "c.h5", capture)
    again = open_capture(tmp_path / "c.h5")
    assert (again.source_name, again.layout, again.notes) == (capture.source_name, capture.layout, capture.notes)
    for one, other in zip(capture.channels, again.channels, strict=True):
        for name in ("name", "start_s", "step_s", "form", "gaps", "clipped", "history"):
            assert getattr(one, name) == getattr(other, name)
        assert (one.unit or None) == other.unit
        assert np.array_equal(one.samples.block(0, 10**6), other.samples.block(0, 10**6), equal_nan=True)
        assert (one.times_s is None) == (other.times_s is None)


def test_the_pyramid_comes_from_the_file_and_is_the_same(tmp_path: Path) -> None:
    capture = made()
    write_capture(tmp_path / "c.h5", capture)
    samples = read_capture(tmp_path / "c.h5").channels[0].samples
    stored, built = pyramid_of(samples), build_pyramid(capture.channels[0].samples)
    assert stored is samples.pyramid  # type: ignore[attr-defined]
    for one, other in zip(stored.levels, built.levels, strict=True):
        assert np.array_equal(one.low, other.low)
        assert np.array_equal(one.high, other.high)


def test_an_entry_comes_back(tmp_path: Path) -> None:
    entry = Entry("id", "title", "lin", "bus µ", vehicle="Coachling", note="line\nfeed")
    write_capture(tmp_path / "c.h5", made(), entry=entry)
    assert read_entry(tmp_path / "c.h5") == entry
    write_capture(tmp_path / "d.h5", made())
    assert read_entry(tmp_path / "d.h5") is None


def test_files_of_the_first_version_still_open() -> None:
    capture = read_capture(FIRST_VERSION)
    assert [channel.name for channel in capture.channels] == ["flap LIN"]
    assert capture.channels[0].samples.block(0, 3).tolist() == pytest.approx([11.5, 11.5, 1.2], abs=0.01)
    entry = read_entry(FIRST_VERSION)
    assert entry is not None
    assert entry.title == "First version"


def test_a_newer_version_is_refused(tmp_path: Path) -> None:
    write_capture(tmp_path / "c.h5", made())
    with h5py.File(tmp_path / "c.h5", "r+") as file:
        file.attrs["version"] = 99
    with pytest.raises(FileProblem, match="newer Loomlight"):
        open_capture(tmp_path / "c.h5")


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.99])
def test_a_file_that_was_cut_short(tmp_path: Path, share: float) -> None:
    path = tmp_path / "c.h5"
    write_capture(path, made())
    content = path.read_bytes()
    path.write_bytes(content[: int(share * len(content))])
    with pytest.raises(FileProblem, match=r"damaged|nothing|neither"):
        open_capture(path)


def test_spoilt_hdf5_ends_in_one_line_or_a_capture(tmp_path: Path) -> None:
    path = tmp_path / "c.h5"
    write_capture(path, made())
    content, rng = path.read_bytes(), np.random.default_rng(3)
    for turn in range(80):
        raw = bytearray(content)
        for place in rng.integers(8, min(len(raw), 20_000), 12):
            raw[place] = int(rng.integers(0, 256))
        # A new name each time: while a file is open, the HDF5 library answers for it from memory.
        path = tmp_path / f"spoilt {turn}.h5"
        path.write_bytes(bytes(raw))
        with contextlib.suppress(FileProblem):
            for channel in open_capture(path).channels:
                assert channel.samples.block(0, 100).size <= 100


# Other HDF5 files


def foreign(path: Path, build: object) -> Capture:
    with h5py.File(path, "w") as file:
        build(file)  # type: ignore[operator]
    return open_capture(path)


def test_a_group_for_each_channel_with_attributes_on_the_group(tmp_path: Path) -> None:
    def build(file: h5py.File) -> None:
        group = file.create_group("Waveforms/Channel 1\n")
        group.attrs.update(
            {"XOrg": -2.5e-3, "XInc": 8e-7, "YUnits": b"Volt", "YInc": 0.5, "NumPoints": 600, "Start": 301}
        )
        group.create_dataset("Channel 1\n Data", data=np.arange(900, dtype=np.float32), compression="gzip")

    (channel,) = foreign(tmp_path / "f.h5", build).channels
    assert (channel.unit, channel.step_s, channel.start_s) == ("V", 8e-7, -2.5e-3)
    assert channel.samples.size == 600
    assert channel.samples.block(0, 1).tolist() == [300.0]  # already volts: the scale is not applied again


def test_time_beside_values_and_counts_with_and_without_a_scale(tmp_path: Path) -> None:
    def build(file: h5py.File) -> None:
        file["time"] = np.arange(100) * 0.01 + 5
        file["raw"] = np.arange(100, dtype=">i2")
        file["bus"] = np.arange(100, dtype=np.int16)
        file["bus"].attrs.update({"scale": 0.5, "offset": 1.0, "unit": "mV"})
        file["short"] = np.arange(9)

    capture = foreign(tmp_path / "f.h5", build)
    found = {channel.name: channel for channel in capture.channels}
    assert set(found) == {"raw", "bus"}
    assert (found["raw"].unit, found["raw"].step_s) == ("counts", pytest.approx(0.01))
    assert found["bus"].samples.block(2, 3)[0] == pytest.approx(0.002)
    assert any("counts, not volts" in note for note in capture.notes)


def test_a_table_is_told_and_not_turned_silently(tmp_path: Path) -> None:
    def build(file: h5py.File) -> None:
        file["table"] = np.zeros((200, 3))
        file.attrs["sample_rate"] = 1000

    capture = foreign(tmp_path / "f.h5", build)
    assert [channel.samples.size for channel in capture.channels] == [200, 200, 200]
    assert any("200 × 3" in note for note in capture.notes)


def test_nothing_with_a_time_axis_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="no row of at least"):
        foreign(tmp_path / "f.h5", lambda file: file.create_dataset("x", data=np.zeros(100)))


# Data inside pictures (ISO/IEC 15948)


def test_data_go_in_and_come_out() -> None:
    image = QImage(8, 8, QImage.Format.Format_RGB32)
    image.fill(0x336699)
    content = QByteArray()
    buffer = QBuffer(content)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "PNG")
    png = with_data(content.data(), ['{"µ": "ohm"}'])
    assert data_of(content.data()) is None
    assert data_of(png) == '{"µ": "ohm"}'
    assert data_of(with_data(png, ["other"])) == "other"
    again = QImage.fromData(png, "PNG")  # another reader of the same standard
    assert again.pixel(3, 3) == image.pixel(3, 3)
    assert again.text("loomlight") == '{"µ": "ohm"}'
    for cut in (png[:40], png[:-20], b"", b"GIF89a"):
        with pytest.raises(NoPicture):
            data_of(cut)
