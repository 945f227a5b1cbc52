"""HDF5 files of unknown making: the axis is never read wrong without a word."""

from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.storage.open_capture import open_capture
from loomlight.storage.reading import Reading


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


def an_instrument(file: h5py.File) -> None:
    """Names that end in a line feed, attributes on the group above, volts already although a scale stands there."""
    group = file.create_group("Waveforms/door lock\n")
    file["Waveforms"].attrs["NumWaveforms"] = 1
    group.attrs.update(
        {"XOrg": -2.5e-3, "XInc": 8e-7, "XUnits": b"Second", "YOrg": 1.5, "YInc": 0.25, "YUnits": b"Volt"}
    )
    group.attrs.update({"NumPoints": np.array([6000]), "NumSegments": 0, "Start": 3001})
    values = (np.arange(9000) % 50 - 20).astype(np.float32)
    group.create_dataset("door lock\n Data", data=values, compression="gzip", chunks=(700,))


def test_the_traps_of_one_group_a_channel(tmp_path: Path) -> None:
    (channel,) = opened(tmp_path, an_instrument).channels
    assert (channel.name, channel.unit, channel.start_s, channel.step_s) == ("door lock Data", "V", -2.5e-3, 8e-7)
    assert np.array_equal(channel.samples.block(0, 6000), np.arange(3000, 9000) % 50 - 20)
    assert channel.samples.size == 6000


@pytest.mark.parametrize("kind", ["|i1", "|u1", "<i2", ">i2", "<u2", ">u2", ">i4", "<i8", ">f4", ">f8", "<f2"])
@pytest.mark.parametrize("packing", [None, "gzip", "lzf"])
def test_every_kind_of_number_and_packing(tmp_path: Path, kind: str, packing: str | None) -> None:
    low, high = (0, 250) if "u" in kind else (-120, 120)
    numbers = np.random.default_rng(4).integers(low, high, 3000)

    def build(file: h5py.File) -> None:
        data = file.create_dataset("bus", data=numbers.astype(kind), compression=packing, shuffle=bool(packing))
        data.attrs.update({"dt": 1e-4, "scale": 0.5, "offset": -3.0, "unit": "mV"})

    (channel,) = opened(tmp_path, build).channels
    wanted = (numbers * 0.5 - 3.0) / 1000 if "f" not in kind else numbers / 1000
    np.testing.assert_allclose(channel.samples.block(0, 3000), wanted, rtol=1e-6, atol=1e-8)


def test_the_largest_counts_of_two_bytes(tmp_path: Path) -> None:
    def build(file: h5py.File) -> None:
        file["bus"] = np.r_[0, 65535, np.arange(100)].astype(np.uint16)
        file["bus"].attrs["dt"] = 1.0

    (channel,) = opened(tmp_path, build).channels
    assert channel.samples.block(0, 3).tolist() == [0, 65535, 0]


@pytest.mark.parametrize("shape", [(4000, 3), (3, 4000)])
@pytest.mark.parametrize("chunks", [None, True])
def test_a_table_is_divided_along_its_shorter_side(tmp_path: Path, shape: tuple[int, int], chunks: bool | None) -> None:
    rows = np.random.default_rng(5).normal(size=(3, 4000)).astype(np.float32)

    def build(file: h5py.File) -> None:
        file.create_dataset("bus", data=rows if shape[0] == 3 else rows.T, chunks=chunks).attrs["fs"] = 1e3

    capture = opened(tmp_path, build)
    assert [channel.name for channel in capture.channels] == ["bus 1", "bus 2", "bus 3"]
    for row, channel in zip(rows, capture.channels, strict=True):
        assert np.array_equal(channel.samples.block(0, 4000), row)


def test_gaps_over_the_ends_of_blocks_are_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("loomlight.storage.foreign_rows.BLOCK", 100)
    values = np.ones(1000)
    values[150:420], values[700:800] = np.nan, np.inf

    def build(file: h5py.File) -> None:
        file["bus"] = values
        file.attrs["dt"] = 1.0

    (channel,) = opened(tmp_path, build).channels
    assert (channel.gaps, channel.clipped) == (((150, 420),), ((700, 800),))


def test_the_user_may_say_the_step(tmp_path: Path) -> None:
    with h5py.File(tmp_path / "foreign.h5", "w") as file:
        file["bus"] = np.zeros(100)
    with pytest.raises(FileProblem, match="--step"):
        open_capture(tmp_path / "foreign.h5")
    (channel,) = open_capture(tmp_path / "foreign.h5", reading=Reading(step_s=1e-3, start_s=2.0)).channels
    assert (channel.step_s, channel.start_s) == (1e-3, 2.0)


@pytest.mark.parametrize("packing", [None, "gzip"])
def test_the_first_picture_shows_the_whole_time_and_grows_to_the_whole_truth(
    tmp_path: Path, packing: str | None
) -> None:
    values = np.sin(np.arange(3_000_000) / 1e5).astype(np.float32)
    values[2_345_678] = 40.0
    with h5py.File(tmp_path / "foreign.h5", "w") as file:
        file.create_dataset("bus", data=values, compression=packing, chunks=(1 << 16,) if packing else None)
        file["bus"].attrs.update({"dt": 1e-6, "t0": -1.0, "unit": "V"})
    seen: list[Capture] = []
    capture = open_capture(tmp_path / "foreign.h5", first_picture=seen.append)
    assert len(seen) >= 3
    for early in seen:
        (channel,) = early.channels
        assert (channel.name, channel.unit, channel.form, channel.start_s) == ("bus", "V", "pairs", -1.0)
        assert channel.stop_s == pytest.approx(2.0, abs=2e-3)
        assert "coarse" in early.notes[0]
        # Wherever it looks it tells the truth: nothing outside what the samples reach nearby.
        both = channel.samples.block(0, channel.samples.size).reshape(-1, 2)
        at = np.clip((np.arange(len(both)) * channel.step_s * 1e6).astype(int), 0, values.size - 1)
        usual = both[:, 1] < 30
        assert np.abs(both[usual, 0] - values[at][usual]).max() < 0.8
    low, high = seen[-1].channels[0].samples.block(0, 2).tolist()
    assert low <= high
    assert capture.channels[0].samples.block(2_345_678, 2_345_679)[0] == 40.0
