"""Frames read from lines drawn bit by bit, and what torn headers, wake-up pulses and gaps do to them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import lfilter

from loomlight.signal.capture import Channel
from loomlight.signal.lin_decode import LinTraffic, decode
from loomlight.signal.lin_words import Stretch, header_stretches, protected_identifier, response_stretches
from loomlight.signal.samples import FloatSamples

BIT_S = 1 / 19_200
A_BIT = 20
"""Samples a bit."""
STEP_S = BIT_S / A_BIT


def frame(frame_id: int, data: bytes = b"", *, enhanced: bool = True, space: float = 2.0) -> list[Stretch]:
    header = header_stretches(frame_id)
    if not data:
        return header
    protected = protected_identifier(frame_id) if enhanced else None
    return [*header, (False, space), *response_stretches(data, protected=protected)]


def rest(bits: float) -> list[Stretch]:
    return [(False, bits)]


def drawn(*pieces: list[Stretch]) -> np.ndarray:
    """Volts of a line: 1 V dominant, 12 V recessive."""
    stretches = [stretch for piece in pieces for stretch in piece]
    return np.concatenate([np.full(round(bits * A_BIT), 1.0 if dominant else 12.0) for dominant, bits in stretches])


def read(volts: np.ndarray) -> LinTraffic:
    channel = Channel("x", "V", FloatSamples(volts), 0.0, STEP_S)
    return decode(channel, dominant_below=4.8, recessive_above=7.2)


def states(found: LinTraffic) -> list[tuple[int | None, str]]:
    return [(one.identifier, one.state) for one in found.frames]


FIRST, SECOND, THIRD = frame(0x10, b"\x01\x02"), frame(0x21, b"\x55\x00\xff"), frame(0x22, b"\x0f")
PAUSE = 60.0


def three() -> np.ndarray:
    return drawn(rest(50), FIRST, rest(PAUSE), SECOND, rest(PAUSE), THIRD, rest(200))


BREAK_AT = round((50 + sum(bits for _, bits in FIRST) + PAUSE) * A_BIT)
"""Sample at which the second frame's break begins."""


@settings(max_examples=60, deadline=None)
@given(
    frame_id=st.integers(0, 0x3D),
    data=st.binary(min_size=1, max_size=8),
    enhanced=st.booleans(),
    space=st.floats(0.0, 20.0),
    rate_off=st.floats(-0.14, 0.14),
)
def test_what_was_sent_is_read(frame_id: int, data: bytes, enhanced: bool, space: float, rate_off: float) -> None:
    enhanced = enhanced and frame_id < 0x3C
    volts = drawn(rest(30), frame(frame_id, data, enhanced=enhanced, space=space), rest(200))
    channel = Channel("x", "V", FloatSamples(volts), -3.0, STEP_S * (1 + rate_off))
    (found,) = decode(channel, dominant_below=4.8, recessive_above=7.2).frames
    assert (found.identifier, found.data, found.state) == (frame_id, data, "good")
    assert found.checksum_form in (("enhanced", "both") if enhanced else ("classic", "both"))
    assert found.start_s == pytest.approx(-3.0 + 30 * BIT_S * (1 + rate_off), abs=STEP_S)
    assert len(found.byte_starts_s) == 2 + len(data) + 1


@pytest.mark.parametrize("bit", [1, 4, 8, 12, 15, 17, 19, 22])
@pytest.mark.parametrize("wide", [0.3, 2.0])
def test_a_torn_header_is_counted_once_and_costs_no_other_frame(bit: int, wide: float) -> None:
    volts = three()
    begin = BREAK_AT + round(bit * A_BIT)
    volts[begin : begin + round(wide * A_BIT)] = 12.0
    found = read(volts)
    kept = [state for state in states(found) if state[0] in (0x10, 0x22)]
    assert kept == [(0x10, "good"), (0x22, "good")]
    second = [one for one in found.frames if one.identifier not in (0x10, 0x22)]
    assert len(second) + len(found.broken_breaks) == 1
    for start_s in found.broken_breaks:
        assert start_s == pytest.approx(BREAK_AT * STEP_S, abs=BIT_S + bit * BIT_S)


def test_a_torn_header_after_an_unanswered_one() -> None:
    volts = drawn(rest(50), frame(0x21), rest(100), FIRST, rest(200))
    begin = round((50 + 34 + 100 + 5) * A_BIT)
    volts[begin : begin + A_BIT] = 12.0
    found = read(volts)
    assert states(found) == [(0x21, "no response")]
    assert len(found.broken_breaks) == 1


def test_a_late_answer_still_counts() -> None:
    assert states(read(drawn(rest(20), frame(0x21, b"\x01\x02", space=45.0), rest(100)))) == [(0x21, "good")]


def test_an_answer_that_stops_is_cut_short() -> None:
    whole = frame(0x21, b"\x01\x02\x03")
    assert states(read(drawn(rest(20), whole[:-33], rest(200)))) == [(0x21, "cut short")]


@pytest.mark.parametrize("pulse_s", [250e-6, 1e-3, 5e-3])
def test_wake_up_pulses_are_neither_frames_nor_errors(pulse_s: float) -> None:
    # LIN Specification Package 2.2A, section 2.6.2: dominant for 250 µs to 5 ms, repeated after 150 to 250 ms.
    pulse, quiet = [(True, pulse_s / BIT_S)], rest(0.2 / BIT_S)
    found = read(drawn(quiet, pulse, quiet, pulse, rest(0.05 / BIT_S), FIRST, rest(200)))
    assert states(found) == [(0x10, "good")]
    assert found.broken_breaks == ()


