"""What the cursors tell, in words."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.pulses import IN_PAIRS, Pulses, pulses
from loomlight.signal.pyramid import build_pyramid
from loomlight.signal.readings import readings
from loomlight.signal.samples import FloatSamples
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.readings_text import all_text, levels_text, pulses_text, readings_text, slew_words, times_text


def trace() -> Trace:
    time = np.arange(20_000) % 1000
    samples = FloatSamples(np.interp(time, [0, 50, 300, 350, 1000], [1.0, 12.0, 12.0, 1.0, 1.0]))
    return Trace(Channel("blower LIN", "V", samples, 0.0, 1e-6), build_pyramid(samples), "suspect", "blower LIN")


def test_times_and_their_rate() -> None:
    assert times_text(0.01, 0.012) == "A 10 ms   B 12 ms   Δt 2 ms   1/Δt 500 Hz"
    assert "1/Δt" not in times_text(0.01, 0.01)
    assert "Δt -2 ms   1/Δt 500 Hz" in times_text(0.012, 0.01)


def test_one_trace_with_its_pulses() -> None:
    one = trace()
    found = readings(one.channel, 0.0001, 0.0199)
    words = readings_text(one, found, pulses(one.channel, 0.0001, 0.0199))
    for part in (
        "■ blower LIN:  A 12 V",
        "peak to peak 11 V",
        "RMS",
        "states 1 V, 12 V",
        "edges 39",
        "duty 30 %",
        "rate 1 kHz",
        "rise 40",
        "(slew 220 mV/µs)",
        "(slew -220 mV/µs)",
    ):
        assert part in words, words


def test_what_was_not_acquired_or_clipped_is_told() -> None:
    one = trace()
    found = replace(readings(one.channel, 0.0001, 0.0199), missing=0.123, is_clipped=True)
    words = readings_text(one, found, None)
    assert "12 % not acquired" in words
    assert "clipped at the instrument's rail" in words


def test_turned_over_rises_are_falls() -> None:
    found = Pulses(1.0, 12.0, 10, False, 0.3, 1e3, 4e-5, 9e-5, 2.2e5, -1e5, ())
    words = pulses_text(found, "V", is_turned=True)
    assert "states -12 V, -1 V" in words
    assert "duty 70 %" in words
    assert "rise 90 µs (slew 100 mV/µs)" in words
    assert "fall 40 µs (slew -220 mV/µs)" in words


def test_what_cannot_be_told_says_why() -> None:
    assert pulses_text(Pulses(why=(IN_PAIRS,)), "V") == f"cannot tell: {IN_PAIRS}"
    assert "edges at least 4" in pulses_text(Pulses(1.0, 2.0, 4, True), "V")
    assert "cannot tell the rest: no whole period" in pulses_text(Pulses(1.0, 2.0, 1, why=("no whole period",)), "V")


@pytest.mark.parametrize(
    ("slew", "words"), [(1.5e6, "1.5 V/µs"), (-2200.0, "-2.2 V/ms"), (3.0, "3 V/s"), (0.0, "0 V/s"), (4e9, "4 kV/µs")]
)
def test_slews_by_the_time_that_fits(slew: float, words: str) -> None:
    assert slew_words(slew, "V") == words


def test_level_cursors_and_what_lies_between_them() -> None:
    lane = Lane("blower LIN", (trace(),))
    assert levels_text(lane, (12.0, 1.5)) == "blower LIN:  C 12 V   D 1.5 V   ΔV -10.5 V"
    assert levels_text(lane, (None, 1.5)) == "blower LIN:  D 1.5 V"
    assert levels_text(replace(lane, unit="A"), (0.5, 0.7)) == "blower LIN:  C 500 mA   D 700 mA   difference 200 mA"


def test_all_of_it_in_order() -> None:
    one = trace()
    found = readings(one.channel, 0.0, 0.01)
    text = all_text((0.0, 0.01), [(Lane("blower LIN", (one,)), (12.0, 1.0))], [(one, found)], {})
    assert [line.split()[0] for line in text.split("\n")] == ["A", "blower", "■"]
    assert all_text((None, 0.01), [], [], {}) == ""
