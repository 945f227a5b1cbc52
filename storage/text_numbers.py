"""Numbers of a text table, block by block: a fast way for rows that are all alike, a careful one for the rest."""

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.storage.text_cells import clock_s, number_in
from loomlight.storage.text_layout import Layout, cells_of

Table = npt.NDArray[np.float64]
KEEP_BAD = 5
PLAIN = np.zeros(256, dtype=bool)
PLAIN[list(b"0123456789+-.eE")] = True


@dataclass
class BadCells:
    """Cells that are no numbers: how many, and where the first ones stand (data rows from 0)."""

    count: int = 0
    first: list[tuple[int, int, str]] = field(default_factory=list)

    def note(self, row: int, column: int, text: str) -> None:
        """Count one."""
        self.count += 1
        if len(self.first) < KEEP_BAD:
            self.first.append((row, column, text))


def parse_block(block: bytes, layout: Layout, *, first_row: int, bad: BadCells) -> Table:
    """Numbers of one block of whole lines.

    Parameters
    ----------
    block : bytes
        Lines without blank ones, each ended by a line feed.
    layout : Layout
        Which columns to take.
    first_row : int
        Number of the block's first data row, for `bad`.
    bad : BadCells
        Takes note of cells that are no numbers.

    Returns
    -------
    ndarray of float64, shape (rows, len(layout.columns))
        In the file's own units; not-a-number where not acquired or no number, infinite beyond the range.
    """
    fast = _fast(block, layout)
    return fast if fast is not None else _careful(block, layout, first_row, bad)


def _fast(block: bytes, layout: Layout) -> Table | None:
    """All rows at once, or None where any row has another number of cells, an empty cell or anything but digits.

    ``np.fromstring`` alone would shift columns on an empty cell or a short row without a word.
    """
    if layout.delimiter == " " or any(column.is_clock for column in layout.columns):
        return None
    raw = np.frombuffer(block, dtype=np.uint8)
    is_end = raw == 10
    is_cut = raw == ord(layout.delimiter)
    decimal = ord(",") if layout.comma else ord(".")
    plain = PLAIN[raw] | is_end | is_cut | (raw == decimal) | (raw == 32)
    if not plain.all() or (layout.comma and (raw == ord(".")).any()):
        return None
    ends = np.flatnonzero(is_end)
    cuts = np.flatnonzero(is_cut)
    per_row = np.diff(np.searchsorted(cuts, ends), prepend=0)
    if not ends.size or per_row.min() != per_row.max():
        return None
    cells = int(per_row[0]) + 1
    seams = np.sort(np.concatenate([[-1], ends, cuts]))
    widths = np.diff(seams) - 1
    last_empty = widths.reshape(-1, cells)[:, -1] == 0
    trailing = bool(last_empty.all()) and cells > 1
    if (widths.reshape(-1, cells)[:, : cells - trailing] == 0).any():
        return None
    table = bytes.maketrans(layout.delimiter.encode() + b"\n" + (b"," if layout.comma else b"."), b"  .")
    try:
        values = np.fromstring(block.translate(table).decode("ascii"), sep=" ")
    except (ValueError, DeprecationWarning):
        return None
    wide = cells - trailing
    if values.size != ends.size * wide or max(column.index for column in layout.columns) >= wide:
        return None
    chosen: Table = values.reshape(-1, wide)[:, [column.index for column in layout.columns]]
    return chosen


def _careful(block: bytes, layout: Layout, first_row: int, bad: BadCells) -> Table:
    rows = block.decode("utf-8", errors="replace").split("\n")[:-1]
    values = np.full((len(rows), len(layout.columns)), np.nan)
    for row, line in enumerate(rows):
        cells = cells_of(line, layout.delimiter)
        for place, column in enumerate(layout.columns):
            text = cells[column.index] if column.index < len(cells) else ""
            number = clock_s(text) if column.is_clock else number_in(text, comma=layout.comma)
            if number is None:
                bad.note(first_row + row, column.index, text.strip())
                number = math.nan
            values[row, place] = number
    return values
