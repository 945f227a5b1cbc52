"""State levels by the histogram method of IEEE Std 181-2011, on signals whose levels are known by construction."""

import numpy as np
import pytest

from loomlight.signal.levels import levels_of

pytestmark = pytest.mark.outside


def made(
    low: float, high: float, duty: float, *, overshoot: float = 0.0, noise: float = 0.0, count: int = 50_000
) -> np.ndarray:
    rng = np.random.default_rng(3)
    place = np.arange(count) % 100
    values = np.where(place < 100 * duty, high, low).astype(float)
    values[place < 3] += overshoot * (high - low)
    return values + rng.normal(0, noise, count)


@pytest.mark.parametrize(("low", "high"), [(0.0138, 5.1848), (1.0, 12.4), (-3.0, 3.0), (2.36, 3.5)])
@pytest.mark.parametrize("duty", [0.1, 0.5, 0.97])
@pytest.mark.parametrize("overshoot", [0.0, 0.3])
def test_levels_are_the_modes(low: float, high: float, duty: float, overshoot: float) -> None:
    noise = 0.01 * (high - low)
    found = levels_of(made(low, high, duty, overshoot=overshoot, noise=noise))
    assert found is not None
    assert found.two_states
    assert found.low == pytest.approx(low, abs=noise)
    assert found.high == pytest.approx(high, abs=noise)


def test_a_converters_steps_do_not_fool_it() -> None:
    step = 20 / 256
    found = levels_of(np.round(made(1.0, 12.4, 0.7, noise=0.03) / step) * step)
    assert found is not None
    assert found.low == pytest.approx(1.0, abs=step / 2)
    assert found.high == pytest.approx(12.4, abs=step / 2)


def test_a_spike_does_not_set_the_range() -> None:
    values = made(1.0, 12.0, 0.6, noise=0.05)
    values[777] = 60.0
    found = levels_of(values)
    assert found is not None
    assert found.high == pytest.approx(12.0, abs=0.05)
    assert found.greatest == pytest.approx(60.0)


@pytest.mark.parametrize("values", [np.full(1000, 4.2), np.random.default_rng(1).normal(4.2, 0.05, 5000)])
def test_one_state_is_not_split_in_two(values: np.ndarray) -> None:
    found = levels_of(values)
    assert found is not None
    assert not found.two_states
    assert found.low == found.high == pytest.approx(4.2, abs=0.01)


def test_nothing_finite_gives_nothing() -> None:
    assert levels_of(np.full(10, np.nan)) is None
