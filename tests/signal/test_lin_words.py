"""Laws of the words of a LIN frame."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.lin_words import (
    byte_stretches,
    checksum,
    header_stretches,
    identifier_of,
    protected_identifier,
    response_stretches,
)

DATA = st.binary(min_size=1, max_size=8)


@pytest.mark.parametrize("frame_id", [-1, 0x40, 0xFF])
def test_an_identifier_out_of_range_is_refused(frame_id: int) -> None:
    with pytest.raises(ValueError, match="0 to 0x3F"):
        protected_identifier(frame_id)


def test_a_quarter_of_all_bytes_are_protected_identifiers() -> None:
    assert sum(identifier_of(value)[1] for value in range(256)) == 64


@given(frame_id=st.integers(0, 0x3F), bit=st.integers(0, 7))
def test_one_wrong_bit_never_passes(frame_id: int, bit: int) -> None:
    assert not identifier_of(protected_identifier(frame_id) ^ 1 << bit)[1]


@given(data=DATA, protected=st.one_of(st.none(), st.integers(0, 255)), place=st.integers(0, 63))
def test_one_wrong_bit_changes_the_checksum(data: bytes, protected: int | None, place: int) -> None:
    wrong = bytearray(data)
    wrong[place // 8 % len(data)] ^= 1 << place % 8
    assert checksum(wrong, protected=protected) != checksum(data, protected=protected)


@given(data=DATA, protected=st.integers(0, 255))
def test_enhanced_is_classic_with_the_identifier_in_front(data: bytes, protected: int) -> None:
    assert checksum(data, protected=protected) == checksum(bytes([protected]) + data)
    assert 0 <= checksum(data) <= 0xFF


@given(value=st.integers(0, 255))
def test_a_byte_goes_out_lowest_bit_first(value: int) -> None:
    stretches = byte_stretches(value)
    assert [bits for _, bits in stretches] == [1.0] * 10
    assert (stretches[0][0], stretches[-1][0]) == (True, False)
    assert sum((not dominant) << place for place, (dominant, _) in enumerate(stretches[1:9])) == value


def test_a_longer_break_and_pauses_between_bytes_are_sent_as_asked() -> None:
    assert header_stretches(0x10, break_bits=18)[0] == (True, 18)
    spaced = response_stretches(b"\x01\x02", protected=0x50, between_bits=1.5)
    assert sum(bits for _, bits in spaced) == 3 * (10 + 1.5)
