"""Where edges are timed, and what gaps and rails do to them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.edges import find_edges
from loomlight.signal.samples import BLOCK, FloatSamples

VALUES = st.lists(st.floats(-5.0, 5.0, width=32), min_size=2, max_size=80)


@given(values=VALUES)
def test_each_crossing_is_the_last_before_its_decision(values: list[float]) -> None:
    row = np.array(values, dtype=np.float32).astype(float)
    edges = find_edges(FloatSamples(row), low=-1.0, high=1.0, level=0.25)
    for at, decided, rising in zip(edges.at.tolist(), edges.decided.tolist(), edges.rising.tolist(), strict=True):
        beyond = row > 0.25 if rising else row < 0.25
        place = decided
        while beyond[place - 1]:
            place -= 1
        before, after = row[place - 1], row[place]
        assert at == pytest.approx(place - 1 + (0.25 - before) / (after - before), abs=1e-6)
    assert (np.diff(edges.at) > 0).all()
    assert (np.diff(edges.rising.astype(int)) != 0).all()


@given(values=VALUES)
def test_upside_down_swaps_rising_and_falling(values: list[float]) -> None:
    plain = find_edges(FloatSamples(values), low=-1.0, high=1.0)
    turned = find_edges(FloatSamples([-value for value in values]), low=-1.0, high=1.0)
    assert turned.decided.tolist() == plain.decided.tolist()
    assert turned.rising.tolist() == [not rising for rising in plain.rising]
    assert turned.at == pytest.approx(plain.at)


@pytest.mark.parametrize("place", [BLOCK - 2, BLOCK - 1, BLOCK, BLOCK + 1])
def test_an_edge_at_a_blocks_border_is_timed_as_anywhere(place: int) -> None:
    values = np.zeros(2 * BLOCK)
    values[place + 2 :] = 4.0
    values[place : place + 2] = 1.0, 3.0
    edges = find_edges(FloatSamples(values), low=1.0, high=3.5, level=2.0)
    assert edges.at.tolist() == pytest.approx([place + 0.5])
    assert edges.decided.tolist() == [place + 2]


def test_the_state_holds_over_a_gap() -> None:
    nan = float("nan")
    edges = find_edges(FloatSamples([5.0, nan, nan, 5.0, nan, 0.0]), low=1.0, high=3.0)
    assert edges.decided.tolist() == [5]
    assert edges.at.tolist() == [5.0]  # nothing between the gap and the sample: the edge is put on the sample


def test_samples_beyond_the_rail_count_as_beyond() -> None:
    edges = find_edges(FloatSamples([0.0, np.inf, -np.inf, np.inf]), low=1.0, high=3.0)
    assert edges.rising.tolist() == [True, False, True]
    assert np.isfinite(edges.at).all()


def test_a_signal_between_the_thresholds_has_no_state() -> None:
    edges = find_edges(FloatSamples([2.0] * 10), low=1.0, high=3.0)
    assert edges.starts_high is None
    assert edges.at.size == 0


@pytest.mark.bench
def test_ten_million_samples(benchmark) -> None:  # type: ignore[no-untyped-def]
    samples = FloatSamples(np.where(np.arange(10_000_000) // 500 % 2, 12.0, 1.0))
    edges = benchmark.pedantic(lambda: find_edges(samples, low=5.0, high=7.0), rounds=3)
    assert edges.at.size == 19_999
    assert benchmark.stats["median"] < 0.5
