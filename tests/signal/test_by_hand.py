"""Lines-up by hand: moved, stretched about a pin, scored by the same fit, and told as what they are."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.align import line_up
from loomlight.signal.by_hand import Hand, scored, start_of
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import BY_HAND, check, compare, compare_as_laid
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

STEP_S = 1e-5
times = st.floats(-10, 10)


def channel(values: np.ndarray, start_s: float = 0.0) -> Channel:
    return Channel("one", "V", FloatSamples(values), start_s, STEP_S)


@pytest.fixture(scope="module", name="pair")
def pair_fixture() -> tuple[Channel, Channel]:
    rng = np.random.default_rng(0)
    base = np.convolve(rng.normal(size=30_050), np.hanning(50), mode="valid")
    return channel(base[4000:24_000] + rng.normal(0, 0.1, 20_000)), channel(base)


@given(times, times, times, st.floats(0.5, 2.0))
def test_what_is_grabbed_lies_where_it_is_dropped(lag_s: float, at_s: float, by_s: float, stretch: float) -> None:
    hand = Hand(lag_s, stretch)
    good_s = hand.lag_s + hand.stretch * at_s
    moved = hand.moved(at_s, by_s)
    assert moved.stretch == stretch
    assert moved.lag_s + moved.stretch * (at_s + by_s) == pytest.approx(good_s, abs=1e-9)


@given(times, times, times, st.floats(-1, 1))
def test_about_a_pin_it_is_stretched_and_the_pin_stays(lag_s: float, pin_s: float, at_s: float, by_s: float) -> None:
    hand = Hand(lag_s).pinned(pin_s)
    moved = hand.moved(at_s, by_s)
    ((own_s, good_s),) = moved.pins
    assert moved.lag_s + moved.stretch * own_s == pytest.approx(good_s, abs=1e-9)
    assert 0.2 <= moved.stretch <= 5.0
    if moved != hand:
        assert moved.lag_s + moved.stretch * (at_s + by_s) == pytest.approx(lag_s + at_s, abs=1e-6)


def test_two_pins_hold_everything_and_can_be_taken_away() -> None:
    hand = Hand(1.0, 1.1).pinned(2.0).pinned(3.0)
    assert hand.moved(5.0, 1.0) == hand
    assert hand.pinned(4.0) == hand
    assert hand.pinned(2.0) == hand
    free = hand.unpinned()
    assert (free.lag_s, free.stretch, free.pins) == (1.0, 1.1, ())
    assert free.moved(0.0, 1.0).lag_s == pytest.approx(-0.1)


def test_the_tools_own_answer_laid_by_hand_has_the_same_fit(pair: tuple[Channel, Channel]) -> None:
    own = line_up(*pair)
    found = scored(*pair, start_of(own), own)
    assert (found.by, found.accepted) == ("hand", True)
    assert found.fit == pytest.approx(own.fit, abs=0.01)
    assert math.isnan(found.sureness), "nothing else was tried"
    assert "by hand" in found.reason
    assert f"fit {own.fit:.2f}" in found.reason


def test_off_by_a_width_the_fit_falls_and_far_off_there_is_nothing(pair: tuple[Channel, Channel]) -> None:
    own = line_up(*pair)
    off = scored(*pair, start_of(own).moved(0.0, 40 * STEP_S), own)
    assert off.fit < 0.5 * own.fit
    away = scored(*pair, Hand(500.0), own)
    assert not away.accepted
    assert away.fit == 0.0
    assert "no time in common" in away.reason


def test_a_refused_answer_is_told_beside_the_hands(pair: tuple[Channel, Channel]) -> None:
    noise = channel(np.random.default_rng(9).normal(size=20_000))
    own = line_up(noise, pair[1])
    assert not own.accepted
    assert "refused" in scored(noise, pair[1], Hand(0.0), own).reason


def test_a_comparison_is_judged_anew_and_says_that_a_hand_made_it(pair: tuple[Channel, Channel]) -> None:
    suspect, good = pair
    values = suspect.samples.block(0, suspect.samples.size).copy()
    found = compare(
        replace(suspect, samples=FloatSamples(values)),
        good,
        kind="own-limits",
        conditions=Conditions(within_v=0.2 * float(np.ptp(values))),
    )
    assert found.verdict.state == "clean"
    assert found.lineup is not None
    laid = scored(found.suspect, good, start_of(found.lineup).moved(0.0, 30 * STEP_S), found.lineup)
    again = compare_as_laid(found, laid)
    assert again.lineup == laid
    assert again.verdict.state == "faulty"
    assert {one.kind for one in again.findings} == {"out of band"}
    assert again.verdict.reasons[-1] == BY_HAND
    alone = check(suspect, kind="own-limits", conditions=Conditions(upper_v=99.0))
    with pytest.raises(ValueError, match="known-good"):
        compare_as_laid(alone, laid)
