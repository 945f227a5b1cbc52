"""Numbers of a text table, block by block: a fast way for rows that are all alike, a careful one for the rest."""

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.storage.text_bytes import plain_lines
from loomlight.storage.text_cells import clock_s, is_written, number_in
from loomlight.storage.text_cuts import BLANK, TAB, Cuts, cuts_of, without_quotes
from loomlight.storage.text_fixed import Bytes, column_of
from loomlight.storage.text_layout import Layout
from loomlight.storage.text_signs import cells_of

Table = npt.NDArray[np.float64]
KEEP_BAD = 5
LEAST_BYTES = 1 << 15
"""A block shorter than this is not halved again to set apart what is alike from what is not."""
PLAIN = np.zeros(256, dtype=bool)
PLAIN[list(b"0123456789+-.eE")] = True


@dataclass
class BadCells:
    """Cells that are no numbers: how many, and where the first ones stand (data rows from 0).

    ``crowded`` and ``short`` are the rows with more and with fewer cells than the table has columns.
    """

    count: int = 0
    first: list[tuple[int, int, str]] = field(default_factory=list)
    crowded: int = 0
    first_crowded: int = 0
    short: int = 0
    first_short: int = 0

    def note(self, row: int, column: int, text: str) -> None:
        """Count one."""
        self.count += 1
        if len(self.first) < KEEP_BAD:
            self.first.append((row, column, text))

    def note_crowded(self, row: int) -> None:
        """Count one row with more numbers than the table has columns: which is which cannot be told."""
        if not self.crowded:
            self.first_crowded = row
        self.crowded += 1

    def note_short(self, row: int) -> None:
        """Count one row with fewer cells than the others: what is missing is taken to be at its end."""
        if not self.short:
            self.first_short = row
        self.short += 1


@dataclass(frozen=True)
class Cells:
    """How many cells a row has, trailing empty ones included: usually, and at most (a first row may tell more)."""

    usual: int
    most: int


def parse_block(block: bytes, layout: Layout, *, cells: Cells, first_row: int, bad: BadCells) -> Table:
    """Numbers of one block of whole lines.

    Parameters
    ----------
    block : bytes
        Whole lines, as they stand in the file but in an encoding that agrees with ASCII; blank ones are left out.
    layout : Layout
        Which columns to take.
    cells : Cells
        How many a row of this table has.
    first_row : int
        Number of the block's first data row, for `bad`.
    bad : BadCells
        Takes note of cells that are no numbers.

    Returns
    -------
    ndarray of float64, shape (rows, len(layout.columns))
        In the file's own units; not-a-number where not acquired or no number, infinite beyond the range.
    """
    fast = _fast(block, layout, cells.usual)
    if fast is not None:
        return fast
    plain = without_blank_lines(plain_lines(block))
    return _in_halves(plain, layout, cells, first_row, bad)


