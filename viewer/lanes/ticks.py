"""Where axis ticks stand and what they say."""

import math
from dataclasses import dataclass
from functools import lru_cache

PREFIXES = ((1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"))
CHOSEN_PREFIXES = {"k": 1e3, "": 1.0, "m": 1e-3, "µ": 1e-6}
PREFIXED_UNITS = ("V", "A", "Ω", "s")


@dataclass(frozen=True)
class Ticks:
    """Ticks of one axis.

    Attributes
    ----------
    places : tuple of float
        In the axis's base unit.
    texts : tuple of str
        One each; no two are the same.
    unit : str
        What the texts are in, prefix included.
    """

    places: tuple[float, ...]
    texts: tuple[str, ...]
    unit: str


@lru_cache(maxsize=64)  # the values' axis is the same in every frame of a moving view
def ticks(
    low: float, high: float, *, most: int, unit: str = "", prefixed: bool = False, prefix: str | None = None
) -> Ticks:
    """Ticks in steps of 1, 2 or 5 times a power of ten.

    Parameters
    ----------
    low, high : float
        The axis's ends.
    most : int
        At most this many ticks.
    unit : str
        Base unit.
    prefixed : bool
        Whether the unit takes a prefix that fits the step (for times).
    prefix : str, optional
        Of a prefixed unit, where it was chosen: one of `CHOSEN_PREFIXES`.
    """
    span = high - low
    if not (math.isfinite(span) and span > 0) or most < 1:
        return Ticks((), (), unit)
    # A step that the numbers themselves cannot resolve would write the same text twice.
    step = _step(max(span / most, 8.0 * math.ulp(max(abs(low), abs(high)))))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    numbers = range(first, min(last, first + most + 1) + 1)
    factor, prefix = _prefix(max(abs(low), abs(high)), step, prefix) if prefixed else (1.0, "")
    decimals = max(0, math.ceil(-math.log10(step / factor) - 1e-9))
    places = tuple(number * step for number in numbers)
    texts = tuple(_text(number * step / factor, decimals) for number in numbers)
    return Ticks(places, texts, prefix + unit)


def _step(least: float) -> float:
    power = 10.0 ** math.floor(math.log10(least))
    for share in (1.0, 2.0, 5.0, 10.0):
        if share * power >= least * (1 - 1e-9):
            return share * power
    return 10.0 * power


def _prefix(largest: float, step: float, chosen: str | None) -> tuple[float, str]:
    """The prefix of the largest value, as long as it leaves a step readable (no more than four decimals)."""
    if chosen in CHOSEN_PREFIXES:
        return CHOSEN_PREFIXES[chosen], chosen
    for factor, prefix in PREFIXES:
        if largest >= factor * (1 - 1e-9) and step >= 1e-4 * factor:
            return factor, prefix
    fitting = [one for one in PREFIXES if step >= 1e-4 * one[0]]
    return fitting[0] if fitting else PREFIXES[-1]


def _text(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text[1:] if text.startswith("-") and float(text) == 0 else text
