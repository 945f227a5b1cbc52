"""Numbers of a text table, block by block: a fast way for rows that are all alike, a careful one for the rest."""

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.storage.text_cells import clock_s, number_in
from loomlight.storage.text_fixed import WIDEST, fixed_column
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
    """All rows at once, or None where any row has another number of cells or one that is no plain number."""
    if layout.delimiter == " " or any(column.is_clock for column in layout.columns) or b'"' in block:
        return None
    raw = np.frombuffer(bytes(WIDEST) + block, dtype=np.uint8)
    ends = np.flatnonzero(raw == 10)
    cuts = np.flatnonzero(raw == ord(layout.delimiter))
    if not ends.size or cuts.size % ends.size:
        return None
    seams = np.concatenate([np.concatenate([[WIDEST - 1], ends[:-1]])[:, None], cuts.reshape(ends.size, -1)], axis=1)
    seams = np.concatenate([seams, ends[:, None]], axis=1)
    cells = seams.shape[1] - 1
    if (np.diff(seams, axis=1) < 1).any() or max(column.index for column in layout.columns) >= cells:
        return None
    table = _all_alike(raw, seams, layout)
    return table if table is not None else _from_text(block, seams, layout)


def _all_alike(raw: npt.NDArray[np.uint8], seams: npt.NDArray[np.int64], layout: Layout) -> Table | None:
    """Columns whose cells are all written alike."""
    table = np.empty((len(seams), len(layout.columns)))
    for place, column in enumerate(layout.columns):
        starts, ends = seams[:, column.index] + 1, seams[:, column.index + 1]
        values = fixed_column(raw, starts, ends, ord("," if layout.comma else "."))
        if values is None:
            return None
        table[:, place] = values
    return table


def _from_text(block: bytes, seams: npt.NDArray[np.int64], layout: Layout) -> Table | None:
    """Plain numbers of any width.

    ``np.fromstring`` alone would shift columns on an empty cell or a short row without a word.
    """
    raw = np.frombuffer(block, dtype=np.uint8)
    signs = b"\n " + layout.delimiter.encode() + (b"," if layout.comma else b".")
    allowed = PLAIN.copy()
    allowed[list(signs)] = True
    if layout.comma:
        allowed[ord(".")] = False
    if not allowed[raw].all():
        return None
    cells = seams.shape[1] - 1
    widths = np.diff(seams, axis=1) - 1
    filled = raw != 32
    if not filled.all():
        # A cell of blanks is an empty one.
        counted = np.concatenate([[0], np.cumsum(filled)])
        starts = seams[:, :-1] + 1 - WIDEST
        widths = counted[starts + widths] - counted[starts]
    wide = cells - int(cells > 1 and not widths[:, -1].any())
    if (widths[:, :wide] == 0).any():
        return None
    table = bytes.maketrans(layout.delimiter.encode() + b"\n" + (b"," if layout.comma else b"."), b"  .")
    try:
        values = np.fromstring(block.translate(table).decode("ascii"), sep=" ")
    except (ValueError, DeprecationWarning):
        return None
    if values.size != len(seams) * wide or max(column.index for column in layout.columns) >= wide:
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
