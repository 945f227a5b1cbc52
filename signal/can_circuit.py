"""A CAN pair as a circuit in closed form: what a fault does to the levels that a sound bus shows.

One driver is a source between the wires behind a resistance, its middle held at half its supply; receivers bias the pair so
weakly that they do not count. Two terminators of 120 Ω stand at the ends of the trunk.
"""

import math
from dataclasses import dataclass

from loomlight.signal.can_limits import DRIVER_OHM, SOUND_OHM

TERMINATOR_OHM = 120.0
LIMIT_A = 0.08
"""What a driver gives into a short (data sheets: 40 to 115 mA, from memory)."""


@dataclass(frozen=True)
class Driver:
    """One talker by what it shows on a sound bus.

    Attributes
    ----------
    difference_v : float
        CAN-H minus CAN-L at 60 Ω, volts.
    common_v : float
        Half their sum.
    ohm : float
        Of both its stages together.
    """

    difference_v: float = 2.0
    common_v: float = 2.5
    ohm: float = DRIVER_OHM[1]

    @property
    def source_v(self) -> float:
        """Between the wires without any load."""
        return self.difference_v * (SOUND_OHM + self.ohm) / SOUND_OHM

    @property
    def high_v(self) -> float:
        """What its upper stage pulls to."""
        return self.common_v + 0.5 * self.source_v


def across(driver: Driver, load_ohm: float) -> float:
    """Difference with another resistance between the wires, volts."""
    if math.isinf(load_ohm):
        return driver.source_v
    return driver.source_v * load_ohm / (load_ohm + driver.ohm)


def beside(one: float, other: float) -> float:
    """Two resistances side by side, ohms."""
    return one * other / (one + other) if math.isfinite(one) and math.isfinite(other) else min(one, other)


def behind_stub(driver: Driver, high_ohm: float, low_ohm: float) -> tuple[float, float]:
    """Difference and common mode on the trunk of a talker whose stub has these resistances, volts."""
    amps = driver.source_v / (SOUND_OHM + driver.ohm + high_ohm + low_ohm)
    return amps * SOUND_OHM, driver.common_v + 0.5 * amps * (low_ohm - high_ohm)


def over_trunk(driver: Driver, high_ohm: float, low_ohm: float, *, is_beyond: bool) -> tuple[float, float]:
    """Difference and common mode at a probe on one half of a trunk with these resistances in its middle, volts.

    ``is_beyond``: the talker sits on the other half.
    """
    series = high_ohm + low_ohm
    own = across(driver, beside(TERMINATOR_OHM, TERMINATOR_OHM + series))
    if not is_beyond:
        return own, driver.common_v
    amps = own / (TERMINATOR_OHM + series)
    return amps * TERMINATOR_OHM, driver.common_v + 0.5 * amps * (low_ohm - high_ohm)


def low_at_ground(driver: Driver) -> tuple[float, float]:
    """CAN-H and CAN-L while a talker drives a pair whose CAN-L is shorted to ground."""
    upper = 0.5 * driver.ohm
    return min(driver.high_v * SOUND_OHM / (SOUND_OHM + upper), LIMIT_A * SOUND_OHM), 0.0


def high_at_battery(driver: Driver, battery_v: float) -> tuple[float, float]:
    """CAN-H and CAN-L while a talker drives a pair whose CAN-H is shorted to battery."""
    low_v, lower = driver.common_v - 0.5 * driver.source_v, 0.5 * driver.ohm
    amps = min((battery_v - low_v) / (SOUND_OHM + lower), LIMIT_A)
    return battery_v, battery_v - amps * SOUND_OHM


def into_short(driver: Driver, ohm: float, *, volts: float | None = None) -> float:
    """What is left across a short while a talker tries: between the wires, or from one stage to ``volts`` (a rail)."""
    if volts is None:
        both_ohm = beside(SOUND_OHM, ohm)
        return min(across(driver, both_ohm), LIMIT_A * both_ohm)
    lead = (
        abs(driver.high_v - volts)
        if volts < driver.common_v
        else abs(volts - (driver.common_v - 0.5 * driver.source_v))
    )
    return min(lead / (0.5 * driver.ohm + ohm), LIMIT_A) * ohm
