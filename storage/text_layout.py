"""Recognise how a text table is laid out: delimiter, decimal sign, where data begin, names, units, preamble."""

import csv
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.storage.text_cells import is_written, name_and_unit, number_in, unit_of

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
NUMERIC_SHARE = 0.6


@dataclass(frozen=True)
class Column:
    """One column of numbers.

    Attributes
    ----------
    index : int
        Place in the row, from 0.
    name : str
        Empty where the file has none.
    unit, factor : str or None, float
        Base unit and what values are multiplied by; None where the file has none.
    written_unit : str
        The unit as the file writes it.
    """

    index: int
    name: str
    unit: str | None
    factor: float
    written_unit: str


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
    """

    delimiter: str
    comma: bool
    first_row: int
    columns: tuple[Column, ...]
    preamble: dict[str, tuple[str, ...]] = field(repr=False)

    def in_words(self) -> str:
        """The layout as a person would say it."""
        parts = [f"columns divided by {WORDS[self.delimiter]}", "decimal comma" if self.comma else "decimal point"]
        parts.append(f"{self.first_row} lines before the data" if self.first_row else "no header")
        return ", ".join(parts)


def cells_of(line: str, delimiter: str) -> list[str]:
    """Cells of one line; quotes keep a delimiter inside a cell."""
    if delimiter == " ":
        return line.split()
    if '"' in line:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    return line.split(delimiter)


def recognise(lines: list[str], path: Path, *, is_whole: bool) -> Layout:
    """Recognise a table from its first lines.

    Parameters
    ----------
    lines : list of str
        Non-empty lines from the file's begin.
    path : Path
        For the error's text.
    is_whole : bool
        Whether these are all lines; otherwise the last one may be cut and is left out.

    Raises
    ------
    FileProblem
        If it is no table of samples, saying why.
    """
    _refuse_what_is_no_table(lines, path)
    sample = lines if is_whole or len(lines) < 3 else lines[:-1]
    tail = sample[-SAMPLE_ROWS:]
    best = max(
        ((_score(tail, delimiter, comma), (delimiter, comma)) for delimiter, comma in CANDIDATES), key=lambda s: s[0]
    )
    (rating, _), (delimiter, comma) = best
    if rating <= 0.0:
        raise FileProblem(
            "no table of numbers was found", file=path, do="Export the capture as CSV with one row for each instant"
        )
    rows = [cells_of(line, delimiter) for line in sample]
    numeric = _numeric_columns(rows[-SAMPLE_ROWS:], comma)
    first_row = _first_row(rows, numeric, comma)
    preamble = _preamble(rows[:first_row])
    columns = _described(rows[:first_row], rows[first_row:], numeric, comma)
    return Layout(delimiter, comma, first_row, columns, preamble)


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
    return sorted(
        index for index, count in counts.items() if count >= NUMERIC_SHARE * len(rows) or count > 0.2 * len(rows)
    )


def _first_row(rows: list[list[str]], numeric: list[int], comma: bool) -> int:
    """First row from which on the numeric columns hold numbers, three rows in succession at least."""

    def is_data(row: list[str]) -> bool:
        cells = [row[index] if index < len(row) else "" for index in numeric]
        values = [number_in(cell, comma=comma) for cell in cells]
        written = [is_written(cell, comma=comma) for cell in cells]
        return None not in values and written[0] and (len(written) == 1 or any(written[1:]))

    for start in range(len(rows)):
        ahead = rows[start : start + 3]
        if all(is_data(row) for row in ahead):
            return start
    return max(len(rows) - 1, 0)


def _preamble(rows: list[list[str]]) -> dict[str, tuple[str, ...]]:
    """Keys and values of the lines above the data."""
    found: dict[str, tuple[str, ...]] = {}
    for row in rows:
        cells = [cell.strip().strip('"') for cell in row]
        if len([cell for cell in cells if cell]) == 1:
            key, divider, value = re.sub(r"^#+\s*", "", cells[0]).partition(":" if ":" in cells[0] else "=")
            if divider:
                found.setdefault(key.strip().lower(), (value.strip(),))
        elif cells and cells[0]:
            key = re.sub(r"^#+\s*", "", cells[0]).rstrip(":").strip().lower()
            found.setdefault(key, tuple(cell for cell in cells[1:] if cell))
    return found


def _described(head: list[list[str]], data: list[list[str]], numeric: list[int], comma: bool) -> tuple[Column, ...]:
    """Names and units of the numeric columns, from the rows right above the data."""
    header = [row for row in head if any(cell.strip() for cell in row)]
    units: list[str] = []
    if header and _is_units_row(header[-1]):
        units = header.pop()
    names = header[-1] if header and _is_names_row(header[-1], numeric, comma, bool(units)) else []
    found = []
    for index in numeric:
        name, unit = name_and_unit(_cell(names, index))
        written = _cell(units, index)
        unit_row = unit_of(written) if written else None
        if unit_row is not None:
            unit = unit_row
        found.append(
            Column(
                index=index,
                name=re.sub(r"^#+\s*", "", name),
                unit=unit[0] if unit else None,
                factor=unit[1] if unit else 1.0,
                written_unit=(written or _cell(names, index)).strip().strip('"').strip("()[] "),
            )
        )
    return tuple(found)


def _cell(row: list[str], index: int) -> str:
    return row[index].strip() if index < len(row) else ""


def _is_units_row(row: list[str]) -> bool:
    filled = [cell for cell in row if cell.strip()]
    known = sum(unit_of(cell) is not None for cell in filled)
    return (
        len(filled) >= 1
        and known >= 0.6 * len(filled)
        and not any(is_written(cell, comma=False) for cell in filled[:1])
    )


def _is_names_row(row: list[str], numeric: list[int], comma: bool, has_units: bool) -> bool:
    cells = [_cell(row, index) for index in numeric]
    texts = sum(bool(cell) and not is_written(cell, comma=comma) for cell in cells)
    return texts >= max(1, len(numeric) - 1) and (has_units or len(row) >= numeric[-1])
