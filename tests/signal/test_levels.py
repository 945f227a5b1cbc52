"""State levels: laws, and signals that lure the histogram."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomlight.signal.levels import StateLevels, levels_of, state_levels
from loomlight.signal.samples import CountSamples


def found(values: np.ndarray) -> StateLevels:
    levels = levels_of(values)
    assert levels is not None
    return levels


def two_states(count: int = 20_000, *, low: float = 1.0, high: float = 12.0, noise: float = 0.05) -> np.ndarray:
    rng = np.random.default_rng(5)
    return np.where(np.arange(count) % 10 < 4, low, high) + rng.normal(0.0, noise, count)


def resting(count: int, noise: float = 0.02) -> np.ndarray:
    return 12.0 + np.random.default_rng(7).normal(0.0, noise, count)


@settings(max_examples=30, deadline=None)
@given(gain=st.floats(1e-3, 1e3), offset=st.floats(-50.0, 50.0))
def test_scaled_and_shifted_with_the_signal(gain: float, offset: float) -> None:
    plain, moved = found(two_states()), found(two_states() * gain + offset)
    tolerance = gain * 0.02 + 1e-6 * abs(offset)
    assert moved.low == pytest.approx(plain.low * gain + offset, abs=tolerance)
    assert moved.high == pytest.approx(plain.high * gain + offset, abs=tolerance)


def test_upside_down_swaps_the_states() -> None:
    plain, turned = found(two_states()), found(-two_states())
    assert (turned.low, turned.high) == (pytest.approx(-plain.high, abs=0.01), pytest.approx(-plain.low, abs=0.01))


def test_order_does_not_matter() -> None:
    values = two_states()
    assert found(np.random.default_rng(1).permutation(values)) == found(values)


def test_spreads_are_the_noise_of_each_state() -> None:
    levels = found(two_states(noise=0.1))
    assert levels.low_spread == pytest.approx(0.1, rel=0.1)
    assert levels.high_spread == pytest.approx(0.1, rel=0.1)


def test_a_bus_that_talks_once_in_a_long_capture_has_two_states() -> None:
    values = resting(2_000_000)
    values[1000:1600] = 1.0  # 0.03 % of all samples
    levels = found(values)
    assert levels.two_states
    assert (levels.low, levels.high) == (pytest.approx(1.0, abs=0.02), pytest.approx(12.0, abs=0.02))


@pytest.mark.parametrize("spike_v", [20.0, 60.0, -40.0])
def test_spikes_on_a_resting_line_are_no_state(spike_v: float) -> None:
    values = resting(2_000_000)
    heights = np.linspace(0.2, 1.0, 300)
    values[5000 : 5000 + 300 * 900 : 900] = 12.0 + heights * (spike_v - 12.0)
    levels = found(values)
    assert not levels.two_states
    assert levels.high == pytest.approx(12.0, abs=0.02)


def test_spikes_cut_off_at_the_rail_do_not_move_two_states() -> None:
    values = two_states(1_000_000)
    values[5000:5300] = 60.0
    levels = found(values)
    assert (levels.low, levels.high) == (pytest.approx(1.0, abs=0.05), pytest.approx(12.0, abs=0.05))
    assert levels.greatest == pytest.approx(60.0)


@pytest.mark.parametrize(
    "values", [[5.0, 5.0000005] * 50, [3e38, -3e38] * 50, [0.0, 1e-40] * 50], ids=["one step", "widest", "smallest"]
)
def test_extreme_figures_are_read(values: list[float]) -> None:
    levels = found(np.array(values))
    width = levels.greatest - levels.least
    assert levels.low == pytest.approx(levels.least, abs=width / 1000)
    assert levels.high == pytest.approx(levels.greatest, abs=width / 1000)


def test_gaps_and_infinite_samples_are_passed_over() -> None:
    values = two_states()
    spoilt = np.concatenate([values, np.full(5000, np.nan), np.full(50, np.inf), np.full(50, -np.inf)])
    assert found(spoilt) == found(values)


@pytest.mark.parametrize("bits", [8, 10, 12])
def test_counts_of_a_converter(bits: int) -> None:
    step = 40.0 / 2**bits
    counts = np.round(two_states() / step).astype(np.int16)
    levels = state_levels(CountSamples(counts, scale=step, offset=0.0))
    assert levels is not None
    assert levels.low == pytest.approx(1.0, abs=0.6 * step + 0.01)
    assert levels.high == pytest.approx(12.0, abs=0.6 * step + 0.01)


def test_progress_rises_to_no_more_than_all() -> None:
    shares: list[float] = []
    state_levels(CountSamples(np.arange(600_000, dtype=np.int16), scale=1.0, offset=0.0), shares.append)
    assert shares == sorted(shares)
    assert shares[-1] <= 1.0
