"""Whether a wheel sensor's signal is strong enough: levels of a switching one, height of a swinging one."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal.examination import Conditions
from loomlight.signal.quantity import in_words
from loomlight.signal.wheel_reading import WheelReading
from loomlight.signal.wheel_settings import HIGH_SHARE, LEAST_HEIGHT, LOW_SHARE, PULL_UP

SUPPLIES = (5.0, 8.0)


@dataclass(frozen=True)
class Weakness:
    """A level or a height that does not keep its limit.

    Attributes
    ----------
    what : {"low", "high", "height"}
        Which.
    value, limit : float
        In the channel's unit.
    text : str
        One sentence with the figures.
    """

    what: str
    value: float
    limit: float
    text: str


def pulled_to(reading: WheelReading, conditions: Conditions) -> tuple[float, str]:
    """What a switching sensor's line is pulled up to, volts, and how that is known."""
    given = conditions.figure(PULL_UP)
    if given is not None:
        return given, "given"
    high = reading.train.high
    options = [*SUPPLIES, *((conditions.supply_v,) if conditions.supply_v is not None else ())]
    fitting = [one for one in sorted(options) if one * 1.06 >= high]
    if not fitting:
        return high, "the level that it rises to"
    return fitting[0], "the nearest usual supply above the level that it rises to"


def weaknesses(reading: WheelReading, conditions: Conditions, unit: str) -> list[Weakness]:
    """What is too weak by itself, without a known-good."""
    if unit != "V":
        return []
    if reading.train.manner == "two levels":
        return _levels(reading, conditions)
    height = least_height(reading)
    limit = conditions.figure(LEAST_HEIGHT)
    if height is None or limit is None or height >= limit:
        return []
    text = (
        f"The sensor gives {in_words(height, 'V')} peak to peak at its weakest; at least {in_words(limit, 'V')} is wanted "
        f"({LEAST_HEIGHT.source})."
    )
    return [Weakness("height", height, limit, text)]


def least_height(reading: WheelReading) -> float | None:
    """Height of a swinging signal where the wheel turned slowest, peak to peak."""
    if not reading.heights.size or not np.isfinite(reading.heights).any():
        return None
    return float(np.nanpercentile(reading.heights, 5.0))


def _levels(reading: WheelReading, conditions: Conditions) -> list[Weakness]:
    train = reading.train
    supply, known = pulled_to(reading, conditions)
    low_limit, high_limit = ((conditions.figure(one) or 0.0) * supply for one in (LOW_SHARE, HIGH_SHARE))
    found = []
    if train.low > low_limit:
        text = (
            f"The sensor pulls the line down to {train.low:.2f} V only; at most {low_limit:.2f} V is wanted "
            f"({conditions.figure(LOW_SHARE):g} of {supply:.3g} V, {known})."
        )
        found.append(Weakness("low", train.low, low_limit, text))
    if train.high < high_limit:
        text = (
            f"The line rises to {train.high:.2f} V only; at least {high_limit:.2f} V is wanted "
            f"({conditions.figure(HIGH_SHARE):g} of {supply:.3g} V, {known})."
        )
        found.append(Weakness("high", train.high, high_limit, text))
    return found
