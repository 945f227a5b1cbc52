"""What may stay of a photo's camera notes: which way is up, and when it was taken (Exif 2.32, TIFF 6.0)."""

import re
import struct

ORIENTATION, TIME, SUB_NOTES, TIME_TAKEN = 0x0112, 0x0132, 0x8769, 0x9003
SHORT, ASCII, LONG = 3, 2, 4
MOST_ENTRIES = 512
TIME_FORM = re.compile(rb"\d{4}:\d\d:\d\d \d\d:\d\d:\d\d")


def kept_exif(tiff: bytes) -> bytes:
    """A new note with the orientation and the time of taking alone.

    Parameters
    ----------
    tiff : bytes
        The old one, from its byte order mark on; may be damaged or made to mislead.

    Returns
    -------
    bytes
        Empty where there is nothing to keep.
    """
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None or len(tiff) < 8:
        return b""
    main = _entries(tiff, struct.unpack_from(order + "I", tiff, 4)[0], order)
    below = _entries(tiff, main.get(SUB_NOTES, 0), order)
    way_up = main.get(ORIENTATION, 1)
    time = _text(tiff, below.get(TIME_TAKEN, 0)) or _text(tiff, main.get(TIME, 0))
    return _made(way_up if 1 <= way_up <= 8 else 1, time)


def _entries(tiff: bytes, at: int, order: str) -> dict[int, int]:
    """Tag and value (or offset) of one directory; nothing where it lies outside."""
    if not 8 <= at <= len(tiff) - 2:
        return {}
    count = min(struct.unpack_from(order + "H", tiff, at)[0], MOST_ENTRIES)
    found: dict[int, int] = {}
    for place in range(at + 2, min(at + 2 + 12 * count, len(tiff) - 11), 12):
        tag, kind, many = struct.unpack_from(order + "HHI", tiff, place)
        if kind == SHORT and many == 1:
            found[tag] = struct.unpack_from(order + "H", tiff, place + 8)[0]
        elif kind in (LONG, ASCII):
            found[tag] = struct.unpack_from(order + "I", tiff, place + 8)[0]
    return found


def _text(tiff: bytes, at: int) -> bytes:
    text = tiff[at : at + 19] if at else b""
    return text if TIME_FORM.fullmatch(text) else b""


def _made(way_up: int, time: bytes) -> bytes:
    if way_up == 1 and not time:
        return b""
    entries = [struct.pack("<HHIHH", ORIENTATION, SHORT, 1, way_up, 0)]
    if time:
        text_at = 8 + 2 + 12 * 2 + 4
        entries.append(struct.pack("<HHII", TIME, ASCII, 20, text_at))
    head = b"II*\0" + struct.pack("<IH", 8, len(entries))
    return head + b"".join(entries) + struct.pack("<I", 0) + (time + b"\0" if time else b"")
