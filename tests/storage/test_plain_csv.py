"""A capture written as plain CSV: what is read back is the same, by our reader and by general ones."""

import csv
from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Cancelled
from loomlight.signal.samples import CountSamples, FloatSamples
from loomlight.storage.open_capture import open_capture
from loomlight.storage.plain_csv import write_csv

COUNT = 4000


def channel(
    name: str, unit: str | None, values: object, start_s: float = -0.01, step_s: float | None = 2e-5, **more: object
) -> Channel:
    samples = values if isinstance(values, CountSamples) else FloatSamples(values)  # type: ignore[arg-type]
    return Channel(name, unit, samples, start_s, step_s, **more)  # type: ignore[arg-type]


def written(folder: Path, *channels: Channel) -> Path:
    write_csv(folder / "out.csv", Capture("made", "made", channels))
    return folder / "out.csv"


def all_of(one: Channel) -> np.ndarray:
    return one.samples.block(0, one.samples.size)


def noise(seed: int, count: int = COUNT) -> np.ndarray:
    return (
        np.random.default_rng(seed).normal(size=count) * 10.0 ** np.random.default_rng(seed).integers(-6, 6, count)
    ).astype(np.float32)


def test_even_channels_come_back_bit_by_bit(tmp_path: Path) -> None:
    counts = CountSamples(np.arange(COUNT).astype(np.int16) - 2000, scale=0.04, offset=6.5)
    before = (channel("bus", "V", noise(1)), channel("feed current", "A", counts), channel("level", None, noise(2)))
    after = open_capture(written(tmp_path, *before)).channels
    for one, same in zip(before, after, strict=True):
        assert (one.name, one.unit, one.form, one.start_s) == (same.name, same.unit, same.form, same.start_s)
        assert same.step_s == pytest.approx(one.step_s, rel=1e-12)
        assert np.array_equal(all_of(one), all_of(same))


@pytest.mark.parametrize(
    ("start_s", "step_s"), [(0.0, 1e-9), (-0.3333333333333333, 1 / 48_000), (1e4, 1e-6), (0.0, 7.0), (-1e-7, 1.25e-8)]
)
def test_any_axis_comes_back(tmp_path: Path, start_s: float, step_s: float) -> None:
    (same,) = open_capture(written(tmp_path, channel("bus", "V", noise(3), start_s, step_s))).channels
    assert same.form == "even"
    assert same.start_s == pytest.approx(start_s, abs=1e-5 * step_s)
    assert same.step_s == pytest.approx(step_s, rel=1e-8)


def test_gaps_are_empty_cells(tmp_path: Path) -> None:
    values = noise(4)
    values[:3] = values[100:140] = values[-1] = np.nan
    path = written(
        tmp_path,
        channel("bus", "V", values, gaps=((0, 3), (100, 140), (COUNT - 1, COUNT))),
        channel("b", "V", noise(5)),
    )
    with path.open(newline="") as file:
        rows = list(csv.reader(file))
    assert {len(row) for row in rows} == {3}
    assert [row[1] for row in rows[1:4]] == ["", "", ""]
    one, other = open_capture(path).channels
    assert one.gaps == ((0, 3), (100, 140), (COUNT - 1, COUNT))
    assert np.array_equal(all_of(one), values, equal_nan=True)
    assert np.array_equal(all_of(other), noise(5))


def test_pairs_are_two_columns(tmp_path: Path) -> None:
    both = np.sort(noise(6).reshape(-1, 2), axis=1).reshape(-1)
    path = written(tmp_path, channel("bus", "V", both, form="pairs"))
    assert path.read_text().splitlines()[0] == "Time (s),bus (min) (V),bus (max) (V)"
    (same,) = open_capture(path).channels
    assert (same.name, same.form, same.unit) == ("bus", "pairs", "V")
    assert np.array_equal(all_of(same), both)


def test_changes_and_uneven_times_come_back(tmp_path: Path) -> None:
    times = np.cumsum(np.random.default_rng(7).uniform(1e-7, 3e-3, COUNT)) - 1
    levels = np.arange(COUNT) % 2
    path = written(tmp_path, channel("crank", None, levels, times[0], None, form="changes", times_s=times))
    (same,) = open_capture(path).channels
    assert same.form == "changes"
    assert np.array_equal(same.times_s, times)  # type: ignore[arg-type]
    path = written(tmp_path, channel("bus", "V", noise(8), times[0], None, form="uneven", times_s=times))
    (same,) = open_capture(path).channels
    assert same.form == "uneven"
    assert np.array_equal(same.times_s, times)  # type: ignore[arg-type]
    assert np.array_equal(all_of(same), noise(8))


def test_each_further_axis_has_its_own_time(tmp_path: Path) -> None:
    before = (
        channel("bus", "V", noise(9)),
        channel("slow", "A", noise(10, 300), 0.5, 1e-3),
        channel("second bus", "V", noise(11)),
    )
    path = written(tmp_path, *before)
    with path.open(newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0] == ["Time (s)", "bus (V)", "second bus (V)", "Time (s)", "slow (A)"]
    assert {len(row) for row in rows} == {5}
    after = {one.name: one for one in open_capture(path).channels}
    for one in before:
        assert np.array_equal(all_of(after[one.name]), all_of(one))
        assert after[one.name].step_s == pytest.approx(one.step_s)
        assert after[one.name].start_s == pytest.approx(one.start_s)


def test_rfc_4180(tmp_path: Path) -> None:
    # RFC 4180, 2.: CR LF after each record (1), one header line (3), the same number of fields throughout (4), quotes
    # around fields with commas or quotes (6), quotes doubled inside (7).
    path = written(tmp_path, channel('door "left", rear', "V", noise(12)), channel("a\nb", "Ω", noise(13)))
    raw = path.read_bytes()
    assert raw.count(b"\r\n") == raw.count(b"\n") == COUNT + 1
    assert raw.startswith("\ufeff".encode())
    text = raw.decode("utf-8-sig")
    assert text.splitlines()[0] == 'Time (s),"door ""left"", rear (V)",a b (Ω)'
    assert [one.name for one in open_capture(path).channels] == ['door "left", rear', "a b"]


@pytest.mark.parametrize("name", ["=1+1", "@run", "+x", "-x"])
def test_a_name_is_no_formula(tmp_path: Path, name: str) -> None:
    assert f",'{name} (V)\r\n".encode() in written(tmp_path, channel(name, "V", noise(14))).read_bytes()


def test_given_up_or_impossible_leaves_nothing_behind(tmp_path: Path) -> None:
    def stop(_share: float) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        write_csv(tmp_path / "out.csv", Capture("m", "m", (channel("bus", "V", noise(15)),)), stop)
    with pytest.raises(FileProblem, match="not there"):
        write_csv(tmp_path / "none" / "out.csv", Capture("m", "m", (channel("bus", "V", noise(15)),)))
    assert list(tmp_path.iterdir()) == []
