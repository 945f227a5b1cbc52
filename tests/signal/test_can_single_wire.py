"""Single-wire CAN: frames, the wake level, and what a technician is told."""

import numpy as np
import pytest

from loomlight.sample_captures.makers import can_single_wire as maker
from loomlight.sample_captures.makers.can_frames import Frame, sent_bits
from loomlight.sample_captures.makers.two_state_wire import Step, laid
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples
from loomlight.signal.swcan_reading import SwExamination, SwReading


def reading(found: Comparison) -> SwReading:
    assert isinstance(found.looked, SwExamination)
    return found.looked.line


def sent(frames: list[tuple[Frame, float]], *, rate: float = 33_333.0, step_s: float = 1.5e-6) -> Channel:
    """Frames, each at a level of its own, acknowledged."""
    bit_s, at_s, steps = 1.0 / rate, 20.0 / rate, []
    for frame, volts in frames:
        bits = list(sent_bits(frame).bits)
        bits[-9] = 0
        last = 1
        for place, bit in enumerate(bits):
            if bit != last:
                steps.append(Step(at_s + place * bit_s, 0.05 if bit else volts, 2e-6 if bit else 1e-6))
            last = bit
        at_s += (len(bits) + 12) * bit_s
    volts_v = laid(steps, start_v=0.05, times_s=np.arange(0.0, at_s, step_s))
    return Channel(
        "S", "V", FloatSamples(volts_v + np.random.default_rng(1).normal(0, 0.02, volts_v.size)), 0.0, step_s
    )


def traffic_of(levels: list[float]) -> list[tuple[Frame, float]]:
    return [(Frame(0x120 + place % 3, bytes([place, 0xA5, 0x00, 0xFF])), volts) for place, volts in enumerate(levels)]


def judged(channel: Channel, supply_v: float | None = 13.0) -> Comparison:
    return check(channel, kind="can-single-wire", conditions=Conditions(supply_v=supply_v))


@pytest.mark.parametrize("rate", [33_333.0, 83_333.0])
def test_frames_rate_and_levels_are_read(rate: float) -> None:
    found = judged(sent(traffic_of([4.1] * 9), rate=rate, step_s=1.0 / rate / 20))
    assert found.verdict.state == "clean", found.verdict.reasons
    assert found.bus is not None
    assert found.bus.bit_rate == pytest.approx(rate, rel=1e-3)
    assert found.bus.identifiers == (0x120, 0x121, 0x122)
    assert found.looked is not None
    assert [row.data for row in found.looked.frames][:2] == ["00 A5 00 FF", "01 A5 00 FF"]
    words = [word.text for word in found.looked.frames[0].words]
    assert words[:2] == ["start", "id 120"]
    assert "A5" in words
    assert reading(found).normal()[0x120] == pytest.approx(4.1, abs=0.05)


def test_wake_frames_are_told_apart_and_held_against_their_own_limit() -> None:
    found = judged(sent(traffic_of([4.0, 12.0, 4.0, 12.0, 4.0, 4.0])))
    assert found.verdict.state == "clean", found.verdict.reasons
    assert "2 of them at the wake level" in found.verdict.reasons[0]
    low = judged(sent(traffic_of([4.0, 8.0, 4.0, 8.0, 4.0, 4.0])))
    assert (low.verdict.state, low.verdict.picture) == ("faulty", "wake level low")
    # A battery of 9.5 V cannot give more than 8 V.
    assert judged(sent(traffic_of([4.0, 8.1, 4.0, 8.1, 4.0, 4.0])), 9.5).verdict.state == "clean"


def test_the_weak_node_is_named_by_its_frames() -> None:
    found = judged(sent(traffic_of([4.0, 2.7, 4.1] * 4)))
    assert (found.verdict.state, found.verdict.fault) == ("faulty", "resistive")
    assert "0x121 2.7" in found.verdict.reasons[0]
    assert {one.kind for one in found.findings} == {"weak dominant"}


def test_against_another_day_a_lower_level_shows_before_it_breaks_a_limit() -> None:
    now, then = sent(traffic_of([4.2, 3.6, 4.2] * 4)), sent(traffic_of([4.2] * 12))
    verdict = compare(now, then, kind="can-single-wire", conditions=Conditions()).verdict
    assert verdict.state == "faulty"
    assert "works today" in verdict.reasons[1]


def test_a_capture_that_begins_inside_a_frame_reads_the_rest() -> None:
    whole = sent(traffic_of([4.0] * 8))
    for first in (700, 1500, 2300):
        cut = Channel("S", "V", FloatSamples(whole.samples.block(first, whole.samples.size)), 0.0, whole.step_s)
        found = judged(cut)
        assert found.verdict.state == "clean", found.verdict.reasons
        assert not found.findings


def test_few_samples_a_bit_are_said() -> None:
    verdict = judged(sent(traffic_of([4.0] * 9), step_s=5e-6)).verdict
    assert verdict.state == "cannot tell"
    assert "samples a bit" in verdict.reasons[0]


@pytest.mark.parametrize("seed", range(4))
def test_what_was_made_is_read(seed: int) -> None:
    made = maker.made("", np.random.default_rng((seed, 3)))
    found = check(made.suspect, kind="can-single-wire", conditions=made.conditions)
    assert found.bus is not None
    assert found.bus.bit_rate == pytest.approx(made.truth["bit rate"], rel=2e-3)
    assert found.bus.errors == 0
    assert found.bus.frames >= 9
