"""The fast ways of reading a text table give what the careful one gives, or step back: no number in another's column."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomlight.storage import text_numbers
from loomlight.storage.open_capture import open_capture
from loomlight.storage.text_bytes import plain_lines
from loomlight.storage.text_header import Column
from loomlight.storage.text_layout import Layout
from loomlight.storage.text_numbers import BadCells, Cells, parse_block, without_blank_lines

PLAIN_CELLS = st.one_of(
    st.floats(-1e6, 1e6).map("{:.4f}".format),
    st.floats(-1e6, 1e6).map("{:.6e}".format),
    st.floats(-1e6, 1e6).map("{:g}".format),
    st.integers(-99999, 99999).map(str),
)
ODD_CELLS = st.one_of(
    st.sampled_from(
        ["", " ", "nan", "inf", "-", "####", "1e", "0x12", "1,5", "1.2.3", '"1.5"', "+-1", "1 2", "1.5e+400"]
    ),
    st.text('0123456789+-.eE, "n\r', max_size=8),
)


def layout_of(delimiter: str, comma: bool, columns: int) -> Layout:
    made = tuple(Column(place, "", "V", 1.0, "V") for place in range(columns))
    return Layout(delimiter, comma, 0, made, {})


def both_ways(block: bytes, layout: Layout, cells: int) -> tuple[np.ndarray, np.ndarray]:
    number = Cells(cells, cells)
    quick = parse_block(block, layout, cells=number, first_row=0, bad=BadCells())
    lines = without_blank_lines(plain_lines(block))
    return quick, text_numbers._careful(lines, layout, number, 0, BadCells())


def assert_same(quick: np.ndarray, careful: np.ndarray) -> None:
    assert quick.shape == careful.shape
    # Beyond 15 digits the fast way may round once more than float() does.
    assert np.array_equal(np.isfinite(quick), np.isfinite(careful))
    kept = np.isfinite(quick)
    assert np.array_equal(quick[~kept], careful[~kept], equal_nan=True)
    np.testing.assert_allclose(quick[kept], careful[kept], rtol=2.3e-16, atol=1e-320)


@pytest.mark.filterwarnings("error")
@settings(max_examples=250, deadline=None)
@given(data=st.data())
def test_odd_rows_are_read_as_the_careful_way_reads_them(data: st.DataObject) -> None:
    delimiter = data.draw(st.sampled_from([",", ";", "\t", " "]))
    comma = delimiter != "," and data.draw(st.booleans())
    columns = data.draw(st.integers(1, 4))
    rows = data.draw(st.lists(st.lists(PLAIN_CELLS, min_size=columns, max_size=columns), min_size=1, max_size=12))
    if comma:
        rows = [[cell.replace(".", ",") for cell in row] for row in rows]
    for _ in range(data.draw(st.integers(0, 3))):
        row = data.draw(st.integers(0, len(rows) - 1))
        place = data.draw(st.integers(0, columns - 1))
        change = data.draw(st.sampled_from(["odd", "missing", "extra", "blank line", "joined"]))
        if change == "odd":
            rows[row] = [*rows[row][:place], data.draw(ODD_CELLS), *rows[row][place + 1 :]]
        elif change == "missing":
            rows[row] = rows[row][:place] + rows[row][place + 1 :]
        elif change == "extra":
            rows[row] = [*rows[row][:place], "7.5", *rows[row][place:]]
        elif change == "blank line":
            rows.insert(row, [data.draw(st.sampled_from(["", " ", "\t"]))])
        elif row + 1 < len(rows):
            # Two rows whose cells add up to what the table has, wrongly divided.
            rows[row], rows[row + 1] = [*rows[row], "8.5"], rows[row + 1][:-1]
    end = data.draw(st.sampled_from(["\n", "\r\n"]))
    block = "".join(delimiter.join(row) + end for row in rows).encode()
    assert_same(*both_ways(block, layout_of(delimiter, comma, columns), columns))


@pytest.mark.parametrize("width", [2, 3])
def test_rows_that_lend_each_other_a_cell_are_not_evened_out(width: int) -> None:
    row = ",".join(["1.5", "2.5", "3.5"][:width])
    block = "\n".join([*[row] * 50, row + ",9.5", row.rpartition(",")[0], *[row] * 50]).encode() + b"\n"
    bad = BadCells()
    table = parse_block(block, layout_of(",", False, width), cells=Cells(width, width), first_row=0, bad=bad)
    assert np.isnan(table[50]).all()
    assert np.isnan(table[51, -1])
    assert (table[np.r_[:50, 52:102]] == [1.5, 2.5, 3.5][:width]).all()
    assert (bad.crowded, bad.first_crowded, bad.short, bad.first_short) == (1, 50, 1, 51)


def test_a_decimal_comma_in_one_row_is_told_not_read_as_a_column(tmp_path: Path) -> None:
    rows = [f"{place * 1e-3:.3f},{12 + place % 3}.5,{place % 2}.25" for place in range(400)]
    rows[300] = "0.300,12,5,0.25"
    path = tmp_path / "made.csv"
    path.write_text("Time (s),a (V),b (V)\n" + "\n".join(rows) + "\n")
    capture = open_capture(path)
    told = "1 row has more numbers than there are columns, taken as not acquired, the first: line 302."
    assert told in capture.notes
    assert [channel.gaps for channel in capture.channels] == [((300, 301),)] * 2
    assert all(channel.step_s == pytest.approx(1e-3) for channel in capture.channels)


def test_a_row_without_its_delimiter_is_told(tmp_path: Path) -> None:
    rows = [f"{place * 1e-3:.3f},{12 + place % 3}.5,{place % 2}.25" for place in range(400)]
    rows[300] = "0.300,12.5"
    path = tmp_path / "made.csv"
    path.write_text("Time (s),a (V),b (V)\n" + "\n".join(rows) + "\n")
    capture = open_capture(path)
    assert "1 row has fewer cells than the others, the first: line 302; what is missing is taken to be at the end." in (
        capture.notes
    )
    assert capture.channels[1].gaps == ((300, 301),)
    assert capture.channels[0].gaps == ()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\r\r\n"])
def test_every_encoding_and_line_end_gives_the_same_numbers(tmp_path: Path, encoding: str, end: str) -> None:
    rng = np.random.default_rng(12)
    values = rng.normal(0, 30, 40_000)
    rows = [f"{place * 1e-5:.5f};{value:.4f}".replace(".", ",") for place, value in enumerate(values)]
    text = end.join(["Zeit (s);Gebläse (µV)", *rows])
    path = tmp_path / "made.csv"
    path.write_bytes(text.encode(encoding))
    (channel,) = open_capture(path).channels
    wanted = np.array([float(f"{value:.4f}") for value in values]) * 1e-6
    assert channel.name == "Gebläse"
    assert channel.step_s == pytest.approx(1e-5, rel=1e-12)
    np.testing.assert_allclose(channel.samples.block(0, 40_000), wanted, rtol=1e-6)


def test_the_block_in_which_a_row_falls_makes_no_difference(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(13)
    rows = [
        f"{place * 1e-3:.3f},{value:.{place % 5}f},{'' if place % 97 == 5 else place}"
        for place, value in enumerate(rng.normal(0, 99, 3000))
    ]
    path = tmp_path / "made.csv"
    path.write_bytes(("time (s),a (V),b (A)\r\n" + "\r\n".join(rows)).encode())
    answers = []
    for size in (97, 1024, 1 << 20):
        monkeypatch.setattr("loomlight.storage.text_bytes.BLOCK_BYTES", size)
        capture = open_capture(path)
        answers.append([channel.samples.block(0, 3000) for channel in capture.channels])
        assert capture.channels[1].gaps == tuple((place, place + 1) for place in range(5, 3000, 97))
    for other in answers[1:]:
        for one, same in zip(answers[0], other, strict=True):
            assert np.array_equal(one, same, equal_nan=True)


def test_quotes_around_some_cells_only(tmp_path: Path) -> None:
    layout = replace(layout_of(",", True, 2))
    quick, careful = both_ways(b'"0,5",1\n2,"3,25"\n4,5\n', layout, 2)
    assert_same(quick, careful)
    assert quick.tolist() == [[0.5, 1.0], [2.0, 3.25], [4.0, 5.0]]
