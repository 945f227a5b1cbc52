"""K-lines: bytes, messages, openings, and what a technician is told."""

import numpy as np
import pytest

from loomlight.sample_captures.makers import k_line
from loomlight.sample_captures.makers.two_state_wire import Step, laid
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.kline_reading import KExamination, KReading
from loomlight.signal.kline_words import checksum, header_of, talker_of
from loomlight.signal.samples import FloatSamples

STEP_S = 10e-6


def lows(values: bytes, at_s: float, bit_s: float, gap_s: float = 0.0) -> list[tuple[float, float]]:
    """Low stretches of bytes, bit by bit."""
    found = []
    for value in values:
        for place, level in enumerate([0, *((value >> bit) & 1 for bit in range(8)), 1]):
            if not level:
                found.append((at_s + place * bit_s, at_s + (place + 1) * bit_s))
        at_s += 10 * bit_s + gap_s
    return found


def channel_of(stretches: list[tuple[float, float]], seconds: float, *, step_s: float = STEP_S) -> Channel:
    steps = [one for start, stop in stretches for one in (Step(start, 0.6, 1e-6), Step(stop, 12.4, 2e-6))]
    volts = laid(steps, start_v=12.4, times_s=np.arange(0.0, seconds, step_s))
    return Channel("K", "V", FloatSamples(volts + np.random.default_rng(1).normal(0, 0.02, volts.size)), 0.0, step_s)


def judged(channel: Channel, **conditions: float) -> Comparison:
    return check(channel, kind="k-line", conditions=Conditions(**conditions))


def reading(found: Comparison) -> KReading:
    assert isinstance(found.looked, KExamination)
    return found.looked.line


@pytest.mark.parametrize("rate", [1_200.0, 4_800.0, 9_600.0, 10_400.0, 38_400.0])
def test_bit_rate_and_bytes_are_found_at_any_rate(rate: float) -> None:
    request, answer = bytes([0x82, 0x11, 0xF1, 0x21, 0x01, 0xA6]), bytes([0x83, 0xF1, 0x11, 0x61, 0x01, 0x5A, 0x41])
    bit_s = 1.0 / rate
    stretches = lows(request, 0.03, bit_s, 5e-3) + lows(answer, 0.07 + 60 * bit_s + 0.025, bit_s)
    found = judged(channel_of(stretches, 0.2 + 200 * bit_s, step_s=bit_s / 15), supply_v=12.4)
    line = reading(found)
    assert line.bit_s is not None
    assert 1.0 / line.bit_s == pytest.approx(rate, rel=2e-3)
    assert [one.values for one in line.messages] == [request, answer]
    assert [(one.talker, one.state) for one in line.messages] == [("tester", "good"), ("unit 0x11", "good")]
    assert found.verdict.state == "clean", found.verdict.reasons


def test_a_call_at_5_baud_and_the_key_bytes() -> None:
    bit_s = 1.0 / 10_400
    stretches = lows(b"\x33", 0.1, 0.2)
    stretches += lows(b"\x55", 2.2, bit_s) + lows(b"\x08\x08", 2.21, bit_s, 2e-3)
    stretches += lows(b"\xf7", 2.25, bit_s) + lows(b"\xcc", 2.285, bit_s)
    stretches += lows(bytes([0x68, 0x6A, 0xF1, 0x01, 0x00, 0xC4]), 2.36, bit_s, 5.5e-3)
    stretches += lows(bytes([0x48, 0x6B, 0x11, 0x41, 0x00, 0xBE, 0x3E, 0xB8, 0x11, 0xCA]), 2.44, bit_s, 0.5e-3)
    found = judged(channel_of(stretches, 2.6, step_s=8e-6), supply_v=12.4)
    line = reading(found)
    assert line.traffic is not None
    [opening] = line.traffic.openings
    assert (opening.pattern, opening.address) == ("5 baud", 0x33)
    assert opening.low_s == pytest.approx(0.2, rel=1e-3)
    assert next(one.note for one in line.messages) == "key bytes"
    assert [one.state for one in line.messages[-2:]] == ["good", "good"]
    assert found.verdict.state == "clean", found.verdict.reasons
    assert next(row.state for row in found.looked.frames) == "call at 5 baud"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("low_s", "high_s", "kept"), [(25e-3, 25e-3, True), (27e-3, 25e-3, False), (25e-3, 22e-3, False)]
)
def test_the_fast_opening_is_held_against_its_times(low_s: float, high_s: float, kept: bool) -> None:
    at_s, bit_s = 0.03, 1.0 / 10_400
    request, answer = bytes([0xC1, 0x33, 0xF1, 0x81, 0x66]), bytes([0x83, 0xF1, 0x11, 0xC1, 0x8F, 0xE9, 0xBE])
    stretches = [(at_s, at_s + low_s), *lows(request, at_s + low_s + high_s, bit_s, 5.2e-3)]
    stretches += lows(answer, at_s + low_s + high_s + 0.07, bit_s)
    found = judged(channel_of(stretches, 0.25), supply_v=12.4)
    assert (not any(one.kind == "wrong pattern" for one in found.findings)) == kept
    measures = [one for one in found.looked.measures if one.group == "opening"]  # type: ignore[union-attr]
    assert all(one.kept for one in measures) == kept
    # A request may be opened a little early or late and still be answered: it is no fault of the wire.
    assert found.verdict.state == "clean"


