"""Cranking: stages, speed, resistances and the weak cylinder found as they were made, and what the verdict owns up to."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers import cranking as maker
from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.cranking_examination import CrankingExamination, CrankingReading
from loomlight.signal.cranking_stages import stages_of
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples


def made(fault: str, seed: int) -> Made:
    return maker.made(fault, np.random.default_rng((4, seed)))


def judged(one: Made, **others: float) -> Comparison:
    given = dict(one.conditions.settings) | {key.replace("_", "-"): value for key, value in others.items()}
    known = replace(one.conditions, settings=tuple(given.items()))
    return check(one.suspect, kind="cranking", conditions=known)


def start_of(found: Comparison) -> CrankingReading:
    assert isinstance(found.looked, CrankingExamination)
    assert found.looked.start is not None
    return found.looked.start


def text(found: Comparison) -> str:
    return " ".join(found.verdict.reasons)


@pytest.mark.parametrize("seed", range(6))
def test_speed_and_battery_as_made(seed: int) -> None:
    one = made("", seed)
    found = judged(one)
    start = start_of(found)
    assert found.verdict.state == "clean"
    assert start.rpm == pytest.approx(one.truth["rpm"], rel=0.03)
    assert start.stages is not None
    assert start.stages.rest_v == pytest.approx(one.truth["rest"], abs=0.12 * one.truth["k"])


@pytest.mark.parametrize("seed", range(8))
def test_the_weak_cylinder_is_counted_from_the_mark(seed: int) -> None:
    one = made("weak cylinder", seed)
    found = judged(one)
    assert found.verdict.picture in one.expected
    weakest = min(start_of(found).each, key=lambda each: each.share)
    # What a pulse loses in height is near what its compression lost; inertia carries some of it over.
    assert weakest.share == pytest.approx(1.0 - one.truth["loss"], abs=0.12)


def test_cylinders_are_counted_between_the_marks() -> None:
    one = made("weak cylinder", 1)
    found = check(one.suspect, kind="cranking", conditions=replace(one.conditions, settings=()))
    assert start_of(found).cylinders == dict(one.conditions.settings)["cylinders"]
    assert found.verdict.picture in one.expected


def test_without_a_mark_it_is_one_of_them() -> None:
    one = made("weak cylinder, no sync mark", 2)
    assert "one of" in judged(one).verdict.picture
    assert "cannot be named" in text(judged(one))


def test_without_the_number_of_cylinders_speed_and_balance_are_left_open() -> None:
    one = made("", 3)
    found = check(one.suspect, kind="cranking", conditions=Conditions())
    assert found.verdict.state == "cannot tell"
    assert "how many cylinders" in text(found)
    assert start_of(found).rpm is None


def test_a_weak_one_that_comes_again_is_seen_without_the_number_of_cylinders() -> None:
    unknown = Conditions()
    for seed in range(6):
        weak = made("weak cylinder, no sync mark", seed)
        count = round(dict(weak.conditions.settings)["cylinders"])
        found = check(weak.suspect, kind="cranking", conditions=unknown)
        assert found.verdict.picture == f"weak compression, one in every {count} compressions"
        assert f"of {2 * count} it would be 2" in text(found)
        clean = check(made("", seed).suspect, kind="cranking", conditions=unknown)
        assert clean.verdict.state == "cannot tell"
        assert not clean.findings


def test_the_clamp_alone_tells_speed_and_compression() -> None:
    for seed in range(20):
        one = made("weak cylinder", seed)
        clamp = one.conditions.beside("current")
        if clamp is not None:
            break
    assert clamp is not None
    besides = tuple(each for each in one.conditions.besides if each.role == "sync")
    found = check(clamp, kind="cranking", conditions=replace(one.conditions, besides=besides))
    assert found.verdict.picture in one.expected


def test_the_cables_resistance_lies_in_its_interval() -> None:
    seen = 0
    for seed in range(12):
        one = made("high resistance", seed)
        verdict = judged(one).verdict
        if verdict.series_ohm_low is not None and verdict.series_ohm_high is not None and one.truth["rpm"] > 20:
            seen += 1
            assert verdict.fault == "resistive"
            assert verdict.series_ohm_low <= one.truth["lead_ohm"] <= verdict.series_ohm_high
    assert seen >= 3


def test_a_cold_battery_may_give_less() -> None:
    one = made("low voltage", 4)
    at = start_of(judged(one)).stages
    assert at is not None
    k = one.truth["k"]
    assert judged(one).verdict.picture == "battery voltage breaks down"
    cold = start_of(judged(one, temperature=-18)).limits.lowest_v
    assert cold == pytest.approx(8.5 * k)


def test_a_capture_that_begins_late_has_no_rest() -> None:
    one = made("", 5)
    late = round(1.2 / one.suspect.step_s) if one.suspect.step_s else 0
    samples = one.suspect.samples.block(late, one.suspect.samples.size)
    cut = replace(one.suspect, samples=FloatSamples(samples))
    found = check(cut, kind="cranking", conditions=Conditions(settings=one.conditions.settings))
    start = start_of(found)
    assert start.stages is not None
    assert start.stages.rest_v is None
    assert "at rest was not judged" in text(found)
    assert start.rpm == pytest.approx(one.truth["rpm"], rel=0.04)


def test_nothing_cranked_says_so() -> None:
    flat = Channel("battery", "V", FloatSamples(np.full(20_000, 12.6)), 0.0, 2e-4)
    found = check(flat, kind="cranking", conditions=Conditions())
    assert (found.verdict.state, "Nothing is cranked" in text(found)) == ("cannot tell", True)


def test_a_known_good_is_told_beside_it() -> None:
    slow, good = made("slow", 1), made("", 1)
    found = compare(slow.suspect, good.suspect, kind="cranking", conditions=slow.conditions)
    assert "The known-good holds" in text(found)


def test_what_stands_beside_has_to_fit() -> None:
    one = made("", 0)
    wrong = Conditions(besides=(Beside("current", one.suspect),))
    with pytest.raises(CannotUse, match="in A"):
        check(one.suspect, kind="cranking", conditions=wrong)
    with pytest.raises(CannotUse, match="is in Ω"):
        check(replace(one.suspect, unit="Ω"), kind="cranking", conditions=Conditions())


@pytest.mark.bench
def test_ten_million_samples(benchmark: pytest.FixtureRequest) -> None:
    one = maker.made("", np.random.default_rng(7), samples_per_s=2.5e6)
    assert one.suspect.samples.size > 7_000_000
    found = benchmark(lambda: judged(one))  # type: ignore[operator]
    assert found.verdict.state == "clean"


@pytest.mark.parametrize("tau_s", [0.05, 0.2])
def test_recovery_is_the_time_until_the_voltage_stays(tau_s: float) -> None:
    """An exponential comes within 1 % of its end after a known time (arithmetic)."""
    times_s = np.arange(0.0, 4.0, 1e-3)
    volts = np.full(times_s.size, 12.6)
    volts[(times_s > 0.5) & (times_s <= 2.0)] = 10.0
    late = times_s > 2.0
    volts[late] = 12.4 - 2.4 * np.exp(-(times_s[late] - 2.0) / tau_s)
    stages = stages_of(times_s, volts, 1.0)
    assert stages is not None
    assert stages.after_v == pytest.approx(12.4, abs=0.02)
    assert stages.recovery_s is not None
    recovered_s = stages.over_s + stages.recovery_s - 2.0
    assert recovered_s == pytest.approx(tau_s * np.log(2.4 / (0.01 * 12.4)), abs=0.04)
    cut = stages_of(times_s[:2020], volts[:2020], 1.0)
    assert cut is None or cut.recovery_s is None


def cut(made: Made, begin: float, end: float) -> Comparison:
    """Judged on the stretch between two shares of the capture, the battery's voltage alone."""
    one = made.suspect
    assert one.step_s is not None
    first, last = int(begin * one.samples.size), int(end * one.samples.size)
    part = replace(one, samples=FloatSamples(one.samples.block(first, last)), start_s=one.start_s + first * one.step_s)
    return check(part, kind="cranking", conditions=replace(made.conditions, besides=()))


