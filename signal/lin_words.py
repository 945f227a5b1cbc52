"""The words of a LIN frame: protected identifier, checksums, and the bits on the wire."""

from collections.abc import Iterable

BREAK_BITS = 13
DELIMITER_BITS = 1
SYNC = 0x55
HEADER_BITS = 34
"""Nominal: break 13, delimiter 1, sync 10, identifier 10."""
BYTE_BITS = 10
SLACK = 1.4
"""A header and a response may each take 1.4 times their nominal time."""
CLASSIC_ONLY = (0x3C, 0x3D)
"""Diagnostic frames keep the classic checksum."""

Stretch = tuple[bool, float]
"""Dominant or not, and for how many bits."""


def protected_identifier(frame_id: int) -> int:
    """Frame identifier with its two parity bits.

    Parameters
    ----------
    frame_id : int
        0 to 0x3F.

    References
    ----------
    .. [1] LIN Specification Package 2.2A, section 2.3.1.3 and table 2.4.
    """
    if not 0 <= frame_id <= 0x3F:
        raise ValueError(f"a frame identifier is 0 to 0x3F, got {frame_id:#x}")
    bit = [frame_id >> place & 1 for place in range(6)]
    p0 = bit[0] ^ bit[1] ^ bit[2] ^ bit[4]
    p1 = 1 - (bit[1] ^ bit[3] ^ bit[4] ^ bit[5])
    return frame_id | p0 << 6 | p1 << 7


def identifier_of(protected: int) -> tuple[int, bool]:
    """Frame identifier of a protected one, and whether its parity is right."""
    frame_id = protected & 0x3F
    return frame_id, protected_identifier(frame_id) == protected


def checksum(data: Iterable[int], *, protected: int | None = None) -> int:
    """Inverted eight-bit sum with carry: classic over the data, enhanced over the protected identifier too.

    Parameters
    ----------
    data : iterable of int
        1 to 8 bytes.
    protected : int, optional
        Protected identifier: gives the enhanced checksum.

    References
    ----------
    .. [1] LIN Specification Package 2.2A, sections 2.3.1.5 and 2.8.3.
    """
    total = protected or 0
    for value in data:
        total += value
        if total > 0xFF:
            total -= 0xFF
    return 0xFF - total


def header_stretches(frame_id: int, *, break_bits: float = BREAK_BITS) -> list[Stretch]:
    """What the commander drives to call for a frame: break, delimiter, sync, protected identifier."""
    return [
        (True, break_bits),
        (False, DELIMITER_BITS),
        *byte_stretches(SYNC),
        *byte_stretches(protected_identifier(frame_id)),
    ]


def response_stretches(data: bytes, *, protected: int | None, between_bits: float = 0.0) -> list[Stretch]:
    """What the answering node drives: data and checksum (enhanced where ``protected`` is given)."""
    stretches: list[Stretch] = []
    for value in (*data, checksum(data, protected=protected)):
        stretches += [*byte_stretches(value), (False, between_bits)]
    return stretches


def byte_stretches(value: int) -> list[Stretch]:
    """Start bit (dominant), eight data bits from the lowest, stop bit (recessive)."""
    return [(True, 1.0), *((not value >> place & 1, 1.0) for place in range(8)), (False, 1.0)]