def test_a_break_alone_amid_traffic_is_an_error() -> None:
    found = read(drawn(rest(50), FIRST, rest(PAUSE), [(True, 14)], rest(150), THIRD, rest(200)))
    assert states(found) == [(0x10, "good"), (0x22, "good")]
    assert len(found.broken_breaks) == 1


@pytest.mark.parametrize("bit", [38, 50, 67])
def test_a_gap_in_a_frame_is_not_the_bus(bit: int) -> None:
    volts = three()
    begin = BREAK_AT + bit * A_BIT
    volts[begin : begin + 6 * A_BIT] = np.nan
    found = read(volts)
    assert states(found)[1] == (0x21, "past the end")
    assert "not acquired" in found.frames[1].problem
    assert [state for _, state in states(found)[::2]] == ["good", "good"]


def test_a_frame_whose_checksum_fits_over_a_gap_is_good() -> None:
    volts = three()
    begin = BREAK_AT + 60 * A_BIT  # in the recessive bits of 0xFF
    volts[begin : begin + 4 * A_BIT] = np.nan
    assert states(read(volts))[1] == (0x21, "good")


def test_a_gap_while_the_line_was_dominant_is_no_break() -> None:
    volts = drawn(rest(50), FIRST, rest(PAUSE), [(True, 0.5)], rest(100), THIRD, rest(200))
    begin = round((50 + sum(bits for _, bits in FIRST) + PAUSE) * A_BIT) + 4
    volts[begin : begin + 30 * A_BIT] = np.nan
    assert read(volts).broken_breaks == ()


@pytest.mark.parametrize("stop", range(15, 76, 3))
def test_a_capture_that_stops_anywhere_blames_nobody(stop: int) -> None:
    volts = drawn(rest(10), SECOND)[: (10 + stop) * A_BIT]
    assert all(one.state == "past the end" for one in read(volts).frames)


def test_a_capture_that_starts_anywhere_reads_the_next_frame() -> None:
    whole = drawn(SECOND, rest(PAUSE), FIRST, rest(200))
    for begin in range(0, 80 * A_BIT, 7 * A_BIT):
        found = read(whole[begin:])
        assert states(found)[-1] == (0x10, "good")
        assert found.broken_breaks == ()


def test_wrong_parity_and_wrong_checksum_are_told_apart() -> None:
    header = header_stretches(0x21)
    wrong = [*header[:-2], (not header[-2][0], 1.0), header[-1]]
    (found,) = read(drawn(rest(20), wrong, rest(200))).frames
    assert (found.state, "parity" in found.problem) == ("header error", True)
    answer = response_stretches(b"\x01\x02", protected=0x11)
    (found,) = read(drawn(rest(20), header, rest(1), answer, rest(200))).frames
    assert (found.state, "neither form" in found.problem) == ("checksum error", True)


def test_diagnostic_frames_are_classic_only() -> None:
    # LIN Specification Package 2.2A, section 2.3.1.5.
    (found,) = read(drawn(rest(20), frame(0x3C, bytes([0x00, *[0xFF] * 7]), enhanced=True), rest(200))).frames
    assert found.state == "checksum error"


@pytest.mark.parametrize("clock_off", [-0.02, 0.0, 0.02])
@pytest.mark.parametrize("a_bit", [8, 20])
def test_slow_edges_noise_and_the_responders_own_clock(a_bit: int, clock_off: float) -> None:
    # Clocks of two nodes may differ by 2 %: LIN 2.x, parameter 5 (number from memory); 5 µs: longest time constant.
    fine = 64
    rng = np.random.default_rng(11)
    sent = [(int(rng.integers(0, 60)), rng.bytes(int(rng.integers(1, 9)))) for _ in range(40)]
    stretches: list[tuple[bool, float]] = []
    for frame_id, data in sent:
        answer = response_stretches(data, protected=protected_identifier(frame_id), between_bits=1.0)
        stretches += [*header_stretches(frame_id), (False, 3.0)]
        stretches += [(dominant, bits * (1.0 + clock_off)) for dominant, bits in answer]
        stretches += rest(40)
    step_s = BIT_S / fine
    lengths = [round(bits * fine) for _, bits in stretches]
    volts = np.repeat([1.0 if dominant else 12.0 for dominant, _ in stretches], lengths)
    pole = np.exp(-step_s / 5e-6)
    slow = lfilter([1 - pole], [1, -pole], volts - 12.0) + 12.0
    seen = slow[np.arange(0, slow.size, fine / a_bit).astype(int)]
    noisy = np.round((seen + rng.normal(0.0, 0.1, seen.size)) / 0.1) * 0.1
    channel = Channel("x", "V", FloatSamples(noisy), 0.0, BIT_S / a_bit)
    found = decode(channel, dominant_below=4.8, recessive_above=7.2)
    assert [(one.identifier, one.data, one.state) for one in found.frames] == [(*one, "good") for one in sent]
    assert found.broken_breaks == ()


@pytest.mark.bench
def test_ten_seconds_of_bus(benchmark) -> None:  # type: ignore[no-untyped-def]
    volts = np.tile(three(), 400)
    found = benchmark.pedantic(lambda: read(volts), rounds=3)
    assert len(found.frames) == 1200
    assert benchmark.stats["median"] < 2.0
