"""LIN frames against the LIN Specification Package 2.2A."""

import pytest

from loomlight.signal.kinds.lin import LIN
from loomlight.signal.lin_words import (
    BYTE_BITS,
    HEADER_BITS,
    checksum,
    header_stretches,
    identifier_of,
    protected_identifier,
    response_stretches,
)

pytestmark = pytest.mark.outside

# Table 2.4: protected identifiers of the frame identifiers 0x00 to 0x3F, in order.
PROTECTED = bytes.fromhex(
    "80C14203C4850647 0849CA8B4C0D8ECF"
    "5011 92D31455D697 D8991A5B9CDD5E1F"
    "2061E2A36425A6E7 A8E96A2BECAD2E6F"
    "F0B13273B4F57637 7839BAFB3C7DFEBF".replace(" ", "")
)


@pytest.mark.parametrize("frame_id", range(64))
def test_protected_identifier_as_published(frame_id: int) -> None:
    assert protected_identifier(frame_id) == PROTECTED[frame_id]
    assert identifier_of(PROTECTED[frame_id]) == (frame_id, True)


def test_each_wrong_parity_bit_is_told() -> None:
    for protected in PROTECTED:
        for bit in (0x40, 0x80):
            assert identifier_of(protected ^ bit) == (protected & 0x3F, False)


def test_checksum_worked_example() -> None:
    # Section 2.8.3: 0x4A, 0x55, 0x93, 0xE5 give the sum 0x19 and the checksum 0xE6.
    assert checksum([0x4A, 0x55, 0x93, 0xE5]) == 0xE6


def test_checksum_of_the_go_to_sleep_command() -> None:
    # Table 2.1: 0x3C with 0x00 and seven times 0xFF; the inverted sum with carry is then 0x00.
    assert checksum([0x00] + [0xFF] * 7) == 0x00


def test_receiver_adds_up_to_ff() -> None:
    # Section 2.8.3: the receiver's sum over data and checksum is 0xFF.
    data = [0x12, 0xFE, 0x80, 0x01]
    total = 0
    for value in (*data, checksum(data)):
        total += value
        total -= 0xFF if total > 0xFF else 0
    assert total == 0xFF


def test_nominal_lengths() -> None:
    # Section 2.3.2: the header has nominally 34 bits, the response 10 (N + 1).
    assert sum(bits for _, bits in header_stretches(0x10)) == HEADER_BITS == 34
    for count in range(1, 9):
        bits = sum(bits for _, bits in response_stretches(bytes(count), protected=0x50))
        assert bits == BYTE_BITS * (count + 1)


def test_break_has_at_least_thirteen_dominant_bits() -> None:
    # Section 2.3.1.1.
    assert header_stretches(0x00)[0] == (True, 13)


@pytest.mark.parametrize(
    ("name", "share"),
    [
        ("receiver takes it for dominant at or below", 0.40),  # LIN 2.2, parameter 17; ISO 17987-4
        ("receiver takes it for recessive at or above", 0.60),  # LIN 2.2, parameter 18; ISO 17987-4
        ("a driver brings the line to or below", 0.20),  # transmitter level as printed in data sheets to LIN 2.x
        ("the resting line reaches at least", 0.80),
    ],
)
def test_threshold_ratios(name: str, share: float) -> None:
    limit = next(one for one in LIN.limits if one.name == name)
    assert (limit.value, limit.unit) == (share, "× supply")
    assert limit.source
