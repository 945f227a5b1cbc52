"""Cells of a text table: numbers as instruments write them, beyond-range marks, units in words."""

import math
import re

NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
NOT_ACQUIRED = {"", "nan", "-nan", "null", "n/a", "#n/a"}
BEYOND_HIGH = {"inf", "+inf", "∞", "+∞", "1.#inf", "overload", "out of range", "****", "9.9e37", "9.9e+37"}
BEYOND_LOW = {"-inf", "-∞", "-1.#inf", "-9.9e37", "-9.9e+37"}

# Spelling in lower case: base unit and factor. Spellings that differ only by case stand in EXACT.
WORDS: dict[str, tuple[str, float]] = {
    "v": ("V", 1.0),
    "volt": ("V", 1.0),
    "volts": ("V", 1.0),
    "vdc": ("V", 1.0),
    "mv": ("V", 1e-3),
    "uv": ("V", 1e-6),
    "µv": ("V", 1e-6),
    "kv": ("V", 1e3),
    "a": ("A", 1.0),
    "amp": ("A", 1.0),
    "amps": ("A", 1.0),
    "ampere": ("A", 1.0),
    "ma": ("A", 1e-3),
    "ua": ("A", 1e-6),
    "µa": ("A", 1e-6),
    "ohm": ("Ω", 1.0),
    "ω": ("Ω", 1.0),
    "kohm": ("Ω", 1e3),
    "s": ("s", 1.0),
    "sec": ("s", 1.0),
    "second": ("s", 1.0),
    "seconds": ("s", 1.0),
    "sekunde": ("s", 1.0),
    "sekunden": ("s", 1.0),
    "segundos": ("s", 1.0),
    "secondes": ("s", 1.0),
    "ms": ("s", 1e-3),
    "us": ("s", 1e-6),
    "µs": ("s", 1e-6),
    "ns": ("s", 1e-9),
    "hz": ("Hz", 1.0),
    "khz": ("Hz", 1e3),
    "mhz": ("Hz", 1e6),
    "db": ("dB", 1.0),
    "dbm": ("dB", 1.0),
    "dbv": ("dB", 1.0),
    "°c": ("°C", 1.0),
    "bar": ("bar", 1.0),
    "%": ("%", 1.0),
    "rpm": ("rpm", 1.0),
    "counts": ("counts", 1.0),
    "adc": ("counts", 1.0),
    "a.u.": ("a.u.", 1.0),
    "bit": ("", 1.0),
}
EXACT: dict[str, tuple[str, float]] = {"MV": ("V", 1e6), "MA": ("A", 1e6), "mHz": ("Hz", 1e-3)}


def unit_of(text: str) -> tuple[str, float] | None:
    """Base unit and factor of a unit's spelling, brackets and blanks stripped; None where it is none."""
    plain = text.strip().strip('"').strip().strip("()[]").strip().replace("μ", "µ")
    return EXACT.get(plain) or WORDS.get(plain.lower())


def name_and_unit(text: str) -> tuple[str, tuple[str, float] | None]:
    """Split a header cell: ``bus (V)``, ``bus[V]``, ``bus in V``, ``"bus" U_1 / V``; the unit None where there is none."""
    plain = text.strip().strip('"').strip()
    bracket = re.fullmatch(r"(.*?)\s*[\(\[]\s*([^\)\]]*)\s*[\)\]]\s*", plain)
    if bracket:
        unit = unit_of(bracket[2])
        if unit is not None:
            return bracket[1].strip(), unit
    for divider in (r"(.*?)\s*\bin\s+(\S+)", r"(.*?)\s+/\s+(\S+)"):
        found = re.fullmatch(divider, plain)
        if found and unit_of(found[2]) is not None:
            return found[1].strip().strip('"'), unit_of(found[2])
    return plain, None


def number_in(text: str, *, comma: bool) -> float | None:
    """A cell's number; not-a-number where not acquired, infinite beyond the range, None where it is none of these."""
    plain = text.strip().strip('"').strip()
    lowered = plain.lower()
    if lowered in NOT_ACQUIRED or set(plain) == {"-"}:
        return math.nan
    if lowered in BEYOND_HIGH:
        return math.inf
    if lowered in BEYOND_LOW:
        return -math.inf
    if comma:
        plain = plain.replace(",", ".")
    return float(plain) if NUMBER.fullmatch(plain) else None


def is_written(text: str, *, comma: bool) -> bool:
    """Whether a cell holds digits of a number (not an empty cell, not a mark)."""
    plain = text.strip().strip('"').strip()
    return bool(NUMBER.fullmatch(plain.replace(",", ".") if comma else plain)) and not (not comma and "," in plain)


def last_digit(text: str, *, comma: bool) -> float:
    """Value of one unit of a number's last written digit."""
    plain = text.strip().strip('"').strip().lower()
    if comma:
        plain = plain.replace(",", ".")
    mantissa, _, exponent = plain.partition("e")
    decimals = len(mantissa.partition(".")[2])
    return float(10.0 ** (int(exponent or 0) - decimals))


def quantity_in(text: str) -> float | None:
    """A preamble value with or without a unit glued to it, in the base unit: ``2.000E-06``, ``20us``, ``250000Hz``."""
    found = re.match(r"\s*([+-]?[\d.]+(?:[eE][+-]?\d+)?)\s*([^\d\s,;]*)", text)
    if not found or not NUMBER.fullmatch(found[1]):
        return None
    unit = unit_of(found[2]) if found[2] else ("", 1.0)
    return float(found[1]) * unit[1] if unit is not None else None
