"""Cursor readings: from the capture, only what stands between the cursors."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.capture import Channel
from loomlight.signal.readings import readings
from loomlight.signal.samples import FloatSamples


@given(st.lists(st.integers(-1000, 1000), min_size=2, max_size=60), st.floats(-0.5, 8.0), st.floats(-0.5, 8.0))
def test_as_numpy_over_the_samples_between(levels: list[int], first_s: float, second_s: float) -> None:
    values, times = np.array(levels, dtype=float), 0.25 + 0.125 * np.arange(len(levels))
    found = readings(Channel("x", "V", FloatSamples(values), 0.25, 0.125), first_s, second_s)
    low, high = sorted((first_s, second_s))
    inside = values[(times >= low - 1e-7) & (times <= high + 1e-7)]
    if not inside.size:
        assert (found.least, found.greatest, found.mean, found.rms, found.peak_to_peak) == (None,) * 5
        return
    assert (found.least, found.greatest) == (inside.min(), inside.max())
    assert found.peak_to_peak == np.ptp(inside)
    assert found.mean == pytest.approx(inside.mean(), abs=1e-9)
    assert found.rms == pytest.approx(np.sqrt(np.mean(inside**2)), abs=1e-9)


def test_a_spike_in_the_next_block_is_seen() -> None:
    values = np.zeros(600_000)
    values[555_555] = 7.0
    found = readings(Channel("x", "V", FloatSamples(values), 0.0, 1e-6), 0.1, 0.59)
    assert (found.greatest, found.peak_to_peak) == (7.0, 7.0)


def test_cursors_between_two_samples_see_none_but_read_both_values() -> None:
    found = readings(Channel("x", "V", FloatSamples([0.0, 10.0, 20.0]), 0.0, 1.0), 0.25, 0.75)
    assert (found.first_value, found.second_value, found.step_value) == (2.5, 7.5, 5.0)
    assert found.mean is None
    assert found.rate_hz == pytest.approx(2.0)


def test_samples_not_acquired_are_left_out() -> None:
    found = readings(Channel("x", "V", FloatSamples([1.0, np.nan, 3.0, np.nan]), 0.0, 1.0), 0.0, 3.0)
    assert (found.least, found.greatest, found.mean) == (1.0, 3.0, 2.0)
    assert found.missing == 0.5
    assert (found.first_value, found.second_value, found.step_value) == (1.0, None, None)


def test_samples_at_the_rail_are_told() -> None:
    made = Channel("x", "V", FloatSamples([1.0, 20.0, 20.0, 3.0]), 0.0, 1.0, clipped=((1, 3),))
    assert readings(made, 0.0, 3.0).is_clipped
    assert readings(made, 2.0, 3.0).is_clipped
    assert not readings(made, 3.0, 3.0).is_clipped


def test_pairs_keep_their_extremes() -> None:
    pairs = Channel("x", "V", FloatSamples([0.0, 1.0, -5.0, 2.0, 0.0, 9.0]), 0.0, 1.0, "pairs")
    found = readings(pairs, 0.5, 1.5)
    assert (found.least, found.greatest) == (-5.0, 2.0)
    assert (found.mean, found.rms) == (None, None), "how long it stood at either is not known"


def test_changes_count_for_as_long_as_they_held() -> None:
    made = Channel("x", "V", FloatSamples([0.0, 12.0, 0.0]), 0.0, None, "changes", times_s=np.array([0.0, 1.0, 2.0]))
    found = readings(made, 0.5, 1.75)
    # Half a second of 0 V, three quarters of 12 V; the change at 2 s is not between the cursors.
    assert found.mean == pytest.approx(12.0 * 0.75 / 1.25)
    assert found.rms == pytest.approx(np.sqrt(144.0 * 0.75 / 1.25))
    assert readings(made, 1.25, 1.5).least == 12.0


def test_uneven_samples_beyond_the_cursor_are_not_read() -> None:
    made = Channel("x", "V", FloatSamples([1.0, 2.0, 99.0]), 0.0, None, "uneven", times_s=np.array([0.0, 1.0, 4.0]))
    assert readings(made, 0.0, 3.0).greatest == 2.0


def test_uneven_samples_count_for_the_time_that_they_stand_for() -> None:
    rng = np.random.default_rng(4)
    for _ in range(20):
        times = np.sort(rng.uniform(0.0, 10.0, 400))
        values = rng.normal(5.0, 2.0, 400)
        made = Channel("x", "V", FloatSamples(values), float(times[0]), None, "uneven", times_s=times)
        low_s, high_s = np.sort(rng.uniform(1.0, 9.0, 2))
        inside = (times >= low_s) & (times <= high_s)
        if inside.sum() < 2:
            continue
        own = np.float32(values[inside]).astype(float)
        # The trapezoidal rule over the samples between the cursors.
        wanted = np.trapezoid(own, times[inside]) / np.ptp(times[inside])
        assert readings(made, low_s, high_s).mean == pytest.approx(wanted)


def test_uneven_samples_over_blocks_are_weighted_as_in_one() -> None:
    times = np.cumsum(np.random.default_rng(5).uniform(0.5, 1.5, 600_000))
    values = np.where(np.arange(600_000) % 2, 1.0, 3.0)
    made = Channel("x", "V", FloatSamples(values), float(times[0]), None, "uneven", times_s=times)
    wanted = np.trapezoid(values, times) / np.ptp(times)
    assert readings(made, 0.0, 1e9).mean == pytest.approx(wanted)


def test_cursors_on_each_other_have_no_rate() -> None:
    found = readings(Channel("x", "V", FloatSamples([1.0, 2.0]), 0.0, 1.0), 1.0, 1.0)
    assert (found.apart_s, found.rate_hz, found.step_value, found.mean) == (0.0, None, 0.0, 2.0)


def test_equal_values_differ_by_nothing_whatever_their_last_bit() -> None:
    high = float(np.nextafter(np.float32(11.8), np.float32(12.0)))
    found = readings(Channel("x", "V", FloatSamples(np.array([11.8, high])), 0.0, 1.0), 0.0, 1.0)
    assert found.step_value == 0.0
