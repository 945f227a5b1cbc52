"""Numbers of one column whose cells are all written alike, a whole block at a time and without leaving numpy.

The decimal sign and the exponent stand at the same distance from each cell's right end; only sign and leading digits
may differ. Whatever deviates is left to the careful ways: the answer is then None, never a wrong number.
"""

import numpy as np
import numpy.typing as npt

Places = npt.NDArray[np.int64]
Column = npt.NDArray[np.float64]
MOST_DIGITS = 18
WIDEST = 26
POWERS = 10.0 ** np.arange(0, 309)
POWERS[:23] = [float(10**power) for power in range(23)]  # exact as doubles
ZERO, PLUS, MINUS, BLANK = (ord(sign) for sign in "0+- ")


def fixed_column(raw: npt.NDArray[np.uint8], starts: Places, ends: Places, decimal: int) -> Column | None:
    """Numbers between ``starts`` and ``ends``, or None where the cells are not all written alike.

    Parameters
    ----------
    raw : ndarray of uint8
        The block, with at least `WIDEST` bytes before the first cell.
    starts, ends : ndarray of int64, shape (rows,)
        Half-open ranges of the cells.
    decimal : int
        The decimal sign's byte.

    Returns
    -------
    ndarray of float64, shape (rows,), or None
        Equal to ``float()`` of the cell up to 15 digits, within one unit of the last place beyond.
    """
    starts = starts + (raw[starts] == BLANK)  # one blank after the delimiter is common
    first = raw[starts]
    signed = (first == MINUS) | (first == PLUS)
    starts = starts + signed
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
    decimals = len(cell) - tail - point - 1 if point >= 0 else 0
    mantissa = _digits(raw, ends - tail, widths - tail, decimals if point >= 0 else None, decimal)
    if mantissa is None:
        return None
    scale = np.asarray(powers - decimals)
    if np.abs(scale).max() >= POWERS.size:
        return None
    values: Column = mantissa * POWERS[np.maximum(scale, 0)] / POWERS[np.maximum(-scale, 0)]
    return np.where(first == MINUS, -values, values)


def _exponent(raw: npt.NDArray[np.uint8], ends: Places, tail: int, narrowest: int) -> Places | None:
    """The power of ten behind an ``e`` that stands ``tail`` bytes before the end, or None."""
    if not 3 <= tail <= 5 or narrowest <= tail or ((raw[ends - tail] | 32) != ord("e")).any():
        return None
    sign = raw[ends - tail + 1]
    is_signed = (sign == MINUS) | (sign == PLUS)
    if not is_signed.all():
        return None
    power: Places = np.zeros(ends.size, dtype=np.int64)
    for place in range(tail - 2, 0, -1):
        digit = raw[ends - place] - ZERO
        if (digit > 9).any():
            return None
        power = power * 10 + digit
    return np.where(sign == MINUS, -power, power)


def _digits(
    raw: npt.NDArray[np.uint8], ends: Places, widths: Places, decimals: int | None, decimal: int
) -> Places | None:
    """All digits as one whole number, the decimal sign checked and left out, or None."""
    narrowest, widest = int(widths.min()), int(widths.max())
    if narrowest < 1 + (0 if decimals is None else decimals) or widest - (decimals is not None) > MOST_DIGITS:
        return None
    total: Places = np.zeros(ends.size, dtype=np.int64)
    at = ends - widest
    wrong = np.zeros(ends.size, dtype=np.bool_)
    for place in range(widest, 0, -1):
        byte = raw[at]
        at += 1
        if decimals is not None and place == decimals + 1:
            wrong |= byte != decimal
            continue
        digit = byte - ZERO  # bytes below "0" wrap round to large ones
        if place > narrowest:
            digit[place > widths] = 0
        wrong |= digit > 9
        np.multiply(total, 10, out=total)
        np.add(total, digit, out=total)
    return None if wrong.any() else total
