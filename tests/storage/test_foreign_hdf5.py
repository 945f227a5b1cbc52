"""HDF5 files of unknown making: the axis is never read wrong without a word."""

from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.storage.open_capture import open_capture


def opened(folder: Path, build: Callable[[h5py.File], None]) -> Capture:
    with h5py.File(folder / "foreign.h5", "w") as file:
        build(file)
    return open_capture(folder / "foreign.h5")


@pytest.mark.parametrize(("unit", "factor"), [(b"ms", 1e-3), ("us", 1e-6), (b"Second", 1.0), ("s", 1.0)])
def test_the_stated_step_in_its_unit(tmp_path: Path, unit: object, factor: float) -> None:
    def build(file: h5py.File) -> None:
        file["bus"] = np.zeros(100, np.float32)
        file["bus"].attrs.update({"XInc": np.array([0.5]), "XOrg": -3.0, "XUnits": unit, "YUnits": b"mV"})

    (channel,) = opened(tmp_path, build).channels
    assert (channel.step_s, channel.start_s) == (pytest.approx(0.5 * factor), pytest.approx(-3.0 * factor))
    assert channel.unit == "V"


@pytest.mark.parametrize(
    ("key", "value", "step_s"), [("dt", 1e-5, 1e-5), ("sample_rate", 250_000, 4e-6), ("fs", 1e3, 1e-3)]
)
def test_step_and_rate_on_dataset_group_or_root(tmp_path: Path, key: str, value: float, step_s: float) -> None:
    for holder in ("scope/bus", "scope", "/"):

        def build(file: h5py.File, holder: str = holder) -> None:
            file["scope/bus"] = np.zeros(100)
            file[holder].attrs[key] = value

        with h5py.File(tmp_path / f"{len(holder)}.h5", "w") as file:
            build(file)
        (channel,) = open_capture(tmp_path / f"{len(holder)}.h5").channels
        assert channel.step_s == pytest.approx(step_s)


def test_times_beside_are_scaled_and_belong_to_their_group(tmp_path: Path) -> None:
    def build(file: h5py.File) -> None:
        for number, step in enumerate((0.25, 2.0)):
            file[f"rig {number}/time"] = np.arange(100) * step
            file[f"rig {number}/time"].attrs["unit"] = b"ms"
            file[f"rig {number}/bus"] = np.arange(100.0)

    steps = [channel.step_s for channel in opened(tmp_path, build).channels]
    assert steps == [pytest.approx(0.25e-3), pytest.approx(2e-3)]


def test_uneven_stamps_stay_uneven(tmp_path: Path) -> None:
    times = np.cumsum(np.random.default_rng(1).uniform(0.1, 1.0, 100))

    def build(file: h5py.File) -> None:
        file["t"], file["bus"] = times, np.arange(100.0)

    capture = opened(tmp_path, build)
    (channel,) = capture.channels
    assert (channel.form, channel.step_s) == ("uneven", None)
    assert np.array_equal(channel.times_s, times)  # type: ignore[arg-type]
    assert any("differ" in note for note in capture.notes)


def test_stamps_in_single_precision_are_even(tmp_path: Path) -> None:
    def build(file: h5py.File) -> None:
        file["time"] = (5 + np.arange(1000) * 1e-5).astype(np.float32)
        file["bus"] = np.zeros(1000)

    (channel,) = opened(tmp_path, build).channels
    assert channel.step_s == pytest.approx(1e-5, rel=1e-3)


def test_not_acquired_and_beyond_the_range(tmp_path: Path) -> None:
    values = np.ones(100, np.float32)
    values[3:6], values[50] = np.nan, np.inf

    def build(file: h5py.File) -> None:
        file["bus"] = values
        file.attrs["dt"] = 1e-3

    (channel,) = opened(tmp_path, build).channels
    assert (channel.gaps, channel.clipped) == (((3, 6),), ((50, 51),))


def test_links_into_other_files_are_not_followed(tmp_path: Path) -> None:
    with h5py.File(tmp_path / "other.h5", "w") as file:
        file["secret"] = np.zeros(100)

    def build(file: h5py.File) -> None:
        file["far"] = h5py.ExternalLink("other.h5", "/secret")
        file["near"] = np.zeros(100)
        file.attrs["dt"] = 1e-3

    assert [channel.name for channel in opened(tmp_path, build).channels] == ["near"]


def several_segments(file: h5py.File) -> None:
    file["bus"] = np.zeros(100)
    file["bus"].attrs.update({"XInc": 1e-3, "NumSegments": 4})


def a_spectrum(file: h5py.File) -> None:
    file["bus"] = np.zeros(100)
    file["bus"].attrs.update({"XInc": 10.0, "XUnits": "Hz"})


def text_only(file: h5py.File) -> None:
    file["note"] = "no samples"


@pytest.mark.parametrize(
    ("build", "about"), [(several_segments, "4 segments"), (a_spectrum, "spectrum"), (text_only, "no row of at least")]
)
def test_what_would_be_read_wrong_is_refused(tmp_path: Path, build: Callable[[h5py.File], None], about: str) -> None:
    with pytest.raises(FileProblem, match=about):
        opened(tmp_path, build)


def test_a_dataset_that_claims_more_than_its_file_holds(tmp_path: Path) -> None:
    def build(file: h5py.File) -> None:
        file.create_dataset("bus", (10**12,), dtype="f4", chunks=(1000,))
        file.attrs["dt"] = 1e-3

    with pytest.raises(FileProblem, match="damaged"):
        opened(tmp_path, build)
