"""The verdict on buses made from the circuit model: the fault is where it was put, and a healthy bus is left in peace."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.circuit import OPEN_OHM, Leak, LinBus
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples
from loomlight.signal.verdict import Verdict

SEED = 20_261
FULL, DEFAULT = 30, 3
WAYS = ("together far", "together near", "day far", "day near", "alone far", "alone near")


def judged(way: str, made: Any, good_day: Any, **conditions: Any) -> Comparison:
    how, side = way.split()
    suspect, other = (made.far, made.near) if side == "far" else (made.near, made.far)
    if how == "together":
        return compare(suspect, other, kind="lin", conditions=Conditions(same_moment=True, **conditions))
    if how == "day":
        return compare(suspect, getattr(good_day, side), kind="lin", conditions=Conditions(**conditions))
    return check(suspect, kind="lin", conditions=Conditions(**conditions))


def random_case(rng: np.random.Generator) -> dict[str, Any]:
    """A bus of any make inside the standard's limits, recorded by any sensible instrument."""
    rate = float(rng.choice([19_200.0, 10_417.0, 9_600.0]))
    share = 19_200.0 / rate
    bus = LinBus(
        battery_v=float(rng.choice([8.5, 12.6, 13.8, 14.4, 26.0])),
        commander_ohm=float(rng.uniform(900, 1100)),
        responder_ohm=float(rng.uniform(20e3, 60e3)),
        near_responders=int(rng.integers(1, 5)),
        near_f=float(rng.uniform(1e-9, 5e-9)),
        far_f=float(rng.uniform(0.25e-9, 0.6e-9)),
    )
    noise_v, converter_v = (float(one) for one in rng.choice([(0.02, 0.01), (0.05, 0.08), (0.1, 0.08)]))
    return {
        "bus": bus,
        "noise_v": noise_v,
        "converter_v": converter_v,
        "every": 2 if rate > 15_000 else 4,
        "bit_rate": rate,
        "slot_s": 8e-3 * share,
        "seconds": 0.14 * share,
        "first_round": int(rng.integers(0, 9)),
    }


@dataclass(frozen=True)
class Row:
    """What one kind of fault may be called, seen which way."""

    series_ohm: float
    allowed: dict[str, frozenset[str]]


CLEAN, CANNOT = frozenset({"clean/none"}), frozenset({"cannot tell/unknown"})
RESISTIVE, OPEN = frozenset({"faulty/resistive"}), frozenset({"faulty/open"})
UNSURE = CLEAN | CANNOT
TABLE = {
    "healthy": Row(0.02, dict.fromkeys(WAYS, CLEAN)),
    "100 Ω": Row(
        100.0,
        dict.fromkeys(WAYS[:2], RESISTIVE) | dict.fromkeys(WAYS[2:], RESISTIVE | UNSURE),
    ),
    "470 Ω": Row(
        470.0,
        dict.fromkeys(WAYS[:2], RESISTIVE) | dict.fromkeys(WAYS[2:], RESISTIVE | UNSURE),
    ),
    "2.2 kΩ": Row(
        2200.0,
        dict.fromkeys(WAYS[:2], RESISTIVE) | dict.fromkeys(WAYS[2:], RESISTIVE | UNSURE),
    ),
    "10 kΩ": Row(
        10e3,
        dict.fromkeys(WAYS[:2], RESISTIVE)
        | dict.fromkeys(WAYS[2:4], RESISTIVE | CANNOT)
        | dict.fromkeys(WAYS[4:], RESISTIVE | UNSURE),
    ),
    "open": Row(OPEN_OHM, dict.fromkeys(WAYS[:2], OPEN) | dict.fromkeys(WAYS[2:], CANNOT)),
}


def _hidden_ohm(verdict: Verdict) -> float:
    """What a clean verdict says would not show at this point, ohms."""
    told = next(
        found for reason in verdict.reasons if (found := re.search(r"up to about ([\d.]+) (k?)Ω would not", reason))
    )
    return 1.05 * float(told[1]) * (1000.0 if told[2] else 1.0)  # told in two digits