def test_a_capture_that_begins_and_ends_while_it_turns_is_no_empty_battery() -> None:
    for seed in range(4):
        found = cut(maker.made("", np.random.default_rng((11, seed))), 0.35, 0.75)
        assert found.verdict.state != "faulty", found.verdict
        assert any("begins after the key was turned" in one for one in found.verdict.reasons)


def test_an_engine_turned_too_slowly_to_be_read_is_not_called_stuck() -> None:
    made = maker.made("slow", np.random.default_rng((99, 3, 4)))
    found = cut(made, 0.0, 0.5)
    assert found.verdict.picture != "starter does not turn"
    assert not any("nothing turns" in one.rule for one in found.findings)


def cranked_by_hand(heights: list[float], *, compressions_hz: float = 7.0) -> Channel:
    """Rest at 12.6 V, a rush, then 10.6 V with a dip for each compression, as deep as each cylinder's height says."""
    step_s, seconds = 1e-3, 5.0
    times_s = np.arange(int(seconds / step_s)) * step_s
    since = times_s - 0.5
    place = since * compressions_hz
    height = np.asarray(heights)[np.floor(place).astype(int) % len(heights)]
    dips = 0.8 * height * np.sin(np.pi * (place % 1.0)) ** 2
    turning = 10.9 - 2.2 * np.exp(-since / 0.08) - dips
    volts = np.where((since > 0) & (since < 4.0), turning, 12.6)
    volts = volts + np.random.default_rng(3).normal(0, 4e-3, times_s.size)
    return Channel("battery", "V", FloatSamples(volts.astype(np.float32)), 0.0, step_s)


@pytest.mark.parametrize(
    "heights",
    [[1.0, 0.5, 0.5, 1.0], [1.0, 0.5, 1.0, 0.5], [1.0, 1.0, 0.4, 1.0, 1.0, 0.6], [1.0, 0.5, 1.0, 0.5, 1.0, 1.0]],
)
def test_two_weak_cylinders_are_both_found_wherever_they_stand(heights: list[float]) -> None:
    """A height is known by how it was made; every second one weak looks like half as many pulses."""
    count = len(heights)
    found = check(cranked_by_hand(heights), kind="cranking", conditions=Conditions(settings=(("cylinders", count),)))
    assert found.verdict.picture == f"weak compression, two of {count}"
    assert isinstance(found.looked, CrankingExamination)
    assert found.looked.start is not None
    shares = sorted(one.share for one in found.looked.start.each)[:2]
    assert shares == pytest.approx(sorted(heights)[:2], abs=0.08)
    assert found.looked.start.rpm == pytest.approx(120 * 7.0 / count, rel=0.02)


def test_even_compressions_stay_even() -> None:
    found = check(cranked_by_hand([1.0] * 4), kind="cranking", conditions=Conditions(settings=(("cylinders", 4.0),)))
    assert found.verdict.state == "clean"
