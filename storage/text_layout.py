"""Recognise how a text table is laid out: delimiter, decimal sign, where data begin, names, units, preamble."""

import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.text_cells import is_written, number_in, quoted_away
from loomlight.storage.text_columns import clock_column, text_columns, units_beside
from loomlight.storage.text_header import Column, Preamble, as_said, described, preamble_of
from loomlight.storage.text_signs import SAMPLE_ROWS, cells_of, signs_of

WORDS = {";": "semicolons", "\t": "tabs", ",": "commas", " ": "blanks"}
NUMERIC_SHARE = 0.2
TEXT_SHARE = 0.3
LAST_ROWS, AHEAD = 3, 5
MOST_UNEXPLAINED = 4
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
    texts : tuple of str
        Names of columns that hold text, left out.
    unexplained : int
        Rows of whole numbers above the data that nothing explains.
    turned : bool
        Whether each row of the file holds one channel; the layout is then that of the columns made of them.
    """

    delimiter: str
    comma: bool
    first_row: int
    columns: tuple[Column, ...]
    preamble: Preamble = field(repr=False)
    head: tuple[tuple[str, ...], ...] = field(default=(), repr=False)
    texts: tuple[str, ...] = ()
    unexplained: int = 0
    turned: bool = False

    def in_words(self) -> str:
        """The layout as a person would say it."""
        if self.turned:
            return f"each row one channel, {'decimal comma' if self.comma else 'decimal point'}"
        parts = [f"columns divided by {WORDS[self.delimiter]}", "decimal comma" if self.comma else "decimal point"]
        lines = "1 line" if self.first_row == 1 else f"{self.first_row} lines"
        parts.append(f"{lines} before the data" if self.first_row else "no header")
        return ", ".join(parts)


def recognise(
    lines: list[str], path: Path, *, is_whole: bool, reading: Reading = NOTHING_SAID, leading: int = 0
) -> Layout:
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
    leading : int
        How many lines stand before the first empty one.

    Raises
    ------
    FileProblem
        If it is no table of samples, saying why.
    """
    sample = lines if is_whole or len(lines) < 3 else lines[:-1]
    if reading.skip_rows is not None and reading.skip_rows >= len(sample):
        raise FileProblem(
            f"there is no row of data behind the first {reading.skip_rows}", file=path, do="Skip fewer rows"
        )
    behind = sample[reading.skip_rows or 0 :]
    delimiter, comma = signs_of(behind[-SAMPLE_ROWS:], sample[:SAMPLE_ROWS], reading, path)
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
    numeric = _with_ended(data, numeric, comma)
    unexplained = 0
    if reading.skip_rows is None and len(numeric) == 1 and not head:
        first_row = unexplained = _unexplained(leading, data)
        head, data = rows[:first_row], rows[first_row:]
    if reading.delimiter is None:
        _refuse_what_cannot_be_told(head, data, numeric, delimiter=delimiter, comma=comma, path=path)
    shown = data[-SAMPLE_ROWS:]
    _refuse_settings(shown, numeric, path)
    columns = described(head, sample[:first_row], data, numeric, comma=comma, delimiter=delimiter)
    clock = clock_column(shown, head, reading.date_order, path)
    texts = text_columns(shown, head, [*numeric, *(one.index for one in clock)], comma=comma)
    said = as_said((*units_beside(columns, shown), *clock), reading, path)
    if not said:
        raise FileProblem("every column of numbers was left out", file=path, do="Leave fewer columns out")
    return Layout(
        delimiter,
        comma,
        first_row,
        said,
        preamble_of(head, data, numeric),
        head=tuple(tuple(row) for row in head),
        texts=texts,
        unexplained=unexplained,
    )


def _unexplained(leading: int, data: list[list[str]]) -> int:
    """Rows of whole numbers that stand above an empty line and a column of values, without a word of what they are."""
    if not 0 < leading <= MOST_UNEXPLAINED or len(data) < 4 * leading:
        return 0
    return leading if all(_is_whole(row[0]) for row in data[:leading]) else 0


