"""Data inside a picture: a JSON text in a PNG's own text chunk.

Portable Network Graphics specification (ISO/IEC 15948), section 11.3.4.5: chunk ``iTXt``.
"""

import struct
import zlib
from collections.abc import Iterable

from loomlight.signal.errors import LoomlightError

SIGNATURE = b"\x89PNG\r\n\x1a\n"
KEYWORD = b"loomlight"
LARGEST = 64 << 20
"""No data of ours come near this, bytes: a made-up picture must not fill the memory."""


class NoPicture(LoomlightError):
    """The bytes are no whole PNG picture."""


def _chunks(png: bytes) -> list[tuple[bytes, bytes]]:
    """Type and content of each chunk.

    Raises
    ------
    NoPicture
        If a chunk is cut short, its check sum is wrong, or the header does not come first.
    """
    if not png.startswith(SIGNATURE):
        raise NoPicture("This is no PNG picture. Choose a snapshot that Loomlight saved.")
    found: list[tuple[bytes, bytes]] = []
    place = len(SIGNATURE)
    while place + 12 <= len(png):
        length, kind = struct.unpack_from(">I4s", png, place)
        content = png[place + 8 : place + 8 + length]
        check = png[place + 8 + length : place + 12 + length]
        if len(check) < 4 or struct.unpack(">I", check)[0] != zlib.crc32(kind + content):
            break
        if not found and kind != b"IHDR":
            break
        found.append((kind, content))
        place += 12 + length
        if kind == b"IEND":
            return found
    raise NoPicture("The picture is damaged or was cut short. Use another copy.")


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def with_data(png: bytes, parts: Iterable[str]) -> bytes:
    """The picture with a text inside, right after its header; an earlier text of ours is replaced.

    Parameters
    ----------
    png : bytes
        The picture.
    parts : iterable of str
        The text, part by part; none longer than may keep other threads waiting.

    Raises
    ------
    NoPicture
        If ``png`` is no whole PNG picture.
    """
    packing = zlib.compressobj()
    packed = [packing.compress(one.encode("utf-8")) for one in parts]
    text = b"".join((KEYWORD, b"\0\1\0\0\0", *packed, packing.flush()))
    kept = [(kind, content) for kind, content in _chunks(png) if not _is_ours(kind, content)]
    header, *rest = kept
    return SIGNATURE + b"".join(_chunk(*one) for one in (header, (b"iTXt", text), *rest))


def data_of(png: bytes) -> str | None:
    """The text inside, or None where there is none of ours.

    Raises
    ------
    NoPicture
        If ``png`` is no whole PNG picture, or its text is damaged.
    """
    for kind, content in _chunks(png):
        if _is_ours(kind, content):
            return _text(content)
    return None


def _is_ours(kind: bytes, content: bytes) -> bool:
    return kind == b"iTXt" and content.startswith(KEYWORD + b"\0")


def _text(content: bytes) -> str:
    """The text of an ``iTXt`` chunk: packed as we write it, or plain as another program may have saved it again."""
    head = len(KEYWORD) + 1
    packed, method = content[head : head + 1], content[head + 1 : head + 2]
    _language, _, rest = content[head + 2 :].partition(b"\0")
    _translated, ended, text = rest.partition(b"\0")
    try:
        if packed == b"\1" and method == b"\0" and ended:
            unpacking = zlib.decompressobj()
            text = unpacking.decompress(text, LARGEST)
            if not unpacking.eof:
                raise zlib.error("cut short, or larger than any data of ours")
        elif packed != b"\0" or not ended:
            raise zlib.error("unknown packing")
        return text.decode("utf-8")
    except (zlib.error, UnicodeDecodeError) as error:
        raise NoPicture("The data inside the picture are damaged. Use another copy.") from error