def _in_halves(block: bytes, layout: Layout, cells: Cells, first_row: int, bad: BadCells) -> Table:
    """The fast way for as much of a block as it can be used for, the careful one for the rest."""
    fast = _fast(block, layout, cells.usual)
    if fast is not None:
        return fast
    middle = block.find(b"\n", len(block) // 2) + 1
    if len(block) < LEAST_BYTES or not 0 < middle < len(block):
        return _careful(block, layout, cells, first_row, bad)
    upper = _in_halves(block[:middle], layout, cells, first_row, bad)
    return np.concatenate([upper, _in_halves(block[middle:], layout, cells, first_row + len(upper), bad)])


def without_blank_lines(block: bytes) -> bytes:
    """Whole lines, each ended by one line feed, without those that hold nothing but blanks and tabs."""
    signs = np.frombuffer(block, dtype=np.uint8)
    starts = signs[np.flatnonzero(signs[:-1] == ord("\n")) + 1]
    if ((starts == BLANK) | (starts == TAB)).any() or block.startswith((b" ", b"\t", b"\n")):
        return b"".join(line for line in block.splitlines(keepends=True) if line.strip())
    return block


def _fast(block: bytes, layout: Layout, cells: int) -> Table | None:
    """All rows at once, or None where any row has another number of cells or one that is no plain number."""
    if any(column.is_clock for column in layout.columns) or max(column.index for column in layout.columns) >= cells:
        return None
    delimiter = layout.delimiter.encode()
    if b'"' in block:
        unquoted = without_quotes(block, delimiter)
        if unquoted is None:
            return None
        block, delimiter = unquoted
    cuts = cuts_of(block, delimiter, cells)
    if cuts is None:
        return None
    table = np.empty((len(layout.columns), cuts.starts.shape[1])).T  # column by column in memory
    decimal = ord("," if layout.comma else ".")
    for place, column in enumerate(layout.columns):
        values = column_of(cuts.raw, cuts.starts[column.index], cuts.ends[column.index], decimal)
        if values is None:
            return _from_text(block, delimiter, cuts, layout)
        table[:, place] = values
    lost = np.isnan(table[:, 0])
    # A row without any number may be a blank line.
    return None if lost.any() and np.isnan(table[lost]).all(axis=1).any() else table


def _from_text(block: bytes, delimiter: bytes, cuts: Cuts, layout: Layout) -> Table | None:
    """Plain numbers of any length.

    ``np.fromstring`` alone would shift columns on an empty cell or a short row without a word.
    """
    raw = np.frombuffer(block, dtype=np.uint8)
    decimal = b"," if layout.comma else b"."
    allowed = PLAIN.copy()
    allowed[ord(".")] = False
    allowed[list(b"\r\n " + delimiter + decimal + (b"\t" if delimiter == b" " else b""))] = True
    if not allowed[raw].all():
        return None
    cells, rows = cuts.starts.shape
    filled = [_is_filled(cuts.raw, starts, ends) for starts, ends in zip(cuts.starts, cuts.ends, strict=True)]
    wide = cells - int(cells > 1 and not filled[-1].any())
    if not all(one.all() for one in filled[:wide]):
        return None
    table = bytes.maketrans(delimiter + decimal + b"\r\n\t", b" .   ")
    try:
        values = np.fromstring(block.translate(table).decode("ascii"), sep=" ")
    except (ValueError, DeprecationWarning):
        return None
    if values.size != rows * wide or max(column.index for column in layout.columns) >= wide:
        return None
    chosen: Table = values.reshape(-1, wide)[:, [column.index for column in layout.columns]]
    return chosen


def _is_filled(raw: Bytes, starts: npt.NDArray[np.int64], ends: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Whether a cell holds more than blanks."""
    counted = np.concatenate([[0], np.cumsum(raw != BLANK)])
    filled: npt.NDArray[np.bool_] = counted[ends] > counted[starts]
    return filled


def _careful(block: bytes, layout: Layout, usual: Cells, first_row: int, bad: BadCells) -> Table:
    rows = block.decode("utf-8", errors="replace").split("\n")[:-1]
    values = np.full((len(rows), len(layout.columns)), np.nan)
    for row, line in enumerate(rows):
        cells = cells_of(line, layout.delimiter)
        if any(is_written(cell, comma=layout.comma) for cell in cells[usual.most :]):
            # One delimiter too many: which number belongs to which column cannot be told.
            bad.note_crowded(first_row + row)
            continue
        if len(cells) < usual.usual:
            bad.note_short(first_row + row)
        for place, column in enumerate(layout.columns):
            text = cells[column.index] if column.index < len(cells) else ""
            number = (
                clock_s(text, month_first=column.month_first)
                if column.is_clock
                else number_in(text, comma=layout.comma)
            )
            if number is None:
                bad.note(first_row + row, column.index, text.strip())
                number = math.nan
            values[row, place] = number
    return values
