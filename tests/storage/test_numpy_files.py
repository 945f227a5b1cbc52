"""NumPy files: rows, tables and named columns, with the time beside them or an interval that is asked for."""

import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.signal.samples import CountSamples
from loomlight.storage.open_capture import open_capture
from loomlight.storage.reading import Reading
from loomlight.storage.reading_questions import OpenQuestion

COUNT = 500
TIMES = -0.01 + np.arange(COUNT) * 2e-5
VOLTS = 12 + np.sin(np.arange(COUNT))
AMPERES = np.arange(COUNT) % 7


def saved(folder: Path, array: np.ndarray) -> Path:
    np.save(folder / "made.npy", array)
    return folder / "made.npy"


def values(capture: Capture, place: int = 0) -> np.ndarray:
    samples = capture.channels[place].samples
    return samples.block(0, samples.size)


def test_one_row_asks_for_its_interval(tmp_path: Path) -> None:
    path = saved(tmp_path, VOLTS)
    with pytest.raises(OpenQuestion, match="--step") as caught:
        open_capture(path)
    assert caught.value.question.about == "step"
    capture = open_capture(path, reading=Reading(step_s=1e-3, start_s=-0.5, units=((1, "mV"),), names=((1, "bus"),)))
    (channel,) = capture.channels
    assert (channel.name, channel.unit, channel.step_s, channel.start_s) == ("bus", "V", 1e-3, -0.5)
    np.testing.assert_allclose(values(capture), VOLTS / 1000, rtol=1e-6)


@pytest.mark.parametrize("order", ["C", "F"])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("kind", ["<f8", ">f8", "<f4"])
def test_a_table_with_the_time_first(tmp_path: Path, order: str, turned: bool, kind: str) -> None:
    table = np.column_stack([TIMES, VOLTS, AMPERES]).astype(kind)
    capture = open_capture(saved(tmp_path, np.asarray(table.T if turned else table, order=order)))
    assert [channel.name for channel in capture.channels] == ["made 2", "made 3"]
    for channel in capture.channels:
        assert channel.step_s == pytest.approx(2e-5, rel=1e-4)
        assert channel.start_s == pytest.approx(-0.01, rel=1e-4)
    np.testing.assert_allclose(values(capture), VOLTS, rtol=1e-6)
    np.testing.assert_allclose(values(capture, 1), AMPERES, rtol=1e-6)
    assert any("longer side" in note for note in capture.notes)
    assert any("taken for the time in seconds" in note for note in capture.notes)


def test_a_table_whose_first_column_is_no_time(tmp_path: Path) -> None:
    path = saved(tmp_path, np.column_stack([VOLTS, AMPERES]))
    with pytest.raises(OpenQuestion):
        open_capture(path)
    assert len(open_capture(path, reading=Reading(step_s=1.0)).channels) == 2
    with pytest.raises(FileProblem, match="column 2 is no time"):
        open_capture(path, reading=Reading(time_column=2))


def test_the_time_where_the_user_says_it_is(tmp_path: Path) -> None:
    path = saved(tmp_path, np.column_stack([VOLTS, TIMES * 1e3]))
    capture = open_capture(path, reading=Reading(time_column=2, time_unit="ms"))
    (channel,) = capture.channels
    assert channel.step_s == pytest.approx(2e-5)
    np.testing.assert_allclose(values(capture), VOLTS, rtol=1e-6)


def test_named_columns(tmp_path: Path) -> None:
    table = np.zeros(COUNT, dtype=[("Time (ms)", "<f8"), ("bus (mV)", "<i2"), ("on", "?"), ("remark", "U8")])
    table["Time (ms)"], table["bus (mV)"], table["on"] = TIMES * 1e3, AMPERES * 1000, AMPERES > 3
    capture = open_capture(saved(tmp_path, table))
    assert [(one.name, one.unit) for one in capture.channels] == [("bus", "V"), ("on", None)]
    assert isinstance(capture.channels[0].samples, CountSamples)
    assert capture.channels[0].step_s == pytest.approx(2e-5)
    np.testing.assert_allclose(values(capture), AMPERES, rtol=1e-6)
    assert np.array_equal(values(capture, 1), AMPERES > 3)


