"""Long columns looked at block by block: the same answers as whole-array arithmetic gives."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from loomlight.storage import long_columns
from loomlight.storage.long_columns import (
    LongColumn,
    counts_up,
    falls,
    farthest_from_line,
    filled_rows,
    largest_size,
    never_falls,
)

NUMBERS = arrays(np.float64, st.integers(2, 40), elements=st.floats(-1e6, 1e6) | st.just(float("nan")))


@pytest.fixture(autouse=True, scope="module")
def _short_blocks() -> object:
    patch = pytest.MonkeyPatch()
    patch.setattr(long_columns, "BLOCK", 7)
    yield
    patch.undo()


@given(NUMBERS)
def test_answers_equal_the_whole_arrays(numbers: np.ndarray) -> None:
    assert np.array_equal(falls(numbers), np.diff(numbers) < 0)
    assert never_falls(numbers) == bool((np.diff(numbers) >= 0).all())
    finite = numbers[np.isfinite(numbers)]
    assert largest_size(numbers) == (np.abs(finite).max() if finite.size else 0.0)
    filled = np.flatnonzero(np.isfinite(numbers))
    assert filled_rows(numbers) == (filled[-1] + 1 if filled.size else 0)
    if finite.size:
        line = finite[0] + np.arange(finite.size) * 0.25
        assert farthest_from_line(finite, float(finite[0]), 0.25) == np.abs(finite - line).max()


@pytest.mark.parametrize(
    ("numbers", "counted"),
    [
        (np.arange(300.0) + 5, True),
        (np.r_[0:299.0, 5], False),
        ([1.0], False),
        ([3, 4, np.nan], False),
        ([0, 0.5], False),
    ],
)
def test_counting_up(numbers: object, counted: bool) -> None:
    assert counts_up(np.asarray(numbers, np.float64)) is counted


@pytest.mark.parametrize("expected", [0, 10, 1000])
def test_a_column_grows_and_turns_single(expected: int) -> None:
    blocks = [np.random.default_rng(seed).normal(size=seed * 13) * 1e30 for seed in range(1, 12)]
    double, single = LongColumn(expected), LongColumn(expected)
    for place, block in enumerate(blocks):
        double.append(block)
        if place == 4:
            single.to_single()
        single.append(block * 1e9)
    whole = np.concatenate(blocks)
    assert np.array_equal(double.whole(), whole)
    with np.errstate(over="ignore"):
        assert np.array_equal(single.whole(), (whole * 1e9).astype(np.float32))
