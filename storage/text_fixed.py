"""Numbers of one column of text cells, a whole block at a time and without leaving numpy.

Cells that are written alike (the decimal sign and the exponent at the same distance from the right end) are read
together, digit place by digit place; a column of several ways of writing is divided by them first. What is not plainly
a number is left to the careful way: the answer is then None, never a wrong number.
"""

import numpy as np
import numpy.typing as npt

Bytes = npt.NDArray[np.uint8]
Places = npt.NDArray[np.int64]
Column = npt.NDArray[np.float64]
Digits = npt.NDArray[np.unsignedinteger]
Powers = npt.NDArray[np.int16]
FOLDS: tuple[tuple[type[np.unsignedinteger], np.unsignedinteger], ...] = (
    (np.uint8, np.uint8(10)),
    (np.uint16, np.uint16(100)),
    (np.uint32, np.uint32(10**4)),
    (np.uint64, np.uint64(10**8)),
    (np.uint64, np.uint64(10**16)),
)
MOST_DIGITS = 18
WIDEST = 32
"""Cells wider than this are left to the careful way."""
POWERS = 10.0 ** np.arange(0, 309)
POWERS[:23] = [float(10**power) for power in range(23)]  # exact as doubles
ZERO, PLUS, MINUS, BLANK = (ord(sign) for sign in "0+- ")


def column_of(raw: Bytes, starts: Places, ends: Places, decimal: int) -> Column | None:
    """Numbers between ``starts`` and ``ends``, or None where a cell is no plain number.

    Parameters
    ----------
    raw : ndarray of uint8
        The block, with at least `WIDEST` bytes before the first cell.
    starts, ends : ndarray of int64, shape (rows,)
        Half-open ranges of the cells; blanks around a number are passed over.
    decimal : int
        The decimal sign's byte.

    Returns
    -------
    ndarray of float64, shape (rows,), or None
        Equal to ``float()`` of the cell up to 15 digits, within one unit of the last place beyond; not-a-number for an
        empty cell and for ``nan``.
    """
    values = _alike(raw, starts, ends, decimal)
    if values is not None:
        return values
    starts, ends = _without_blanks(raw, starts, ends)
    values = _alike(raw, starts, ends, decimal)
    return values if values is not None else _by_way_of_writing(raw, starts, ends, decimal)


def _without_blanks(raw: Bytes, starts: Places, ends: Places) -> tuple[Places, Places]:
    for _ in range(WIDEST):
        padded = raw[starts] == BLANK
        if not padded.any():
            break
        padded &= starts < ends
        starts = starts + padded
    for _ in range(WIDEST):
        padded = raw[ends - 1] == BLANK
        if not padded.any():
            break
        padded &= starts < ends
        ends = ends - padded
    return starts, ends


def _by_way_of_writing(raw: Bytes, starts: Places, ends: Places, decimal: int) -> Column | None:
    """Numbers that are written in several ways: each way's rows together."""
    widths = ends - starts
    if int(widths.max()) > WIDEST:
        return None
    tails = np.zeros(ends.size, dtype=np.uint8)
    for tail in (3, 4, 5):
        found = ((raw[ends - tail] | 32) == ord("e")) & (widths > tail)
        tails = np.maximum(tails, found.view(np.uint8) * np.uint8(tail))
    at, widths_of_mantissa = ends - tails - WIDEST, (widths - tails).astype(np.uint8)
    points = np.zeros(ends.size, dtype=np.uint8)
    for place in range(1, int(widths.max()) + 1):
        # Places left of a cell are another's; of two signs in one cell the left one is found and the other refused.
        found = (raw[WIDEST - place :][at] == decimal) & (widths_of_mantissa >= place)
        np.maximum(points, found.view(np.uint8) * np.uint8(place), out=points)
    ways = tails * np.uint8(WIDEST + 1) + points
    values = np.full(ends.size, np.nan)
    for way in np.flatnonzero(np.bincount(ways)):
        rows = np.flatnonzero(ways == way)
        if way == 0:
            rows = rows[~_is_missing(raw, starts[rows], widths[rows])]
        if rows.size:
            own = _alike(raw, starts[rows], ends[rows], decimal)
            if own is None:
                return None
            values[rows] = own
    return values


def _is_missing(raw: Bytes, starts: Places, widths: Places) -> npt.NDArray[np.bool_]:
    """Whether a cell is empty or says that it is no number."""
    spelt = widths == 3
    for place, letter in enumerate(b"nan"):
        spelt &= (raw[np.minimum(starts + place, raw.size - 1)] | 32) == letter
    missing: npt.NDArray[np.bool_] = (widths == 0) | spelt
    return missing


