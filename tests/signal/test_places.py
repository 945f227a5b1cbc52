"""A known-good that comes again and again in a long suspect: all places, each exact."""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.places import all_places
from loomlight.signal.samples import FloatSamples


def channel(values: np.ndarray, *, start_s: float = 0.0, step_s: float = 1e-6) -> Channel:
    return Channel("x", "V", FloatSamples(values), start_s, step_s)


def pattern(rng: np.random.Generator, count: int = 2400) -> np.ndarray:
    return np.convolve(rng.normal(size=count), np.hanning(16), mode="same") * np.hanning(count)


@pytest.mark.parametrize(("length", "sense"), [(60_000, 1.0), (60_000, -1.0), (900_000, 1.0)])
def test_each_place_is_found_once_and_exactly(length: int, sense: float) -> None:
    rng = np.random.default_rng(71)
    good = pattern(rng, 2400 if length < 100_000 else 40_000)
    starts = np.sort(rng.permutation(length // good.size - 2)[:6]) * good.size + 700
    long = rng.normal(0, 0.1, length)
    for start in starts.tolist():
        long[start : start + good.size] += sense * 0.5 * good
    found = all_places(channel(long, start_s=1.0), channel(good, start_s=-2.0))
    assert len(found) == 6
    for one, start in zip(found, starts.tolist(), strict=True):
        assert one.on_suspect(-2.0) == pytest.approx(1.0 + start * 1e-6, abs=0.2e-6)
        assert one.polarity == sense
        assert one.gain == pytest.approx(0.5 * sense, rel=0.1)


def test_a_single_place_and_none() -> None:
    rng = np.random.default_rng(72)
    good = pattern(rng)
    long = rng.normal(0, 0.1, 30_000)
    assert all_places(channel(np.zeros(30_000)), channel(good)) == ()
    assert all_places(channel(long), channel(good)) == ()
    long[9000:11_400] += good
    assert len(all_places(channel(long), channel(good))) == 1


def test_the_longer_may_be_the_known_good() -> None:
    rng = np.random.default_rng(73)
    short = pattern(rng)
    long = rng.normal(0, 0.1, 30_000)
    for start in (3000, 17_000):
        long[start : start + short.size] += short
    found = all_places(channel(short), channel(long))
    assert sorted(one.lag_s for one in found) == pytest.approx([3000e-6, 17_000e-6], abs=0.2e-6)


def test_units_have_to_agree() -> None:
    rng = np.random.default_rng(74)
    other = Channel("i", "A", FloatSamples(rng.normal(size=500)), 0.0, 1e-6)
    with pytest.raises(CannotUse, match="same unit"):
        all_places(channel(rng.normal(size=500)), other)
