"""Clocks, bit rates and speeds that differ: found with the lag, up to 15 %, and refused where they cannot be told."""

import numpy as np
import pytest

from loomlight.signal.align import line_up
from loomlight.signal.capture import Channel
from loomlight.signal.difference import difference
from loomlight.signal.progress import unwatched
from loomlight.signal.samples import FloatSamples
from loomlight.signal.stretch_search import rate_between, retimed


def channel(values: np.ndarray, *, start_s: float = 0.0, step_s: float = 1e-6) -> Channel:
    return Channel("x", "V", FloatSamples(values), start_s, step_s)


def bits(rng: np.random.Generator, count: int, width: int = 20) -> np.ndarray:
    return 12.0 * np.repeat(rng.integers(0, 2, count // width + 1), width)[:count]


def at_rate(base: np.ndarray, start: float, stretch: float, rng: np.random.Generator) -> np.ndarray:
    """``base`` from ``start`` on by a clock of which a second is ``stretch`` of its own."""
    at = np.arange(start, base.size - 1, stretch)
    return np.interp(at, np.arange(base.size), base) + rng.normal(0, 0.3, at.size)


@pytest.mark.parametrize("stretch", [0.86, 0.9, 0.97, 0.998, 1.0004, 1.002, 1.03, 1.1, 1.149])
def test_stretch_and_lag_are_found_together(stretch: float) -> None:
    rng = np.random.default_rng(61)
    base = bits(rng, 60_000)
    suspect = at_rate(base, 9000.4, stretch, rng)
    found = line_up(channel(suspect, start_s=-0.5), channel(base, start_s=2.0))
    assert found.accepted
    for at in (0.1, 0.5, 0.9):
        index = at * suspect.size
        wanted_s = 2.0 + (9000.4 + stretch * index) * 1e-6
        assert found.on_good(-0.5 + index * 1e-6) == pytest.approx(wanted_s, abs=0.5e-6)
    assert found.stretch == pytest.approx(stretch, abs=2e-5)
    assert found.fit > 0.97
    assert found.overlap_s == pytest.approx(suspect.size * 1e-6, rel=0.01)


def test_a_long_one_with_another_step_upside_down() -> None:
    rng = np.random.default_rng(62)
    base = bits(rng, 600_000, 40)
    suspect = -2.0 * at_rate(base, 50_000.0, 1.06, rng)[::3]
    found = line_up(channel(suspect, step_s=3e-6), channel(base))
    assert (found.accepted, found.polarity) == (True, -1)
    assert found.stretch == pytest.approx(1.06, abs=1e-5)
    assert found.gain == pytest.approx(-2.0, rel=0.03)
    assert found.reason.endswith(" The suspect runs 6.000% faster than the known-good.")


def test_equal_clocks_stay_equal() -> None:
    rng = np.random.default_rng(63)
    base = bits(rng, 50_000)
    for _ in range(3):
        suspect = base[5000:40_000] + rng.normal(0, 1.0, 35_000)
        assert line_up(channel(suspect), channel(base)).stretch == 1.0


@pytest.mark.parametrize("stretch", [0.8, 1.25])
def test_further_apart_than_15_percent_is_refused(stretch: float) -> None:
    rng = np.random.default_rng(64)
    base = bits(rng, 40_000)
    found = line_up(channel(at_rate(base, 100.0, stretch, rng)), channel(base))
    assert (found.accepted, found.stretch) == (False, 1.0)


def test_repeating_signals_of_other_periods_are_not_stretched_onto_each_other() -> None:
    rng = np.random.default_rng(65)
    at = np.arange(20_000)
    one, other = ((at // half % 2) * 12.0 + rng.normal(0, 0.1, at.size) for half in (250, 270))
    assert rate_between(one, other, unwatched) is None
    assert not line_up(channel(one), channel(other)).accepted


def test_rows_too_short_to_tell_a_rate() -> None:
    rng = np.random.default_rng(66)
    assert rate_between(rng.normal(size=100), rng.normal(size=100), unwatched) is None


def test_difference_follows_the_stretch() -> None:
    rng = np.random.default_rng(67)
    base = np.convolve(rng.normal(size=40_000), np.hanning(40), mode="same")
    at = np.arange(3000.0, 38_000.0, 1.05)
    suspect = np.interp(at, np.arange(base.size), base)
    suspect[10_000:10_400] += 5.0
    found = line_up(channel(suspect), channel(base))
    apart = difference(channel(suspect), channel(base), found)
    row = apart.samples.block(0, apart.samples.size)
    first = round(apart.start_s / 1e-6)
    inside = slice(10_010 - first, 10_390 - first)
    assert np.nanmedian(row[inside]) == pytest.approx(5.0, abs=0.2)
    assert np.nanstd(np.delete(row, np.r_[10_000 - first : 10_400 - first])) < 0.1 * base.std()


def test_a_retimed_channel_is_the_same_samples_by_another_clock() -> None:
    one = channel(np.arange(10.0), start_s=2.0, step_s=0.5)
    assert retimed(one, 1.0) is one
    slow = retimed(one, 1.1)
    assert (slow.start_s, slow.step_s) == (pytest.approx(2.2), pytest.approx(0.55))
    assert slow.samples is one.samples
