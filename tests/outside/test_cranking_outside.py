"""Cranking against published battery figures, exact arithmetic and general-purpose libraries."""

import numpy as np
import pytest
from scipy import signal

from loomlight.signal.cranking_limits import LIMITS, limits_for
from loomlight.signal.cranking_pulses import cylinders_of, find_pulses
from loomlight.signal.cranking_stages import stages_of
from loomlight.signal.examination import Conditions

pytestmark = pytest.mark.outside

# Battery Council International: open-circuit voltage and state of charge of a rested 12 V lead-acid battery at 26.7 °C.
STATE_OF_CHARGE = {12.65: 1.0, 12.45: 0.75, 12.24: 0.5, 12.06: 0.25, 11.89: 0.0}


def test_a_battery_is_sent_to_the_charger_where_the_table_says_it_is_below_half() -> None:
    rest = limits_for(12.0, Conditions()).rest_v
    below = max(volts for volts, charge in STATE_OF_CHARGE.items() if charge < 0.5)
    half = next(volts for volts, charge in STATE_OF_CHARGE.items() if charge == 0.5)
    assert below < rest <= half


def test_cold_test_references_as_a_battery_makers_lexicon_prints_them() -> None:
    """SAE: 7.2 V after 30 s, EN: 7.5 V after 10 s, both at -18 °C."""
    cold = {one.value: one.name for one in LIMITS if "cold test" in one.name}
    assert "30 s" in cold[7.2]
    assert "10 s" in cold[7.5]


def turning(rpm: float, cylinders: int, weak: int | None, seconds: float = 4.0) -> tuple[np.ndarray, np.ndarray]:
    """Raised cosines, one a compression; exact."""
    at = np.arange(0.0, seconds, 1e-3)
    turn = at * rpm / 120.0 * cylinders
    size = np.where(np.floor(turn).astype(int) % cylinders == weak, 0.5, 1.0) if weak is not None else 1.0
    return at, size * 0.5 * (1.0 - np.cos(2 * np.pi * turn))


@pytest.mark.parametrize(("rpm", "cylinders"), [(200.0, 4), (161.0, 4), (240.0, 6), (150.0, 3), (180.0, 8)])
def test_four_strokes_give_half_the_cylinders_pulses_a_turn(rpm: float, cylinders: int) -> None:
    at, row = turning(rpm, cylinders, None)
    pulses = find_pulses(at, row, 0.0)
    assert pulses is not None
    assert pulses.hz == pytest.approx(rpm / 60.0 * cylinders / 2.0, rel=0.01)
    assert float(np.median(pulses.rpm(cylinders))) == pytest.approx(rpm, rel=0.01)
    hz, power = signal.periodogram(row - row.mean(), 1000.0)
    assert pulses.hz == pytest.approx(float(hz[np.argmax(power)]), abs=0.26)


def test_the_half_pulse_is_found_half_and_counted_from_the_mark() -> None:
    at, row = turning(200.0, 4, weak=2)
    pulses = find_pulses(at, row, 0.0)
    assert pulses is not None
    marks = np.arange(0.0, 4.0, 120.0 / 200.0) + 1e-3
    each = cylinders_of(pulses, 4, marks)
    assert [one.number for one in each] == [1, 2, 3, 4]
    # Averaging over a fifth of a pulse takes the same share off each.
    assert each[2].share == pytest.approx(0.5, abs=0.03)
    assert [one.share for one in each[:2]] == pytest.approx([1.0, 1.0], abs=0.02)


def test_ohms_law_of_a_battery_under_load() -> None:
    """12.6 V at rest, 150 A through 10 mΩ: 11.1 V."""
    at = np.arange(0.0, 4.0, 1e-3)
    amperes = np.where((at > 0.5) & (at < 3.5), 150.0, 0.0)
    stages = stages_of(at, 12.6 - 0.010 * amperes, 1.0)
    assert stages is not None
    assert stages.rest_v == pytest.approx(12.6)
    assert stages.turning_v == pytest.approx(11.1)
    assert (stages.in_s, stages.over_s) == pytest.approx((0.5, 3.5), abs=0.05)
