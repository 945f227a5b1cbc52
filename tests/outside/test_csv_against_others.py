"""The CSV reader against general-purpose parsers: Python's float() and csv module, and numpy's genfromtxt."""

import csv
from pathlib import Path

import numpy as np
import pytest

from loomlight.storage.open_capture import open_capture
from loomlight.storage.text_fixed import WIDEST, column_of

pytestmark = pytest.mark.filterwarnings("error")

WRITTEN = ("{:.6e}", "{:+.5E}", "{:.4f}", "{:.0f}", "{: .3f}", "{:08.3f}", "{:.12e}")


def cells_as_block(cells: list[str]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    raw = bytes(WIDEST) + "\n".join(cells).encode() + b"\n"
    ends = np.flatnonzero(np.frombuffer(raw, np.uint8) == 10)
    starts = np.concatenate([[WIDEST], ends[:-1] + 1])
    return np.frombuffer(raw, np.uint8), starts, ends


@pytest.mark.outside
@pytest.mark.parametrize("form", WRITTEN)
def test_column_ofs_equal_float(form: str) -> None:
    rng = np.random.default_rng(7)
    numbers = rng.normal(size=5000) * 10.0 ** rng.integers(-3, 4, 5000)
    cells = [form.format(number) for number in numbers]
    found = column_of(*cells_as_block(cells), ord("."))
    assert found is not None
    # One unit of the last place of a double: a power of ten below the exact ones may round once.
    assert found == pytest.approx(np.array([float(cell) for cell in cells]), rel=2.3e-16)


@pytest.mark.parametrize(
    "spoilt",
    [
        "-",
        "1,5",
        "1.23456E+0x",
        "1..3456e+00",
        "0x12456e+00",
        "1e",
        "+-1",
        "1 2",
        "1.5e+-1",
        "--1",
        "1e+",
        ".",
        "1.2.3",
    ],
)
def test_a_cell_that_is_no_number_sends_the_column_away(spoilt: str) -> None:
    cells = ["1.23456e+00"] * 20 + [spoilt] + ["1.23456e+00"] * 20
    assert column_of(*cells_as_block(cells), ord(".")) is None


@pytest.mark.outside
def test_columns_of_several_ways_of_writing_equal_float() -> None:
    rng = np.random.default_rng(11)
    numbers = rng.normal(size=4000) * 10.0 ** rng.integers(-9, 9, 4000)
    ways = ["{:g}", "{:.3e}", "{:E}", "{:.0f}", "{:+.2f}", " {:.1f}", "{:.9g} ", "{:08.3f}", "{:.12g}"]
    cells = [ways[place % len(ways)].format(number) for place, number in enumerate(numbers)] + ["5E-2", "-.25", "7."]
    found = column_of(*cells_as_block(cells), ord("."))
    assert found is not None
    assert found == pytest.approx(np.array([float(cell) for cell in cells]), rel=2.3e-16)


def test_empty_cells_and_nan_are_not_acquired() -> None:
    found = column_of(*cells_as_block(["1.5", "", "nan", "  ", "NaN", "-2.5"]), ord("."))
    assert found is not None
    assert np.array_equal(found, [1.5, np.nan, np.nan, np.nan, np.nan, -2.5], equal_nan=True)


@pytest.mark.outside
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("hole", [False, True])
def test_the_whole_file_equals_genfromtxt(tmp_path: Path, delimiter: str, hole: bool) -> None:
    rng = np.random.default_rng(8)
    table = rng.normal(size=(3000, 3)) * [5.0, 0.01, 300.0]
    lines = [
        delimiter.join((f"{place * 1e-5:.6f}", f"{row[0]:.5e}", f"{row[1]:.6f}", f"{row[2]:g}"))
        for place, row in enumerate(table)
    ]
    if hole:
        lines[1234] = delimiter.join([*lines[1234].split(delimiter)[:2], "", "7"])
    path = tmp_path / "made.csv"
    path.write_text(delimiter.join(("Time (s)", "a (V)", "b (V)", "c (V)")) + "\n" + "\n".join(lines) + "\n")
    other = np.genfromtxt(path, delimiter=delimiter, skip_header=1)
    capture = open_capture(path)
    for place, channel in enumerate(capture.channels, start=1):
        own = channel.samples.block(0, channel.samples.size)
        assert np.array_equal(own, other[:, place].astype(np.float32), equal_nan=True)
    assert capture.channels[0].step_s == pytest.approx(float(other[-1, 0] - other[0, 0]) / 2999)


@pytest.mark.outside
def test_quoted_cells_as_the_csv_module_reads_them(tmp_path: Path) -> None:
    path = tmp_path / "made.csv"
    with path.open("w", newline="") as file:
        writer = csv.writer(file, quoting=csv.QUOTE_ALL)
        writer.writerow(("Time (ms)", "supply, rear (V)"))
        writer.writerows((f"{place / 8}".replace(".", ","), f"{place % 9},25") for place in range(200))
    (channel,) = open_capture(path).channels
    with path.open(newline="") as file:
        rows = list(csv.reader(file))
    assert channel.name == "supply, rear"
    assert channel.step_s == pytest.approx(1.25e-4)
    wanted = np.array([float(row[1].replace(",", ".")) for row in rows[1:]], np.float32)
    assert np.array_equal(channel.samples.block(0, 200), wanted)
