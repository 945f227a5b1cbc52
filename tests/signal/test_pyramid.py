"""Laws of the reduction that drawing stands on: nothing is lost, nothing is counted twice, nothing is made up."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomlight.signal.progress import Cancelled
from loomlight.signal.pyramid import (
    GROWTH,
    Pyramid,
    build_pyramid,
    columns,
    columns_by_time,
    min_max,
    pyramid_of,
    reach,
)
from loomlight.signal.samples import BLOCK, CountSamples, FloatSamples, Wave, finite_range


def _noise(size: int, seed: int = 1) -> FloatSamples:
    return FloatSamples(np.random.default_rng(seed).normal(0.0, 1.0, size))


@given(size=st.integers(1, 400), bucket=st.integers(1, 90))
def test_min_max_keeps_the_short_last_bucket(size: int, bucket: int) -> None:
    values = np.zeros(size, np.float32)
    values[-1] = 5.0
    low, high = min_max(values, bucket)
    assert low.size == high.size == -(-size // bucket)
    assert high[-1] == 5.0


def test_min_max_passes_over_a_gap_beside_a_sample() -> None:
    low, high = min_max(np.array([np.nan, 3.0, np.nan, np.nan, -1.0], np.float32), 2)
    assert low[0] == high[0] == 3.0
    assert np.isnan(low[1])
    assert low[2] == -1.0


@pytest.mark.parametrize("size", [0, 1, 64, 65, 4096, BLOCK, BLOCK + 1, 3 * BLOCK + 77])
def test_each_level_holds_the_extremes_of_its_buckets(size: int) -> None:
    samples = _noise(size)
    values = samples.block(0, size)
    pyramid = build_pyramid(samples)
    assert pyramid.size == size
    assert bool(pyramid.levels) == (size > 64)
    for number, level in enumerate(pyramid.levels):
        assert level.bucket == 64 * GROWTH**number
        starts = np.arange(0, size, level.bucket)
        np.testing.assert_array_equal(level.low, np.minimum.reduceat(values, starts))
        np.testing.assert_array_equal(level.high, np.maximum.reduceat(values, starts))


def test_counts_give_the_same_pyramid_as_their_volts() -> None:
    counts = np.random.default_rng(3).integers(-2000, 2000, 50_000).astype(np.int16)
    of_counts = build_pyramid(CountSamples(counts, scale=0.01, offset=6.0))
    of_volts = build_pyramid(FloatSamples(counts * np.float32(0.01) + np.float32(6.0)))
    for one, other in zip(of_counts.levels, of_volts.levels, strict=True):
        np.testing.assert_array_equal(one.high, other.high)
        np.testing.assert_array_equal(one.low, other.low)


def test_stored_pyramid_is_used_only_where_its_size_fits() -> None:
    samples = _noise(1000)
    fitting, stale = Pyramid(1000, ()), Pyramid(999, ())
    samples.pyramid = fitting  # type: ignore[attr-defined]
    assert pyramid_of(samples) is fitting
    samples.pyramid = stale  # type: ignore[attr-defined]
    assert pyramid_of(samples).levels


def test_building_can_be_given_up() -> None:
    def give_up(share: float) -> None:
        if share > 0.2:
            raise Cancelled

    with pytest.raises(Cancelled):
        build_pyramid(_noise(4 * BLOCK), give_up)


@pytest.mark.parametrize("size", [1, 40, 300, 70_000])
@pytest.mark.parametrize("holes", [(), (np.nan,), (np.inf, np.nan), (-np.inf,)])
def test_reach_is_that_of_the_finite_samples(size: int, holes: tuple[float, ...]) -> None:
    values = np.random.default_rng(size).normal(0.0, 1.0, size).astype(np.float32)
    values[: min(len(holes), size)] = holes[:size]
    samples = FloatSamples(values)
    assert reach(samples, build_pyramid(samples)) == finite_range(samples)


def test_reach_of_nothing_acquired_is_none() -> None:
    for size in (0, 3, 1000):
        samples = FloatSamples(np.full(size, np.nan))
        assert reach(samples, build_pyramid(samples)) is None


def test_reach_reads_no_sample_where_the_pyramid_tells() -> None:
    class Unread:
        size = 1000

        def block(self, start: int, stop: int) -> Wave:
            raise AssertionError

    assert reach(Unread(), build_pyramid(_noise(1000))) == finite_range(_noise(1000))


@settings(deadline=None, max_examples=150)
@given(data=st.data(), size=st.integers(1, 200_000), width=st.integers(1, 2000))
def test_columns_hold_each_sample_exactly_once(data: st.DataObject, size: int, width: int) -> None:
    first = data.draw(st.integers(-50, size - 1))
    last = data.draw(st.integers(first + 1, size + 50))
    samples = _noise(size, seed=size)
    values = samples.block(0, size)
    found = columns(samples, build_pyramid(samples), first, last, width)
    first, last = max(first, 0), min(last, size)
    if last <= first:
        assert not found.index.size
        return
    assert found.index[0] <= first
    assert found.index[-1] + found.step >= last
    np.testing.assert_array_equal(np.diff(found.index), found.step)
    begin, end = int(found.index[0]), min(int(found.index[-1]) + found.step, size)
    starts = found.index - begin
    np.testing.assert_array_equal(found.low, np.minimum.reduceat(values[begin:end], starts))
    np.testing.assert_array_equal(found.high, np.maximum.reduceat(values[begin:end], starts))
    # At most a quarter more columns than pixels where they are reduced, and the two that reach over the ends.
    assert found.step == 1 or found.index.size <= 1.25 * width + 2


def test_columns_start_at_multiples_of_their_step_so_that_panning_does_not_shimmer() -> None:
    samples = _noise(500_000)
    pyramid = build_pyramid(samples)
    still = columns(samples, pyramid, 100_000, 300_000, 700)
    for shift in range(1, 400, 7):
        moved = columns(samples, pyramid, 100_000 + shift, 300_000 + shift, 700)
        assert moved.step == still.step
        assert not (moved.index % moved.step).any()
        both, here, there = np.intersect1d(still.index, moved.index, return_indices=True)
        assert both.size > 690
        np.testing.assert_array_equal(still.high[here], moved.high[there])


@pytest.fixture(scope="module")
def long_samples() -> tuple[CountSamples, Pyramid]:
    counts = np.random.default_rng(7).integers(-50, 50, 10_000_000).astype(np.int16)
    samples = CountSamples(counts, scale=0.001, offset=0.0)
    return samples, build_pyramid(samples)


def test_one_sample_spike_in_ten_million_is_found_at_every_zoom(long_samples: tuple[CountSamples, Pyramid]) -> None:
    quiet, _ = long_samples
    rng = np.random.default_rng(11)
    for _ in range(12):
        counts = quiet.counts.copy()
        at = int(rng.integers(0, counts.size))
        counts[at] = rng.choice([-12_000, 12_000])
        samples = CountSamples(counts, scale=0.001, offset=0.0)
        pyramid = build_pyramid(samples)
        length = counts.size
        while length > 4:
            first = int(np.clip(at - rng.integers(0, length), 0, counts.size - length))
            found = columns(samples, pyramid, first, first + length, int(rng.integers(300, 3840)))
            column = int(np.searchsorted(found.index, at, side="right")) - 1
            farthest = max(abs(found.low[column]), abs(found.high[column]))
            assert farthest == pytest.approx(12.0), (at, first, length)
            length = int(length / rng.uniform(1.3, 3.0))


def test_empty_view_and_empty_channel_give_no_columns() -> None:
    samples = _noise(100)
    assert columns(samples, build_pyramid(samples), 300, 400, 800).index.size == 0
    empty = FloatSamples([])
    assert columns(empty, build_pyramid(empty), 0, 10, 800).index.size == 0
    assert columns_by_time(empty, np.empty(0), 0.0, 1.0, 800).index.size == 0


@settings(deadline=None, max_examples=100)
@given(seed=st.integers(0, 10_000), size=st.integers(1, 5000), width=st.integers(1, 400))
def test_columns_by_time_hold_each_sample_once_and_lie_within_a_pixel(seed: int, size: int, width: int) -> None:
    rng = np.random.default_rng(seed)
    times_s = np.cumsum(rng.choice([1e-6, 1e-6, 1e-6, 5e-3], size))
    samples = _noise(size, seed)
    values = samples.block(0, size)
    begin_s, end_s = np.sort(rng.uniform(times_s[0] - 1e-3, times_s[-1] + 1e-3, 2))
    end_s += 1e-9
    found = columns_by_time(samples, times_s, begin_s, end_s, width)
    inside = np.flatnonzero((times_s >= begin_s) & (times_s <= end_s))
    if inside.size:
        assert found.index[0] <= inside[0]
        assert found.stop[-1] > inside[-1]
    np.testing.assert_array_equal(found.index[1:], found.stop[:-1])
    for start, stop, low, high in zip(found.index, found.stop, found.low, found.high, strict=True):
        assert low == values[start:stop].min()
        assert high == values[start:stop].max()
        seen = times_s[max(start, inside[0] if inside.size else 0) : stop]
        seen = seen[(seen >= begin_s) & (seen <= end_s)]
        assert not seen.size or np.ptp(seen) <= (end_s - begin_s) / width * (1 + 1e-9)


def test_columns_by_time_reach_one_sample_beyond_the_view() -> None:
    times_s = np.arange(10.0)
    found = columns_by_time(FloatSamples(np.arange(10)), times_s, 3.5, 5.5, 100)
    assert (found.index[0], found.stop[-1]) == (3, 7)
