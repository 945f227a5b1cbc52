"""Frames are read as they were sent, on good buses and bad ones."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from loomlight.sample_captures.make_samples import SOLVE_S, record
from loomlight.signal.capture import Channel
from loomlight.signal.circuit import LinBus
from loomlight.signal.errors import CannotUse
from loomlight.signal.lin_decode import LinTraffic, decode
from loomlight.signal.samples import FloatSamples


def read(volts: np.ndarray, *, every: int = 2, start_s: float = 0.0) -> LinTraffic:
    channel = Channel("x", "V", FloatSamples(volts[::every]), start_s, every * SOLVE_S)
    return decode(channel, dominant_below=5.0, recessive_above=7.5)


@pytest.fixture(scope="module")
def sent() -> Any:
    return record(LinBus(), series_ohm=0.02, seconds=0.07, first_round=0)


def test_every_frame_as_sent(sent: Any) -> None:
    near, _, traffic = sent
    found = read(near)
    assert [frame.identifier for frame in found.frames] == [frame.frame_id for frame in traffic.frames]
    assert [frame.data for frame in found.frames] == [frame.data for frame in traffic.frames]
    assert {frame.state for frame in found.frames} == {"good"}
    assert {frame.checksum_form for frame in found.frames} == {"enhanced"}
    for frame, truth in zip(found.frames, traffic.frames, strict=True):
        assert frame.start_s == pytest.approx(truth.start_s, abs=20e-6)
        assert frame.header_stop_s == pytest.approx(truth.header_stop_s, abs=20e-6)
        assert frame.stop_s == pytest.approx(truth.stop_s, abs=20e-6)
    assert found.bit_s == pytest.approx(1 / 19_200, rel=2e-3)


@pytest.mark.parametrize("rate", [1200.0, 2400.0, 9600.0, 10_417.0, 20_000.0])
def test_bit_rate_is_found_by_itself(rate: float) -> None:
    share = 19_200 / rate
    near, _, _ = record(
        LinBus(), series_ohm=0.02, seconds=0.02 * share, first_round=0, bit_rate=rate, slot_s=8e-3 * share
    )
    found = read(near, every=max(1, int(2 * share)))
    assert found.bit_s == pytest.approx(1 / rate, rel=3e-3)
    assert found.frames[0].state == "good"


def test_capture_that_starts_and_ends_inside_a_frame(sent: Any) -> None:
    near, _, traffic = sent
    begin, end = round(4e-3 / SOLVE_S), round((traffic.frames[3].header_stop_s + 3e-4) / SOLVE_S)
    found = read(near[begin:end], start_s=begin * SOLVE_S)
    assert [frame.identifier for frame in found.frames] == [frame.frame_id for frame in traffic.frames[1:4]]
    assert found.frames[-1].state == "past the end"
    assert found.frames[0].start_s == pytest.approx(traffic.frames[1].start_s, abs=20e-6)


def test_header_without_an_answer() -> None:
    near, _, _ = record(LinBus(), series_ohm=1e12, seconds=0.04, first_round=0)
    states = {frame.identifier: frame.state for frame in read(near).frames}
    assert states == {0x10: "good", 0x21: "no response", 0x12: "good", 0x22: "good"}


def test_a_damaged_frame_costs_only_itself(sent: Any) -> None:
    near, _, traffic = sent
    spoilt = near.copy()
    second = traffic.frames[1]
    begin = round((second.header_stop_s + 3e-4) / SOLVE_S)
    spoilt[begin : begin + 300] = 12.0
    states = [frame.state for frame in read(spoilt).frames]
    assert states[1] in ("framing error", "checksum error", "cut short")
    assert states[:1] + states[2:] == ["good"] * (len(states) - 1)
    assert read(spoilt).frames[1].problem


def test_a_break_without_a_sync_field_is_counted(sent: Any) -> None:
    near, _, traffic = sent
    spoilt = near.copy()
    begin = round((traffic.frames[2].start_s + 16 / 19_200) / SOLVE_S)
    spoilt[begin : begin + 200] = 12.0
    found = read(spoilt)
    assert len(found.frames) == len(traffic.frames) - 1
    assert found.broken_breaks == (pytest.approx(traffic.frames[2].start_s, abs=20e-6),)


@pytest.mark.parametrize("volts", [np.full(5000, 12.0), np.full(5000, 0.0), np.full(5000, np.nan), np.zeros(1)])
def test_a_line_that_says_nothing(volts: np.ndarray) -> None:
    found = read(volts)
    assert found.frames == ()
    assert found.bit_s is None


def test_noise_is_no_frame() -> None:
    rng = np.random.default_rng(4)
    assert read(rng.choice([0.0, 12.0], 40_000)).frames == ()


def test_uneven_samples_are_refused() -> None:
    channel = Channel("x", "V", FloatSamples([0.0, 1.0]), 0.0, None, "changes", times_s=np.array([0.0, 1.0]))
    with pytest.raises(CannotUse, match="evenly spaced"):
        decode(channel, dominant_below=5.0, recessive_above=7.5)


def test_random_spoiling_never_breaks_the_reader(sent: Any, make_bus: Callable[..., Any]) -> None:
    near, _, _ = sent
    rng = np.random.default_rng(6)
    for _ in range(40):
        spoilt = near.copy()
        for _ in range(int(rng.integers(1, 30))):
            begin = int(rng.integers(0, spoilt.size - 10))
            spoilt[begin : begin + int(rng.integers(1, 4000))] = rng.choice([0.0, 6.0, 12.0, np.nan])
        for frame in read(spoilt).frames:
            assert frame.start_s < frame.header_stop_s <= frame.stop_s + 1e-9
            assert (frame.state == "good") == (frame.problem == "")
