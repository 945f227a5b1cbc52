"""Normalised correlation, its peaks between the points, and the places where a pattern fits."""

import numpy as np
import pytest

from loomlight.signal.candidates import candidates, highest_between, repeat_of
from loomlight.signal.correlate import correlate, matches, peak_between


@pytest.mark.parametrize(("n", "m"), [(40, 40), (41, 40), (40, 41), (17, 90), (90, 17)])
def test_swapping_turns_the_lags_round(n: int, m: int) -> None:
    rng = np.random.default_rng(n + 100 * m)
    one, other = rng.normal(size=n) + 9.0, rng.normal(size=m)
    there, back = (correlate(a, b, least_overlap=5) for a, b in ((one, other), (other, one)))
    assert np.array_equal(there.lags, -back.lags[::-1])
    assert np.array_equal(there.overlap, back.overlap[::-1])
    assert there.values == pytest.approx(back.values[::-1], abs=1e-9)


def test_a_flat_overlap_is_nothing_and_not_a_division_by_nothing() -> None:
    one = np.concatenate([np.full(100, 5.0), np.random.default_rng(1).normal(size=100)])
    found = correlate(one, np.random.default_rng(2).normal(size=200), least_overlap=10)
    assert np.isfinite(found.values).all()
    flat_only = found.lags >= 100  # only the flat half of the first row is laid on the second
    assert not found.values[flat_only].any()


def test_a_large_level_does_not_drown_a_small_signal() -> None:
    rng = np.random.default_rng(3)
    base = rng.normal(size=5000)
    found = correlate(1e6 + 1e-3 * base[1000:3000], -1e6 + base, least_overlap=200)
    assert found.lags[np.argmax(found.values)] == 1000
    assert found.values.max() == pytest.approx(1.0, abs=1e-5)


def test_chance_shrinks_with_bandwidth() -> None:
    rng = np.random.default_rng(4)
    white = correlate(rng.normal(size=4000), rng.normal(size=4000), least_overlap=400)
    slow = [np.convolve(rng.normal(size=4000), np.ones(50), mode="same") for _ in range(2)]
    narrow = correlate(slow[0], slow[1], least_overlap=400)
    assert white.independent > 0.4
    assert narrow.independent < 0.06


@pytest.mark.parametrize("frequency", [0.05, 0.2, 0.4])
@pytest.mark.parametrize("at", [30.0, 30.25, 30.49, 29.6])
def test_a_crest_between_the_points(frequency: float, at: float) -> None:
    values = np.cos(2 * np.pi * frequency * (np.arange(61) - at)) * np.exp(-(((np.arange(61) - at) / 12) ** 2))
    place, height = highest_between(values)
    assert place == pytest.approx(at, abs=0.02)
    assert height == pytest.approx(1.0, abs=0.01)


def test_a_trough_is_told_with_its_sign() -> None:
    late = np.arange(61) - 30.25
    place, height = highest_between(-np.cos(2 * np.pi * 0.05 * late) * np.exp(-((late / 12) ** 2)))
    assert (place, height) == (pytest.approx(30.25, abs=0.02), pytest.approx(-1.0, abs=0.01))


def test_a_peak_at_the_end_is_left_where_it_is() -> None:
    assert peak_between(np.array([3.0, 2.0, 1.0]), 0) == (0.0, 3.0)
    assert peak_between(np.array([1.0, 3.0, 1.0]), 1) == (0.0, 3.0)


def test_one_place_stands_alone_and_a_period_does_not() -> None:
    rng = np.random.default_rng(5)
    base = np.repeat(rng.integers(0, 2, 300), 10).astype(float)
    alone = correlate(base[700:1700], base, least_overlap=100)
    assert round(candidates(alone)[0].lag) == 700
    assert repeat_of(alone, candidates(alone)[0]) is None
    wave = np.sin(2 * np.pi * np.arange(3000) / 73.4)
    again = correlate(wave[:1500], wave, least_overlap=150)
    repeat = repeat_of(again, candidates(again)[0])
    assert repeat is not None
    assert repeat.period == pytest.approx(73.4, abs=0.1)


def test_all_places_of_a_pattern_best_first() -> None:
    rng = np.random.default_rng(6)
    pattern = np.hanning(40)
    record = rng.normal(0, 0.02, 1000)
    for place, size in ((100, 1.0), (400, 3.0), (800, 0.5)):
        record[place : place + 40] += size * pattern
    found = matches(pattern, record, least_fit=0.9)
    assert sorted(place for place, _ in found) == pytest.approx([100, 400, 800], abs=2)
    assert abs(found[0][0] - 400) <= 1
    assert [fit for _, fit in found] == sorted((fit for _, fit in found), reverse=True)
