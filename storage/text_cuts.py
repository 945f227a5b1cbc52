"""Where the cells of a block of whole lines begin and end, found without leaving numpy, and only where each row has as
many cells as the table is known to have: a cell too many or too few would shift a column without a word."""

from dataclasses import dataclass

import numpy as np

from loomlight.storage.text_fixed import WIDEST, Bytes, Places

LINE_FEED, CARRIAGE_RETURN, TAB, BLANK, QUOTE = 10, 13, 9, 32, 34
UNIT_SEPARATOR = b"\x1f"
"""Stands for the delimiter where that sign occurs inside quotes too."""


@dataclass(frozen=True, eq=False)
class Cuts:
    """Half-open ranges of all cells.

    Attributes
    ----------
    raw : ndarray of uint8
        The block behind `WIDEST` bytes of nothing.
    starts, ends : ndarray of int64, shape (cells, rows)
        Ranges in `raw`.
    """

    raw: Bytes
    starts: Places
    ends: Places


def cuts_of(block: bytes, delimiter: bytes, cells: int) -> Cuts | None:
    """The cells of a block, or None where a row has another number of them than ``cells``.

    Parameters
    ----------
    block : bytes
        Whole lines, each ended by a line feed or by a carriage return and a line feed.
    delimiter : bytes
        One sign; a blank stands for any run of blanks and tabs.
    cells : int
        Cells of each row, a trailing empty one included.
    """
    raw = np.frombuffer(bytes(WIDEST) + block, dtype=np.uint8)
    found = _between_blanks(raw, cells) if delimiter == b" " else _between_signs(raw, ord(delimiter), cells)
    if found is None:
        return None
    return Cuts(raw, *found)


def _between_signs(raw: Bytes, delimiter: int, cells: int) -> tuple[Places, Places] | None:
    is_end = raw == LINE_FEED
    found = np.flatnonzero((raw == delimiter) | is_end)
    rows, over = divmod(found.size, cells)
    if not rows or over:
        return None
    ends = np.ascontiguousarray(found.reshape(rows, cells).T)
    # Every row's last seam is a line feed and no other one is: then each row has exactly this many cells.
    if (raw[ends[-1]] != LINE_FEED).any() or np.count_nonzero(is_end) != rows:
        return None
    starts = np.empty_like(ends)
    np.add(ends[:-1], 1, out=starts[1:])
    starts[0, 0] = WIDEST
    np.add(ends[-1, :-1], 1, out=starts[0, 1:])
    returns = raw[ends[-1] - 1] == CARRIAGE_RETURN
    if returns.any():
        ends[-1] -= returns
    return starts, ends


def _between_blanks(raw: Bytes, cells: int) -> tuple[Places, Places] | None:
    line_ends = np.flatnonzero(raw == LINE_FEED)
    # NULs are the bytes before the block: nothing there either.
    inside = (raw != BLANK) & (raw != TAB) & (raw != LINE_FEED) & (raw != CARRIAGE_RETURN) & (raw != 0)
    changes = np.flatnonzero(inside[1:] != inside[:-1]) + 1
    starts, ends = changes[::2], changes[1::2]
    if not line_ends.size or starts.size != ends.size or starts.size != line_ends.size * cells:
        return None
    starts, ends = (np.ascontiguousarray(one.reshape(-1, cells).T) for one in (starts, ends))
    if (ends[-1] > line_ends).any() or (starts[0, 1:] <= line_ends[:-1]).any():
        return None
    return starts, ends


def without_quotes(block: bytes, delimiter: bytes) -> tuple[bytes, bytes] | None:
    """A block with the quotes around cells taken away, and the delimiter to divide it by; None where quotes stand elsewhere.

    The delimiter becomes another sign, so that the same sign inside a quoted cell (a decimal comma) stays what it is.
    """
    if delimiter == b" " or UNIT_SEPARATOR in block:
        return None
    raw = np.frombuffer(block, dtype=np.uint8)
    quotes = np.flatnonzero(raw == QUOTE)
    if quotes.size % 2:
        return None
    opening, closing = quotes[::2], quotes[1::2]
    sign = ord(delimiter)
    before, after = raw[np.maximum(opening - 1, 0)], raw[np.minimum(closing + 1, raw.size - 1)]
    begins = (before == sign) | (before == LINE_FEED) | (opening == 0)
    ends = (after == sign) | (after == LINE_FEED) | (after == CARRIAGE_RETURN)
    if not (begins.all() and ends.all()):
        return None
    turns = np.zeros(raw.size, dtype=np.int8)
    turns[opening], turns[closing] = 1, -1
    inside = np.cumsum(turns, dtype=np.int8).view(np.bool_)
    if (inside & (raw == LINE_FEED)).any():
        return None
    changed = raw.copy()
    changed[~inside & (raw == sign)] = UNIT_SEPARATOR[0]
    return changed[raw != QUOTE].tobytes(), UNIT_SEPARATOR
