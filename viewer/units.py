"""Units of the figures on screen, as the person chose them: one for all of a sort, or for each figure what fits.

What a verdict says and what a report prints is written elsewhere, each figure in the unit that fits it.
"""

import math

from loomlight.signal.quantity import in_words

SCALES = {"ms": 1e3, "s": 1.0, "V": 1.0, "mV": 1e3}
DECIMALS = {"ms": 4, "s": 7, "V": 3, "mV": 0}
MOST_DECIMALS = 12
_chosen: dict[str, str] = {}


def use_units(*, time: str, volts: str) -> None:
    """Choose units; anything but those of `SCALES` stands for what fits."""
    _chosen.update({"s": time, "V": volts})


def _unit_for(base: str) -> str | None:
    chosen = _chosen.get(base, "")
    return chosen if chosen in SCALES else None


def prefix_for(base: str) -> str | None:
    """The chosen prefix of a base unit: "m", "" or None for what fits."""
    chosen = _unit_for(base)
    return None if chosen is None else chosen.removesuffix(base)


def in_table(value: float, unit: str, *, digits: int = 3) -> str:
    """A figure for a table: in the chosen unit with the same decimals in each row, else in the one that fits."""
    chosen = _unit_for(unit)
    if chosen is None:
        return in_words(value, unit, digits=digits)
    return f"{value * SCALES[chosen]:.{DECIMALS[chosen]}f} {chosen}"


def on_screen(value: float | None, unit: str, *, digits: int = 3) -> str:
    """A figure that stands for itself: so many digits, in the chosen unit or in the one that fits."""
    chosen = _unit_for(unit)
    if chosen is None or value is None or not math.isfinite(value):
        return in_words(value, unit, digits=digits)
    shown = float(f"{value * SCALES[chosen]:.{digits}g}")
    if shown == 0:
        return f"0 {chosen}"
    decimals = min(max(digits - 1 - math.floor(math.log10(abs(shown))), 0), MOST_DECIMALS)
    text = f"{shown:.{decimals}f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} {chosen}"
