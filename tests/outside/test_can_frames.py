"""CAN frames against published worked examples, the CRC catalogue, and general-purpose open libraries."""

import can
import numpy as np
import pytest
from can.util import dlc2len, len2dlc
from can_lines import BIT_S, line_of, line_of_frames
from crccheck.crc import Crc15Can, Crc17CanFd, Crc21CanFd

from loomlight.sample_captures.makers.can_frames import Frame, sent_bits
from loomlight.signal.can_decode import Axis, CanFrame, decode
from loomlight.signal.can_rate import Rates
from loomlight.signal.can_received import Clock
from loomlight.signal.can_words import CRC_15, CRC_17, CRC_21, LENGTHS, crc_step, stuff_count_bits

pytestmark = pytest.mark.outside
RATES = Rates(Clock(BIT_S, 0.25 * BIT_S), is_sure=True)
AXIS = Axis(0.0, 1e-7)


def bits_of(data: bytes) -> list[int]:
    return [int(one) for byte in data for one in f"{byte:08b}"]


def crc_of(bits: list[int], model: tuple[int, int]) -> int:
    register = np.array([0])
    for bit in bits:
        register = crc_step(register, np.array([bit]), *model)
    return int(register[0])


# The public catalogue of parametrised CRC algorithms: check values over the ASCII text "123456789".
@pytest.mark.parametrize(("model", "check"), [(CRC_15, 0x059E), (CRC_17, 0x04F03), (CRC_21, 0x0ED841)])
def test_catalogue_check_values(model: tuple[int, int], check: int) -> None:
    assert crc_of(bits_of(b"123456789"), model) == check


@pytest.mark.parametrize(("model", "library"), [(CRC_15, Crc15Can), (CRC_17, Crc17CanFd), (CRC_21, Crc21CanFd)])
def test_checksums_as_a_general_library_has_them(model: tuple[int, int], library: type) -> None:
    rng = np.random.default_rng(5)
    for size in range(1, 40):
        data = rng.integers(0, 256, size, dtype=np.uint8).tobytes()
        assert crc_of(bits_of(data), model) == library.calc(data)


# A worked frame published bit by bit in the test of an open bit-banged sender: identifier 0x014, one byte 0x01, stuff bits
# in places 5, 16 and 26, nobody acknowledges, three bits of intermission.
WORKED = "0000010010100000100010000010011110111010100111111111111111"


def read(bits: str) -> CanFrame:
    row = [int(one) for one in bits]
    traffic = decode(line_of([(row, np.full(len(row), BIT_S))]), AXIS, RATES)
    assert traffic is not None
    (frame,) = traffic.frames
    return frame


def test_the_worked_frame() -> None:
    frame = read(WORKED)
    assert (frame.identifier, frame.data, frame.check) == (0x014, b"\x01", 0x7753)
    assert (frame.state, frame.acknowledged) == ("no acknowledge", False)


@pytest.mark.parametrize("place", range(1, 44))
def test_each_bit_of_the_worked_frame_counts(place: int) -> None:
    turned = WORKED[:place] + ("1" if WORKED[place] == "0" else "0") + WORKED[place + 1 :]
    assert read(turned).state not in ("good", "no acknowledge")


# Frames with their CRC from the test bench of an open CAN controller core (can_testbench.v, OpenCores).
BENCH = [
    (0x741, "", 0x2372), (0x741, "12", 0x30BB), (0x741, "1234", 0x2DA1), (0x741, "123456", 0x56A9),
    (0x741, "123456789ABCDE", 0x391D), (0x741, "123456789ABCDEF0", 0x70E0), (0x771, "", 0x6CEA), (0x771, "12", 0x00C5),
    (0x771, "1234", 0x7B4A), (0x041, "123456", 0x7BCB), (0x041, "123456789ABCDE", 0x085C),
    (0x041, "123456789ABCDEF0", 0x57A0), (0x14D60246, "123456", 0x5262), (0x14D60246, "123456789ABCDE", 0x1730),
    (0x14D60246, "123456789ABCDEF0", 0x2F7A),
]  # fmt: skip


