"""Channels, captures, samples, pyramids, values between samples, differences and readings."""

import math

import numpy as np
import pytest

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.difference import difference
from loomlight.signal.errors import CannotUse, NoSuchChannel
from loomlight.signal.lineup import LineUp
from loomlight.signal.pyramid import build_pyramid, columns, min_max, pyramid_of
from loomlight.signal.quantity import in_words
from loomlight.signal.readings import readings
from loomlight.signal.resample import averaged, values_at
from loomlight.signal.samples import CountSamples, FloatSamples, finite_range
from loomlight.signal.supply import supply_of_channel


def channel(values: object, *, start_s: float = 0.0, step_s: float = 1.0, name: str = "x") -> Channel:
    return Channel(name, "V", FloatSamples(values), start_s, step_s)  # type: ignore[arg-type]


def lined(lag_s: float, *, polarity: int = 1) -> LineUp:
    return LineUp(True, "shape", lag_s, 1.0, 1.0, 1.0, polarity, 1.0, None, 1.0, 0.0, "")  # type: ignore[arg-type]


@pytest.mark.parametrize("step_s", [0.0, -1.0, math.nan, math.inf])
def test_a_channel_needs_a_step(step_s: float) -> None:
    with pytest.raises(ValueError, match="step_s"):
        channel([1.0], step_s=step_s)


def test_form_and_times_go_together() -> None:
    with pytest.raises(ValueError, match="go together"):
        Channel("x", "V", FloatSamples([1.0, 2.0]), 0.0, None, "uneven")
    with pytest.raises(ValueError, match="even count"):
        Channel("x", "V", FloatSamples([1.0, 2.0, 3.0]), 0.0, 1.0, "pairs")


def test_channels_are_found_by_name_case_and_number() -> None:
    capture = Capture(
        "f.csv", "", (channel([1.0], name="Bus"), channel([1.0], name="bus"), channel([1.0], name="Supply"))
    )
    assert capture.channel("bus").name == "bus"
    assert capture.channel("supply").name == "Supply"
    assert capture.channel("#1").name == "Bus"
    for wrong in ("BUS", "#4", "#0", "nothing"):
        with pytest.raises(NoSuchChannel, match="#3 Supply"):
            capture.channel(wrong)


def test_counts_are_scaled() -> None:
    samples = CountSamples(np.array([-100, 0, 250], dtype=np.int16), scale=0.01, offset=1.0)
    assert samples.block(0, 3).tolist() == pytest.approx([0.0, 1.0, 3.5])
    assert samples.block(1, 2).dtype == np.float32
    assert finite_range(samples) == pytest.approx((0.0, 3.5))


def test_the_last_short_bucket_is_kept() -> None:
    values = np.zeros(1003, dtype=np.float32)
    values[1002] = 9.0
    assert min_max(values, 10)[1][-1] == 9.0


