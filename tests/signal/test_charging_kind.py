"""Charging: levels, rectifier, belt and control found as they were made, and what the verdict owns up to."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers import charging as maker
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.charging_examination import ChargingExamination, ChargingReading
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.rectifier_cycles import cycle_models
from loomlight.signal.samples import FloatSamples

RATE = 50_000.0


def channel(values: np.ndarray, rate: float = RATE, name: str = "battery", **others: object) -> Channel:
    return replace(Channel(name, "V", FloatSamples(values), 0.0, 1.0 / rate), **others)  # type: ignore[arg-type]


def humps(volts: float = 14.2, hz: float = 300.0, seconds: float = 0.4, height: float = 0.08) -> np.ndarray:
    """Six crests a period of a sound rectifier, and 3 mV of noise."""
    at = np.arange(round(seconds * RATE)) / RATE
    crest = np.cos(np.mod(hz * at, 1.0 / 6.0) * 2 * np.pi - np.pi / 6)
    return volts + height / 0.134 * (crest - 0.955) + np.random.default_rng(2).normal(0.0, 3e-3, at.size)


def judged(one: Channel, **settings: float) -> Comparison:
    given = tuple((key.replace("_", "-"), value) for key, value in settings.items())
    return check(one, kind="charging", conditions=Conditions(settings=given))


def charge_of(found: Comparison) -> ChargingReading:
    assert isinstance(found.looked, ChargingExamination)
    assert found.looked.charge is not None
    return found.looked.charge


def text(found: Comparison) -> str:
    return " ".join(found.verdict.reasons)


def test_a_sound_one_is_clean_and_its_cycle_is_named() -> None:
    found = judged(channel(humps()))
    assert found.verdict.state == "clean"
    assert "sound rectifier" in text(found)
    cycle = charge_of(found).cycle
    assert cycle is not None
    assert cycle.hz == pytest.approx(1800.0, rel=1e-3)
    assert cycle.peak_to_peak_v == pytest.approx(0.08, rel=0.1)


@pytest.mark.parametrize("fault", ["open diode", "shorted diode", "lost phase"])
def test_a_fault_of_the_rectifier_is_named_and_its_ripple_measured(fault: str) -> None:
    for seed in range(4):
        made = maker.made(fault, np.random.default_rng((8, seed)))
        known = replace(made.conditions, settings=(("engine-rpm", made.truth["hz"] / 16.0 * 60.0),))
        found = check(made.suspect, kind="charging", conditions=known)
        assert found.verdict.picture == fault
        cycle = charge_of(found).cycle
        assert cycle is not None
        order = 2 if fault == "lost phase" else 1
        assert cycle.hz == pytest.approx(order * made.truth["hz"], rel=0.03)
        assert cycle.peak_to_peak_v == pytest.approx(made.truth["peak_to_peak"], rel=0.12)


def test_a_low_level_is_a_fault_only_where_no_control_unit_sets_it() -> None:
    low = channel(humps(12.7))
    assert judged(low).verdict.state == "cannot tell"
    assert judged(low, controlled=1).verdict.state == "clean"
    assert judged(low, controlled=0).verdict.picture == "regulator voltage too low"


def test_no_ripple_and_a_resting_battery_are_no_charge() -> None:
    flat = 12.3 + np.random.default_rng(0).normal(0.0, 5e-3, 20_000)
    assert judged(channel(flat), controlled=0).verdict.picture == "not charging"
    assert judged(channel(flat)).verdict.state == "cannot tell"


def test_cold_raises_the_limit() -> None:
    high = channel(humps(15.7))
    assert judged(high).verdict.picture == "regulator voltage too high"
    assert judged(high, temperature=-5).verdict.state == "clean"
    assert judged(high, highest=16).verdict.state == "clean"


def test_twice_the_figures_for_24_volts() -> None:
    assert judged(channel(humps(28.4))).verdict.state == "clean"
    assert judged(channel(humps(31.4))).verdict.picture == "regulator voltage too high"


@pytest.mark.parametrize(("volts", "state"), [(14.4, "faulty"), (13.6, "cannot tell")])
def test_a_controlled_one_that_stands_still(volts: float, state: str) -> None:
    """At its fallback value it has lost its command; elsewhere standing still says nothing."""
    still = channel(np.full(60_000, volts) + np.random.default_rng(1).normal(0.0, 0.01, 60_000), rate=2000.0)
    assert judged(still, controlled=1).verdict.state == state
    assert judged(still).verdict.state == "clean"
    assert "sample rate is too low" in text(judged(still))


def test_a_slip_is_found_where_it_was_put() -> None:
    made = maker.made("belt slip", np.random.default_rng(12))
    charge = charge_of(check(made.suspect, kind="charging", conditions=made.conditions))
    assert charge.slips
    assert all(0.1 < one.share < 0.5 for one in charge.slips)


def test_the_load_steps_answer_is_measured() -> None:
    values = humps(seconds=1.5)
    at = np.arange(values.size) / RATE
    values -= np.where(at >= 0.5, 0.6 * np.exp(-(at - 0.5) / 0.1), 0.0)
    step = charge_of(judged(channel(values))).steps[0]
    assert step.at_s == pytest.approx(0.5, abs=0.02)
    assert step.depth_v == pytest.approx(0.6, abs=0.08)
    assert step.recovery_s == pytest.approx(0.1 * np.log(4.0), abs=0.03)  # an exponential's last quarter


def test_a_coarse_converter_is_owned_up_to() -> None:
    coarse = np.round(humps(height=0.05) / 0.16) * 0.16
    assert "one step of the converter is 160 mV" in text(judged(channel(coarse)))


def test_another_loads_pulses_are_no_diode() -> None:
    at = np.arange(20_000) / RATE
    pulsed = humps() - 0.06 * (np.mod(140.0 * at, 1.0) < 0.5)
    assert judged(channel(pulsed)).verdict.state != "faulty"


def test_the_clamp_has_to_be_in_amperes() -> None:
    wrong = Conditions(besides=(Beside("current", channel(humps())),))
    with pytest.raises(CannotUse, match="has to be in A"):
        check(channel(humps()), kind="charging", conditions=wrong)


def test_beside_a_known_good_both_are_told() -> None:
    good = channel(humps(height=0.05), name="good one")
    found = compare(channel(humps(height=0.14)), good, kind="charging", conditions=Conditions())
    assert "2.8 times the known-good's" in text(found) or "2.7 times the known-good's" in text(found)


def test_ac_coupling_gives_no_verdict() -> None:
    found = judged(channel(humps(0.0, height=0.3)))
    assert (found.verdict.state, "AC coupled" in text(found)) == ("cannot tell", True)


def test_every_expected_cycle_is_a_unit_without_mean() -> None:
    for model in cycle_models():
        assert float(model.shape @ model.shape) == pytest.approx(1.0)
        assert float(model.shape.mean()) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.bench
def test_ten_million_samples(benchmark: pytest.FixtureRequest) -> None:
    long = channel(np.tile(humps(seconds=1.0), 200).astype(np.float32))
    found = benchmark(lambda: judged(long))  # type: ignore[operator]
    assert found.verdict.state == "clean"


def revved(seed: int) -> Channel:
    """A sound alternator on an engine that is revved up and let go again and again, as hard as a free engine can."""
    rng, rate = np.random.default_rng(seed), 50_000
    times_s = np.arange(int(rng.uniform(2.0, 4.0) * rate)) / rate
    idle, up, down = rng.uniform(75.0, 95.0), rng.uniform(300.0, 800.0), rng.uniform(120.0, 350.0)
    speed, now, way, left_s = [], idle, 0.0, rng.uniform(0.1, 0.5)
    for _ in range(times_s.size // 50 + 1):
        now, left_s = max(now + 1e-3 * way, idle), left_s - 1e-3
        if left_s < 0:
            way = up if way <= 0 else -down
            left_s = rng.uniform(0.1, 0.5)
        speed.append(now)
    engine = np.interp(times_s, np.arange(len(speed)) * 1e-3, speed)
    turns = np.cumsum(engine * rng.uniform(12.5, 20.0) / (2 * np.pi)) / rate
    places = np.arange(720) / 720 * 2 * np.pi
    amperes = maker._rectified(places, 0.9 * 16.0, 0.07, 14.2, "", np.array([1.0, 1.005, 0.995]))
    ripple = np.interp(np.mod(2 * np.pi * turns, 2 * np.pi), places, amperes - amperes.mean(), period=2 * np.pi)
    volts = 14.2 + 5e-3 * ripple + rng.normal(0, 4e-3, times_s.size)
    return Channel("battery", "V", FloatSamples(volts.astype(np.float32)), 0.0, 1.0 / rate)


def _no_slip(seeds: range) -> None:
    for seed in seeds:
        found = check(revved(seed), kind="charging", conditions=Conditions())
        assert not any(one.kind == "belt slip" for one in found.findings), seed


def test_an_engine_that_is_revved_is_no_slip() -> None:
    _no_slip(range(6))


@pytest.mark.long
def test_no_engine_that_is_revved_is_a_slip() -> None:
    _no_slip(range(100, 400))


def ac_coupled(one: Channel) -> Channel:
    values = one.samples.block(0, one.samples.size)
    return replace(one, samples=FloatSamples(values - values.mean()))


def test_an_ac_coupled_ripple_still_tells_an_open_diode() -> None:
    made = maker.made("open diode", np.random.default_rng(6))
    found = check(ac_coupled(made.suspect), kind="charging", conditions=made.conditions)
    assert found.verdict.picture == "open diode"
    assert any("AC coupled" in one for one in found.verdict.reasons)
    assert {one.kind for one in found.findings} == {"ripple"}
    assert found.looked is not None
    assert not any(one.group == "level" for one in found.looked.measures)


def test_an_ac_coupled_sound_ripple_is_told_and_the_level_is_not() -> None:
    found = check(channel(humps(volts=0.0)), kind="charging", conditions=Conditions())
    assert found.verdict.state == "cannot tell"
    assert "sound rectifier" in found.verdict.reasons[0]
    assert "DC coupling" in found.verdict.next_step


def test_nothing_around_zero_volts_is_no_alternator() -> None:
    quiet = np.random.default_rng(3).normal(0.0, 2e-3, 20_000)
    found = check(channel(quiet), kind="charging", conditions=Conditions())
    assert found.verdict.state == "cannot tell"
    assert "does not arrive" in found.verdict.reasons[0]


def test_a_converter_too_coarse_for_the_ripple_does_not_say_that_nothing_is_delivered() -> None:
    made = maker.made("too low", np.random.default_rng(5))
    values = made.suspect.samples.block(0, made.suspect.samples.size)
    coarse = replace(made.suspect, samples=FloatSamples(np.round(values / 0.3).astype(np.float32) * np.float32(0.3)))
    verdict = check(coarse, kind="charging", conditions=made.conditions).verdict
    assert verdict.picture == "regulator voltage too low"
    assert "not to be seen" in verdict.reasons[0]
