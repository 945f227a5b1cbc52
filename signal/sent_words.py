"""The check nibble of SENT in the three forms found in the field."""

from collections.abc import Sequence
from typing import Literal

import numpy as np
import numpy.typing as npt

Form = Literal["recommended", "legacy", "with status"]
FORMS: tuple[Form, ...] = ("recommended", "legacy", "with status")
SEED = 0b0101
TABLE = np.array([0, 13, 7, 10, 14, 3, 9, 4, 1, 12, 6, 11, 15, 2, 8, 5], dtype=np.int64)
"""Four shifts by x⁴ + x³ + x² + 1 (SAE J2716; printed in sensors' data sheets)."""
FORM_WORDS: dict[Form, str] = {
    "recommended": "recommended form (SAE J2716 from 2010 on)",
    "legacy": "legacy form, without the last step",
    "with status": "form that includes the status nibble",
}

Nibbles = npt.NDArray[np.int64]


def checks(status: Nibbles, data: Nibbles, form: Form) -> Nibbles:
    """Check nibble of each frame.

    Parameters
    ----------
    status : ndarray of int64, shape (n,)
        Status nibbles.
    data : ndarray of int64, shape (n, m)
        Data nibbles.
    form : {"recommended", "legacy", "with status"}
        ``recommended``: each data nibble xor the table's step, then one step more. ``legacy``: without that last step.
        ``with status``: status and data, xor before the table's step.

    Returns
    -------
    ndarray of int64, shape (n,)

    References
    ----------
    .. [1] SAE J2716, as printed in sensors' user manuals and data sheets of 2009 and later.
    """
    value = np.full(len(status), SEED, dtype=np.int64)
    if form == "with status":
        for column in (status, *data.T):
            value = TABLE[value ^ column]
        return value
    for column in data.T:
        value = column ^ TABLE[value]
    return TABLE[value] if form == "recommended" else value


def check_of(data: Sequence[int], form: Form, *, status: int = 0) -> int:
    """Check nibble of one frame."""
    return int(checks(np.array([status]), np.array([data], dtype=np.int64), form)[0])


def enhanced_check(bits_2: Sequence[int], bits_3: Sequence[int]) -> int:
    """Six-bit check of an enhanced slow message over frames 7 to 18, bit 2 and bit 3 of each in turn.

    References
    ----------
    .. [1] SAE J2716, enhanced serial message: x⁶ + x⁴ + x³ + 1, seed 010101 (from memory).
    """
    value = 0b010101
    row = [bit for pair in zip(bits_2, bits_3, strict=True) for bit in pair] + [0] * 6
    for bit in row:
        top = value >> 5 & 1
        value = (value << 1 & 0b111111) | bit
        if top:
            value ^= 0b011001
    return value