def test_headers_say_who_talks_and_how_long() -> None:
    # ISO 14230-2: format byte with the length in its low six bits, or in a byte of its own.
    assert header_of(bytes([0x02, 0x21, 0x01])).length == 2  # type: ignore[union-attr]
    long = header_of(bytes([0x80, 0x11, 0xF1, 0x05, 0x21]))
    assert long is not None
    assert (long.size, long.length, long.target, long.source) == (4, 5, 0x11, 0xF1)
    assert talker_of(bytes([0x80, 0x11, 0xF1, 0x05, 0x21]), long) == "tester"
    assert header_of(bytes([0x80, 0x11])) is None
    assert talker_of(bytes([0x02, 0x61, 0x01]), header_of(bytes([0x02, 0x61, 0x01]))) == "unit"


@pytest.mark.parametrize("spoilt", [3, 6])
def test_a_wrong_checksum_is_found_where_it_is(spoilt: int) -> None:
    values = bytearray([0x83, 0xF1, 0x11, 0x61, 0x01, 0x5A, 0x41])
    values[spoilt] ^= 0x10
    bit_s = 1.0 / 10_400
    stretches = lows(bytes([0x82, 0x11, 0xF1, 0x21, 0x01, 0xA6]), 0.03, bit_s, 5e-3) + lows(bytes(values), 0.1, bit_s)
    found = judged(channel_of(stretches, 0.25), supply_v=12.4)
    [error] = [one for one in found.findings if one.kind == "frame error"]
    assert "add up to" in error.rule
    assert error.start_s == pytest.approx(0.1, abs=2e-4)
    assert found.verdict.state == "cannot tell"
    assert found.looked.frames[-1].words[-1].is_wrong  # type: ignore[union-attr]


def test_an_unanswered_request_is_told() -> None:
    bit_s = 1.0 / 10_400
    request = bytes([0x82, 0x11, 0xF1, 0x21, 0x01, 0xA6])
    stretches = lows(request, 0.03, bit_s, 5e-3) + lows(request, 0.2, bit_s, 5e-3)
    found = judged(channel_of(stretches, 0.5), supply_v=12.4)
    assert [one.kind for one in found.findings] == ["no response", "no response"]
    assert found.verdict.state == "cannot tell"
    assert "without an answer" in found.verdict.reasons[0]


@pytest.mark.parametrize("begin", [0.0, 0.1123, 0.1127, 0.1131])
def test_a_capture_that_starts_inside_a_byte_reads_the_rest(begin: float) -> None:
    made = k_line.made("", np.random.default_rng(8))
    suspect = made.suspect
    assert suspect.step_s is not None
    first = round(begin / suspect.step_s)
    cut = Channel("K", "V", FloatSamples(suspect.samples.block(first, suspect.samples.size)), 0.0, suspect.step_s)
    found = check(cut, kind="k-line", conditions=made.conditions)
    assert found.verdict.state == "clean", found.verdict.reasons
    assert sum(one.state == "good" for one in reading(found).messages) >= 2
    assert not [one for one in found.findings if one.severity == "severe"]


def test_few_samples_a_bit_are_said() -> None:
    made = k_line.made("", np.random.default_rng(3), samples_per_s=50_000.0)
    found = check(made.suspect, kind="k-line", conditions=made.conditions)
    assert found.verdict.state == "cannot tell"
    assert "samples a bit" in found.verdict.reasons[0]


def test_a_series_resistance_lies_in_its_interval() -> None:
    for seed in range(12):
        made = k_line.made("series resistance", np.random.default_rng((seed, 4)))
        verdict = judged(made.suspect, supply_v=made.conditions.supply_v or 0.0).verdict
        assert verdict.series_ohm_low is not None
        assert verdict.series_ohm_low <= made.truth["ohm"] <= (verdict.series_ohm_high or np.inf)


def test_against_another_day_a_lifted_level_shows_before_it_breaks_a_limit() -> None:
    rng = np.random.default_rng(11)
    request, answer = bytes([0x82, 0x11, 0xF1, 0x21, 0x01, 0xA6]), bytes([0x83, 0xF1, 0x11, 0x61, 0x01, 0x5A, 0x41])
    bit_s = 1.0 / 10_400

    def recorded(unit_low_v: float) -> Channel:
        steps = []
        for values, at_s, low_v, gap_s in ((request, 0.03, 0.6, 5e-3), (answer, 0.1, unit_low_v, 0.0)):
            for start, stop in lows(values, at_s, bit_s, gap_s):
                steps += [Step(start, low_v, 1e-6), Step(stop, 12.4, 2e-6)]
        volts = laid(steps, start_v=12.4, times_s=np.arange(0.0, 0.25, STEP_S))
        return Channel("K", "V", FloatSamples(volts + rng.normal(0, 0.02, volts.size)), 0.0, STEP_S)

    conditions = Conditions(supply_v=12.4)
    lifted = compare(recorded(1.9), recorded(0.7), kind="k-line", conditions=conditions).verdict
    assert (lifted.state, lifted.fault) == ("faulty", "resistive")
    assert "works today" in lifted.reasons[1]
    assert compare(recorded(0.8), recorded(0.7), kind="k-line", conditions=conditions).verdict.state == "clean"


def test_current_is_refused_and_gaps_do_no_harm() -> None:
    with pytest.raises(CannotUse, match="judges volts"):
        judged(Channel("I", "A", FloatSamples([0.0, 1.0]), 0.0, 1e-5))
    values = np.full(4000, np.nan)
    assert judged(Channel("K", "V", FloatSamples(values), 0.0, 1e-5)).verdict.state == "cannot tell"


def test_the_checksum_is_a_sum_without_carry() -> None:
    assert checksum([0xFF, 0xFF]) == 0xFE