def run_table(make_bus: Callable[..., Any], rounds: int) -> tuple[list[str], list[bool]]:
    """All rows, ``rounds`` times each: what was called wrongly, and whether each interval held the truth."""
    rng = np.random.default_rng(SEED)
    good_day = make_bus(99, bus=replace(LinBus(), battery_v=12.6), first_round=3)
    wrong, inside = [], []
    for turn in range(rounds):
        case, seed = random_case(rng), int(rng.integers(1_000_000_000))
        for name, row in TABLE.items():
            made = make_bus(seed, series_ohm=row.series_ohm, **case)
            for way in WAYS:
                verdict = judged(way, made, good_day).verdict
                called = f"{verdict.state}/{verdict.fault}"
                if called not in row.allowed[way] or verdict.intermittent:
                    wrong.append(f"round {turn}, {name}, {way}: {called} ({verdict.reasons[0]})")
                if called == "clean/none" and not way.startswith("together") and _hidden_ohm(verdict) < row.series_ohm:
                    wrong.append(
                        f"round {turn}, {name}, {way}: clean, and it says that less would show ({verdict.reasons})"
                    )
                if verdict.fault == "resistive" and verdict.series_ohm_low is not None:
                    inside.append(verdict.series_ohm_low <= row.series_ohm <= (verdict.series_ohm_high or np.inf))
    return wrong, inside


def test_steady_faults_are_named_or_left_open_and_healthy_buses_are_clean(make_bus: Callable[..., Any]) -> None:
    wrong, inside = run_table(make_bus, DEFAULT)
    assert wrong == []
    assert np.mean(inside) >= 0.95


@pytest.mark.long
def test_steady_faults_full_table(make_bus: Callable[..., Any]) -> None:
    wrong, inside = run_table(make_bus, FULL)
    assert wrong == []
    assert np.mean(inside) >= 0.95


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_shaken_contact_beside_a_working_node(make_bus: Callable[..., Any], seed: int) -> None:
    made = make_bus(seed, series_ohm=1800.0, bursts_per_s=60.0)
    verdict = judged("together far", made, None).verdict
    assert (verdict.state, verdict.fault, verdict.intermittent) == ("faulty", "resistive", True)
    assert verdict.series_ohm_low is not None
    assert verdict.series_ohm_low < 1800.0 < (verdict.series_ohm_high or np.inf)


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_contact_that_only_opens(make_bus: Callable[..., Any], seed: int) -> None:
    made = make_bus(seed, series_ohm=0.05, bursts_per_s=60.0)
    verdict = judged("together far", made, None).verdict
    assert (verdict.state, verdict.fault, verdict.intermittent) == ("faulty", "open", True)
    assert verdict.series_ohm_high is None


def test_dropouts_stand_where_the_contact_opened(make_bus: Callable[..., Any]) -> None:
    made = make_bus(6, series_ohm=0.05, bursts_per_s=60.0)
    found = judged("together far", made, None)
    opened = made.ohm > 1e4
    dropouts = [one for one in found.findings if one.kind == "dropout"]
    assert len(dropouts) >= 5
    for one in dropouts:
        # The line rises only after the contact opened, and falls back a few microseconds after it closed.
        first, last = (round(at_s / 1e-6) for at_s in (one.start_s, one.stop_s))
        assert opened[max(first - 60, 0) : last + 1].any()
        assert 0 < one.size < 13.0


def test_a_lone_dropout_is_found_where_it_was_put(healthy: Any) -> None:
    values = healthy.near.samples.block(0, healthy.near.samples.size).copy()
    start = 2_600  # inside the second frame's break: samples are 2 µs apart
    frames = check(healthy.near, kind="lin", conditions=Conditions())
    assert frames.verdict.state == "clean"
    low = np.flatnonzero(values < 2.0)
    inside = low[(low > start) & (np.diff(low, append=low[-1] + 99) == 1)][60]
    values[inside : inside + 8] = 11.0
    spoilt = Channel("near", "V", FloatSamples(values), 0.0, healthy.near.step_s)
    found = [one for one in check(spoilt, kind="lin", conditions=Conditions()).findings if one.kind == "dropout"]
    assert len(found) == 1
    assert found[0].start_s == pytest.approx(inside * 2e-6, abs=4e-6)
    assert found[0].stop_s - found[0].start_s == pytest.approx(16e-6, abs=4e-6)
    assert found[0].severity == "severe"


def flat(volts: float, count: int = 70_000) -> Channel:
    rng = np.random.default_rng(8)
    return Channel("suspect", "V", FloatSamples(volts + rng.normal(0, 0.02, count)), 0.0, 2e-6)


def test_flat_at_the_pull_up_beside_a_talking_node_is_open(healthy: Any) -> None:
    verdict = compare(flat(11.8), healthy.near, kind="lin", conditions=Conditions(same_moment=True)).verdict
    assert (verdict.state, verdict.fault) == ("faulty", "open")


def test_flat_at_nothing_beside_a_talking_node_is_never_a_short(healthy: Any) -> None:
    verdict = compare(flat(0.0), healthy.near, kind="lin", conditions=Conditions(same_moment=True)).verdict
    assert (verdict.state, verdict.short_to) == ("cannot tell", None)