def plain(frame: Frame, check: int) -> str:
    """The bits before stuffing, put together from the published figures alone."""
    if frame.extended:
        head = f"0{frame.identifier >> 18:011b}11{frame.identifier & 0x3FFFF:018b}{int(frame.remote)}00"
    else:
        head = f"0{frame.identifier:011b}{int(frame.remote)}00"
    length = frame.length_code if frame.length_code is not None else len(frame.data)
    return f"{head}{length:04b}{''.join(f'{one:08b}' for one in frame.data)}{check:015b}"


def stuffed(bits: str) -> str:
    out = ""
    for one in bits:
        out += one
        if len(out) >= 5 and len(set(out[-5:])) == 1:
            out += "1" if out[-1] == "0" else "0"
    return out


@pytest.mark.parametrize(("identifier", "data", "check"), BENCH)
def test_frames_of_an_open_controller_core(identifier: int, data: str, check: int) -> None:
    sent = Frame(identifier, bytes.fromhex(data), extended=identifier > 0x7FF)
    frame = read(stuffed(plain(sent, check)) + "1011111111")
    assert (frame.identifier, frame.data, frame.check, frame.state) == (identifier, sent.data, check, "good")


def test_a_remote_frame_of_that_core() -> None:
    sent = Frame(0x745, remote=True, length_code=7)
    frame = read(stuffed(plain(sent, 0x4E9F)) + "1011111111")
    assert (frame.identifier, frame.remote, frame.length_code, frame.data) == (0x745, True, 7, b"")
    assert (frame.check, frame.state) == (0x4E9F, "good")


def test_length_codes_as_an_open_library_has_them() -> None:
    assert [dlc2len(code) for code in range(16)] == LENGTHS.tolist()


# ISO 11898-1:2015, 10.4.2.6, as quoted in public: stuff count modulo 8, Gray-coded, then its parity.
def test_stuff_count_code() -> None:
    published = [0b0000, 0b0011, 0b0110, 0b0101, 0b1100, 0b1111, 0b1010, 0b1001]
    assert stuff_count_bits(np.arange(16)).tolist() == published * 2


def test_content_as_an_open_library_holds_it() -> None:
    """Messages made, checked and compared by a general-purpose open CAN library; ours only carries their bits."""
    rng = np.random.default_rng(11)
    sent = []
    for number in range(120):
        extended, fd = bool(number % 3 == 0), bool(number % 2)
        size = int(LENGTHS[rng.integers(16)]) if fd else int(rng.integers(9))
        sent.append(
            can.Message(
                arbitration_id=int(rng.integers(1 << (29 if extended else 11))),
                is_extended_id=extended,
                is_fd=fd,
                bitrate_switch=fd and bool(number % 4 == 1),
                data=rng.integers(0, 256, size, dtype=np.uint8).tobytes(),
                check=True,
            )
        )
    frames = [
        Frame(one.arbitration_id, bytes(one.data), extended=one.is_extended_id, fd=one.is_fd, fast=one.bitrate_switch)
        for one in sent
    ]
    traffic = decode(line_of_frames(frames), AXIS, RATES)
    assert traffic is not None
    got = [
        can.Message(
            arbitration_id=one.identifier or 0,
            is_extended_id=one.extended,
            is_fd=one.fd,
            bitrate_switch=one.switched,
            dlc=len2dlc(len(one.data)) and len(one.data),
            data=one.data,
            check=True,
        )
        for one in traffic.frames
    ]
    assert [one.state for one in traffic.frames] == ["good"] * len(sent)
    assert all(mine.equals(theirs, check_channel=False) for mine, theirs in zip(got, sent, strict=True))


def test_the_made_frame_is_the_published_one() -> None:
    assert "".join(map(str, sent_bits(Frame(0x014, b"\x01")).bits)) + "111" == WORKED
