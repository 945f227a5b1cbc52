"""Edges against a plain loop, stretches against sets of points."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomlight.signal import edges as edges_module
from loomlight.signal.edges import find_edges
from loomlight.signal.samples import FloatSamples
from loomlight.signal.spans import common, covered, joined, shrunk, spans_of, total, touched

VALUES = st.lists(st.sampled_from([0.0, 1.0, 2.0, 3.0, 4.0, 5.0, float("nan")]), min_size=1, max_size=60)


def plain_loop(values: list[float], low: float, high: float) -> tuple[bool | None, list[tuple[int, bool]]]:
    state, start, found = None, None, []
    for place, value in enumerate(values):
        new = True if value > high else False if value < low else state
        if new is not None and state is None:
            start = new
        elif new != state:
            found.append((place, bool(new)))
        state = new
    return start, found


@settings(deadline=None)
@given(values=VALUES, block=st.integers(1, 9))
def test_same_as_a_plain_loop_whatever_the_blocks(values: list[float], block: int) -> None:
    original = edges_module.blocks
    edges_module.blocks = lambda samples, progress: original(samples, progress, length=block)
    try:
        found = find_edges(FloatSamples(values), low=1.5, high=3.5)
    finally:
        edges_module.blocks = original
    start, wanted = plain_loop(values, 1.5, 3.5)
    assert found.starts_high == start
    assert list(zip(found.decided.tolist(), found.rising.tolist(), strict=True)) == wanted


def test_crossings_are_interpolated() -> None:
    found = find_edges(FloatSamples([0.0, 0.0, 1.0, 5.0, 5.0, 3.0, 0.0]), low=1.5, high=3.5, level=2.0)
    assert found.at.tolist() == pytest.approx([2.25, 5.0 + 1.0 / 3.0])
    assert found.decided.tolist() == [3, 6]


def test_thresholds_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(ValueError, match="in order"):
        find_edges(FloatSamples([0.0]), low=3.0, high=1.0)


PAIRS = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), max_size=8)


def points(spans: np.ndarray) -> set[float]:
    return {place + 0.5 for start, stop in spans for place in range(int(start), int(stop))}


@given(one=PAIRS, other=PAIRS)
def test_common_is_what_both_hold(one: list[tuple[int, int]], other: list[tuple[int, int]]) -> None:
    first, second = (
        joined(spans_of(np.array(one).reshape(-1, 2)), 0),
        joined(spans_of(np.array(other).reshape(-1, 2)), 0),
    )
    both = common(first, second)
    assert points(both) == points(first) & points(second)
    assert total(both) == len(points(both))


@given(one=PAIRS)
def test_joined_keeps_every_point_and_leaves_gaps(one: list[tuple[int, int]]) -> None:
    spans = spans_of(np.array(one).reshape(-1, 2))
    for gap in (0.0, 2.0):
        found = joined(spans, gap)
        assert points(spans) <= points(found)
        assert (found[1:, 0] - found[:-1, 1] > gap).all()


def test_shrunk_drops_what_vanishes() -> None:
    assert shrunk(spans_of([(0.0, 1.0), (2.0, 9.0)]), 0.5, 0.5).tolist() == [[2.5, 8.5]]


@given(
    st.lists(st.tuples(st.integers(0, 30), st.integers(1, 6))),
    st.lists(st.tuples(st.integers(0, 30), st.integers(1, 6))),
)
@settings(deadline=None)
def test_covered_and_touched_agree_with_each_stretch_taken_alone(
    one: list[tuple[int, int]], other: list[tuple[int, int]]
) -> None:
    spans, raw = (spans_of([(start, start + length) for start, length in many]) for many in (one, other))
    by = joined(raw, 0.0)
    alone = [total(common(span[np.newaxis], by)) for span in spans]
    assert covered(spans, by).tolist() == pytest.approx(alone)
    assert touched(spans, raw).tolist() == [length > 0 for length in alone]
