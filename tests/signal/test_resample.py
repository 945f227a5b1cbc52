"""Values at other times and averages over windows, against numpy on the whole."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.capture import Channel
from loomlight.signal.difference import difference
from loomlight.signal.lineup import LineUp
from loomlight.signal.resample import PIECE, averaged, values_at
from loomlight.signal.samples import BLOCK, FloatSamples, Wave


def channel(values: object, *, start_s: float = 0.0, step_s: float = 1.0) -> Channel:
    return Channel("x", "V", FloatSamples(values), start_s, step_s)  # type: ignore[arg-type]


class Counted:
    """Samples that remember the largest block asked for."""

    def __init__(self, size: int) -> None:
        self.size, self.largest = size, 0

    def block(self, start: int, stop: int) -> Wave:
        self.largest = max(self.largest, stop - start)
        return (np.arange(start, stop) % 977).astype(np.float32)


@given(st.floats(-3, 3), st.floats(0.01, 7), st.integers(2, 300))
def test_as_numpy_interpolates(start_s: float, step_s: float, count: int) -> None:
    values = np.random.default_rng(count).normal(size=count).astype(np.float32)
    own = start_s + np.arange(count) * step_s
    times = np.linspace(own[0], own[-1], 97)
    found = values_at(channel(values, start_s=start_s, step_s=step_s), times)
    assert found == pytest.approx(np.interp(times, own, values), abs=1e-4)
    assert np.isnan(values_at(channel(values, start_s=start_s, step_s=step_s), own[[0, -1]] + [-step_s, step_s])).all()


def test_a_samples_own_time_gives_the_sample_even_beside_a_gap() -> None:
    values = np.array([np.nan, 1.0, np.nan, 2.0, np.nan] * 40)
    start_s, step_s = 0.123456789, 3.7e-7
    times = start_s + np.arange(values.size) * step_s
    found = values_at(channel(values, start_s=start_s, step_s=step_s), times)
    assert np.array_equal(np.isnan(found), np.isnan(values))
    assert np.nansum(found) == np.nansum(values)


def test_across_the_seams_of_blocks() -> None:
    size = 2 * BLOCK + 77
    times = np.arange(0.5, size - 1, 1.0)
    found = values_at(channel(np.arange(size, dtype=np.float32) % 1024), times)
    wanted = np.interp(times, np.arange(size), np.arange(size) % 1024)
    assert np.array_equal(found, wanted.astype(np.float32))


@pytest.mark.parametrize("step_s", [1.0, 2.0, 8.0, np.e, 1.0000001])
@pytest.mark.parametrize("start_s", [0.0, 0.3, 5.5, -3.25])
def test_averages_are_the_integral_of_the_staircase(step_s: float, start_s: float) -> None:
    values = np.random.default_rng(3).normal(size=400)
    count = int(380 / step_s)
    fine = 4000
    for row in (values, np.where(np.arange(400) % 50 == 7, np.nan, values)):
        found = averaged(channel(row), step_s=step_s, start_s=start_s, count=count)
        for place in (0, 1, count // 2, count - 1):
            middle = start_s + place * step_s
            inside = np.round(middle + step_s * ((np.arange(fine) + 0.5) / fine - 0.5)).astype(int)
            inside = inside[(inside >= 0) & (inside < 400)]
            known = row.astype(np.float32)[inside]
            if np.isfinite(known).any():
                assert found[place] == pytest.approx(np.nanmean(known), abs=4e-3)
            else:
                assert np.isnan(found[place])


def test_averaged_squares_are_those_of_the_samples() -> None:
    values = np.random.default_rng(4).normal(size=640)
    found = averaged(channel(values), step_s=8.0, start_s=3.5, count=80, squared=True)
    assert found == pytest.approx((values.astype(np.float32).reshape(-1, 8) ** 2).mean(axis=1), rel=1e-6)


def test_memory_is_bounded_by_the_block() -> None:
    samples = Counted(40_000_000)
    long = Channel("x", "V", samples, 0.0, 1.0)
    averaged(long, step_s=1.0, start_s=0.0, count=500_000)
    averaged(long, step_s=512.0, start_s=0.0, count=70_000)
    assert samples.largest <= PIECE + 1024
    samples.largest = 0
    lined = LineUp(True, "shape", 0.0, 1.0, 1.0, 1.0, 1, 4e7, None, 1.0, 0.0, "")
    found = difference(long, long, lined)
    assert found.samples.size == 40_000_000
    assert not found.samples.block(30_000_000, 30_100_000).any()
    assert samples.largest <= 2 * BLOCK
