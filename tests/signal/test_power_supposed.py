"""Faults supposed on a battery's and a supply's known-good look like, and are judged as, the fault that they are."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers import charging, cranking, supply
from loomlight.signal import charging_supposed, cranking_supposed, supply_supposed
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.charging import CHARGING
from loomlight.signal.kinds.cranking import CRANKING
from loomlight.signal.kinds.supply import SUPPLY
from loomlight.signal.ripple_cycle import ripple_cycle
from loomlight.signal.samples import FloatSamples
from loomlight.signal.supposal import SupposedFault
from loomlight.signal.verdict import Verdict


def whole(channel: Channel) -> tuple[float, float]:
    return channel.start_s, channel.stop_s


def made_battery(drive: float, fault: str) -> Channel:
    """Charged by the maker's circuit, which shares no code with what is supposed."""
    rng, times_s = np.random.default_rng(1), np.arange(25_000) * 2e-5
    places = np.arange(720) / 720 * 2 * np.pi
    amperes = charging._rectified(places, drive * 16.0, 0.07, 14.2, fault, np.array([1.0, 1.005, 0.995]))
    smooth = np.fft.irfft(np.fft.rfft(amperes) / (1 + 2j * np.pi * np.arange(361) * 0.006), 720)
    angle = 2 * np.pi * 300.0 * (times_s + 5e-4 * np.sin(2 * np.pi * 3 * times_s))
    ripple = 5e-3 * np.interp(np.mod(angle, 2 * np.pi), places, smooth - smooth.mean(), period=2 * np.pi)
    volts = 14.2 + ripple + rng.normal(0, 2e-3, times_s.size)
    return Channel("battery", "V", FloatSamples(volts.astype(np.float32)), 0.0, 2e-5)


@pytest.mark.parametrize("drive", [0.72, 0.9, 1.05])
@pytest.mark.parametrize("fault", charging_supposed.RECTIFIER)
def test_a_supposed_diode_makes_the_ripple_of_the_same_alternator_with_that_fault(drive: float, fault: str) -> None:
    good = CHARGING.examine(made_battery(drive, ""), Conditions())
    found = charging_supposed.supposed(good, SupposedFault(fault), *whole(good.channel))
    here, there = ripple_cycle(found), ripple_cycle(made_battery(drive, fault))
    assert here is not None
    assert there is not None
    assert here.peak_to_peak_v == pytest.approx(there.peak_to_peak_v, rel=0.4)
    # At light load an open diode and a lost phase look alike; which of them it is then, the ripple does not tell.
    assert max(one.likeness for one in here.matches if one.fault == fault) > 0.97
    assert float(found.samples.block(0, 25_000).mean()) == pytest.approx(14.2, abs=0.05)


def test_a_supposed_slip_is_judged_as_one() -> None:
    good = CHARGING.examine(made_battery(0.9, ""), Conditions())
    found = charging_supposed.supposed(good, SupposedFault("belt slip", 30.0, unit="%"), *whole(good.channel))
    assert check(found, kind="charging", conditions=Conditions()).verdict.picture == "belt slip"


def test_nothing_is_supposed_on_a_faulty_rectifier_nor_on_too_little_of_it() -> None:
    faulty = CHARGING.examine(made_battery(0.9, "open diode"), Conditions())
    assert not charging_supposed.ready(faulty)
    with pytest.raises(CannotUse, match="sound rectifier"):
        charging_supposed.supposed(faulty, SupposedFault("lost phase"), 0.0, 0.5)
    good = CHARGING.examine(made_battery(0.9, ""), Conditions())
    with pytest.raises(CannotUse, match="Zoom out"):
        charging_supposed.supposed(good, SupposedFault("lost phase"), 0.1, 0.101)


def flat_supply(seconds: float = 4.0, step_s: float = 1e-4) -> tuple[Channel, Channel]:
    """13.8 V, and a load of 10 A that comes and goes."""
    times_s = np.arange(int(seconds / step_s)) * step_s
    volts = np.full(times_s.size, 13.8) + np.random.default_rng(2).normal(0, 5e-3, times_s.size)
    amperes = np.where(np.mod(times_s, 0.5) < 0.25, 10.0, 1.0)
    rows = (("unit supply", "V", volts), ("clamp", "A", amperes))
    one, other = (Channel(name, unit, FloatSamples(row.astype(np.float32)), 0.0, step_s) for name, unit, row in rows)
    return one, other


def judged_supply(fault: str, size: float | None, *, step_s: float = 1e-4, seconds: float = 4.0) -> Verdict:
    channel, _ = flat_supply(seconds, step_s)
    found = supply_supposed.supposed(SUPPLY.examine(channel, Conditions()), SupposedFault(fault, size), *whole(channel))
    return check(found, kind="supply", conditions=Conditions()).verdict


