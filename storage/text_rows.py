"""Texts whose rows, not columns, are the channels: all values in one row, x above y, a row for each channel."""

from dataclasses import dataclass, field
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.storage.reading import Reading
from loomlight.storage.text_cells import number_in, quoted_away
from loomlight.storage.text_head import TextHead, all_lines
from loomlight.storage.text_signs import cells_of, signs_of

LEAST_CELLS = 50
MOST_ROWS = 8
TURNED_BY = ";"
MOST_BYTES = 1 << 26


@dataclass(frozen=True, eq=False)
class Turned:
    """Rows made into columns.

    Attributes
    ----------
    lines : list of str
        A line of names where the rows have some, then one line for each instant, divided by semicolons.
    comma : bool
        Decimal comma.
    channels : int
        Rows that hold numbers.
    first_row : int
        Non-empty lines of the file before the first of them.
    """

    lines: list[str] = field(repr=False)
    comma: bool
    channels: int
    first_row: int


def turned(head: TextHead, reading: Reading) -> Turned | None:
    """The rows as columns, where each row holds one channel; None where the file is laid out otherwise.

    Raises
    ------
    FileProblem
        If the rows are of unlike length, or the only row is too long to be held.
    """
    if reading.rows_are_channels is False or not head.lines:
        return None
    is_said = bool(reading.rows_are_channels)
    if len(head.lines) > MOST_ROWS and not is_said:
        return None
    if not is_said and max(line.count(sign) for line in head.lines for sign in ",;\t ") < LEAST_CELLS - 1:
        return None
    lines = head.lines if head.is_whole else _all_lines(head)
    if len(lines) > MOST_ROWS and not is_said:
        return None
    longest = max(lines, key=len)
    delimiter, comma = signs_of([longest], lines[: lines.index(longest)], reading, head.path)
    rows = [_filled(cells_of(line, delimiter)) for line in lines]
    skip = reading.skip_rows or 0
    chosen = [place for place, row in enumerate(rows) if place >= skip and _is_channel(row, comma)]
    if not chosen or (not is_said and sum(map(len, rows)) < LEAST_CELLS):
        return None
    return _columns_of(head.path, rows, chosen, comma)


def _columns_of(path: Path, rows: list[list[str]], chosen: list[int], comma: bool) -> Turned:
    labels = [quoted_away(rows[place][0]) if number_in(rows[place][0], comma=comma) is None else "" for place in chosen]
    values = [rows[place][1:] if label else rows[place] for place, label in zip(chosen, labels, strict=True)]
    lengths = [len(one) for one in values]
    if len(set(lengths)) > 1:
        raise FileProblem(
            f"its rows hold unlike numbers of values ({', '.join(str(one) for one in lengths)})",
            file=path,
            do="Export rows of one length, or one row for each instant",
        )
    lines = [TURNED_BY.join(cells) for cells in zip(*values, strict=True)]
    names = [TURNED_BY.join(label.replace(TURNED_BY, " ") for label in labels)] if all(labels) else []
    return Turned([*names, *lines], comma, len(chosen), chosen[0])


def _is_channel(row: list[str], comma: bool) -> bool:
    """A name perhaps, then numbers only."""
    return len(row) >= LEAST_CELLS and all(number_in(cell, comma=comma) is not None for cell in row[1:])


def _filled(row: list[str]) -> list[str]:
    while row and not row[-1].strip():
        row.pop()
    return row


def _all_lines(head: TextHead) -> list[str]:
    size = head.path.stat().st_size
    if size > MOST_BYTES:
        raise FileProblem(
            f"it has rows of {size // len(head.lines):,} bytes", file=head.path, do="Export one row for each instant"
        )
    return all_lines(head)
