"""LIN frames and checksums against values that others published."""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.lin_decode import MOST_FRAME_BITS, LinFrame, decode
from loomlight.signal.lin_words import SLACK, checksum
from loomlight.signal.samples import FloatSamples

pytestmark = pytest.mark.outside

# Test table in main.c of the public repository stm8-lin-checksum: no identifier means classic.
# The row 4A 55 93 E5 with E6 is the worked example of the LIN Specification Package 2.2A, section 2.8.3.
PUBLISHED = [
    (None, "", 0xFF),
    (None, "0000000000000000", 0xFF),
    (None, "FFFFFFFFFFFFFFFF", 0x00),
    (None, "91FA", 0x73),
    (None, "4A5593E5", 0xE6),
    (None, "A9D3763D4FD9D35B", 0x76),
    (0xBF, "", 0x40),
    (0xBF, "0000000000000000", 0x40),
    (0xBF, "FFFFFFFFFFFFFFFF", 0x40),
    (0xBF, "91FA", 0xB3),
    (0xBF, "4A5593E5", 0x27),
    (0xBF, "A9D3763D4FD9D35B", 0xB6),
    # Comment in TeensyLC_LIN-slave.ino of the public repository Teensy-based-LIN-bus-Master-Slave.
    (0x50, "1122334455667788", 0x49),
]


@pytest.mark.parametrize(("protected", "data", "published"), PUBLISHED)
def test_checksums_as_published(protected: int | None, data: str, published: int) -> None:
    assert checksum(bytes.fromhex(data), protected=protected) == published


def on_the_wire(after_break: bytes, *, a_bit: int = 16, pause_bits: int = 1) -> np.ndarray:
    """Volts of break and bytes, spelt out from LIN 2.2A, section 2.3.1: start bit, lowest bit first, stop bit."""
    bits = [1] * 40 + [0] * 13 + [1]
    for value in after_break:
        bits += [0, *(int(one) for one in f"{value:08b}"[::-1]), 1, *[1] * pause_bits]
    return np.repeat(np.array(bits + [1] * 200) * 11.0 + 1.0, a_bit)


def read(after_break: str, *, bit_rate: float = 19_200.0) -> LinFrame:
    channel = Channel("x", "V", FloatSamples(on_the_wire(bytes.fromhex(after_break))), 0.0, 1 / bit_rate / 16)
    (frame,) = decode(channel, dominant_below=4.8, recessive_above=7.2).frames
    return frame


@pytest.mark.parametrize("bit_rate", [1_000.0, 2_400.0, 9_600.0, 10_417.0, 19_200.0, 20_000.0])
def test_the_published_frame_is_read_at_every_rate(bit_rate: float) -> None:
    # Bytes after the break as in TeensyLC_LIN-slave.ino (see above); 1 to 20 kbit/s: ISO 17987-4, scope.
    frame = read("5550112233445566778849", bit_rate=bit_rate)
    assert (frame.identifier, frame.data.hex(), frame.checksum) == (0x10, "1122334455667788", 0x49)
    assert (frame.state, frame.checksum_form) == ("good", "enhanced")
    assert 1 / frame.bit_s == pytest.approx(bit_rate, rel=1e-3)


def test_the_go_to_sleep_command_is_read() -> None:
    # LIN Specification Package 2.2A, table 2.1.
    frame = read("553C00FFFFFFFFFFFFFF00")
    assert (frame.identifier, frame.data, frame.state) == (0x3C, bytes([0, *[0xFF] * 7]), "good")
    assert frame.checksum_form == "classic"


@pytest.mark.parametrize("after_break", ["55BF4A5593E555", "55BF91FA42"])
def test_wrong_checksums_as_published_are_refused(after_break: str) -> None:
    # The two wrong ones of stm8-lin-checksum's main.c.
    frame = read(after_break)
    assert (frame.state, frame.checksum_form) == ("checksum error", "neither")


def test_longest_frame() -> None:
    # Section 2.3.2: header 34 and response 10 (N + 1) bits, each at most 1.4 times as long; N is at most 8.
    assert SLACK == 1.4
    assert pytest.approx(1.4 * (34 + 90)) == MOST_FRAME_BITS
    # In milliseconds at 9600 and 19 200 bit/s.
    assert pytest.approx(18.083, abs=5e-4) == 1e3 * MOST_FRAME_BITS / 9_600
    assert pytest.approx(9.042, abs=5e-4) == 1e3 * MOST_FRAME_BITS / 19_200
