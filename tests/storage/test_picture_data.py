"""Data inside a picture, checked against Qt's own reader and writer of PNG."""

import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QBuffer, QByteArray, QIODevice
from PySide6.QtGui import QImage

from loomlight.storage.picture_data import SIGNATURE, NoPicture, data_of, with_data

DATA = '{"verdict": "faulty", "größe": "12 Ω 車", "lines": "a\\nb"}'


def picture(text: str = "") -> bytes:
    image = QImage(5, 3, QImage.Format.Format_RGB32)
    image.fill(0x123456)
    if text:
        image.setText("loomlight", text)
    content = QByteArray()
    buffer = QBuffer(content)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    assert image.save(buffer, "PNG")
    return bytes(content.data())


PLAIN = picture()


def chunk(kind: bytes, content: bytes) -> bytes:
    # ISO/IEC 15948, 5.3: length, type, data, CRC over type and data.
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def with_chunk(content: bytes) -> bytes:
    return PLAIN[:33] + chunk(b"iTXt", content) + PLAIN[33:]


def test_another_reader_finds_the_data_and_the_same_picture() -> None:
    image = QImage.fromData(with_data(PLAIN, [DATA]), "PNG")
    assert image.text("loomlight") == DATA
    assert image == QImage.fromData(PLAIN, "PNG")


@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=200))
def test_any_text_comes_back(text: str) -> None:
    assert data_of(with_data(PLAIN, [text])) == text


def test_a_long_text_comes_back_and_is_packed() -> None:
    text = "findings " * 100_000
    full = with_data(PLAIN, [text])
    assert data_of(full) == text
    assert len(full) < len(text) / 50


def test_new_data_take_the_place_of_old_ones() -> None:
    once = with_data(PLAIN, ["new"])
    assert with_data(with_data(PLAIN, ["old"]), ["new"]) == once
    assert once.count(b"iTXt") == 1


def test_a_picture_without_our_data() -> None:
    assert data_of(PLAIN) is None
    assert data_of(with_chunk(b"loomlights\0\0\0\0\0no")) is None


def test_data_that_another_program_saved_again_are_read() -> None:
    # ISO/IEC 15948, 11.3.4.5: keyword, flag, method, language, translated keyword, text.
    assert data_of(with_chunk(b"loomlight\0\0\0de\0Webstuhl\0" + DATA.encode())) == DATA
    assert data_of(with_chunk(b"loomlight\0\1\0\0\0" + zlib.compress(DATA.encode()))) == DATA


@pytest.mark.parametrize(
    "content",
    [
        b"loomlight\0",
        b"loomlight\0\1\0\0\0not packed",
        b"loomlight\0\1\1\0\0" + zlib.compress(b"x"),
        b"loomlight\0\1\0\0\0" + zlib.compress(b"x" * 500)[:-6],
        b"loomlight\0\0\0\0\0\xff\xfe",
        b"loomlight\0\1\0\0\0" + zlib.compress(b"\xff"),
        b"loomlight\0\2\0\0\0x",
    ],
)
def test_damaged_data_are_told(content: bytes) -> None:
    with pytest.raises(NoPicture, match="damaged"):
        data_of(with_chunk(content))


def test_a_made_up_picture_does_not_fill_the_memory() -> None:
    packer = zlib.compressobj()
    packed = b"".join(packer.compress(bytes(1 << 20)) for _ in range(65)) + packer.flush()
    with pytest.raises(NoPicture, match="damaged"):
        data_of(with_chunk(b"loomlight\0\1\0\0\0" + packed))


@pytest.mark.parametrize("content", [b"", b"GIF89a", SIGNATURE[:5], b"\0" * 100])
def test_what_is_no_png_is_told(content: bytes) -> None:
    with pytest.raises(NoPicture, match="no PNG picture"):
        data_of(content)
    with pytest.raises(NoPicture, match="no PNG picture"):
        with_data(content, [DATA])


@pytest.mark.parametrize("act", [data_of, lambda png: with_data(png, [DATA])])
def test_every_cut_and_every_flipped_bit_is_told(act: object) -> None:
    for stop in range(len(SIGNATURE), len(PLAIN)):
        with pytest.raises(NoPicture, match="damaged"):
            act(PLAIN[:stop])  # type: ignore[operator]
    for place in range(len(SIGNATURE), len(PLAIN)):
        spoilt = bytearray(PLAIN)
        spoilt[place] ^= 0x10
        with pytest.raises(NoPicture, match="damaged"):
            act(bytes(spoilt))  # type: ignore[operator]


def test_the_header_comes_first() -> None:
    with pytest.raises(NoPicture, match="damaged"):
        with_data(SIGNATURE + chunk(b"IEND", b""), [DATA])
