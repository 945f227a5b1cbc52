"""Laws of the bus circuit that need no formula, and the shaken contact's statistics."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.signal.bus_traffic import COMMANDER, Slot, traffic
from loomlight.signal.circuit import OPEN_OHM, Driver, Leak, LinBus, contact_resistance, simulate

STEP_S = 1e-6


def ends(bus: LinBus, drivers: list[Driver], series_ohm: float, count: int = 1500) -> tuple[float, float]:
    near, far = simulate(bus, drivers, series_ohm=series_ohm, step_s=STEP_S, count=count)
    return float(near[-1]), float(far[-1])


def test_a_resting_bus_stands_at_the_pull_ups_on_both_sides() -> None:
    near, far = ends(LinBus(), [], 0.02)
    assert near == pytest.approx(LinBus().top_v, abs=0.02)
    assert far == pytest.approx(near, abs=1e-3)


def test_a_cut_wire_parts_the_two_sides() -> None:
    near, far = ends(LinBus(), [Driver("near", 1.0, [(0.0, 1.0)])], OPEN_OHM)
    assert near == pytest.approx(1.3, abs=0.1)  # the driver's own resistance carries the pull-up's current
    # 30 kΩ against a probe of 10 MΩ: Ohm's law.
    assert far == pytest.approx(LinBus().top_v * 10e6 / (10e6 + 30e3), abs=0.01)


def test_lower_driver_wins_and_more_drivers_never_raise_the_line() -> None:
    one = ends(LinBus(), [Driver("near", 1.2, [(0.0, 1.0)])], 0.02)[0]
    both = ends(LinBus(), [Driver("near", 1.2, [(0.0, 1.0)]), Driver("near", 0.8, [(0.0, 1.0)])], 0.02)[0]
    assert both < one


def test_a_driver_at_rest_does_not_hold_the_line_below_the_battery() -> None:
    bus = replace(LinBus(), leaks=(Leak("near", 1000.0, 13.2),))
    near, _ = ends(bus, [Driver("near", 1.0, [(0.0, 1e-4)])], 0.02)
    assert near == pytest.approx(13.2, abs=0.02)


def test_resistance_lifts_more_the_larger_it_is() -> None:
    levels = [ends(LinBus(), [Driver("far", 1.0, [(0.0, 1.0)])], ohm)[0] for ohm in (0.1, 50.0, 500.0, 5e3, 5e4)]
    assert levels == sorted(levels)
    assert levels[-1] < LinBus().top_v


def test_halving_the_step_changes_settled_levels_by_nothing_and_edges_by_little() -> None:
    driver = [Driver("near", 1.0, [(2e-4, 6e-4)])]
    coarse, _ = simulate(LinBus(), driver, series_ohm=700.0, step_s=1e-6, count=1000)
    fine, _ = simulate(LinBus(), driver, series_ohm=700.0, step_s=0.5e-6, count=2000)
    assert np.abs(coarse - fine[1::2]).max() < 0.8
    assert coarse[500] == pytest.approx(fine[1000], abs=1e-3)


def test_slope_is_the_drivers() -> None:
    near, _ = simulate(
        LinBus(), [Driver("near", 1.0, [(1e-4, 5e-4)], slope_s=40e-6)], series_ohm=0.02, step_s=STEP_S, count=500
    )
    top, low = float(near[50]), float(near[400])
    fall = np.flatnonzero((near[:400] < top - 0.1 * (top - low)) & (near[:400] > low + 0.1 * (top - low)))
    assert fall.size == pytest.approx(32, abs=4)  # 80 % of a straight ramp of 40 µs, in steps of 1 µs


def test_contact_rests_at_its_steady_value_and_its_bursts_come_at_their_rate() -> None:
    rng = np.random.default_rng(5)
    ohm = contact_resistance(rng, count=2_000_000, step_s=1e-5, steady_ohm=100.0, bursts_per_s=30.0, burst_s=4e-3)
    high = ohm > 100.0
    starts = np.flatnonzero(high[1:] & ~high[:-1])
    bursts = 1 + np.count_nonzero(np.diff(starts) > 300)
    # A Poisson process of 30 a second over 20 s: 600, spread 24.5; some bursts run into each other.
    assert 400 < bursts < 680
    assert ohm.min() == 100.0
    assert ohm[high].min() >= 1e4
    assert ohm.max() <= 1e12


def test_without_bursts_a_contact_is_constant() -> None:
    ohm = contact_resistance(np.random.default_rng(1), count=1000, step_s=1e-6, steady_ohm=7.0)
    assert np.all(ohm == 7.0)


def test_schedule_is_laid_out_in_whole_frames_one_talker_at_a_time() -> None:
    schedule = (
        Slot(0x10, COMMANDER, lambda n: bytes([n])),
        Slot(0x21, "blower", lambda n: bytes([n, n])),
        Slot(0x33, "", lambda n: b""),
    )
    sent = traffic(schedule, bit_rate=19_200.0, slot_s=8e-3, stop_s=0.06)
    assert [one.frame_id for one in sent.frames] == [0x10, 0x21, 0x33] * 2 + [0x10]
    assert [one.data for one in sent.frames[:4]] == [b"\0", b"\0\0", b"", b"\1"]
    assert sent.frames[2].talker == ""
    # LIN 2.2A section 2.3: header 34 bits, response 10 bits a byte, checksum included.
    for frame, size in zip(sent.frames, (1, 2, 0, 1), strict=False):
        assert frame.header_stop_s - frame.start_s == pytest.approx(34 / 19_200, rel=1e-6)
        response = 2 + 10 * (size + 1) if size else 0
        assert frame.stop_s - frame.header_stop_s == pytest.approx(response / 19_200, rel=1e-6)
    spans = sorted(span for talker in sent.spans.values() for span in talker)
    assert all(one[1] <= other[0] + 1e-12 for one, other in zip(spans, spans[1:], strict=False))


def test_a_deaf_responder_stays_silent() -> None:
    schedule = (Slot(0x21, "blower", lambda n: b"\1\2"),)
    sent = traffic(
        schedule, bit_rate=19_200.0, slot_s=8e-3, stop_s=0.03, hears=lambda _talker, start_s, _stop_s: start_s > 0.01
    )
    assert [bool(one.data) for one in sent.frames] == [False, False, True]
