"""Units of the figures in tables, as the person chose them: one for a whole column, or for each figure what fits."""

from loomlight.signal.quantity import in_words

SCALES = {"ms": 1e3, "s": 1.0, "V": 1.0, "mV": 1e3}
DECIMALS = {"ms": 4, "s": 7, "V": 3, "mV": 0}
_chosen: dict[str, str] = {}


def use_units(*, time: str, volts: str) -> None:
    """Choose units; anything but those of `SCALES` stands for what fits."""
    _chosen.clear()
    _chosen.update({base: unit for base, unit in (("s", time), ("V", volts)) if unit in SCALES})


def in_table(value: float, unit: str, *, digits: int = 3) -> str:
    """A figure for a table: in the chosen unit with the same decimals in each row, else in the one that fits."""
    chosen = _chosen.get(unit)
    if chosen is None:
        return in_words(value, unit, digits=digits)
    return f"{value * SCALES[chosen]:.{DECIMALS[chosen]}f} {chosen}"