@pytest.mark.parametrize("save", [np.savez, np.savez_compressed])
def test_an_archive_with_the_time_or_the_rate_beside(tmp_path: Path, save: object) -> None:
    save(tmp_path / "a.npz", t=TIMES, bus=VOLTS, lamp=AMPERES.astype(np.uint16))  # type: ignore[operator]
    capture = open_capture(tmp_path / "a.npz")
    assert [(one.name, one.unit) for one in capture.channels] == [("bus", None), ("lamp", "counts")]
    assert np.array_equal(values(capture, 1), AMPERES)
    save(tmp_path / "b.npz", bus=VOLTS, fs=50_000.0, t0=np.array([-1.5]), unit=np.array("V"))  # type: ignore[operator]
    (channel,) = open_capture(tmp_path / "b.npz").channels
    assert (channel.unit, channel.start_s, channel.step_s) == ("V", -1.5, pytest.approx(2e-5))


def test_uneven_times_stay_what_they_are(tmp_path: Path) -> None:
    times = np.cumsum(np.random.default_rng(2).uniform(0.1, 1, COUNT))
    np.savez(tmp_path / "a.npz", time=times, bus=VOLTS)
    (channel,) = open_capture(tmp_path / "a.npz").channels
    assert channel.form == "uneven"
    assert np.array_equal(channel.times_s, times)  # type: ignore[arg-type]


def test_gaps_and_what_is_beyond_the_range(tmp_path: Path) -> None:
    array = VOLTS.copy()
    array[10:13], array[100], array[200] = np.nan, np.inf, -np.inf
    capture = open_capture(saved(tmp_path, array), reading=Reading(step_s=1.0))
    assert capture.channels[0].gaps == ((10, 13),)
    assert capture.channels[0].clipped == ((100, 101), (200, 201))
    rails = float(np.float32(VOLTS.max())), float(np.float32(VOLTS.min()))
    assert (values(capture)[100], values(capture)[200]) == rails


def objects(path: Path) -> None:
    np.save(path, np.array([{"a": 1}] * 60, dtype=object), allow_pickle=True)


def cut_short(path: Path) -> None:
    np.save(path, VOLTS)
    path.write_bytes(path.read_bytes()[:-80])


def claims_too_much(path: Path) -> None:
    np.save(path, VOLTS)
    path.write_bytes(path.read_bytes().replace(b"(500,)", b"(900,)"))


def a_bomb(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive, archive.open("bus.npy", "w") as file:
        np.lib.format.write_array_header_1_0(
            file,
            {"descr": "<f8", "fortran_order": False, "shape": (40_000_000,)},  # type: ignore[arg-type]
        )
        for _ in range(40):
            file.write(bytes(8_000_000))


def no_arrays(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("readme.txt", "nothing")


def no_header(path: Path) -> None:
    path.write_bytes(b"\x93NUMPY\x01\x00\x10\x00{'descr': ((((((" + bytes(100))


@pytest.mark.parametrize(
    ("name", "make"),
    [
        ("made.npy", objects),
        ("made.npy", cut_short),
        ("made.npy", claims_too_much),
        ("made.npy", no_header),
        ("made.npz", a_bomb),
        ("made.npz", no_arrays),
    ],
)
def test_what_cannot_be_read_is_told_in_one_line(tmp_path: Path, name: str, make: Callable[[Path], None]) -> None:
    make(tmp_path / name)
    with pytest.raises(FileProblem, match="made"):
        open_capture(tmp_path / name)


def test_two_channels_of_one_length_share_the_time_of_that_length(tmp_path: Path) -> None:
    np.savez(tmp_path / "a.npz", time=TIMES, bus=VOLTS, slow=VOLTS[:100], dt=1e-3)
    bus, slow = open_capture(tmp_path / "a.npz").channels
    assert (bus.step_s, slow.step_s) == (pytest.approx(2e-5), 1e-3)


def test_a_table_that_is_too_wide_either_way_says_so(tmp_path: Path) -> None:
    np.savez(tmp_path / "wide.npz", volts=np.zeros((119, 599), np.float32))
    with pytest.raises(FileProblem, match=r"the table 'volts' is 119 × 599: more than 64 channels.*at most 64 rows"):
        open_capture(tmp_path / "wide.npz")
