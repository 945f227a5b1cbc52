"""A text table as it was read: its columns of numbers, its preamble, and where each row stands in the file."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.long_columns import SPARE, LongColumn, Numbers, falls, largest_size
from loomlight.storage.text_bytes import blocks_of_lines, plain_lines
from loomlight.storage.text_cells import decimals_of_clock, digit_of, quantity_in, unit_of
from loomlight.storage.text_header import Column
from loomlight.storage.text_layout import Layout
from loomlight.storage.text_numbers import BadCells, Cells, parse_block, without_blank_lines
from loomlight.storage.text_signs import cells_of

INTERVAL_KEYS = ("sample interval", "sampling interval", "sampling period", "sample period", "delta t", "delta_x")
INTERVAL_WORDS = ("increment", "interval", "clock", "dt", "xincrement", "x increment")
RATE_KEYS = ("sample rate", "sampling rate", "samplerate", "sampling frequency", "sample frequency")
RATE_WORDS = ("rate", "fs")
PLAUSIBLE = 1e-15, 1e15
"""Seconds or hertz; beyond, a stated interval or rate was spoilt on the way."""
START_KEYS = ("start", "t0", "x0", "xorigin", "x origin")
MOST_FALLS = 2
"""A column that falls more often than this in a block is no time and is kept in single precision."""
USUAL_ROWS = 400


@dataclass(eq=False)
class TextTable:
    """One table of numbers on its way to a capture.

    Attributes
    ----------
    path, encoding : Path, str
        The file.
    layout : Layout
        How it is laid out.
    lines : list of str
        Non-empty lines from its begin.
    columns : dict
        Numbers of each column by its place in a row, in base units; float64 where it could be the time, else float32.
    rows : int
        Rows of data.
    bad : BadCells
        Cells that are no numbers.
    lines_before : int
        Non-empty lines of the file above `lines`.
    """

    path: Path
    encoding: str
    layout: Layout
    lines: list[str] = field(repr=False)
    columns: dict[int, Numbers] = field(repr=False)
    rows: int
    bad: BadCells
    lines_before: int = 0

    def values(self, column: Column) -> Numbers:
        """Numbers of one column, in its base unit."""
        return self.columns[column.index]

    def digit_s(self, time: Column) -> float:
        """One unit of the last written digit of a time column, seconds."""
        rows = self.lines[self.layout.first_row :]
        cells = [cells_of(line, self.layout.delimiter) for line in (*rows[:50], *rows[-51:-1])]
        texts = [row[time.index] for row in cells if time.index < len(row)]
        if time.is_clock:
            return min((10.0 ** -decimals_of_clock(text) for text in texts), default=1.0)
        largest = largest_size(self.values(time)) / time.factor
        return digit_of(texts, largest, comma=self.layout.comma) * time.factor

    def interval_s(self) -> float | None:
        """The sample interval that the preamble states, seconds."""
        stated = self.stated_interval()
        return stated[0] if stated is not None else None

    def stated_interval(self) -> tuple[float, float] | None:
        """The sample interval that the preamble states, seconds, and half a unit of its last written digit as a share."""
        for is_rate in (False, True):
            for key, found in self.layout.preamble.items():
                if not found or not (_is_rate_key(key) if is_rate else _is_interval_key(key)):
                    continue
                value = self._quantity(found[0])
                unit = unit_of(found[1]) if len(found) > 1 else None
                if value is not None and PLAUSIBLE[0] < value < PLAUSIBLE[1]:
                    doubt = 0.5 * 10.0 ** (1 - _digits(found[0])) / _leading(value)
                    value *= unit[1] if unit and unit[0] in ("s", "Hz") else 1.0
                    return (1.0 / value if is_rate else value), doubt
        return None

    def start_s(self) -> float | None:
        """The time of the first sample that the preamble states, seconds."""
        for key in START_KEYS:
            value = self.stated(key)
            if value is not None:
                reference = self.stated("xreference", "x reference") or 0.0
                return value - reference * (self.interval_s() or 0.0)
        return None

    def stated(self, *keys: str) -> float | None:
        """The first number that the preamble gives under one of some keys, in the base unit."""
        for key in keys:
            found = self.layout.preamble.get(key)
            value = self._quantity(found[0]) if found else None
            if value is not None:
                return value
        return None

    def stated_for_each(self, key: str, count: int) -> tuple[float, ...]:
        """The numbers that the preamble gives under a key, one for each of ``count`` channels; else none."""
        values = [self._quantity(text) for text in self.layout.preamble.get(key, ())]
        numbers = tuple(value for value in values if value is not None)
        return numbers if len(numbers) == len(values) == count else ()

    def _quantity(self, text: str) -> float | None:
        return quantity_in(text.replace(",", ".") if self.layout.comma else text)

    def where(self, row: int) -> str:
        """Line of a data row, counted in the file as it stands, blank lines included."""
        if self.layout.turned:
            return f"value {row + 1}"
        wanted, seen, number = self.lines_before + self.layout.first_row + row + 1, 0, 0
        for block in blocks_of_lines(self.path, self.encoding, unwatched):
            text = block.replace(b"\r\r\n", b"\n").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
            for line in text.removesuffix(b"\n").split(b"\n"):
                number += 1
                seen += bool(line.strip(b" \t\v\f\0"))
                if seen == wanted:
                    return f"line {number}"
        return f"data row {row + 1}"


def _digits(text: str) -> int:
    """How many digits of a number are written."""
    mantissa = re.sub(r"^\w+:", "", text.strip()).lower().partition("e")[0]
    return max(len(re.sub(r"[^0-9]", "", mantissa).lstrip("0")), 1)


def _leading(value: float) -> float:
    """The number between 1 and 10 that a value begins with."""
    return float(value / 10.0 ** np.floor(np.log10(value)))


def _is_key(key: str, wanted: tuple[str, ...]) -> bool:
    return any(key == one or key.startswith(f"{one} ") for one in wanted)


def _is_rate_key(key: str) -> bool:
    return _is_key(key, RATE_KEYS) or key in RATE_WORDS


def _is_interval_key(key: str) -> bool:
    return _is_key(key, INTERVAL_KEYS) or key in INTERVAL_WORDS


def read_table(path: Path, encoding: str, layout: Layout, lines: list[str], progress: Progress) -> TextTable:
    """Read all rows, block by block.

    Raises
    ------
    FileProblem
        If the file can no longer be read, or there is no row of data.
    """
    bad = BadCells()
    cells = cells_in(lines, layout)
    kept: dict[int, LongColumn] = {}
    may_be_time = {column.index for column in layout.columns}
    rows = 0
    for block in _data_blocks(path, encoding, layout, progress):
        numbers = parse_block(block, layout, cells=cells, first_row=rows, bad=bad)
        rows += len(numbers)
        for place, column in enumerate(layout.columns):
            values = numbers[:, place] if column.factor == 1.0 else numbers[:, place] * column.factor
            if column.index not in kept:
                kept[column.index] = LongColumn(_expected_rows(path, encoding, len(block), len(numbers)))
            if column.index in may_be_time and np.count_nonzero(falls(values)) > MOST_FALLS:
                may_be_time.discard(column.index)
                kept[column.index].to_single()
            kept[column.index].append(values)
    if not rows:
        raise FileProblem("there is no row of data", file=path, do="Export the capture again")
    columns = {index: column.whole() for index, column in kept.items()}
    return TextTable(path, encoding, layout, lines, columns, rows, bad)


def _expected_rows(path: Path, encoding: str, length: int, rows: int) -> int:
    """Rows of the whole file, by what the first block of it holds."""
    size = path.stat().st_size / (2 if encoding.startswith("utf-16") else 1)
    return max(rows, int(SPARE * size / max(length, 1) * rows)) + 16


def table_of_lines(path: Path, encoding: str, layout: Layout, lines: list[str]) -> TextTable:
    """Only the rows among the file's first lines, for a preview.

    Raises
    ------
    FileProblem
        If there is no row of data among them.
    """
    rows = lines[layout.first_row :]
    if not rows:
        raise FileProblem("there is no row of data", file=path, do="Export the capture again")
    bad = BadCells()
    numbers = parse_block(
        "".join(f"{row}\n" for row in rows).encode(), layout, cells=cells_in(lines, layout), first_row=0, bad=bad
    )
    columns: dict[int, Numbers] = {
        column.index: numbers[:, place] * column.factor for place, column in enumerate(layout.columns)
    }
    return TextTable(path, encoding, layout, lines, columns, len(rows), bad)


def cells_in(lines: list[str], layout: Layout) -> Cells:
    """How many cells the first rows of data have."""
    counts = [len(cells_of(line, layout.delimiter)) for line in lines[layout.first_row :][:USUAL_ROWS]]
    usual = Counter(counts).most_common(1)[0][0] if counts else 1
    above = lines[layout.first_row - 1 : layout.first_row] if layout.first_row else []
    return Cells(usual, max([usual, *(len(cells_of(line, layout.delimiter)) for line in above)]))


def _data_blocks(path: Path, encoding: str, layout: Layout, progress: Progress) -> Iterator[bytes]:
    skip = layout.first_row
    for block in blocks_of_lines(path, encoding, progress):
        if not skip:
            yield block
            continue
        plain = without_blank_lines(plain_lines(block))
        start = 0
        while skip and start < len(plain):
            start = plain.index(b"\n", start) + 1
            skip -= 1
        if plain[start:]:
            yield plain[start:]
