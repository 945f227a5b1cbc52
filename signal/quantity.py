"""Quantities in words, with SI prefixes."""

import math

PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"))


PREFIXED = ("V", "A", "Ω", "s", "Hz", "F", "H")
"""Units that take a prefix; "counts", "°C" or "a.u." do not."""


def in_words(value: float | None, unit: str, *, digits: int = 3) -> str:
    """A quantity as a person writes it: ``2.3 kΩ``, ``45 µs``, "not known", "no upper bound".

    Parameters
    ----------
    value : float or None
        In the base unit; None: not known; infinity: no bound.
    unit : str
        Base unit; empty for a plain number.
    digits : int
        Significant digits.
    """
    if value is None or math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "no upper bound" if value > 0 else "no lower bound"
    rounded = float(f"{value:.{digits}g}")
    if rounded == 0 or unit not in PREFIXED:
        shown = f"{rounded:.{digits}g}"
        shown = f"{rounded:.0f}" if "e+" in shown and abs(rounded) < 1e12 else shown
        return f"{shown} {unit}".strip()
    fitting = (one for one in PREFIXES if abs(rounded) >= one[0] * (1 - 1e-12))
    factor, prefix = next(fitting, PREFIXES[-1])
    shown = f"{rounded / factor:.{digits}g}"
    if "e" in shown:
        shown = f"{rounded / factor:.0f}"
    return f"{shown} {prefix}{unit}"
