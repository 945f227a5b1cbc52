"""A phone's photo without what it tells beside the picture: place, owner, device, and whatever hangs behind it."""

import struct
from collections.abc import Iterator
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.storage.disk_trouble import disk_trouble
from loomlight.storage.exif import kept_exif

LARGEST = 64 << 20
JPEG, PNG = b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"
ALONE = (0x01, *range(0xD0, 0xD8))
"""JPEG markers without a length (ITU-T T.81, table B.1)."""
KEPT_APPS = {0xE0: b"JFIF\0", 0xE2: b"ICC_PROFILE\0", 0xEE: b"Adobe"}
"""Application segments that the colours depend on; every other one is left out."""
KEPT_CHUNKS = frozenset(b"IHDR PLTE IDAT IEND tRNS cHRM gAMA iCCP sBIT sRGB bKGD pHYs".split())
"""PNG chunks that the picture depends on (ISO/IEC 15948)."""


def read_photo(path: Path) -> bytes:
    """A JPEG or PNG file's picture alone, as bytes of the same format.

    Of what a camera writes beside it only the way up and the time of taking stay; the place where it was taken does not.
    The picture itself is not coded anew.

    Raises
    ------
    FileProblem
        If it cannot be read, is of another kind, or is damaged.
    """
    with disk_trouble("it cannot be read", file=path, do="Check the name, and that the stick is in"):
        size = path.stat().st_size
        content = path.read_bytes() if size <= LARGEST else b""
    if size > LARGEST:
        raise FileProblem(
            f"it is larger than {LARGEST >> 20} MB", file=path, do="Save the photo smaller and add it again"
        )
    try:
        if content.startswith(JPEG):
            return _plain_jpeg(content)
        if content.startswith(PNG):
            return PNG + b"".join(_plain_chunks(content))
    except (ValueError, struct.error, IndexError) as error:
        raise FileProblem(f"the picture is damaged ({error})", file=path, do="Copy it from the phone again") from error
    raise FileProblem(
        "it is neither a JPEG nor a PNG picture",
        file=path,
        do="Set the phone to save JPEG, or export the photo as JPEG",
    )


def is_photo(path: Path) -> bool:
    """Whether a file begins as a JPEG or PNG picture does.

    Raises
    ------
    FileProblem
        If it cannot be read.
    """
    with (
        disk_trouble("it cannot be read", file=path, do="Check the name, and that the stick is in"),
        path.open("rb") as file,
    ):
        head = file.read(len(PNG))
    return head.startswith((JPEG, PNG))


def suffix_of(photo: bytes) -> str:
    """The file name's ending for a picture from `read_photo`."""
    return ".png" if photo.startswith(PNG) else ".jpg"


def _plain_jpeg(content: bytes) -> bytes:
    parts = [b"\xff\xd8"]
    exif = b""
    for marker, segment in _segments(content):
        if marker == 0xE1 and segment[4:10] == b"Exif\0\0" and not exif:
            exif = kept_exif(segment[10:])
        elif _is_kept(marker, segment):
            parts.append(segment)
    if exif:
        behind_jfif = 2 if len(parts) > 1 and parts[1][:2] == b"\xff\xe0" else 1
        parts.insert(behind_jfif, b"\xff\xe1" + struct.pack(">H", len(exif) + 8) + b"Exif\0\0" + exif)
    return b"".join(parts)


def _is_kept(marker: int, segment: bytes) -> bool:
    if marker in KEPT_APPS:
        return segment[4:].startswith(KEPT_APPS[marker])
    return not 0xE0 <= marker <= 0xEF and marker != 0xFE


def _segments(content: bytes) -> Iterator[tuple[int, bytes]]:
    """Marker and bytes of each segment up to the end of the image; a scan's coded data belong to its segment."""
    at, scans = 2, 0
    while True:
        if content[at] != 0xFF:
            raise ValueError(f"no marker at byte {at + 1}")
        while content[at + 1] == 0xFF:  # fill bytes
            at += 1
        marker = content[at + 1]
        if marker == 0xD9:
            if not scans:
                raise ValueError("it holds no picture")
            yield marker, content[at : at + 2]
            return
        if marker in ALONE:
            end = at + 2
        else:
            end = at + 2 + int(struct.unpack_from(">H", content, at + 2)[0])
            if end > len(content) or end < at + 4:
                raise ValueError(f"the segment at byte {at + 1} is cut short")
        if marker == 0xDA:
            scans += 1
            end = _scan_end(content, end)
        yield marker, content[at:end]
        at = end


def _scan_end(content: bytes, at: int) -> int:
    """Where the coded data end: at the first marker that is no restart and no stuffed byte."""
    while True:
        at = content.find(b"\xff", at)
        if at < 0 or at + 1 >= len(content):
            raise ValueError("its end is missing")
        if content[at + 1] == 0 or 0xD0 <= content[at + 1] <= 0xD7:
            at += 2
        elif content[at + 1] == 0xFF:
            at += 1
        else:
            return at


def _plain_chunks(content: bytes) -> Iterator[bytes]:
    at = len(PNG)
    while True:
        length, kind = struct.unpack_from(">I4s", content, at)
        end = at + 12 + length
        if end > len(content):
            raise ValueError(f"the chunk at byte {at + 1} is cut short")
        if kind in KEPT_CHUNKS:
            yield content[at:end]
        if kind == b"IEND":
            return
        at = end
