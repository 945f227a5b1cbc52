"""Which way is taken, and a known-good that fits a long suspect in several places."""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

STEP_S = 1e-5


def channel(values: np.ndarray) -> Channel:
    return Channel("one", "V", FloatSamples(values), 0.0, STEP_S)


def burst(rng: np.random.Generator, count: int = 3000) -> np.ndarray:
    return np.convolve(rng.normal(size=count + 49), np.hanning(50), mode="valid")


def by_shape(suspect: np.ndarray, good: np.ndarray) -> Comparison:
    conditions = Conditions(upper_v=99.0)
    return compare(channel(suspect), channel(good), kind="own-limits", conditions=conditions, by="shape")


def test_equal_places_are_told_and_are_no_doubt() -> None:
    rng = np.random.default_rng(4)
    good = burst(rng)
    record = rng.normal(0, 0.2, 40_000)
    for place in (5000, 20_000, 30_000):
        record[place : place + 3000] += (1.2 if place == 20_000 else 1.0) * good
    found = by_shape(record, good)
    assert found.lineup is not None
    assert found.lineup.accepted
    at = [one.on_suspect(0.0) / STEP_S for one in found.places]
    assert at == pytest.approx([5000, 20_000, 30_000], abs=0.5)


def test_a_known_good_as_long_as_the_suspect_has_no_other_place() -> None:
    rng = np.random.default_rng(5)
    base = burst(rng, 20_000)
    assert by_shape(base[1000:], base).places == ()


def test_unrelated_channels_have_no_places_to_be_sure_of() -> None:
    accepted = 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        found = by_shape(burst(rng, 20_000), burst(rng, 2000 + 100 * (seed % 10)))
        assert found.lineup is not None
        accepted += found.lineup.accepted
    assert accepted == 0
