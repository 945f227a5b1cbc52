"""Tables as CSV: rules of RFC 4180, read back by the standard library's reader."""

import csv
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from loomlight.storage.table_file import write_table

CELLS = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=12).filter(
    lambda text: text[:1] not in ("=", "@", "+")
)


@given(rows=st.lists(st.tuples(CELLS, CELLS), max_size=5))
def test_what_is_written_is_read_back(rows: list[tuple[str, str]], tmp_path_factory: object) -> None:
    path = tmp_path_factory.mktemp("table") / "t.csv"  # type: ignore[attr-defined]
    write_table(path, ("one", "two"), rows)
    with path.open(encoding="utf-8", newline="") as file:
        assert [tuple(row) for row in csv.reader(file, strict=True)] == [("one", "two"), *rows]


def test_lines_end_and_quotes_stand_as_the_standard_has_it(tmp_path: Path) -> None:
    write_table(tmp_path / "t.csv", ("a", "b"), [('say "x"', "1,5"), ("=1+1", "plain")])
    assert (tmp_path / "t.csv").read_bytes() == b'a,b\r\n"say ""x""","1,5"\r\n\'=1+1,plain\r\n'