@pytest.mark.parametrize("size", [1, 64, 65, 5000, 600_001])
def test_pyramid_is_the_least_and_greatest_of_each_bucket(size: int) -> None:
    values = np.random.default_rng(size).normal(size=size).astype(np.float32)
    for level in build_pyramid(FloatSamples(values)).levels:
        for place in {0, level.low.size // 2, level.low.size - 1}:
            bucket = values[place * level.bucket : (place + 1) * level.bucket]
            assert (level.low[place], level.high[place]) == (bucket.min(), bucket.max())


def test_a_spike_of_one_sample_is_drawn_at_every_zoom() -> None:
    rng = np.random.default_rng(9)
    size = 10_000_000
    counts = np.zeros(size, dtype=np.int16)
    spikes = rng.integers(0, size, 40)
    counts[spikes] = 1000
    samples = CountSamples(counts, scale=0.001, offset=0.0)
    pyramid = pyramid_of(samples)
    for spike in spikes.tolist():
        for reach in (300, 5_000, 80_000, 1_300_000, size):
            first = max(0, spike - int(rng.integers(0, reach)))
            shown = columns(samples, pyramid, first, first + reach, 1600)
            inside = (shown.index <= spike) & (spike < shown.index + shown.step)
            assert inside.sum() == 1
            assert shown.high[inside][0] == pytest.approx(1.0)
            assert shown.index.size <= 4 * 1600


def test_columns_do_not_shimmer_while_panning() -> None:
    values = np.random.default_rng(3).normal(size=300_000).astype(np.float32)
    samples = FloatSamples(values)
    pyramid = pyramid_of(samples)
    one, other = (columns(samples, pyramid, first, first + 200_000, 1000) for first in (10_000, 10_700))
    shared = np.intersect1d(one.index, other.index)
    assert shared.size > 900
    assert np.array_equal(one.high[np.isin(one.index, shared)], other.high[np.isin(other.index, shared)])


def test_gaps_do_not_hide_their_neighbours() -> None:
    values = np.full(10_000, np.nan, dtype=np.float32)
    values[5_000] = 3.0
    shown = columns(FloatSamples(values), build_pyramid(FloatSamples(values)), 0, 10_000, 50)
    assert np.nanmax(shown.high) == 3.0


def test_values_between_samples() -> None:
    found = values_at(
        channel([0.0, 10.0, 20.0, np.nan], start_s=5.0, step_s=2.0), np.array([4.9, 5.0, 6.0, 8.5, 9.0, 11.5])
    )
    assert np.isnan(found[[0, 5]]).all()
    assert found[1:3].tolist() == pytest.approx([0.0, 5.0])
    assert np.isnan(found[3]) or found[3] == pytest.approx(17.5)
    assert found[4] == pytest.approx(20.0)


def test_changes_hold_until_the_next_one() -> None:
    made = Channel("x", "V", FloatSamples([0.0, 1.0, 0.0]), 0.0, None, "changes", times_s=np.array([0.0, 2.0, 5.0]))
    assert values_at(made, np.array([0.0, 1.9, 2.0, 4.9, 9.0])).tolist() == [0.0, 0.0, 1.0, 1.0, 0.0]


def test_far_apart_times_are_read_one_by_one() -> None:
    values = np.arange(5_000_000, dtype=np.float32) % 1000
    found = values_at(channel(values), np.array([3.0, 4_999_998.5]))
    assert found.tolist() == pytest.approx([3.0, 998.5])


@pytest.mark.parametrize("ratio", [1.0, 2.0, 2.5, 7.3])
def test_averages_of_a_straight_line_lie_on_it(ratio: float) -> None:
    line = channel(np.arange(4000) * 0.5, start_s=1.0, step_s=0.01)
    count = 100
    found = averaged(line, step_s=ratio * 0.01, start_s=5.0, count=count)
    times = 5.0 + np.arange(count) * ratio * 0.01
    # Samples are taken for steps: a window that cuts one is off by an eighth of its rise at most.
    assert found == pytest.approx((times - 1.0) / 0.01 * 0.5, abs=0.5 / 8)


def test_difference_is_as_measured_and_over_what_both_cover() -> None:
    good = channel(np.sin(np.arange(300) / 9), start_s=10.0, step_s=0.1)
    suspect = channel(np.sin((np.arange(200) + 50) / 9) + 2.0, start_s=0.0, step_s=0.1)
    found = difference(suspect, good, lined(15.0))
    assert (found.start_s, found.samples.size) == (0.0, 200)
    assert found.samples.block(0, 200) == pytest.approx(np.full(200, 2.0), abs=1e-3)
    upside_down = channel(-np.sin((np.arange(200) + 50) / 9), start_s=0.0, step_s=0.1)
    again = difference(upside_down, good, lined(15.0, polarity=-1))
    assert again.samples.block(0, 200) == pytest.approx(np.zeros(200), abs=1e-3)


def test_difference_without_common_time_is_refused() -> None:
    with pytest.raises(CannotUse, match="no time in common"):
        difference(channel([1.0, 2.0]), channel([1.0, 2.0]), lined(50.0))


def test_readings_of_a_ramp() -> None:
    found = readings(channel(np.arange(101) / 10, step_s=0.001), 0.080, 0.020)
    assert (found.first_value, found.second_value) == (pytest.approx(8.0), pytest.approx(2.0))
    assert found.apart_s == pytest.approx(-0.06)
    assert found.rate_hz == pytest.approx(1 / 0.06)
    assert found.step_value == pytest.approx(-6.0)
    assert (found.least, found.greatest, found.mean) == (pytest.approx(2.0), pytest.approx(8.0), pytest.approx(5.0))
    assert found.rms == pytest.approx(np.sqrt(np.mean((np.arange(20, 81) / 10) ** 2)), rel=1e-6)


def test_readings_outside_know_nothing() -> None:
    found = readings(channel([1.0, 2.0]), 50.0, 50.0)
    assert (found.first_value, found.rate_hz, found.mean) == (None, None, None)


@pytest.mark.parametrize(
    ("value", "unit", "wanted"),
    [
        (2198.0, "Ω", "2.2 kΩ"),
        (4.56e-5, "s", "45.6 µs"),
        (0.9996, "V", "1 V"),
        (999.9996, "Hz", "1 kHz"),
        (-0.0208, "s", "-20.8 ms"),
        (0.0, "V", "0 V"),
        (None, "V", "not known"),
        (math.inf, "Ω", "no upper bound"),
        (1e-13, "F", "0.0001 nF"),
        (123456.0, "", "123000"),
        (-0.362, "a.u.", "-0.362 a.u."),
    ],
)
def test_quantities_as_a_person_writes_them(value: float | None, unit: str, wanted: str) -> None:
    assert in_words(value, unit) == wanted


def test_supply_is_what_a_channel_holds_most_of_the_time() -> None:
    volts = np.full(10_000, 13.4)
    volts[4000:4200] = 9.0
    assert supply_of_channel(channel(volts)) == pytest.approx(13.4, abs=0.01)
    with pytest.raises(CannotUse, match="no vehicle's supply"):
        supply_of_channel(channel(np.full(100, 1.2)))
