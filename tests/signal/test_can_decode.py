"""CAN frames are read from edges as they were sent: every format, broken ones, and captures that begin anywhere."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from can_lines import BIT_S, FAST_S, acknowledged, lengths_of, line_of, line_of_frames, volts_of
from hypothesis import given, settings
from hypothesis import strategies as st

from loomlight.sample_captures.makers.can_bus import Bus, Node, waves
from loomlight.sample_captures.makers.can_frames import FD_LENGTHS, Frame, sent_bits
from loomlight.sample_captures.makers.can_traffic import Plan, traffic
from loomlight.signal.can_decode import Axis, CanTraffic, decode, find_line
from loomlight.signal.can_line import CanLine
from loomlight.signal.can_rate import Rates
from loomlight.signal.can_received import Clock
from loomlight.signal.samples import FloatSamples

AXIS = Axis(0.0, 1e-7)
RATES = Rates(Clock(BIT_S, FAST_S), is_sure=True)


def read(line: CanLine, rates: Rates | None = RATES) -> CanTraffic:
    found = decode(line, AXIS, rates)
    assert found is not None
    return found


@st.composite
def frames(draw: st.DrawFn) -> Frame:
    extended, fd = draw(st.booleans()), draw(st.booleans())
    identifier = draw(st.integers(0, 2**29 - 1 if extended else 2**11 - 1))
    size = draw(st.sampled_from(FD_LENGTHS if fd else FD_LENGTHS[:9]))
    fill = draw(st.sampled_from([None, 0x00, 0xFF, 0x0F, 0xF8]))
    data = bytes([fill] * size) if fill is not None else draw(st.binary(min_size=size, max_size=size))
    if not fd and draw(st.integers(0, 5)) == 0:
        return Frame(identifier, extended=extended, remote=True, length_code=size)
    return Frame(identifier, data, extended=extended, fd=fd, fast=fd and draw(st.booleans()))


@settings(max_examples=40)
@given(st.lists(frames(), min_size=1, max_size=12))
def test_what_is_sent_is_read(sent: list[Frame]) -> None:
    found = read(line_of_frames(sent)).frames
    assert [one.state for one in found] == ["good"] * len(sent)
    for one, wanted in zip(found, sent, strict=True):
        assert (one.identifier, one.data, one.extended) == (wanted.identifier, wanted.data, wanted.extended)
        assert (one.remote, one.fd, one.switched) == (wanted.remote, wanted.fd, wanted.fast)


@settings(max_examples=40)
@given(st.data())
def test_one_turned_bit_is_never_read_as_good(data: st.DataObject) -> None:
    bits = acknowledged(sent_bits(data.draw(frames())))
    place = data.draw(st.integers(1, len(bits.bits) - 11))
    turned = [*bits.bits[:place], 1 - bits.bits[place], *bits.bits[place + 1 :]]
    found = read(line_of([(turned, lengths_of(bits))])).frames
    assert found[0].state != "good"


def test_nobody_acknowledges() -> None:
    (found,) = read(line_of_frames([Frame(0x123, b"\x55\xaa")], answered=False)).frames
    assert (found.state, found.field) == ("no acknowledge", "acknowledge slot")


def test_an_error_flag_and_its_place() -> None:
    bits = acknowledged(sent_bits(Frame(0x2A5, bytes(range(0x51, 0x59)))))
    cut = [*bits.bits[:50], *[0] * 6]
    found = read(line_of([(cut, np.full(len(cut), BIT_S)), (bits.bits, lengths_of(bits))]))
    assert [one.state for one in found.frames] == ["error flag", "good"]
    assert found.frames[0].field.startswith("data, byte")
    assert len(found.flags_s) == 1


def test_an_overload_flag_after_a_whole_frame() -> None:
    bits = acknowledged(sent_bits(Frame(0x2A5, b"\x01\x02")))
    row = [*bits.bits, *[0] * 6, *[1] * 8]
    found = read(line_of([(row, np.full(len(row), BIT_S))]))
    assert [one.state for one in found.frames] == ["good"]
    assert found.overloads == 1


@pytest.mark.parametrize("share", [0.1, 0.35, 0.6, 0.85])
def test_a_capture_that_begins_inside_a_frame(share: float) -> None:
    sent = [Frame(0x100 + number, bytes([number] * 8)) for number in range(6)]
    whole = line_of_frames(sent)
    begin_s = whole.falls_s[0] + share * 130 * BIT_S
    volts = volts_of(whole, step_s=1e-7)
    first = round(begin_s / 1e-7)
    line = find_line(FloatSamples(volts[first:]), Axis(first * 1e-7, 1e-7), below=0.5, above=0.9)
    found = read(line).frames
    assert [one.identifier for one in found] == [one.identifier for one in sent[1:]]
    assert {one.state for one in found} == {"good"}


def test_a_capture_that_ends_inside_a_frame() -> None:
    line = line_of_frames([Frame(0x100, bytes(8)), Frame(0x101, bytes(8))])
    stop_s = line.falls_s[-1]
    kept = line.edges_s[line.edges_s < stop_s]
    found = read(CanLine(kept, starts_recessive=True, start_s=0.0, stop_s=stop_s)).frames
    assert [one.state for one in found] == ["good", "past the end"]


@pytest.mark.parametrize("rate", [1e6, 500e3, 250e3, 125e3, 83_333.0, 47_000.0])
@pytest.mark.parametrize("a_bit", [10.0, 17.3])
def test_the_bit_rate_is_found(rate: float, a_bit: float) -> None:
    rng = np.random.default_rng(int(rate))
    sent = [Frame(int(rng.integers(2048)), rng.bytes(int(rng.integers(1, 9)))) for _ in range(12)]
    line = line_of_frames(sent)
    scale = 1.003 / rate / BIT_S
    step_s = BIT_S / a_bit
    seen = find_line(FloatSamples(volts_of(line, step_s=step_s)), Axis(0.0, step_s * scale), below=0.5, above=0.9)
    found = decode(seen, Axis(0.0, step_s * scale))
    assert found is not None
    assert 1.0 / found.bit_s == pytest.approx(rate / 1.003, rel=2e-4)
    assert [one.identifier for one in found.frames] == [one.identifier for one in sent]


@pytest.mark.parametrize("ratio", [2.0, 4.0, 8.0])
def test_the_rate_of_the_data_phase_is_found(ratio: float) -> None:
    rng = np.random.default_rng(int(ratio))
    bus = Bus(tuple(Node(spot) for spot in ("near", "far", "stub")), ring_share=0.15)
    says = [[Frame(64 * node + 5, rng.bytes(24), fd=True, fast=True)] for node in range(3)]
    plan = Plan(BIT_S, BIT_S / ratio, says, sample_point=0.75)
    drive, sent = traffic(bus, plan, rng, start_s=0.0, stop_s=4e-3)
    step_s = BIT_S / ratio / 10
    high, low = waves(bus, drive, "near", step_s=step_s, count=int(4e-3 / step_s))
    line = find_line(FloatSamples(high - low), Axis(0.0, step_s), below=0.5, above=0.9)
    found = decode(line, Axis(0.0, step_s))
    assert found is not None
    assert found.rates.clock.fast_bit_s == pytest.approx(BIT_S / ratio, rel=0.01)
    read_well = [one for one in found.frames if one.state == "good"]
    assert len(read_well) >= sum(one.stop_s < 4e-3 for one in sent) - 1


def test_a_bus_with_rivals_errors_and_overloads() -> None:
    rng = np.random.default_rng(3)
    bus = Bus(tuple(Node(spot, delay_s=rng.uniform(5e-8, 2e-7)) for spot in ("near", "far", "stub", "far")))
    says = [[Frame(0x100 * node + 7, rng.bytes(8), extended=node == 2)] for node in range(4)]
    plan = Plan(BIT_S, BIT_S, says, destroyed=0.15, overloads=0.15, rivals=0.6)
    drive, sent = traffic(bus, plan, rng, start_s=0.0, stop_s=0.03)
    high, low = waves(bus, drive, "far", step_s=1e-7, count=300_000)
    line = find_line(FloatSamples(high - low), AXIS, below=0.5, above=0.9)
    found = decode(line, AXIS)
    assert found is not None
    whole = [one for one in sent if one.stop_s < 0.03]
    starts = np.array([one.start_s for one in found.frames])
    for one in whole:
        place = int(np.argmin(np.abs(starts - one.start_s)))
        mine = found.frames[place]
        assert abs(mine.start_s - one.start_s) < 0.5 * BIT_S
        assert (mine.state == "good") == (one.end == "good")
        if one.end == "good":
            assert (mine.identifier, mine.data) == (one.frame.identifier, one.frame.data)
    assert Counter(one.end for one in whole)["destroyed"] >= 10
    assert found.overloads == pytest.approx(sum(one.overloads for one in sent), abs=1)


def test_what_was_not_acquired_is_no_error() -> None:
    line = line_of_frames([Frame(0x300 + number, bytes(8)) for number in range(3)])
    starts = line.falls_s[np.concatenate([[True], np.diff(line.falls_s) > 12 * BIT_S])]
    hole = (starts[1] + 20 * BIT_S, starts[1] + 60 * BIT_S)
    kept = line.edges_s[(line.edges_s < hole[0]) | (line.edges_s > hole[1])]
    holed = replace(line, edges_s=kept[: kept.size - kept.size % 2])
    found = decode(holed, Axis(0.0, 1e-7, np.array([hole])), RATES)
    assert found is not None
    assert [one.state for one in found.frames][::2] == ["good", "good"]
    assert found.frames[1].state == "past the end"
