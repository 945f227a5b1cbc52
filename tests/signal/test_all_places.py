"""A short known-good found wherever it fits in a long suspect."""

import numpy as np
import pytest

from loomlight.signal.align import line_up
from loomlight.signal.all_places import all_places
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import compare
from loomlight.signal.examination import Conditions
from loomlight.signal.lineup import LineUp
from loomlight.signal.samples import FloatSamples

STEP_S = 1e-5


def channel(values: np.ndarray, *, step_s: float = STEP_S, start_s: float = 0.0) -> Channel:
    return Channel("one", "V", FloatSamples(values), start_s, step_s)


def burst(rng: np.random.Generator, count: int = 3000) -> np.ndarray:
    return np.convolve(rng.normal(size=count + 49), np.hanning(50), mode="valid")


def lined(lag_s: float, *, stretch: float = 1.0, polarity: int = 1) -> LineUp:
    return LineUp(True, "shape", lag_s, stretch, 0.99, 1.0, polarity, 0.03, None, 1.0, 0.0, "")  # type: ignore[arg-type]


@pytest.mark.parametrize("polarity", [1, -1])
@pytest.mark.parametrize("start_s", [0.0, -3.0])
def test_every_place_is_found_to_a_fraction_of_a_sample(polarity: int, start_s: float) -> None:
    rng = np.random.default_rng(0)
    pattern = burst(rng)
    record = rng.normal(0, 0.3, 60_000)
    starts = [2000, 15_000, 18_500, 41_000, 57_000]
    for place in starts:
        record[place : place + 3000] += pattern
    found = all_places(
        channel(record, start_s=start_s), channel(polarity * pattern, start_s=1.0), lined(0.0, polarity=polarity)
    )
    assert [one.start_s - start_s for one in found] == pytest.approx(
        [place * STEP_S for place in starts], abs=0.5 * STEP_S
    )
    assert [one.lag_s + one.start_s for one in found] == pytest.approx([1.0] * 5, abs=0.5 * STEP_S)
    assert all(one.stop_s - one.start_s == pytest.approx(0.03) for one in found)
    assert min(one.fit for one in found) > 0.9


def test_the_best_place_is_that_of_the_line_up() -> None:
    rng = np.random.default_rng(1)
    pattern = burst(rng)
    record = rng.normal(0, 1.0, 40_000)
    record[9000:12_000] += pattern
    record[30_000:33_000] += pattern
    suspect, good = channel(record), channel(pattern)
    own = line_up(suspect, good)
    found = all_places(suspect, good, lined(own.lag_s))
    assert len(found) == 2
    assert min(abs(one.lag_s - own.lag_s) for one in found) < 0.5 * STEP_S


def test_another_step_and_a_stretch_are_honoured() -> None:
    times = np.arange(8000) * 5e-6
    good = channel(np.sin(2 * np.pi * 400 * times**0.7), step_s=5e-6)
    stretch = 1.08
    own = np.arange(round(0.04 / stretch / STEP_S)) * STEP_S
    pattern = np.sin(2 * np.pi * 400 * (stretch * own) ** 0.7)
    record = np.zeros(30_000)
    for place in (4000, 20_000):
        record[place : place + pattern.size] += pattern
    found = all_places(channel(record), good, lined(0.0, stretch=stretch))
    assert [one.start_s for one in found] == pytest.approx([0.04, 0.2], abs=STEP_S)
    assert [one.lag_s for one in found] == pytest.approx([-stretch * 0.04, -stretch * 0.2], abs=2 * STEP_S)


def test_periods_inside_the_known_good_are_no_places_of_their_own() -> None:
    pattern = np.sin(np.arange(3000) * 0.1)
    record = np.zeros(40_000)
    for place in (5000, 25_000):
        record[place : place + 3000] += pattern
    assert len(all_places(channel(record), channel(pattern), lined(0.0))) == 2


def test_a_long_or_a_tiny_known_good_is_looked_for_in_one_place_only() -> None:
    rng = np.random.default_rng(2)
    record = channel(burst(rng, 10_000))
    assert all_places(record, channel(burst(rng, 8000)), lined(0.0)) == ()
    assert all_places(record, channel(burst(rng, 50)), lined(0.0)) == ()


def test_a_long_suspect_is_looked_through_on_a_coarser_grid() -> None:
    rng = np.random.default_rng(3)
    pattern = np.convolve(rng.normal(size=40_000), np.hanning(400), mode="same")
    record = rng.normal(0, 0.5, 1_500_000)
    for place in (100_000, 700_000, 1_400_000):
        record[place : place + 40_000] += pattern
    found = all_places(channel(record), channel(pattern), lined(0.0))
    assert [one.start_s for one in found] == pytest.approx([1.0, 7.0, 14.0], abs=3 * STEP_S)


def test_a_comparison_by_shape_tells_its_places() -> None:
    rng = np.random.default_rng(4)
    pattern = burst(rng)
    record = rng.normal(0, 0.2, 40_000)
    for place in (5000, 20_000, 30_000):
        record[place : place + 3000] += (1.2 if place == 20_000 else 1.0) * pattern
    found = compare(
        channel(record), channel(pattern), kind="own-limits", conditions=Conditions(upper_v=99.0), by="shape"
    )
    assert found.lineup is not None
    assert found.lineup.accepted, "three equal places are three findings, not a doubt"
    assert "fits at 3 places" in found.lineup.reason
    assert [round(one.start_s / STEP_S) for one in found.places] == [5000, 20_000, 30_000]


def test_unrelated_channels_have_no_places_to_be_sure_of() -> None:
    accepted = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        suspect, good = channel(burst(rng, 20_000)), channel(burst(rng, 2000 + 100 * (seed % 10)))
        found = compare(suspect, good, kind="own-limits", conditions=Conditions(upper_v=99.0), by="shape")
        assert found.lineup is not None
        accepted += found.lineup.accepted
    assert accepted == 0
