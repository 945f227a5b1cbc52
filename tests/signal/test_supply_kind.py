"""Supply rail: every figure found where it was put, and what the verdict owns up to."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers import supply as maker
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.progress import Cancelled
from loomlight.signal.samples import FloatSamples
from loomlight.signal.supply_examination import SupplyExamination, SupplyReading

RATE = 20_000.0


def channel(values: np.ndarray, name: str = "rail", rate: float = RATE, **others: object) -> Channel:
    return replace(Channel(name, "V", FloatSamples(values), 0.0, 1.0 / rate), **others)  # type: ignore[arg-type]


def steady(volts: float = 12.6, seconds: float = 1.0) -> np.ndarray:
    return volts + np.random.default_rng(3).normal(0.0, 0.01, round(seconds * RATE))


def judged(one: Channel, **settings: float) -> Comparison:
    given = tuple((key.replace("_", "-"), value) for key, value in settings.items())
    return check(one, kind="supply", conditions=Conditions(settings=given))


def rail_of(found: Comparison) -> SupplyReading:
    assert isinstance(found.looked, SupplyExamination)
    assert found.looked.rail is not None
    return found.looked.rail


def text(found: Comparison) -> str:
    return " ".join(found.verdict.reasons)


def start(lowest: float, plateau: float, seconds: float = 1.0) -> np.ndarray:
    times = np.cumsum([0.0, 0.3, 0.005, 0.012, 0.05, seconds, 0.05, 0.3])
    at = np.arange(round(times[-1] * RATE)) / RATE
    return np.interp(at, times, [12.6, 12.6, lowest, lowest, plateau, plateau, 13.9, 13.9])


def test_a_start_within_level_one_is_no_fault() -> None:
    found = judged(channel(start(8.3, 9.8)))
    assert found.verdict.state == "clean"
    dip = rail_of(found).dips[0]
    assert dip.lowest_v == pytest.approx(8.3, abs=0.02)
    # Below 9 V: 6/43 of the fall, all of the lowest, 7/15 of the rise.
    assert dip.stop_s - dip.start_s == pytest.approx(0.012 + 0.005 * 0.7 / 4.3 + 0.05 * 0.7 / 1.5, abs=5e-4)
    assert dip.kept == ("I", "IV", "II", "III")
    assert [one.kind for one in found.findings] == ["dip"]


def test_a_deeper_start_is_left_open_until_the_units_level_is_known() -> None:
    one = channel(start(6.2, 8.0))
    assert judged(one).verdict.state == "cannot tell"
    assert "level IV and II and III" in text(judged(one))
    assert judged(one, start_level=2).verdict.state == "clean"
    assert judged(one, start_level=1).verdict.picture == "dip beyond the start profile"


def test_too_long_is_told_like_too_deep() -> None:
    assert judged(channel(start(5.5, 5.5, seconds=1.5))).verdict.state == "faulty"


@pytest.mark.parametrize("seed", range(6))
def test_transients_have_their_height_and_time_constant(seed: int) -> None:
    for fault, pulse in (("pulse 1", "1"), ("pulse 2a", "2a")):
        made = maker.made(fault, np.random.default_rng(seed))
        rail = rail_of(check(made.suspect, kind="supply", conditions=made.conditions))
        worst = max(rail.transients, key=lambda one: abs(one.shape.height_v))
        assert worst.pulse == pulse
        assert worst.shape.height_v == pytest.approx(made.truth["height"], rel=0.13)  # each is drawn at 90 to 100 %
        assert worst.shape.tau_s == pytest.approx(made.truth["tau"], rel=0.08)


@pytest.mark.parametrize("seed", range(6))
def test_the_resistance_lies_in_its_interval(seed: int) -> None:
    made = maker.made("voltage drop", np.random.default_rng(seed))
    verdict = check(made.suspect, kind="supply", conditions=made.conditions).verdict
    assert verdict.fault == "resistive"
    assert verdict.series_ohm_low is not None
    assert verdict.series_ohm_high is not None
    assert verdict.series_ohm_low <= made.truth["ohm"] <= verdict.series_ohm_high
    assert verdict.series_ohm_high < 2.5 * verdict.series_ohm_low  # an 8-bit converter leaves that much


def test_a_steady_current_gives_a_wider_interval_and_says_so() -> None:
    rail, far = steady(11.9), steady(12.6)
    amperes = channel(np.full(rail.size, 30.0), "clamp", unit="A")
    besides = (Beside("far end", channel(far, "battery")), Beside("current", amperes))
    found = check(channel(rail), kind="supply", conditions=Conditions(besides=besides))
    verdict = found.verdict
    assert verdict.series_ohm == pytest.approx(0.7 / 30.0, rel=0.05)
    assert verdict.series_ohm_low is not None
    assert verdict.series_ohm_low < 0.021
    assert "hardly moves" in text(found)


def test_without_a_clamp_the_drop_has_no_resistance() -> None:
    besides = (Beside("far end", channel(steady(12.9), "battery")),)
    found = check(channel(steady(11.8)), kind="supply", conditions=Conditions(besides=besides))
    assert found.verdict.picture == "too much voltage drop"
    assert found.verdict.series_ohm is None


def test_a_break_is_no_resistance() -> None:
    """Where the current stops while the drop rises, it is no resistance."""
    rail, amperes = steady(), np.full(round(RATE), 10.0)
    for at in (4000, 9000):
        rail[at : at + 800], amperes[at : at + 800] = 0.3, 0.0
    besides = (
        Beside("far end", channel(steady(12.7), "battery")),
        Beside("current", channel(amperes, "clamp", unit="A")),
    )
    verdict = check(channel(rail), kind="supply", conditions=Conditions(besides=besides)).verdict
    assert (verdict.picture, verdict.fault, verdict.intermittent) == ("supply cut off for moments", "open", True)
    assert verdict.series_ohm is None


def test_the_known_good_of_the_same_recording_is_the_other_end() -> None:
    same = Conditions(same_moment=True)
    found = compare(channel(steady(11.8)), channel(steady(12.7), "battery"), kind="supply", conditions=same)
    assert found.verdict.picture == "too much voltage drop"
    dead = compare(channel(steady(0.02)), channel(steady(12.7), "battery"), kind="supply", conditions=same)
    assert (dead.verdict.state, dead.verdict.fault) == ("faulty", "open")


@pytest.mark.parametrize(
    ("values", "said"),
    [
        (steady(0.02), "does not arrive"),
        (np.random.default_rng(1).normal(0.0, 0.1, 20_000), "AC coupled"),
        (steady(-12.6), "swapped"),
        (steady(1.26), "×10 on the probe but ×1"),
        (steady(126.0), "×1 on the probe but ×10"),
        (steady(19.0), "too high for 12 V and too low for 24 V"),
        (np.full(5000, np.nan), "is a number"),
    ],
)
def test_no_verdict_on_what_is_no_supply(values: np.ndarray, said: str) -> None:
    found = judged(channel(values))
    assert found.verdict.state == "cannot tell"
    assert said in text(found)


def test_the_vehicles_voltage_settles_a_level_between() -> None:
    assert judged(channel(steady(19.0)), system=12).verdict.picture == "supply too high"
    assert judged(channel(steady(19.0)), system=24).verdict.state == "clean"


def test_of_pairs_the_side_that_matters_is_judged() -> None:
    pairs = np.repeat(steady(), 2)
    pairs[8001:8041:2] = 60.0  # maxima only
    found = judged(channel(pairs, form="pairs"))
    assert found.findings[0].start_s == pytest.approx(4000 / RATE, abs=2 / RATE)


def test_what_was_not_acquired_is_neither_dip_nor_ripple() -> None:
    values = steady()
    values[3000:5000] = np.nan
    found = judged(channel(values, gaps=((3000, 5000),)))
    assert (found.verdict.state, found.findings) == ("clean", ())


def test_ripple_has_its_height_and_frequency() -> None:
    at = np.arange(round(RATE)) / RATE
    found = judged(channel(steady(13.8) + 0.8 * np.sin(2 * np.pi * 430.0 * at)))
    ripple = rail_of(found).ripple
    assert ripple is not None
    assert ripple.hz == pytest.approx(430.0, abs=4.0)
    assert ripple.peak_to_peak_v == pytest.approx(1.6, rel=0.02)
    assert ripple.rms_v == pytest.approx(0.8 / np.sqrt(2.0), rel=0.02)
    assert found.verdict.picture == "too much ripple"


def test_another_unit_and_uneven_samples_are_refused() -> None:
    with pytest.raises(CannotUse, match="is in A"):
        judged(channel(steady(), unit="A"))
    with pytest.raises(CannotUse, match="not evenly spaced"):
        judged(channel(steady(), step_s=None, form="uneven", times_s=np.arange(RATE) / RATE))


def test_it_can_be_given_up() -> None:
    def stop(share: float) -> None:
        if share > 0.5:
            raise Cancelled

    with pytest.raises(Cancelled):
        check(channel(steady(seconds=5.0)), kind="supply", conditions=Conditions(), progress=stop)


@pytest.mark.bench
def test_ten_million_samples(benchmark: pytest.FixtureRequest) -> None:
    at = np.arange(10_000_000) / 1e6
    values = (13.9 + 0.2 * np.sin(2 * np.pi * 700 * at)).astype(np.float32)
    values += np.random.default_rng(0).normal(0.0, 0.05, values.size).astype(np.float32)
    values[4_000_000:4_010_000] = 2.0
    long = channel(values, rate=1e6)
    found = benchmark(lambda: judged(long))  # type: ignore[operator]
    assert found.verdict.picture == "supply cut off for moments"