@pytest.mark.parametrize(
    ("fault", "size", "picture"),
    [
        ("cut off for moments", 0.02, "supply cut off for moments"),
        ("clamped load dump", 21.0, "load dump"),
        ("start, level III", None, ""),
    ],
)
def test_a_supposed_disturbance_is_named_as_itself(fault: str, size: float | None, picture: str) -> None:
    assert judged_supply(fault, size).picture == picture


@pytest.mark.parametrize("level", ["I", "II", "III", "IV"])
def test_a_supposed_start_keeps_its_own_level_of_the_standard(level: str) -> None:
    channel, _ = flat_supply(24.0, 1e-3)
    looked = SUPPLY.examine(channel, Conditions())
    found = supply_supposed.supposed(looked, SupposedFault(f"start, level {level}"), *whole(channel))
    again = SUPPLY.examine(found, Conditions()).rail
    assert again is not None
    assert [one.kept[:1] for one in again.dips if one.is_whole] == [(level,)]


@pytest.mark.parametrize(
    ("fault", "size"), [("pulse 1 (inductive load cut off)", 75.0), ("pulse 2a (current stopped)", 37.0)]
)
def test_a_supposed_pulse_is_named_as_itself(fault: str, size: float) -> None:
    verdict = judged_supply(fault, size, step_s=2e-6, seconds=0.05)
    assert verdict.picture.startswith("transient") or "pulse" in " ".join(verdict.reasons)
    assert fault.split(" (")[0].removeprefix("pulse ") in " ".join(verdict.reasons)


def test_a_pulse_that_the_capture_is_too_coarse_for_is_refused() -> None:
    with pytest.raises(CannotUse, match="would not show it"):
        judged_supply("pulse 2a (current stopped)", 37.0)


def test_series_resistance_needs_the_current_and_is_found_again() -> None:
    channel, clamp = flat_supply()
    fault = SupposedFault("series resistance", 0.12, unit="Ω")
    with pytest.raises(CannotUse, match="clamp"):
        supply_supposed.supposed(SUPPLY.examine(channel, Conditions()), fault, *whole(channel))
    beside = Conditions(besides=(Beside("current", clamp),))
    found = supply_supposed.supposed(SUPPLY.examine(channel, beside), fault, *whole(channel))
    both = Conditions(besides=(Beside("far end", channel), Beside("current", clamp)))
    verdict = check(found, kind="supply", conditions=both).verdict
    assert verdict.fault == "resistive"
    assert verdict.series_ohm_low is not None
    assert verdict.series_ohm_high is not None
    assert verdict.series_ohm_low <= 0.12 <= verdict.series_ohm_high


def test_a_supposed_weak_cylinder_is_found_as_weak_as_it_was_made() -> None:
    seen = 0
    for seed in range(6):
        made = cranking.made("", np.random.default_rng(seed))
        good = CRANKING.examine(made.suspect, made.conditions)
        if good.start is None or not good.start.each or good.start.from_current:
            continue
        seen += 1
        names = cranking_supposed.cylinders(good.start)
        fault = SupposedFault("weak cylinder with a pulse", 50.0, (names[1],), "%")
        found = cranking_supposed.supposed(good, fault, *whole(good.channel))
        again = CRANKING.examine(found, made.conditions).start
        assert again is not None
        assert again.each[1].share == pytest.approx(0.5 * good.start.each[1].share, abs=0.12)
        assert all(one.share > 0.8 for place, one in enumerate(again.each) if place != 1)
    assert seen


def test_a_supposed_battery_is_judged_as_empty_or_as_giving_way() -> None:
    made = cranking.made("", np.random.default_rng(1))
    good = CRANKING.examine(made.suspect, made.conditions)
    assert good.start is not None
    empty = cranking_supposed.supposed(
        good, SupposedFault("discharged battery with a loss", 0.9, unit="V"), *whole(good.channel)
    )
    assert check(empty, kind="cranking", conditions=made.conditions).verdict.picture == "battery discharged"
    fault = SupposedFault("rise of the battery's inner resistance", 300.0, unit="%")
    soft = cranking_supposed.supposed(good, fault, *whole(good.channel))
    alone = replace(made.conditions, besides=())
    assert check(soft, kind="cranking", conditions=alone).verdict.picture == "battery voltage breaks down"


def test_each_refuses_what_is_not_its_own() -> None:
    channel, _ = flat_supply()
    nothing = replace(channel, samples=FloatSamples(np.full(channel.samples.size, 0.01, np.float32)))
    assert not supply_supposed.ready(SUPPLY.examine(nothing, Conditions()))
    assert not charging_supposed.ready(CHARGING.examine(channel, Conditions()))
    made = supply.made("", np.random.default_rng(3))
    assert supply_supposed.ready(SUPPLY.examine(made.suspect, made.conditions))