def _alike(raw: Bytes, starts: Places, ends: Places, decimal: int) -> Column | None:
    """Numbers that are all written as the first one is, or None."""
    first = raw[starts]
    negative = first == MINUS
    marked = negative | (first == PLUS) | (first == BLANK)  # one blank where a minus would stand is common
    if marked.any():
        starts = starts + marked
    widths = ends - starts
    narrowest, widest = int(widths.min()), int(widths.max())
    if narrowest < 1 or widest > WIDEST:
        return None
    cell = bytes(raw[starts[0] : ends[0]]).lower()
    tail = len(cell) - cell.index(b"e") if b"e" in cell else 0
    powers = _exponent(raw, ends, tail, narrowest) if tail else 0
    if powers is None:
        return None
    point = cell.find(decimal)
    decimals = len(cell) - tail - point - 1 if point >= 0 else None
    if tail:
        ends, widths, narrowest, widest = ends - tail, widths - tail, narrowest - tail, widest - tail
    mantissa = _mantissa(raw, ends, widths, (narrowest, widest), decimals, decimal)
    if mantissa is None:
        return None
    values = _scaled(mantissa, powers - (decimals or 0))
    if values is not None and negative.any():
        np.negative(values, out=values, where=negative)
    return values


def _scaled(mantissa: Digits, power: Powers | int) -> Column | None:
    """Whole numbers times powers of ten: divided by exact powers rather than multiplied by rounded ones."""
    least, most = int(np.min(power)), int(np.max(power))
    if max(most, -least) >= POWERS.size:
        return None
    values: Column = mantissa.astype(np.float64)
    if least == most:
        values = values / POWERS[-least] if least < 0 else values * POWERS[least]
        return values
    if least < 0:
        values /= POWERS[np.maximum(-power, 0)]
    if most > 0:
        values *= POWERS[np.maximum(power, 0)]
    return values


def _exponent(raw: Bytes, ends: Places, tail: int, narrowest: int) -> Powers | None:
    """The power of ten behind an ``e`` that stands ``tail`` bytes before the end, or None."""
    at = ends - tail
    if not 3 <= tail <= 5 or narrowest <= tail or ((raw[at] | 32) != ord("e")).any():
        return None
    sign = raw[1:][at]
    negative = sign == MINUS
    if not (negative | (sign == PLUS)).all():
        return None
    digits = [raw[place:][at] - ZERO for place in range(2, tail)]  # bytes below "0" wrap round to large ones
    power = _folded(digits)
    if power is None:
        return None
    powers: Powers = power.astype(np.int16)
    if negative.any():
        np.negative(powers, out=powers, where=negative)
    return powers


def _mantissa(
    raw: Bytes, ends: Places, widths: Places, reach: tuple[int, int], decimals: int | None, decimal: int
) -> Digits | None:
    """All digits as one whole number, the decimal sign checked and left out, or None."""
    narrowest, widest = reach
    has_point = decimals is not None
    if narrowest < 1 + has_point or narrowest < (decimals or 0) + has_point or widest - has_point > MOST_DIGITS:
        return None
    at = ends - widest
    digits = []
    for place in range(widest, 0, -1):
        byte = raw[widest - place :][at]
        if has_point and place == (decimals or 0) + 1:
            if (byte != decimal).any():
                return None
            continue
        byte -= ZERO
        if place > narrowest:
            byte *= widths >= place
        digits.append(byte)
    return _folded(digits)


def _folded(digits: list[Bytes]) -> Digits | None:
    """Digits, the first one of the highest place, as one whole number; None where one is no digit.

    Two at a time become a number below a hundred, two of those one below ten thousand: the wide arithmetic comes last.
    """
    worst = digits[0]
    for digit in digits[1:]:
        worst = np.maximum(worst, digit)
    if worst.max() > 9:
        return None
    parts: list[Digits] = list(digits)
    for kind, base in FOLDS:
        if len(parts) == 1:
            break
        single, paired = parts[: len(parts) % 2], parts[len(parts) % 2 :]
        joined = []
        for high, low in zip(paired[::2], paired[1::2], strict=True):
            both = high.astype(kind)
            both *= base
            both += low
            joined.append(both)
        parts = [*single, *joined]
    return parts[0]
