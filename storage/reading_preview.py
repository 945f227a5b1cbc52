"""What a text file looks like before it is read: its first rows, what each column was taken for, what stays open."""

import hashlib
import json
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.storage.csv_reader import capture_of, refuse_spectrum
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.reading_questions import Account, OpenQuestion, Question
from loomlight.storage.text_cells import clock_s, is_written, quoted_away
from loomlight.storage.text_head import TextHead, head_of
from loomlight.storage.text_header import Column
from loomlight.storage.text_layout import Layout
from loomlight.storage.text_signs import cells_of
from loomlight.storage.text_source import sources_of
from loomlight.storage.text_table import TextTable
from loomlight.storage.time_column import time_groups

Role = Literal["time", "value", "left out", "not numbers"]
MOST_ROWS = 40
ROWS_OF_DATA = 10
MOST_CELLS = 64


@dataclass(frozen=True)
class PreviewRow:
    """One row as it stands in the file.

    Attributes
    ----------
    line : int
        Its line in the file, from 1, blank lines counted.
    cells : tuple of str
        At most 64 cells, without quotes.
    is_data : bool
        Whether it is taken for samples.
    """

    line: int
    cells: tuple[str, ...]
    is_data: bool


@dataclass(frozen=True)
class PreviewColumn:
    """What a column was taken for.

    Attributes
    ----------
    number : int
        From 1, as it stands in the file.
    name : str
        Empty where the file has none.
    unit : str
        As the file writes it, or as the user said; empty where there is none.
    role : str
        ``time``, ``value``, ``left out`` (by the user, or it only repeats or counts) or ``not numbers``.
    is_guess : bool
        Whether the role was guessed: neither the file nor the user says so.
    """

    number: int
    name: str
    unit: str
    role: Role
    is_guess: bool


@dataclass(frozen=True, eq=False)
class ReadingPreview:
    """A file before it is read.

    Attributes
    ----------
    rows : tuple of PreviewRow
        The first 40 non-empty rows; more where the data begin later.
    first_data_row : int
        Number of non-empty rows before the first row of data.
    columns : tuple of PreviewColumn
        Every column of the rows of data.
    time_column : int
        Number of the time column, 0 where there is none.
    questions : tuple of Question
        What stays open, what stops the reading first.
    layout : str
        How it is laid out, in words.
    notes : tuple of str
        What was assumed about these first rows.
    capture : Capture or None
        The channels of the first rows alone, to draw; None where a question or a problem stops it.
    problem : str
        Why it cannot be read as it was said; empty where it can.
    fingerprint : str
        Of the structure: delimiter, header words, columns; never of path or values. Empty where the structure is not recognised.
    reading : Reading
        The answers that this preview was made with.
    options : tuple of str
        The command-line options that give the same.
    """

    rows: tuple[PreviewRow, ...]
    first_data_row: int
    columns: tuple[PreviewColumn, ...]
    time_column: int
    questions: tuple[Question, ...]
    layout: str
    notes: tuple[str, ...]
    capture: Capture | None = field(repr=False)
    problem: str
    fingerprint: str
    reading: Reading
    options: tuple[str, ...]


def preview(path: Path, reading: Reading | None = None) -> ReadingPreview:
    """Look at a text file's first quarter of a megabyte.

    Parameters
    ----------
    path : Path
        A text file.
    reading : Reading or None
        What the user said so far.

    Raises
    ------
    FileProblem
        If it cannot be read, is no text, or no table of numbers even with what was said.
    """
    said = reading or NOTHING_SAID
    head = head_of(path)
    account = Account(said)
    sources = sources_of(head, account)
    layout = sources[0].layout
    capture, problem = None, ""
    first: tuple[Question, ...] = ()
    tables = [source.first_rows() for source in sources]
    try:
        refuse_spectrum(layout, path)
        capture = capture_of(tables, account)
    except OpenQuestion as error:
        problem, first = str(error), (error.question,)
    except FileProblem as error:
        problem = str(error)
    fingerprint, _ = structure_of(head)
    columns = _columns(tables[0], account)
    return ReadingPreview(
        rows=_rows(head, layout),
        first_data_row=layout.first_row,
        columns=columns,
        time_column=next((one.number for one in columns if one.role == "time"), 0),
        questions=(*first, *account.questions),
        layout=layout.in_words(),
        notes=tuple(account.notes),
        capture=capture,
        problem=problem,
        fingerprint=fingerprint,
        reading=said,
        options=said.options(),
    )


def structure_of(head: TextHead) -> tuple[str, bool]:
    """Fingerprint of a file's structure as it is told without any answer, and whether header words are part of it.

    Empty where the structure is not recognised.
    """
    try:
        sources = sources_of(head, Account())
    except FileProblem:
        return "", False
    layout = sources[0].layout
    names = [_words(column.name) for column in layout.columns]
    units = [column.written_unit for column in layout.columns]
    keys = sorted(key for key in layout.preamble if not re.search(r"\d", key))
    told = [
        layout.turned,
        len(sources) > 1,
        layout.delimiter,
        layout.comma,
        layout.first_row,
        [column.index for column in layout.columns],
    ]
    text = json.dumps([*told, names, units, keys], ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:32], bool(keys or any(names) or any(units))


def _words(name: str) -> str:
    """A name without what changes from export to export: a run of digits counts as one."""
    return re.sub(r"\d+", "0", name.strip().lower())


def _rows(head: TextHead, layout: Layout) -> tuple[PreviewRow, ...]:
    shown = max(MOST_ROWS, layout.first_row + ROWS_OF_DATA)
    numbers = head.line_numbers(shown)
    return tuple(
        PreviewRow(
            line=numbers[place],
            cells=tuple(quoted_away(cell) for cell in cells_of(line, layout.delimiter)[:MOST_CELLS]),
            is_data=place >= layout.first_row,
        )
        for place, line in enumerate(head.lines[: len(numbers)])
    )


def _columns(table: TextTable, account: Account) -> tuple[PreviewColumn, ...]:
    layout = table.layout
    rows = [cells_of(line, layout.delimiter) for line in table.lines[layout.first_row :][:200]]
    width = min(max((len(_filled(row)) for row in rows), default=0), MOST_CELLS)
    taken = {column.index: column for column in layout.columns}
    times, values = _groups(table, account)
    asked = {question.column for question in account.questions if question.about == "time"}
    shown = []
    for index in range(width):
        column, number = taken.get(index), index + 1
        if column is None:
            has_number = any(index < len(row) and _is_number(row[index], layout) for row in rows)
            shown.append(PreviewColumn(number, "", "", "left out" if has_number else "not numbers", False))
            continue
        role: Role = "time" if column in times else "value" if column in values else "left out"
        is_guess = role == "time" and number in asked
        shown.append(PreviewColumn(number, column.name, column.written_unit, role, is_guess))
    return tuple(shown)


def _groups(table: TextTable, account: Account) -> tuple[list[Column], list[Column]]:
    try:
        groups = time_groups(table, Account(account.reading))
    except FileProblem:
        return [], list(table.layout.columns)
    return [time for time, _ in groups if time is not None], [one for _, own in groups for one in own]


def _filled(row: list[str]) -> list[str]:
    while row and not row[-1].strip():
        row = row[:-1]
    return row


def _is_number(cell: str, layout: Layout) -> bool:
    return is_written(cell, comma=layout.comma) or clock_s(cell) is not None
