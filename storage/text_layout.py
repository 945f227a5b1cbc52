"""Recognise how a text table is laid out: delimiter, decimal sign, where data begin, names, units, preamble."""

import csv
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.text_cells import clock_s, is_written, number_in
from loomlight.storage.text_header import Column, Preamble, as_said, described, preamble_of

CANDIDATES = (
    (";", True),
    (";", False),
    ("\t", True),
    ("\t", False),
    (",", False),
    (",", True),
    (" ", False),
    (" ", True),
)
WORDS = {";": "semicolons", "\t": "tabs", ",": "commas", " ": "blanks"}
SAMPLE_ROWS = 200
NUMERIC_SHARE = 0.2
MOST_COLUMNS = 64


@dataclass(frozen=True)
class Layout:
    """How a text table is laid out.

    Attributes
    ----------
    delimiter : str
        One of ``; , tab blank``.
    comma : bool
        Decimal comma.
    first_row : int
        Number of non-empty lines before the first row of data.
    columns : tuple of Column
        Those that hold numbers.
    preamble : dict
        Keys in lower case, each with its values.
    head : tuple of tuple of str
        The rows above the data, as cells.
    """

    delimiter: str
    comma: bool
    first_row: int
    columns: tuple[Column, ...]
    preamble: Preamble = field(repr=False)
    head: tuple[tuple[str, ...], ...] = field(default=(), repr=False)

    def in_words(self) -> str:
        """The layout as a person would say it."""
        parts = [f"columns divided by {WORDS[self.delimiter]}", "decimal comma" if self.comma else "decimal point"]
        lines = "1 line" if self.first_row == 1 else f"{self.first_row} lines"
        parts.append(f"{lines} before the data" if self.first_row else "no header")
        return ", ".join(parts)


def cells_of(line: str, delimiter: str) -> list[str]:
    """Cells of one line; quotes keep a delimiter inside a cell."""
    if delimiter == " ":
        return line.split()
    if '"' in line:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    return line.split(delimiter)


def recognise(lines: list[str], path: Path, *, is_whole: bool, reading: Reading = NOTHING_SAID) -> Layout:
    """Recognise a table from its first lines.

    Parameters
    ----------
    lines : list of str
        Non-empty lines from the file's begin.
    path : Path
        For the error's text.
    is_whole : bool
        Whether these are all lines; otherwise the last one may be cut and is left out.
    reading : Reading
        What the user said; the rest is told from the lines.

    Raises
    ------
    FileProblem
        If it is no table of samples, saying why.
    """
    _refuse_what_is_no_table(lines, path)
    sample = lines if is_whole or len(lines) < 3 else lines[:-1]
    if reading.skip_rows is not None and reading.skip_rows >= len(sample):
        raise FileProblem(
            f"there is no row of data behind the first {reading.skip_rows}", file=path, do="Skip fewer rows"
        )
    delimiter, comma = _signs(sample[reading.skip_rows or 0 :][-SAMPLE_ROWS:], reading, path)
    rows = [cells_of(line, delimiter) for line in sample]
    numeric = _numeric_columns(rows[-SAMPLE_ROWS:], comma)
    if not numeric:
        raise FileProblem(
            "no column holds numbers throughout",
            file=path,
            do="Export the capture as CSV with one row for each instant",
        )
    first_row = _first_row(rows, numeric, comma) if reading.skip_rows is None else reading.skip_rows
    head, data = rows[:first_row], rows[first_row:]
    if reading.delimiter is None:
        _refuse_what_cannot_be_told(head, data, numeric, delimiter=delimiter, comma=comma, path=path)
    columns = described(head, sample[:first_row], data, numeric, comma=comma, blanks=delimiter == " ")
    clock = _clock_column(rows[-SAMPLE_ROWS:], head)
    preamble = preamble_of(head, data, numeric)
    said = as_said((*columns, *clock), reading, path)
    return Layout(delimiter, comma, first_row, said, preamble, tuple(tuple(row) for row in head))


def _signs(tail: list[str], reading: Reading, path: Path) -> tuple[str, bool]:
    """Delimiter and whether the decimal sign is a comma."""
    candidates = [
        (delimiter, comma)
        for delimiter, comma in CANDIDATES
        if reading.delimiter in (None, delimiter) and reading.decimal in (None, "," if comma else ".")
    ]
    scores = ((_score(tail, delimiter, comma), (delimiter, comma)) for delimiter, comma in candidates)
    (rating, _), signs = max(scores, key=lambda score: score[0])
    if rating <= 0.0:
        raise FileProblem(
            "no table of numbers was found", file=path, do="Export the capture as CSV with one row for each instant"
        )
    return signs


def _clock_column(data: list[list[str]], head: list[list[str]]) -> tuple[Column, ...]:
    """The column of dates with a time of day, if there is one."""
    widest = max((len(row) for row in data), default=0)
    for index in range(widest):
        cells = [row[index] for row in data if index < len(row) and row[index].strip()]
        if len(cells) > 0.9 * len(data) and all(clock_s(cell) is not None for cell in cells):
            name = head[-1][index].strip() if head and index < len(head[-1]) else ""
            return (Column(index, name, "s", 1.0, "date and time of day", is_clock=True),)
    return ()


