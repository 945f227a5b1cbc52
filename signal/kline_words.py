"""The words of a K-line: how a message says its length and who sent it, its checksum, and what opens a conversation."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

BYTE_BITS = 10
"""Start bit, eight data bits from the lowest, stop bit."""
TESTERS = range(0xF0, 0xFE)
"""Addresses of testers (ISO 14230-2, from memory); 0xF1 as a rule."""
POSITIVE, NEGATIVE = 0x40, 0x7F
"""A service's answer has its own number plus 0x40; 0x7F says no (ISO 14230-3, from memory)."""

Form = Literal["no address", "fixed", "addressed"]
TESTER = "tester"


@dataclass(frozen=True)
class Header:
    """How a message begins.

    Attributes
    ----------
    form : {"no address", "fixed", "addressed"}
        From the format byte's upper two bits; ``fixed`` is the three-byte header of ISO 9141-2, which states no length.
    size : int
        Bytes of the header.
    length : int or None
        Data bytes that it states; None where it states none.
    target, source : int or None
        Addresses; None where it names none.
    """

    form: Form
    size: int
    length: int | None
    target: int | None
    source: int | None


def checksum(values: Iterable[int]) -> int:
    """Sum of all bytes before it, without carry.

    References
    ----------
    .. [1] ISO 14230-2, checksum byte (from memory); ISO 9141-2 uses the same sum.
    """
    return sum(values) & 0xFF


def header_of(values: bytes) -> Header | None:
    """Header of a message that begins with these bytes; None where too few are there.

    References
    ----------
    .. [1] ISO 14230-2, format byte: two bits of address form, six of length; a length of 0 says that a length byte follows
       (from memory).
    """
    if not values:
        return None
    mode, length = values[0] >> 6, values[0] & 0x3F
    if mode == 1:
        return Header("fixed", 3, None, values[1], values[2]) if len(values) >= 3 else None
    size = 1 if mode == 0 else 3
    if len(values) < size + (length == 0):
        return None
    target, source = (None, None) if mode == 0 else (values[1], values[2])
    if length == 0:
        length, size = values[size], size + 1
    return Header("no address" if mode == 0 else "addressed", size, length, target, source)


def talker_of(values: bytes, header: Header | None) -> str:
    """Who sends this message: the tester or a unit, by address where it has one, else by its service number."""
    if header is None or len(values) <= header.size:
        return ""
    if header.form == "addressed":
        assert header.source is not None
        return TESTER if header.source in TESTERS else f"unit {header.source:#04x}"
    is_answer = bool(values[header.size] & POSITIVE)
    if header.form == "fixed":
        # Requests and answers have headers of their own; the third byte names the sender.
        assert header.source is not None
        return TESTER if header.source in TESTERS else f"unit {header.source:#04x}"
    return "unit" if is_answer else TESTER


def asked_of(values: bytes, header: Header) -> int | None:
    """Service that a message asks for or answers, without the answer's mark; None where there is no data."""
    if len(values) <= header.size:
        return None
    service = values[header.size]
    if service == NEGATIVE and len(values) > header.size + 1:
        return values[header.size + 1]
    return service & ~POSITIVE
