"""Toothed wheels: patterns learnt, faults told by tooth, and what is no fault."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers.pulse_recording import recorded, switched
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples
from loomlight.signal.wheel_pattern import common_wheels

STEP_S = 20e-6


def hall(
    positions: int,
    absent: tuple[int, ...],
    *,
    rpm: float = 900.0,
    seconds: float = 0.6,
    inverse: bool = False,
    shift: dict[int, float] | None = None,
    rpm_end: float | None = None,
    levels: tuple[float, float] = (0.2, 5.0),
) -> Channel:
    """A switching sensor on a wheel turning evenly, or ever faster or slower."""
    times_s = np.arange(round(seconds / STEP_S)) * STEP_S
    end = rpm if rpm_end is None else rpm_end
    turned = 0.13 + (rpm * times_s + 0.5 * (end - rpm) * times_s**2 / seconds) / 60.0
    teeth = np.array([one for one in range(positions) if one not in absent], float)
    teeth += [(shift or {}).get(int(one), 0.0) for one in teeth]
    middles = (np.arange(-1, int(turned.max()) + 2)[:, None] + (teeth + 0.5) / positions).ravel()
    bounds = np.column_stack([middles - 0.25 / positions, middles + 0.25 / positions]).ravel()
    bounds = bounds[(bounds > turned[0]) & (bounds < turned.max())]
    rising = slice(0, int(np.argmax(turned)) + 1)
    edges_s = np.interp(bounds, turned[rising], times_s[rising])
    place = np.arange(edges_s.size + 1) + int(np.isin(bounds[:1], middles + 0.25 / positions)[0])
    low, high = levels[::-1] if inverse else levels
    volts = switched(times_s, edges_s, np.where(place % 2, high, low), np.full(edges_s.size, 2e-6))
    return recorded(np.random.default_rng(1), volts, STEP_S, name="crank")


def judged(channel: Channel, good: Channel | None = None, **settings: float) -> Comparison:
    conditions = Conditions(settings=tuple(settings.items()))
    if good is None:
        return check(channel, kind="toothed-wheel", conditions=conditions)
    return compare(channel, good, kind="toothed-wheel", conditions=conditions)


def measured(found: Comparison, name: str) -> float | None:
    assert found.looked is not None
    return next(one.value for one in found.looked.measures if one.name == name)


@pytest.mark.parametrize("inverse", [False, True])
@pytest.mark.parametrize("wheel", common_wheels(), ids=lambda one: one.name)
def test_every_common_wheel_is_learnt_in_both_polarities(wheel, inverse) -> None:  # type: ignore[no-untyped-def]
    found = judged(hall(wheel.positions, wheel.absent, inverse=inverse))
    assert found.verdict.state == "clean", found.verdict.reasons
    assert measured(found, "teeth left out by design") in (len(wheel.absent), len(wheel.absent) / len(wheel.gaps))
    assert not found.findings


@pytest.mark.parametrize("tooth", [3, 21, 50])
def test_a_lost_tooth_is_named(tooth: int) -> None:
    found = judged(hall(60, (tooth - 1, 58, 59)))
    assert found.verdict.picture == f"tooth {tooth} missing"
    assert {one.kind for one in found.findings} == {"missing pulse"}


def test_a_wheel_that_is_given_is_held_against() -> None:
    assert judged(hall(40, (39,))).verdict.state == "clean"
    odd = judged(hall(40, (12, 39)), teeth=40.0, left_out=1.0)
    assert odd.verdict.picture in ("tooth 13 missing", "tooth 27 missing")


def test_gaps_unlike_each_other_on_an_unknown_wheel_cannot_be_told() -> None:
    found = judged(hall(44, (10, 42, 43)))
    assert found.verdict.state == "cannot tell"
    assert "made so, or a tooth lost" in found.verdict.reasons[0]


def test_a_wheel_without_a_gap_shows_its_tooth_frequency_or_with_teeth_given_its_speed() -> None:
    plain = hall(48, ())
    found = judged(plain)
    assert found.verdict.state == "clean"
    assert measured(found, "tooth frequency") == pytest.approx(48 * 15.0, rel=1e-3)
    assert measured(judged(plain, teeth=48.0), "speed") == pytest.approx(900.0, rel=5e-3)


@pytest.mark.parametrize("level", [0.0, 5.0, 13.6])
def test_a_lost_signal_has_its_time_and_its_class(level: float) -> None:
    channel = hall(60, (58, 59))
    volts = channel.samples.block(0, channel.samples.size).copy()
    volts[20_000:] = level
    found = judged(replace(channel, samples=FloatSamples(volts)))
    assert found.verdict.picture == "signal lost"
    lost = next(one for one in found.findings if one.kind == "lost signal")
    assert lost.start_s == pytest.approx(0.4, abs=2e-3)
    assert (found.verdict.fault, found.verdict.short_to) == {
        0.0: ("short", "ground"),
        5.0: ("open", None),
        13.6: ("short", "battery"),
    }[level]


def test_a_wheel_that_stops_is_no_lost_signal() -> None:
    channel = hall(60, (58, 59), rpm=300.0, rpm_end=-150.0, seconds=3.0)
    found = judged(channel)
    assert found.verdict.state == "clean", found.verdict.reasons
    assert "comes to rest" in " ".join(found.verdict.reasons)
    assert not found.findings


def test_a_dead_sensor_beside_a_turning_cam_is_faulty_and_alone_cannot_be_told() -> None:
    flat = recorded(np.random.default_rng(2), np.full(30_000, 5.0) + 1e-3, STEP_S, name="crank")
    assert judged(flat).verdict.state == "cannot tell"
    cam = hall(4, (1, 3), rpm=450.0)
    beside = Conditions(besides=(Beside("cam", cam),))
    found = check(flat, kind="toothed-wheel", conditions=beside)
    assert (found.verdict.state, found.verdict.picture) == ("faulty", "no signal")


def test_unlike_teeth_are_learnt_and_held_against_the_known_good() -> None:
    def cam(bounds: tuple[float, ...]) -> Channel:
        times_s = np.arange(40_000) * STEP_S
        edges = (np.arange(12)[:, None] + np.asarray(bounds)).ravel() / 15.0
        edges = edges[edges < times_s[-1]]
        levels = np.where(np.arange(edges.size + 1) % 2, 5.0, 0.2)
        volts = switched(times_s, edges, levels, np.full(edges.size, 2e-6))
        return recorded(np.random.default_rng(3), volts, STEP_S, name="cam")

    usual = (0.05, 0.15, 0.3, 0.36, 0.55, 0.7, 0.85, 0.9)
    bent = (0.05, 0.15, 0.3, 0.36, 0.59, 0.74, 0.85, 0.9)
    assert judged(cam(usual)).verdict.state == "clean"
    assert judged(cam(usual), cam(usual)).verdict.state == "clean"
    assert judged(cam(bent), cam(usual)).verdict.picture == "pattern differs"


def test_swings_cut_off_by_the_instrument_are_said_and_not_judged() -> None:
    times_s = np.arange(60_000) * STEP_S
    angle = 2 * np.pi * 60 * 15.0 * times_s
    swing = (20.0 + 14.0 * np.cos(2 * np.pi * 15.0 * times_s)) * np.sin(angle)
    swing[(angle / (2 * np.pi)) % 60 > 58] = 0.0
    found = judged(Channel("crank", "V", FloatSamples(np.clip(swing, -15, 15).astype(np.float32)), 0.0, STEP_S))
    assert found.verdict.state == "clean", found.verdict.reasons
    assert "cut off there by the instrument" in " ".join(found.verdict.reasons)


def test_speed_follows_over_time() -> None:
    found = judged(hall(36, (35,), rpm=600.0, rpm_end=1200.0, seconds=1.0))
    assert found.looked is not None
    speed = found.looked.tracks[0]
    assert speed.unit == "rpm"
    exact = 600.0 + 600.0 * speed.times_s
    assert np.abs(speed.values / exact - 1.0).max() < 0.015  # a sample step either way at each tooth


@pytest.mark.parametrize("unit", ["A", "counts"])
def test_only_volts(unit: str) -> None:
    with pytest.raises(CannotUse):
        judged(Channel("x", unit, FloatSamples(np.zeros(100)), 0.0, 1e-3))


@pytest.mark.parametrize(
    "values", [np.zeros(5), np.full(1000, np.nan), np.random.default_rng(1).normal(size=5000), np.array([1.0])]
)
def test_odd_input_is_refused_or_cannot_be_told(values: np.ndarray) -> None:
    channel = Channel("x", "V", FloatSamples(values), 0.0, 1e-3)
    try:
        found = judged(channel)
    except CannotUse:
        return
    assert found.verdict.state != "clean"
