"""Crossings that a cursor snaps to."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.capture import Channel
from loomlight.signal.crossings import MOST_SEARCHED, levels_between, nearest_crossing, next_crossing
from loomlight.signal.samples import BLOCK, FloatSamples


def sine(count: int, period: float) -> Channel:
    return Channel("x", "V", FloatSamples(6.0 + 5.0 * np.sin(2 * np.pi * np.arange(count) / period)), 0.0, 1.0)


@given(at_s=st.floats(30.0, 900.0), reach_s=st.floats(0.5, 200.0))
def test_the_nearest_crossing_of_a_sine_is_a_half_period(at_s: float, reach_s: float) -> None:
    found = nearest_crossing(sine(1000, 50.0), 6.0, at_s, reach_s)
    wanted = 25.0 * round(at_s / 25.0)
    if abs(wanted - at_s) > reach_s + 0.05:
        assert found is None
    elif abs(abs(wanted - at_s) - 12.5) > 0.05 and abs(wanted - at_s) < reach_s - 0.05:
        assert found == pytest.approx(wanted, abs=0.01)


def test_walking_from_crossing_to_crossing_meets_each_once() -> None:
    channel, at_s, met = sine(1000, 50.0), 1.0, []
    while (found := next_crossing(channel, 6.0, at_s, forward=True)) is not None:
        met.append(found)
        at_s = found
    assert met == pytest.approx([25.0 * number for number in range(1, 40)], abs=0.01)
    back = []
    while (found := next_crossing(channel, 6.0, at_s, forward=False)) is not None:
        back.append(found)
        at_s = found
    assert back == pytest.approx(met[-2::-1], abs=0.01)


def test_levels_of_a_long_stretch_come_from_pieces_of_it() -> None:
    values = np.where(np.arange(10 * BLOCK) % 100 < 50, 12.0, 1.0)
    channel = Channel("x", "V", FloatSamples(values), 0.0, 1.0)
    assert levels_between(channel, 0.0, 1e9) == pytest.approx((1.0, 12.0), abs=0.01)
    assert levels_between(channel, 0.0, 49.0) is None
    assert levels_between(channel, 1e9, 2e9) is None


def test_a_far_edge_is_not_searched_for_without_end() -> None:
    values = np.zeros(3 * MOST_SEARCHED, np.float32)
    values[2 * MOST_SEARCHED :] = 5.0
    channel = Channel("x", "V", FloatSamples(values), 0.0, 1.0)
    assert next_crossing(channel, 2.5, 0.0, forward=True) is None
    near_s = 1.5 * MOST_SEARCHED
    assert next_crossing(channel, 2.5, near_s, forward=True) == pytest.approx(2 * MOST_SEARCHED - 0.5)


def test_pairs_changes_uneven_and_gaps() -> None:
    pairs = Channel("x", "V", FloatSamples([0.0, 9.0] * 50), 0.0, 1.0, "pairs")
    assert nearest_crossing(pairs, 4.5, 20.0, 5.0) is None
    times = np.array([0.0, 1.0, 3.0, 7.0])
    changes = Channel("x", "V", FloatSamples([0.0, 5.0, 0.0, 5.0]), 0.0, None, "changes", times_s=times)
    assert nearest_crossing(changes, 2.5, 2.8, 1.0) == 3.0
    uneven = Channel("x", "V", FloatSamples([0.0, 5.0, 0.0, 5.0]), 0.0, None, "uneven", times_s=times)
    assert nearest_crossing(uneven, 2.5, 2.2, 1.0) == pytest.approx(2.0)
    assert next_crossing(uneven, 2.5, 2.0, forward=True) == pytest.approx(5.0)
    gap = Channel("x", "V", FloatSamples([0.0, 0.0, np.nan, 5.0, 5.0]), 0.0, 1.0)
    assert nearest_crossing(gap, 2.5, 2.5, 2.0) == 3.0


@pytest.mark.parametrize("values", [[], [1.0]])
def test_too_few_samples_have_none(values: list[float]) -> None:
    assert nearest_crossing(Channel("x", "V", FloatSamples(values), 0.0, 1.0), 0.5, 0.0, 10.0) is None