def test_both_flat_low_with_a_known_supply_is_a_short_to_ground() -> None:
    conditions = Conditions(same_moment=True, supply_v=13.0)
    verdict = compare(flat(0.05), flat(0.05), kind="lin", conditions=conditions).verdict
    assert (verdict.state, verdict.fault, verdict.short_to) == ("faulty", "short", "ground")


def test_both_flat_low_without_a_supply_cannot_be_told() -> None:
    verdict = compare(flat(0.05), flat(0.05), kind="lin", conditions=Conditions(same_moment=True)).verdict
    assert verdict.state == "cannot tell"


@pytest.mark.parametrize("supply_v", [12.0, 13.6])
def test_flat_at_the_supply_is_a_short_to_battery(supply_v: float) -> None:
    verdict = check(flat(supply_v - 0.05), kind="lin", conditions=Conditions(supply_v=supply_v)).verdict
    assert (verdict.fault, verdict.short_to) == ("short", "battery")


def test_a_resting_bus_is_asleep_and_no_short() -> None:
    verdict = check(flat(11.9), kind="lin", conditions=Conditions(supply_v=13.2)).verdict
    assert verdict.state == "cannot tell"
    assert "asleep" in verdict.reasons[0]


def test_a_leak_to_ground_is_told_with_its_resistance(make_bus: Callable[..., Any]) -> None:
    leaky = replace(LinBus(), leaks=(Leak("near", 3300.0, 0.0),))
    made = make_bus(9, bus=leaky)
    verdict = check(made.near, kind="lin", conditions=Conditions(supply_v=leaky.battery_v)).verdict
    assert (verdict.fault, verdict.short_to) == ("short", "ground")
    assert "leak" in verdict.reasons[0]


def test_a_lost_commander_pull_up_rises_slowly(make_bus: Callable[..., Any]) -> None:
    # Only 10 kΩ of responders' pull-ups are left, and a leak that the commander's would have hidden pulls the line down.
    lost = replace(LinBus(), commander_ohm=1e9, near_responders=3, near_f=3e-9, leaks=(Leak("near", 30e3, 0.0),))
    made = make_bus(10, bus=lost, bit_rate=9600.0, slot_s=16e-3, seconds=0.2)
    verdict = check(made.near, kind="lin", conditions=Conditions(supply_v=lost.battery_v)).verdict
    assert (verdict.state, verdict.fault, verdict.short_to) == ("faulty", "open", None)
    assert verdict.picture == "lost commander pull-up"
    assert any("not the commander's 1 kΩ" in reason for reason in verdict.reasons)
    assert any("a leak of" in reason for reason in verdict.reasons)


def test_a_ground_offset_of_the_instrument_is_no_wire_fault(healthy: Any, other_day: Any) -> None:
    lifted = healthy.near.samples.block(0, healthy.near.samples.size) + np.float32(0.9)
    suspect = Channel("near", "V", FloatSamples(lifted), 0.0, healthy.near.step_s)
    verdict = compare(suspect, other_day.near, kind="lin", conditions=Conditions()).verdict
    assert verdict.state == "cannot tell"
    assert "ground offset" in verdict.reasons[0]


@pytest.mark.parametrize(
    ("spoil", "about"),
    [
        (lambda volts: volts / 10, "times that would be a bus"),
        (lambda volts: volts - volts.mean(), "AC coupled"),
        (lambda volts: volts[::16], "samples a bit"),
    ],
    ids=["x10", "ac", "few samples"],
)
def test_unsound_measurements_are_told(healthy: Any, spoil: Callable[[np.ndarray], np.ndarray], about: str) -> None:
    volts = healthy.near.samples.block(0, healthy.near.samples.size)
    made = spoil(volts)
    step_s = healthy.near.step_s * volts.size / made.size
    verdict = check(Channel("near", "V", FloatSamples(made), 0.0, step_s), kind="lin", conditions=Conditions()).verdict
    assert verdict.state == "cannot tell"
    assert about in " ".join(verdict.reasons)
    assert verdict.next_step


def test_another_vehicles_bus_is_refused_and_said(healthy: Any, make_bus: Callable[..., Any]) -> None:
    other = make_bus(12, bit_rate=9600.0, slot_s=17e-3, seconds=0.2)
    found = compare(healthy.near, other.near, kind="lin", conditions=Conditions())
    assert found.lineup is not None
    assert not found.lineup.accepted
    assert found.verdict.state == "clean"
    assert any("was not used" in reason for reason in found.verdict.reasons)


def test_a_known_good_that_drops_out_itself_is_none(make_bus: Callable[..., Any]) -> None:
    made = make_bus(4, series_ohm=0.05, bursts_per_s=60.0)
    verdict = compare(made.near, made.far, kind="lin", conditions=Conditions(same_moment=True)).verdict
    assert verdict.state != "clean"
