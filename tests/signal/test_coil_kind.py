"""Coils: what current and voltage show, with and without a known-good."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers.coil import FAULTS, made
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

STEP_S = 20e-6


def current(
    *, ohm: float = 14.0, henry: float = 0.014, on_s: float = 5e-3, hold: float | None = None, gap: int = -1
) -> Channel:
    """Twenty pulses on 13 V."""
    time_s = np.arange(round(0.5 / STEP_S)) * STEP_S
    since = (time_s - 0.0071) % 0.025
    number = np.floor((time_s - 0.0071) / 0.025)
    amps = 13.0 / ohm * (1.0 - np.exp(-since * ohm / henry))
    if hold is not None:
        amps = np.where(since > 0.4 * on_s, hold + (amps - hold) * np.exp(-(since - 0.4 * on_s) / 1e-4), amps)
    amps = np.where((since < on_s) & (number >= 0) & (number != gap), amps, 0.0)
    amps += 0.004 * np.random.default_rng(1).normal(size=amps.size)
    return Channel("coil", "A", FloatSamples(amps), 0.0, STEP_S)


def judged(
    channel: Channel, good: Channel | None = None, supply_v: float | None = 13.5, **settings: float
) -> Comparison:
    conditions = Conditions(supply_v=supply_v, settings=tuple(settings.items()))
    if good is None:
        return check(channel, kind="coil", conditions=conditions)
    return compare(channel, good, kind="coil", conditions=conditions)


def value(found: Comparison, name: str):  # type: ignore[no-untyped-def]
    assert found.looked is not None
    return next(one for one in found.looked.measures if one.name.startswith(name))


def test_times_currents_and_the_coil_itself() -> None:
    found = judged(current())
    assert found.verdict.state == "clean", found.verdict.reasons
    assert value(found, "pulses a second").value == pytest.approx(40.0, rel=1e-3)
    assert value(found, "switched on for").value == pytest.approx(5e-3, abs=2.5e-4)
    assert value(found, "peak").value == pytest.approx(13.0 / 14.0, rel=0.03)
    assert value(found, "resistance").low <= 14.0 <= value(found, "resistance").high
    assert value(found, "inductance").value == pytest.approx(0.014, rel=0.06)


def test_without_a_known_supply_the_interval_is_wider() -> None:
    known, unknown = (value(judged(current(), supply_v=volts), "resistance") for volts in (13.5, None))
    assert unknown.high - unknown.low > 1.5 * (known.high - known.low)


@pytest.mark.parametrize("with_good", [True, False])
def test_series_resistance_has_its_ohms(with_good: bool) -> None:
    found = judged(current(ohm=24.0), current()) if with_good else judged(current(ohm=24.0), ohms=14.0)
    assert (found.verdict.picture, found.verdict.fault) == ("high resistance", "resistive")
    assert found.verdict.series_ohm == pytest.approx(10.0, abs=1.5)
    assert found.verdict.series_ohm_low is not None
    assert found.verdict.series_ohm_low <= 10.0 <= (found.verdict.series_ohm_high or np.inf)


def test_a_warmer_coil_on_less_supply_is_no_fault() -> None:
    assert judged(current(ohm=15.5), current()).verdict.state == "clean"


def test_half_the_inductance_is_shorted_turns_beside_the_known_good() -> None:
    assert judged(current(henry=0.006), current()).verdict.picture == "shorted turns"


def test_peak_and_hold() -> None:
    found = judged(current(hold=0.25))
    assert value(found, "held after the peak at").value == pytest.approx(0.25, rel=0.05)
    assert judged(current(hold=0.45), current(hold=0.25)).verdict.picture == "hold current off"


def test_a_pulse_without_current_is_marked() -> None:
    found = judged(current(gap=7))
    assert (found.verdict.picture, found.verdict.intermittent) == ("intermittent coil circuit", True)
    assert [one.kind for one in found.findings] == ["missing pulse"]


def test_a_driver_that_stays_on_is_found_and_its_time() -> None:
    channel = current()
    amps = channel.samples.block(0, channel.samples.size).copy()
    amps[15_000:] = 0.93
    found = judged(replace(channel, samples=FloatSamples(amps)))
    assert (found.verdict.picture, found.verdict.short_to) == ("driver stuck on", "ground")


def test_no_current_is_open_only_where_the_driver_is_seen_to_work() -> None:
    flat = Channel("coil", "A", FloatSamples(0.004 * np.random.default_rng(2).normal(size=25_000)), 0.0, STEP_S)
    assert judged(flat).verdict.state == "cannot tell"
    pin = current()
    volts = 13.2 - 12.8 * (pin.samples.block(0, pin.samples.size) > 0.05)
    beside = Conditions(besides=(Beside("voltage", replace(pin, name="pin", unit="V", samples=FloatSamples(volts))),))
    found = check(flat, kind="coil", conditions=beside)
    assert (found.verdict.fault, found.verdict.picture) == ("open", "open circuit")


@pytest.mark.parametrize("unit", ["Ω", "counts"])
def test_only_volts_and_amperes(unit: str) -> None:
    with pytest.raises(CannotUse, match="in A or its switched end in V"):
        judged(replace(current(), unit=unit))


@pytest.mark.parametrize("unit", ["A", "V"])
@pytest.mark.parametrize("values", [np.zeros(5), np.full(1000, np.nan), np.random.default_rng(1).normal(size=5000)])
def test_odd_input_is_refused_or_cannot_be_told(values: np.ndarray, unit: str) -> None:
    try:
        found = judged(Channel("x", unit, FloatSamples(values), 0.0, 1e-3))
    except CannotUse:
        return
    assert found.verdict.state != "clean"


def test_every_fault_of_the_maker_has_its_own_picture() -> None:
    pictures = {fault: made(fault, np.random.default_rng(8)).expected for fault in FAULTS}
    assert all(pictures.values())
