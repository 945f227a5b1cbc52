"""What a CAN frame is made of: its fields in order, and the figures of its checksums.

References
----------
.. [1] ISO 11898-1:2015, frame formats (as told in public accounts; the FD preload and the use of CRC-17 and CRC-21 from memory).
.. [2] The public catalogue of parametrised CRC algorithms: CRC-15/CAN, CRC-17/CAN-FD, CRC-21/CAN-FD.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

(
    START,
    IDENTIFIER,
    REMOTE,
    EXTENSION,
    IDENTIFIER_REST,
    REMOTE_EXTENDED,
    FORMAT,
    RESERVED,
    RATE_SWITCH,
    ERROR_STATE,
    LENGTH,
    DATA,
    STUFF_COUNT,
    CHECK,
    CHECK_DELIMITER,
    ACKNOWLEDGE,
    ACKNOWLEDGE_DELIMITER,
    END,
    DONE,
) = range(19)
"""Fields in the order in which they are sent."""

FIELD_NAMES: Final = (
    "start of frame",
    "identifier",
    "remote bit",
    "identifier extension bit",
    "identifier, second part",
    "remote bit",
    "format bit",
    "reserved bit",
    "bit rate switch",
    "error state bit",
    "length code",
    "data",
    "stuff count",
    "CRC",
    "CRC delimiter",
    "acknowledge slot",
    "acknowledge delimiter",
    "end of frame",
    "after the frame",
)
WIDTHS: Final = np.array([1, 11, 1, 1, 18, 1, 1, 1, 1, 1, 4, 0, 4, 15, 1, 1, 1, 7, 0])
"""Bits of each field, stuff bits left out; data depend on the length code."""
LENGTHS: Final = np.array([0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64])
"""Bytes for each length code of an FD frame; a classical one holds 8 from code 8 on."""
MOST_BYTES_17: Final = 16
"""FD frames with more are checked by CRC-21."""

CRC_15: Final = (0x4599, 15)
CRC_17: Final = (0x1685B, 17)
CRC_21: Final = (0x102899, 21)

USUAL_RATES: Final = (1e6, 800e3, 500e3, 250e3, 125e3, 100e3, 83_333.0, 50e3, 33_333.0, 20e3, 10e3)
"""Bit rates in use, bit/s (common practice, no source)."""

Registers = npt.NDArray[np.int64]


def crc_step(registers: Registers, bits: npt.NDArray[np.int64], polynomial: int, width: int) -> Registers:
    """Shift one bit into each register, most significant first.

    Parameters
    ----------
    registers, bits : ndarray of int64, shape (n,)
        Registers before, and the bit for each.
    polynomial, width : int
        As in the catalogue.
    """
    turn = bits ^ (registers >> (width - 1))
    found: Registers = ((registers << 1) & ((1 << width) - 1)) ^ (polynomial * turn)
    return found


def stuff_count_bits(count: Registers) -> Registers:
    """The four bits that tell the number of stuff bits: modulo 8, Gray-coded, and its parity (ISO 11898-1:2015, 10.4.2.6)."""
    rest = count % 8
    gray = rest ^ (rest >> 1)
    parity = (gray ^ (gray >> 1) ^ (gray >> 2)) & 1
    coded: Registers = (gray << 1) | parity
    return coded
