"""What is this wire? The guess is right first for nearly all made signals, and nothing is guessed from noise and flat lines."""

from collections import Counter

import numpy as np
import pytest
from kind_tables import Maker, maker_of
from test_kind_tables import KINDS

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples
from loomlight.signal.wire_guess import Guesses, guess
from loomlight.signal.wire_sight import MOST, Sight, busiest, sight_of

SEED = 33
LEAST_RIGHT = 0.95
"""Of the clean signals; what is left is alike by nature: a starter's sag is a rail's dip, a rail may carry an even ripple."""
LEAST_RIGHT_FAULTY = 0.75
"""Of the faulty ones that show anything at all: a fault may leave nothing of the kind to be seen."""
FLAT_SHARE = 0.02


def _is_flat(sight: Sight | None) -> bool:
    """Whether there is nothing to see: a dead line tells no kind."""
    if sight is None or sight.levels is None:
        return True
    reach = sight.levels.greatest - sight.levels.least
    return reach <= max(FLAT_SHARE * abs(sight.levels.greatest), 14.0 * sight.noise)


def _tally(maker: Maker, faults: tuple[str, ...], each: int) -> tuple[int, Counter[tuple[str, str]]]:
    """How many were looked at, and what was guessed wrongly: fault and guess."""
    seen, wrong = 0, Counter[tuple[str, str]]()
    for fault in faults:
        for number in range(each):
            made = maker.made(fault, np.random.default_rng((SEED, number, len(fault))))
            if _is_flat(sight_of(made.suspect)):
                continue
            first = guess(made.suspect).first
            seen += 1
            if first is None or first.kind != maker.KIND:
                wrong[fault, first.kind if first is not None else "none"] += 1
    return seen, wrong


def _held(*, clean: int, faulty: int) -> None:
    for least, each in ((LEAST_RIGHT, clean), (LEAST_RIGHT_FAULTY, faulty)):
        seen, missed, told = 0, 0, {}
        for kind in KINDS:
            maker = maker_of(kind)
            count, wrong = _tally(maker, ("",) if each == clean else maker.FAULTS, each)
            seen, missed = seen + count, missed + wrong.total()
            if wrong:
                told[kind] = (count, dict(wrong))
        assert missed <= (1.0 - least) * seen, f"{missed} of {seen}: {told}"


def test_the_guess_is_right_first() -> None:
    _held(clean=6, faulty=1)


@pytest.mark.long
def test_the_guess_is_right_first_many_times() -> None:
    _held(clean=100, faulty=10)


def _line(values: np.ndarray, unit: str = "V") -> Guesses:
    return guess(Channel("x", unit, FloatSamples(values.astype(np.float32)), 0.0, 1e-5))


def test_nothing_is_guessed_from_noise_and_flat_lines() -> None:
    rng = np.random.default_rng(SEED)
    for level in (0.0, 2.5, 5.0):
        for noise in (0.0, 0.01):
            flat = _line(level + noise * rng.normal(size=20_000))
            assert flat.first is None
            assert "flat" in flat.why
    for scale in (0.5, 3.0):
        assert _line(scale * rng.normal(size=20_000)).first is None
    assert _line(np.full(1000, np.nan)).first is None
    assert _line(np.zeros(4)).first is None


def test_a_steady_supply_voltage_is_told_with_doubt() -> None:
    """It may be a line that rests: never sure enough to be taken by itself."""
    first = _line(np.full(20_000, 12.6)).first
    assert first is not None
    assert first.kind == "supply"
    assert first.likeness < 0.6


def test_of_a_long_channel_the_stretch_where_most_happens_is_looked_at() -> None:
    values = np.zeros(2 * MOST, np.float32)
    values[3 * MOST // 2 : 3 * MOST // 2 + 1000] = 5.0
    channel = Channel("x", "V", FloatSamples(values), 7.0, 1e-6, gaps=((10, 20), (3 * MOST // 2 - 5, 3 * MOST // 2)))
    seen = busiest(channel)
    assert seen.samples.size == MOST
    assert seen.start_s <= 7.0 + 1.5e-6 * MOST < seen.start_s + 1e-6 * MOST
    assert len(seen.gaps) == 1
    start, stop = seen.gaps[0]
    assert seen.start_s + 1e-6 * stop == pytest.approx(7.0 + 1.5e-6 * MOST)
    assert stop - start == 5


def test_what_was_guessed_can_be_judged() -> None:
    made = maker_of("supply").made("", np.random.default_rng(1))
    first = guess(made.suspect).first
    assert first is not None
    assert check(made.suspect, kind=first.kind, conditions=Conditions()).verdict.state == "clean"