def _is_whole(cell: str) -> bool:
    return quoted_away(cell).lstrip("+-").isdecimal()


def _refuse_settings(data: list[list[str]], numeric: list[int], path: Path) -> None:
    """Keys with one number each are settings; a table says something new to each of its rows in numbers only."""
    keys = [quoted_away(row[0]) for row in data if row]
    words = [key for key in keys if re.match(r"[^\W\d]{2,}", key)]
    if numeric[0] > 0 and len(numeric) == 1 and len(words) > 0.8 * len(data) and len(set(words)) > 0.8 * len(words):
        raise FileProblem(
            "this is a list of settings, it holds no samples", file=path, do="Open the file with the waveform itself"
        )


def _refuse_what_cannot_be_told(
    head: list[list[str]], data: list[list[str]], numeric: list[int], *, delimiter: str, comma: bool, path: Path
) -> None:
    if len(numeric) > MOST_COLUMNS:
        raise FileProblem(
            f"it has {len(numeric)} columns of numbers, more than {MOST_COLUMNS}",
            file=path,
            do="Where each row holds one channel, say so (--rows-are-channels); else export fewer channels",
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


def refuse_what_is_no_table(lines: list[str], path: Path) -> None:
    """Raise FileProblem for what is text but never a table: a web page, a pointer to a file kept elsewhere."""
    start = lines[0].lstrip().lower() if lines else ""
    if start.startswith(("<!doctype", "<html", "<?xml", "<head")):
        raise FileProblem("this is a web page, not a capture", file=path, do="Download the file itself")
    if start.startswith("version https://git-lfs"):
        raise FileProblem("this is only a pointer to the file", file=path, do="Fetch the file itself")


def _numeric_columns(rows: list[list[str]], comma: bool) -> list[int]:
    """Columns that hold numbers; one with text among them in the last rows (a decoded bus) is none."""
    counts = _filled_cells(rows, comma)
    last = _filled_cells(rows[-max(len(rows) // 4, LAST_ROWS) :], comma)
    enough = [index for index, (numbers, _) in counts.items() if numbers > NUMERIC_SHARE * len(rows)]
    return sorted(index for index in enough if not _is_mixed(*last.get(index, (0, 0))))


def _with_ended(data: list[list[str]], numeric: list[int], comma: bool) -> list[int]:
    """The columns of numbers and those that were such in the first rows and have only empty cells later: a shorter channel."""
    if len(data) <= 2 * SAMPLE_ROWS:
        return numeric
    last = _filled_cells(data[-SAMPLE_ROWS:], comma)
    ended = [index for index in _numeric_columns(data[:SAMPLE_ROWS], comma) if last.get(index, (0, 0)) == (0, 0)]
    return sorted({*numeric, *ended})


def _filled_cells(rows: list[list[str]], comma: bool) -> dict[int, tuple[int, int]]:
    """By column: cells that are numbers, and cells that are text."""
    numbers: Counter[int] = Counter()
    texts: Counter[int] = Counter()
    for row in rows:
        for index, cell in enumerate(row):
            if cell.strip():
                (numbers if number_in(cell, comma=comma) is not None else texts)[index] += 1
    return {index: (numbers[index], texts[index]) for index in {*numbers, *texts}}


def _is_mixed(numbers: int, texts: int) -> bool:
    return texts > 1 and texts > TEXT_SHARE * numbers


def _first_row(rows: list[list[str]], numeric: list[int], comma: bool) -> int:
    """First row from which on the numeric columns hold numbers: three of five rows at least, one may be spoilt."""

    def is_data(row: list[str]) -> bool:
        cells = [row[index] if index < len(row) else "" for index in numeric]
        values = [number_in(cell, comma=comma) for cell in cells]
        written = [is_written(cell, comma=comma) for cell in cells]
        # An empty value beside a time was not acquired; it is data all the same.
        return None not in values and written[0]

    for start in range(len(rows)):
        ahead = rows[start : start + AHEAD]
        if is_data(ahead[0]) and sum(is_data(row) for row in ahead) >= min(LAST_ROWS, len(ahead)):
            return start
    return max(len(rows) - 1, 0)
