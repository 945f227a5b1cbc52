"""Photos: the picture stays bit by bit, the place where it was taken does not (Exif 2.32; ITU-T T.81; ISO/IEC 15948)."""

import struct
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QBuffer, QByteArray, QIODevice
from PySide6.QtGui import QColor, QImage, QImageReader

from loomlight.signal.errors import FileProblem
from loomlight.storage.exif import kept_exif
from loomlight.storage.photo import read_photo


def picture(kind: str) -> bytes:
    image = QImage(24, 16, QImage.Format.Format_RGB32)
    image.fill(QColor("#2a7f4f"))
    image.setPixelColor(3, 4, QColor("#d04010"))
    content = QByteArray()
    buffer = QBuffer(content)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    assert image.save(buffer, kind)
    return bytes(content.data())


def entry(tag: int, kind: int, many: int, value: bytes) -> bytes:
    return struct.pack(">HHI", tag, kind, many) + value.ljust(4, b"\0")


def exif(way_up: int = 6) -> bytes:
    """Camera notes in big-endian order: orientation, maker, times, and a place of 51°30' N in a directory of its own."""
    gps_at, sub_at, time_at, degrees_at, maker_at = 8 + 2 + 4 * 12 + 4, 120, 160, 190, 220
    main = struct.pack(">H", 4) + entry(0x010F, 2, 9, struct.pack(">I", maker_at))
    main += entry(0x0112, 3, 1, struct.pack(">H", way_up))
    main += entry(0x8769, 4, 1, struct.pack(">I", sub_at)) + entry(0x8825, 4, 1, struct.pack(">I", gps_at)) + b"\0" * 4
    gps = struct.pack(">H", 2) + entry(1, 2, 2, b"N\0") + entry(2, 5, 3, struct.pack(">I", degrees_at)) + b"\0" * 4
    body = bytearray(b"MM\0*" + struct.pack(">I", 8) + main + gps).ljust(300, b"\0")
    sub = struct.pack(">H", 1) + entry(0x9003, 2, 20, struct.pack(">I", time_at)) + b"\0" * 4
    body[sub_at : sub_at + len(sub)] = sub
    body[time_at : time_at + 20] = b"2026:03:03 10:15:42\0"
    body[degrees_at : degrees_at + 24] = struct.pack(">6I", 51, 1, 30, 1, 0, 1)
    body[maker_at : maker_at + 9] = b"PhoneWrk\0"
    return bytes(body)


def jpeg_with(*segments: tuple[int, bytes], tail: bytes = b"") -> bytes:
    plain = picture("JPG")
    more = b"".join(struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body for marker, body in segments)
    return plain[:2] + more + plain[2:] + tail


def cleaned(tmp_path: Path, content: bytes, name: str = "pin.jpg") -> bytes:
    (tmp_path / name).write_bytes(content)
    return read_photo(tmp_path / name)


def image_of(content: bytes, *, upright: bool = False) -> QImage:
    held = QByteArray(content)
    buffer = QBuffer(held)
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer)
    reader.setAutoTransform(upright)
    image = reader.read()
    assert not image.isNull(), reader.errorString()
    return image.convertToFormat(QImage.Format.Format_RGB32)


def test_the_place_the_maker_and_what_hangs_behind_are_gone_and_the_picture_is_the_same(tmp_path: Path) -> None:
    secret = b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta exif:GPSLatitude='51,30N'/>"
    hostile = jpeg_with(
        (0xE1, b"Exif\0\0" + exif()),
        (0xE1, secret),
        (0xFE, b"taken at home"),
        (0xE2, b"MPF\0more"),
        tail=b"ftyp movie 51,30N",
    )
    found = cleaned(tmp_path, hostile)
    for trace in (struct.pack(">6I", 51, 1, 30, 1, 0, 1), b"PhoneWrk", b"51,30N", b"home", b"MPF", b"movie"):
        assert trace in hostile
        assert trace not in found
    assert image_of(found) == image_of(hostile)


def test_the_way_up_and_the_time_of_taking_stay(tmp_path: Path) -> None:
    found = cleaned(tmp_path, jpeg_with((0xE1, b"Exif\0\0" + exif(6))))
    upright = image_of(found, upright=True)
    assert (upright.width(), upright.height()) == (16, 24)
    assert b"2026:03:03 10:15:42" in found
    assert cleaned(tmp_path, found) == found


def test_a_photo_without_notes_stays_as_it_is(tmp_path: Path) -> None:
    assert cleaned(tmp_path, picture("JPG")) == picture("JPG")
    assert cleaned(tmp_path, picture("PNG"), "a.png") == picture("PNG")


def test_a_png_loses_its_texts_and_what_hangs_behind(tmp_path: Path) -> None:
    plain = picture("PNG")
    body = b"tEXtLocation\x0051,30N"
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    found = cleaned(tmp_path, plain[:33] + chunk + plain[33:] + b"behind", "a.png")
    assert b"51,30N" not in found
    assert b"behind" not in found
    assert image_of(found) == image_of(plain)


@pytest.mark.parametrize(
    ("content", "about"),
    [
        (b"", "neither a JPEG nor a PNG"),
        (b"\0\0\0\x18ftypheic", "neither a JPEG nor a PNG"),
        (b"\xff\xd8\xff\xd9", "holds no picture"),
        (picture("JPG")[:200], "damaged"),
        (picture("JPG")[:-2], "its end is missing"),
        (picture("PNG")[:60], "damaged"),
    ],
)
def test_what_is_no_whole_picture_is_refused(tmp_path: Path, content: bytes, about: str) -> None:
    with pytest.raises(FileProblem, match=about):
        cleaned(tmp_path, content)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=80), st.integers(0, 299), st.sampled_from([b"II*\0", b"MM\0*"]))
def test_misleading_notes_never_carry_anything_over(junk: bytes, at: int, order: bytes) -> None:
    body = bytearray(exif())
    body[at : at + len(junk)] = junk
    for tiff in (bytes(body), order + junk):
        found = kept_exif(tiff)
        assert len(found) <= 58
        assert struct.pack(">6I", 51, 1, 30, 1, 0, 1) not in found


@settings(max_examples=300, deadline=None)
@given(
    kind=st.sampled_from(["JPG", "PNG"]),
    slips=st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), min_size=1, max_size=4),
)
def test_a_spoiled_photo_gives_a_picture_or_one_clear_error(
    kind: str, slips: list[tuple[float, int]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    content = bytearray(picture("PNG") if kind == "PNG" else jpeg_with((0xE1, b"Exif\0\0" + exif())))
    for share, value in slips:
        content[int(share * len(content))] = value
    path = tmp_path_factory.mktemp("photo") / "a.jpg"
    path.write_bytes(bytes(content))
    try:
        found = read_photo(path)
    except FileProblem as error:
        told = str(error)
    else:
        told = "a.jpg"
        assert len(found) <= len(content) + 70
    assert "a.jpg" in told
