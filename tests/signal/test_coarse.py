"""Means and liveliness of windows against numpy on the whole."""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.coarse import LEAST_POINTS, MOST_POINTS, coarse_pair, coarse_row, is_flat
from loomlight.signal.progress import unwatched
from loomlight.signal.samples import CountSamples, FloatSamples


def channel(values: np.ndarray, *, step_s: float = 1.0, start_s: float = 0.0) -> Channel:
    return Channel("x", "V", FloatSamples(values), start_s, step_s)


@pytest.mark.parametrize("width", [1, 2, 7, 128])
@pytest.mark.parametrize("offset", [0.0, 4000.0])
def test_whole_windows_are_numpys(width: int, offset: float) -> None:
    values = (np.random.default_rng(width).normal(size=300_000) + offset).astype(np.float32)
    row = coarse_row(channel(values, start_s=3.0), float(width), unwatched)
    windows = values[: values.size // width * width].astype(np.float64).reshape(-1, width)
    assert row.first_s == pytest.approx(3.0 + 0.5 * (width - 1))
    assert np.allclose(row.means, windows.mean(axis=1), atol=1e-4)
    if width > 1:
        # Single precision: the root of a rounding error, where a window hardly varies.
        assert row.spreads is not None
        assert np.allclose(row.spreads, windows.std(axis=1), atol=2e-3)
    else:
        assert row.spreads is None


def test_windows_of_a_broken_number_of_samples() -> None:
    values = np.sin(np.arange(50_000) / 300.0)
    row = coarse_row(channel(values), 6.5, unwatched)
    middles = row.first_s + 6.5 * np.arange(row.means.size)
    assert row.means == pytest.approx(np.sin(middles / 300.0), abs=1e-3)
    assert row.spreads is not None


def test_gaps_are_left_out() -> None:
    values = np.random.default_rng(1).normal(size=1000)
    values[100:120] = np.nan
    values[205] = np.nan
    row = coarse_row(channel(values), 10.0, unwatched)
    assert np.isnan(row.means[10:12]).all()
    assert row.means[20] == pytest.approx(np.nanmean(values.astype(np.float32)[200:210]), abs=1e-6)
    assert row.spreads is not None
    assert row.spreads[20] == pytest.approx(np.nanstd(values[200:210]), abs=1e-5)


def test_counts_and_pairs() -> None:
    counts = np.arange(4000, dtype=np.int16)
    line = Channel("x", "V", CountSamples(counts, scale=0.01, offset=-1.0), 0.0, 1.0)
    assert coarse_row(line, 100.0, unwatched).means[3] == pytest.approx(0.01 * 349.5 - 1.0, abs=1e-5)
    both = Channel("x", "V", FloatSamples(np.repeat(np.arange(500.0), 2)), 0.0, 1.0, "pairs")
    assert coarse_row(both, 5.0, unwatched).means[2] == pytest.approx(12.0)


def test_a_pair_has_few_windows_but_a_short_one_is_not_lost() -> None:
    rng = np.random.default_rng(2)
    long, short = channel(rng.normal(size=2_000_000)), channel(rng.normal(size=60_000))
    both = coarse_pair(long, long, unwatched)
    assert MOST_POINTS // 2 < both.one.means.size <= MOST_POINTS
    uneven = coarse_pair(long, short, unwatched)
    assert uneven.other.means.size >= LEAST_POINTS
    assert uneven.one.means.size <= 4 * MOST_POINTS


def test_flat() -> None:
    assert is_flat(np.full(100, 3.3))
    assert is_flat(np.full(100, np.nan))
    assert not is_flat(np.arange(100.0))
