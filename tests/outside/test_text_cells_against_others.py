"""Cells of a text table against RFC 4180 and Python's own parsers."""

import csv
import io
import math
from datetime import UTC, datetime

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from loomlight.storage.text_cells import clock_s, number_in
from loomlight.storage.text_signs import cells_of

pytestmark = pytest.mark.outside

# RFC 4180, "Common Format and MIME Type for CSV Files", section 2, rules 4 to 7: the examples given there, without the
# one whose cell holds a line break.
RFC_4180 = [
    ("aaa,bbb,ccc", ["aaa", "bbb", "ccc"]),
    ('"aaa","bbb","ccc"', ["aaa", "bbb", "ccc"]),
    ("zzz,yyy,xxx", ["zzz", "yyy", "xxx"]),
    ('"aaa","b""bb","ccc"', ["aaa", 'b"bb', "ccc"]),
    ('"aaa","b,bb","ccc"', ["aaa", "b,bb", "ccc"]),
    ("field_name,field_name,field_name", ["field_name", "field_name", "field_name"]),
]


@pytest.mark.parametrize(("line", "cells"), RFC_4180)
def test_lines_of_the_standard(line: str, cells: list[str]) -> None:
    assert cells_of(line, ",") == cells


@given(
    st.lists(st.text(st.characters(codec="utf-8", exclude_characters="\r\n\0"), max_size=8), min_size=1, max_size=6),
    st.sampled_from([",", ";", "\t"]),
)
def test_what_a_spreadsheet_writes_comes_back(cells: list[str], delimiter: str) -> None:
    stream = io.StringIO()
    csv.writer(stream, delimiter=delimiter, quoting=csv.QUOTE_ALL).writerow(cells)
    assert cells_of(stream.getvalue().rstrip("\r\n"), delimiter) == cells


@given(
    st.floats(allow_nan=False, allow_infinity=False, width=64),
    st.sampled_from(["{!r}", "{:.12g}", "{:+.7e}", "{:.9E}"]),
)
def test_numbers_equal_python(value: float, form: str) -> None:
    text = form.format(value)
    assert number_in(text, comma=False) == float(text)
    assert number_in(text.replace(".", ","), comma=True) == float(text)


@given(st.text("0123456789+-.eE", min_size=1, max_size=12))
def test_what_is_a_number_to_python_is_one_here_and_nothing_else(text: str) -> None:
    try:
        wanted: float | None = float(text)
    except ValueError:
        wanted = None
    found = number_in(text, comma=False)
    assume(text.lower().lstrip("+-") not in ("9.9e37", "9.9e+37"))  # stands for infinity
    if set(text) == {"-"}:  # a dash stands for "not acquired"
        assert found is not None
        assert math.isnan(found)
    else:
        assert found == wanted


@given(st.datetimes(datetime(1971, 1, 1), datetime(2099, 12, 31)))
def test_dates_and_times_of_day_equal_python(moment: datetime) -> None:
    seconds = moment.replace(microsecond=0, tzinfo=UTC).timestamp()
    for form in (
        "%d.%m.%Y %H:%M:%S",
        "%Y-%m-%dT%H:%M:%S",
        "%Y/%m/%d %H:%M:%S",
        "%d-%b-%Y %H:%M:%S",
        "%d %b %Y %H:%M:%S",
    ):
        assert clock_s(moment.strftime(form)) == seconds
    assert clock_s(moment.strftime("%d/%m/%Y %H:%M:%S")) == seconds
    assert clock_s(moment.strftime("%m/%d/%Y %H:%M:%S"), month_first=True) == seconds
