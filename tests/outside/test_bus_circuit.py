"""The bus circuit against what circuit theory says: Ohm's law for the levels, one pole for the edges."""

import numpy as np
import pytest

from loomlight.signal.circuit import OPEN_OHM, Driver, Leak, LinBus, simulate
from loomlight.signal.series_resistance import NO_KNEE, Ohms, behind_pull_up, leak_beside

pytestmark = pytest.mark.outside

# A stiff driver and no second pull-up, so that the formula has two resistors and nothing else.
BUS = LinBus(battery_v=14.4, pull_up_diode_v=0.7, near_responders=0, driver_ohm=1e-3, probe_ohm=1e12)


def settled(series_ohm: float, side: str, bus: LinBus = BUS) -> tuple[float, float]:
    drivers = [Driver("far" if side == "far" else "near", 1.0, [(0.0, 1.0)])] if side else []
    near, far = simulate(bus, drivers, series_ohm=series_ohm, step_s=1e-6, count=3000)
    return float(near[-1]), float(far[-1])


@pytest.mark.parametrize("series_ohm", [22.0, 47.0, 100.0, 220.0, 470.0, 1000.0, 2200.0, 4700.0])
def test_responder_behind_a_resistance_lifts_the_commanders_side(series_ohm: float) -> None:
    near, far = settled(series_ohm, "far")
    # Two resistors between the pull-up's top (13.0 V) and the driver's level (1.0 V): Ohm's law.
    assert near == pytest.approx(1.0 + 12.0 * series_ohm / (series_ohm + 1000.0), abs=2e-3)
    assert far == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("series_ohm", [470.0, 1000.0, 4700.0, 10_000.0])
def test_commander_behind_a_resistance_lifts_the_responders_side(series_ohm: float) -> None:
    near, far = settled(series_ohm, "near")
    assert far == pytest.approx(1.0 + 12.0 * series_ohm / (series_ohm + 30e3), abs=2e-3)
    assert near == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("leak_ohm", [100.0, 470.0, 1000.0, 2200.0, 10_000.0])
def test_leak_pulls_the_resting_level_down(leak_ohm: float) -> None:
    bus = LinBus(**{**BUS.__dict__, "leaks": (Leak("near", leak_ohm, 0.0),)})
    near, _ = settled(0.01, "", bus)
    pull = 1.0 / (1 / 1000 + 1 / 30e3)
    assert near == pytest.approx(13.0 * leak_ohm / (leak_ohm + pull), abs=5e-3)
    found = leak_beside(near, top_v=13.0, pull=Ohms(pull, pull, pull), doubt_v=0.0)
    assert found.best == pytest.approx(leak_ohm, rel=5e-3)


def test_rise_of_one_pole() -> None:
    # The driver lets go at once: 10 to 90 % of a step through R and C takes ln 9 = 2.197 times R C.
    bus = LinBus(**{**BUS.__dict__, "near_f": 4e-9, "far_f": 1e-12})
    near, _ = simulate(
        bus, [Driver("near", 1.0, [(0.0, 1e-4)], slope_s=2e-8)], series_ohm=OPEN_OHM, step_s=2e-8, count=7500
    )
    rise = near[5000:]
    at_10, at_90 = (int(np.argmax(rise > 1.0 + share * 12.0)) for share in (0.1, 0.9))
    assert (at_90 - at_10) * 2e-8 == pytest.approx(np.log(9) * 1000.0 * 4e-9, rel=0.02)


@pytest.mark.parametrize("series_ohm", [5.0, 300.0, 2500.0, 20_000.0])
def test_resistance_is_read_back_from_the_levels(series_ohm: float) -> None:
    level = 1.1 + (11.9 - 1.1) * series_ohm / (series_ohm + 950.0)  # Ohm's law
    found = behind_pull_up(level, source_v=1.1, top_v=11.9, pull=Ohms(950.0, 800.0, 1100.0), doubt_v=0.02, knee=NO_KNEE)
    assert found.best == pytest.approx(series_ohm)
    assert found.low < series_ohm < found.high
