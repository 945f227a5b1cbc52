"""Pulses between two cursors: what cannot be told is not told, and what lies outside is not looked at."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.capture import Channel
from loomlight.signal.pulses import (
    IN_PAIRS,
    NO_PERIOD,
    NO_SLOPES,
    NO_STATES,
    NO_TRANSITION,
    ONE_TOO_FAST,
    TOO_FAST,
    Pulses,
    pulses,
)
from loomlight.signal.samples import BLOCK, FloatSamples


def even(values: object) -> Channel:
    return Channel("x", "V", FloatSamples(values), 0.0, 1e-3)  # type: ignore[arg-type]


def square(count: int, *, high: int = 50, period: int = 100) -> np.ndarray:
    return np.where(np.arange(count) % period < high, 12.0, 1.0)


@given(high=st.integers(10, 90), begin=st.integers(0, 400), length=st.integers(300, 2000))
def test_duty_and_rate_wherever_the_cursors_stand(high: int, begin: int, length: int) -> None:
    found = pulses(even(square(3000, high=high)), 1e-3 * begin, 1e-3 * (begin + length))
    assert found.duty == pytest.approx(high / 100)
    assert found.rate_hz == pytest.approx(10.0)
    crossings = np.arange(3000)[1:][np.diff(square(3000, high=high)) != 0]
    assert found.edges == ((crossings > begin) & (crossings <= begin + length)).sum()


def test_the_order_of_the_cursors_does_not_matter() -> None:
    channel = even(square(1000, high=30))
    assert pulses(channel, 0.1, 0.7) == pulses(channel, 0.7, 0.1)


def test_edges_over_the_borders_of_blocks() -> None:
    found = pulses(even(square(2 * BLOCK + 500)), 0.0, 1e9)
    assert found.edges == (2 * BLOCK + 500 - 1) // 50
    assert found.duty == pytest.approx(0.5)


@pytest.mark.parametrize(
    "values", [np.full(500, 3.0), np.full(500, np.nan), np.random.default_rng(1).normal(5, 0.1, 5000)]
)
def test_one_level_has_no_edges_to_tell(values: np.ndarray) -> None:
    assert pulses(even(values), 0.0, 100.0) == Pulses(why=(NO_STATES,))


def test_a_single_edge_has_a_slope_but_no_period() -> None:
    found = pulses(even(np.concatenate([np.full(200, 1.0), np.linspace(1.0, 12.0, 101), np.full(200, 12.0)])), 0.0, 1.0)
    assert (found.edges, found.duty, found.rate_hz, found.fall_s) == (1, None, None, None)
    assert found.rise_s == pytest.approx(0.08, rel=0.01)
    assert found.why == (NO_PERIOD,)


def test_edges_faster_than_the_samples_have_no_slope() -> None:
    found = pulses(even(square(1000)), 0.0, 1.0)
    assert (found.rise_s, found.fall_s, found.rise_slew) == (None, None, None)
    assert found.why == (TOO_FAST,)


@pytest.mark.parametrize("upside_down", [False, True])
def test_one_direction_alone_can_be_too_fast(upside_down: bool) -> None:
    phase = np.arange(1000) % 100
    values = np.interp(phase, [0, 20, 50, 50.001, 100], [1.0, 12.0, 12.0, 1.0, 1.0])
    found = pulses(even(-values if upside_down else values), 0.0, 1.0)
    slow, fast = (found.fall_s, found.rise_s) if upside_down else (found.rise_s, found.fall_s)
    assert slow == pytest.approx(0.016, rel=0.02)
    assert fast is None
    assert found.why == (ONE_TOO_FAST,)


def test_runts_are_no_edges_and_have_no_slope() -> None:
    values = np.full(2000, 12.0)
    values[500:700] = 1.0
    values[1000:1010] = 7.5  # does not pass the middle by the hysteresis
    assert pulses(even(values), 0.0, 2.0).edges == 2


def test_a_gap_makes_the_count_a_least_and_spoils_only_its_own_period() -> None:
    values = square(2000, high=30)
    values[1010:1060] = np.nan
    found = pulses(even(values), 0.0, 2.0)
    assert found.is_least
    assert found.duty == pytest.approx(0.3)
    assert found.rate_hz == pytest.approx(10.0)


def test_a_slope_through_a_gap_is_not_measured() -> None:
    ramp = np.linspace(1.0, 12.0, 101)
    ramp[40:60] = np.nan
    found = pulses(even(np.concatenate([np.full(200, 1.0), ramp, np.full(200, 12.0)])), 0.0, 1.0)
    assert (found.edges, found.is_least, found.rise_s) == (1, True, None)
    assert NO_TRANSITION in found.why


def test_pairs_tell_levels_alone() -> None:
    pairs = np.column_stack([np.full(1000, 1.0), np.where(np.arange(1000) % 10 < 3, 12.0, 1.0)]).ravel()
    found = pulses(Channel("x", "V", FloatSamples(pairs), 0.0, 1e-3, "pairs"), 0.0, 1.0)
    assert (found.low, found.high) == pytest.approx((1.0, 12.0), abs=0.01)
    assert (found.edges, found.duty, found.rise_s, found.why) == (None, None, None, (IN_PAIRS,))


def test_changes_are_timed_at_the_change() -> None:
    times = np.cumsum(np.tile([0.3, 0.7], 20))
    values = np.tile([12.0, 1.0], 20)
    made = Channel("x", "V", FloatSamples(values), float(times[0]), None, "changes", times_s=times)
    found = pulses(made, float(times[0]), float(times[-1]))
    assert found.duty == pytest.approx(0.7)
    assert found.rate_hz == pytest.approx(1.0)
    assert found.edges == 39
    assert found.why == (NO_SLOPES,)


def test_uneven_samples_are_timed_by_their_own_times() -> None:
    rng = np.random.default_rng(2)
    times = np.sort(rng.uniform(0.0, 10.0, 40_000))
    values = np.interp(times % 1.0, [0.0, 0.1, 0.4, 0.5, 1.0], [1.0, 12.0, 12.0, 1.0, 1.0])
    made = Channel("x", "V", FloatSamples(values), float(times[0]), None, "uneven", times_s=times)
    found = pulses(made, 0.0, 10.0)
    assert found.duty == pytest.approx(0.4, abs=1e-3)
    assert found.rise_s == pytest.approx(0.08, rel=0.01)
    assert found.fall_s == pytest.approx(0.08, rel=0.01)