def _refuse_what_cannot_be_told(
    head: list[list[str]], data: list[list[str]], numeric: list[int], *, delimiter: str, comma: bool, path: Path
) -> None:
    if len(numeric) > MOST_COLUMNS:
        raise FileProblem(
            f"it has {len(numeric)} columns of numbers; one row for each channel is not read",
            file=path,
            do="Export one row for each instant, the time in a column of its own",
        )
    if delimiter != "," or comma or len(numeric) % 2:
        return
    second = [row[index] for row in data for index in numeric[1::2] if index < len(row)]
    names = [cell for cell in head[-1] if cell.strip()] if head else []
    unsigned = bool(second) and all(cell.strip().isdecimal() for cell in second)
    padded = any(cell.startswith("0") and len(cell) > 1 for cell in second)
    if unsigned and (2 * len(names) == len(numeric) or (padded and not names)):
        raise FileProblem(
            "commas stand both between the columns and as decimal sign, so they cannot be told apart",
            file=path,
            where=f"line {len(head) + 1}",
            do="Export with semicolons or tabs between the columns, or with a decimal point",
        )


def _refuse_what_is_no_table(lines: list[str], path: Path) -> None:
    start = lines[0].lstrip().lower() if lines else ""
    if start.startswith(("<!doctype", "<html", "<?xml", "<head")):
        raise FileProblem("this is a web page, not a capture", file=path, do="Download the file itself")
    if start.startswith("version https://git-lfs"):
        raise FileProblem("this is only a pointer to the file", file=path, do="Fetch the file itself")


def _score(lines: list[str], delimiter: str, comma: bool) -> tuple[float, float]:
    """How well a delimiter and decimal sign explain the rows: share of rows alike in shape, then cells that are numbers."""
    shapes: Counter[tuple[bool, ...]] = Counter()
    numeric = total = 0
    doubled = comma is False and delimiter == ","
    for line in lines:
        cells = cells_of(line, delimiter)
        while cells and not cells[-1].strip():
            cells.pop()
        shape = tuple(is_written(cell, comma=comma) for cell in cells)
        filled = [cell for cell in cells if cell.strip()]
        shapes[shape] += 1
        numeric += sum(shape)
        total += max(len(filled), 1)
        doubled = (
            doubled and len(cells) % 2 == 0 and bool(cells) and all(re.fullmatch(r"\s*\d+\s*", c) for c in cells[1::2])
        )
    if not numeric:
        return 0.0, 0.0
    alike = max((count for shape, count in shapes.items() if any(shape)), default=0) / max(len(lines), 1)
    whole = numeric / total
    # "0,5" under a comma delimiter doubles the columns, every second one an unsigned integer: a decimal comma is likelier.
    rating = alike * whole * (0.5 if doubled and _has_other_sign(lines) else 1.0)
    if comma and not any("," in line for line in lines):
        rating *= 0.99
    if delimiter == " " and any(one in line for line in lines for one in ";\t"):
        rating *= 0.5
    if delimiter == "," and lines and any(all(one in line for line in lines) for one in ";\t"):
        rating *= 0.5
    if not any(delimiter in line.strip(" ") for line in lines):
        rating *= 0.98  # of two ways to read a single column the one whose delimiter does occur
    if delimiter == "," and comma and not any('"' in line for line in lines):
        rating *= 0.5  # inside a cell a decimal comma can only stand in quotes
    return rating, float(numeric)


def _has_other_sign(lines: list[str]) -> bool:
    """Whether each line holds one comma for each number, as decimal commas would."""
    return all(re.fullmatch(r"\s*[+-]?\d+,\d+([eE][+-]?\d+)?\s*", line) for line in lines)


def _numeric_columns(rows: list[list[str]], comma: bool) -> list[int]:
    counts: Counter[int] = Counter()
    for row in rows:
        counts.update(
            index for index, cell in enumerate(row) if number_in(cell, comma=comma) is not None and cell.strip()
        )
    return sorted(index for index, count in counts.items() if count > NUMERIC_SHARE * len(rows))


def _first_row(rows: list[list[str]], numeric: list[int], comma: bool) -> int:
    """First row from which on the numeric columns hold numbers, three rows in succession at least."""

    def is_data(row: list[str]) -> bool:
        cells = [row[index] if index < len(row) else "" for index in numeric]
        values = [number_in(cell, comma=comma) for cell in cells]
        written = [is_written(cell, comma=comma) for cell in cells]
        # An empty value beside a time was not acquired; it is data all the same.
        return None not in values and written[0]

    for start in range(len(rows)):
        ahead = rows[start : start + 3]
        if all(is_data(row) for row in ahead):
            return start
    return max(len(rows) - 1, 0)
