"""What is this wire? The guess is right first for nearly all made signals, and nothing is guessed from noise and flat lines."""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import pytest
from kind_tables import WAYS, Maker, instance, maker_of
from test_kind_tables import KINDS

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples
from loomlight.signal.wire_guess import Guesses, guess
from loomlight.signal.wire_sight import Sight, sight_of
from loomlight.signal.wire_survey import MOST, survey

SEED = 33
LEAST_RIGHT = 0.95
"""Of the clean signals, and of the faulty ones that show anything: a fault may leave nothing of the kind to be seen."""
LEAST_OF_A_KIND, LEAST_RIGHT_ANYHOW = 0.85, 0.92
MOST_SURE_AND_WRONG = 0.01
"""What is sure is taken by the commands without a question."""
FLAT_SHARE = 0.02


@dataclass
class Tally:
    """How many were seen, and what was guessed wrongly: fault and guess; of those the sure ones."""

    seen: int = 0
    sure: int = 0
    sure_and_wrong: int = 0
    wrong: Counter[tuple[str, str]] = field(default_factory=Counter)


def _is_flat(sight: Sight | None) -> bool:
    """Whether there is nothing to see: a dead line tells no kind."""
    if sight is None or sight.levels is None:
        return True
    reach = sight.levels.greatest - sight.levels.least
    return reach <= max(FLAT_SHARE * abs(sight.levels.greatest), 14.0 * sight.noise)


def _tally(maker: Maker, faults: tuple[str, ...], each: int) -> Tally:
    found = Tally()
    for fault in faults:
        for number in range(each):
            made = maker.made(fault, np.random.default_rng((SEED, number, len(fault))))
            guesses = guess(made.suspect)
            if guesses.sure is not None:
                found.sure += 1
                found.sure_and_wrong += guesses.sure.kind != maker.KIND
            if _is_flat(sight_of(made.suspect)):
                continue
            first = guesses.first
            found.seen += 1
            if first is None or first.kind != maker.KIND:
                found.wrong[fault, first.kind if first is not None else "none"] += 1
    return found


def _held(*, clean: int, faulty: int, of_a_kind: float) -> None:
    whole = Tally()
    for each, faults_of in ((clean, lambda _: ("",)), (faulty, lambda maker: maker.FAULTS)):
        tallies = {kind: _tally(maker_of(kind), faults_of(maker_of(kind)), each) for kind in KINDS}
        seen = sum(one.seen for one in tallies.values())
        missed = sum(one.wrong.total() for one in tallies.values())
        told = {kind: (one.seen, dict(one.wrong)) for kind, one in tallies.items() if one.wrong}
        assert missed <= (1.0 - LEAST_RIGHT) * seen, f"{missed} of {seen}: {told}"
        for kind, one in tallies.items():
            assert one.wrong.total() <= (1.0 - of_a_kind) * one.seen, f"{kind}: {told[kind]}"
            whole.sure += one.sure
            whole.sure_and_wrong += one.sure_and_wrong
    assert whole.sure_and_wrong <= MOST_SURE_AND_WRONG * whole.sure, f"{whole.sure_and_wrong} of {whole.sure}"


def test_the_guess_is_right_first() -> None:
    _held(clean=4, faulty=1, of_a_kind=0.6)


@pytest.mark.long
def test_the_guess_is_right_first_many_times() -> None:
    _held(clean=100, faulty=10, of_a_kind=LEAST_OF_A_KIND)


@pytest.mark.long
def test_the_guess_is_right_first_however_it_is_recorded() -> None:
    """With noise of a tenth of the signal, at half and at twice the usual rate."""
    seen, wrong = Counter[str](), Counter[str]()
    for kind in KINDS:
        maker = maker_of(kind)
        for fault in ("", *maker.FAULTS):
            for number in range(4 * len(WAYS)):
                way, made = instance(maker, fault, number)
                if _is_flat(sight_of(made.suspect)):
                    continue
                first = guess(made.suspect).first
                seen[way] += 1
                wrong[way] += first is None or first.kind != kind
    assert set(seen) == set(WAYS)
    for way in WAYS:
        assert wrong[way] <= (1.0 - LEAST_RIGHT_ANYHOW) * seen[way], f"{way}: {wrong[way]} of {seen[way]}"


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


def test_a_wire_recorded_as_on_and_off_is_no_converter_noise() -> None:
    sure = _line(5.0 * (np.arange(20_000) // 50 % 2)).sure
    assert sure is not None
    assert sure.kind == "pwm"


def test_of_a_long_channel_the_stretch_where_most_happens_is_looked_at() -> None:
    values = np.zeros(2 * MOST, np.float32)
    values[3 * MOST // 2 : 3 * MOST // 2 + 1000] = 5.0
    values[:7] = np.nan
    channel = Channel("x", "V", FloatSamples(values), 7.0, 1e-6, gaps=((10, 20), (3 * MOST // 2 - 5, 3 * MOST // 2)))
    found = survey(channel)
    assert found is not None
    seen = found.busiest
    assert seen.samples.size == MOST
    assert seen.start_s <= 7.0 + 1.5e-6 * MOST < seen.start_s + 1e-6 * MOST
    assert len(seen.gaps) == 1
    start, stop = seen.gaps[0]
    assert seen.start_s + 1e-6 * stop == pytest.approx(7.0 + 1.5e-6 * MOST)
    assert stop - start == 5
    assert found.coarse is not None
    means = found.coarse.samples.block(0, found.coarse.samples.size)
    assert means.size == MOST
    assert found.coarse.step_s == pytest.approx(2e-6)
    assert np.count_nonzero(np.isnan(means)) == 3
    assert np.nansum(means) == pytest.approx(500 * 5.0)


def test_what_is_slow_is_told_from_the_whole_of_a_long_channel() -> None:
    """A start of 3 s at a microsecond's step: the busiest stretch alone is less than that."""
    made = maker_of("cranking").made("", np.random.default_rng(SEED))
    short = made.suspect.samples.block(0, made.suspect.samples.size)
    t = np.linspace(0.0, short.size - 1.0, 3 * MOST)
    values = np.interp(t, np.arange(short.size), short) + 1e-3 * np.random.default_rng(1).normal(size=t.size)
    assert made.suspect.step_s is not None
    sure = guess(Channel("x", "V", FloatSamples(values), 0.0, made.suspect.step_s * short.size / t.size)).sure
    assert sure is not None
    assert sure.kind == "cranking"


def test_what_was_guessed_can_be_judged() -> None:
    made = maker_of("supply").made("", np.random.default_rng(1))
    first = guess(made.suspect).first
    assert first is not None
    assert check(made.suspect, kind=first.kind, conditions=Conditions()).verdict.state == "clean"
