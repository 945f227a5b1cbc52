"""CAN frames as the bits that a controller puts on the wire: classical and FD, stuffed, with their checksums.

References
----------
.. [1] ISO 11898-1:2015: frame formats, bit stuffing, CRC sequences, stuff count (order of the fields and the polynomials
   read in public accounts of it; the FD preload from memory).
"""

from dataclasses import dataclass

ARBITRATION, CONTROL, DATA, CHECK, DELIMITER, ACK, END = range(7)
FD_LENGTHS = (0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64)


@dataclass(frozen=True)
class Frame:
    """What a node has to say.

    Attributes
    ----------
    identifier : int
        11 bits, or 29 where ``extended``.
    data : bytes
        Up to 8 bytes; in FD frames one of the lengths of `FD_LENGTHS`.
    extended, remote : bool
        Form of the identifier; remote frames carry a length and no data.
    fd, fast : bool
        FD format, and whether its data phase is sent at the higher rate.
    length_code : int or None
        Of a remote frame; else from the data.
    """

    identifier: int
    data: bytes = b""
    extended: bool = False
    remote: bool = False
    fd: bool = False
    fast: bool = False
    length_code: int | None = None


@dataclass(frozen=True)
class SentBits:
    """Bits on the wire, 0 dominant.

    Attributes
    ----------
    bits, areas : tuple of int
        Value, and which part of the frame it belongs to (`ARBITRATION` to `END`).
    first_fast, last_fast : int or None
        Index of the bit in which the rate goes up (BRS), and of the one in which it comes down (CRC delimiter).
    """

    bits: tuple[int, ...]
    areas: tuple[int, ...]
    first_fast: int | None = None
    last_fast: int | None = None


def _number(value: int, width: int) -> list[int]:
    return [(value >> place) & 1 for place in range(width - 1, -1, -1)]


def remainder(bits: list[int], polynomial: int, width: int, start: int) -> int:
    """CRC register after all bits, most significant first."""
    register, top = start, 1 << (width - 1)
    for bit in bits:
        turn = bit ^ (1 if register & top else 0)
        register = (register << 1) & ((1 << width) - 1)
        if turn:
            register ^= polynomial
    return register


def _stuffed(bits: list[int], areas: list[int], *, after_last: bool) -> tuple[list[int], list[int], int]:
    """After five equal bits one opposite bit; how many there were."""
    out: list[int] = []
    where: list[int] = []
    run, last, count = 0, -1, 0
    for place, (bit, area) in enumerate(zip(bits, areas, strict=True)):
        out.append(bit)
        where.append(area)
        run = run + 1 if bit == last else 1
        last = bit
        if run == 5 and (after_last or place + 1 < len(bits)):
            out.append(1 - bit)
            where.append(area)
            last, run, count = 1 - bit, 1, count + 1
    return out, where, count


def _head(frame: Frame) -> tuple[list[int], list[int]]:
    """Start of frame to the last bit before the length code."""
    last = 0 if frame.fd else int(frame.remote)
    if frame.extended:
        bits = [0, *_number(frame.identifier >> 18, 11), 1, 1, *_number(frame.identifier & 0x3FFFF, 18), last]
        rest = [1, 0, 1 if frame.fast else 0, 0] if frame.fd else [0, 0]
    else:
        bits = [0, *_number(frame.identifier, 11), last, 0]
        rest = [1, 0, 1 if frame.fast else 0, 0] if frame.fd else [0]
    return bits + rest, [ARBITRATION] * len(bits) + [CONTROL] * len(rest)


def sent_bits(frame: Frame) -> SentBits:
    """All bits from the start of the frame to the end of frame, acknowledge recessive."""
    bits, areas = _head(frame)
    code = frame.length_code if frame.length_code is not None else FD_LENGTHS.index(len(frame.data))
    bits += _number(code, 4)
    areas += [CONTROL] * 4
    switch_back = len(bits) - 6  # BRS, ESI, then the length code
    for byte in frame.data:
        bits += _number(byte, 8)
        areas += [DATA] * 8
    tail, tail_areas = [1, 1, 1, *[1] * 7], [DELIMITER, ACK, *[END] * 8]
    if not frame.fd:
        check = _number(remainder(bits, 0x4599, 15, 0), 15)
        wire, where, _ = _stuffed(bits + check, areas + [CHECK] * 15, after_last=True)
        return SentBits((*wire, *tail), (*where, *tail_areas))
    wire, where, count = _stuffed(bits, areas, after_last=False)
    gray = (count % 8) ^ ((count % 8) >> 1)
    counted = [*_number(gray, 3), gray.bit_count() % 2]
    polynomial, width = (0x1685B, 17) if len(frame.data) <= 16 else (0x102899, 21)
    check = counted + _number(remainder(wire + counted, polynomial, width, 1 << (width - 1)), width)
    first = None
    if frame.fast:
        before, _, _ = _stuffed(bits[: switch_back + 1], areas[: switch_back + 1], after_last=False)
        first = len(before) - 1
    for place, bit in enumerate(check):
        if place % 4 == 0:
            wire.append(1 - wire[-1])
            where.append(CHECK)
        wire.append(bit)
        where.append(CHECK)
    last = len(wire) if frame.fast else None
    return SentBits((*wire, *tail), (*where, *tail_areas), first, last)
