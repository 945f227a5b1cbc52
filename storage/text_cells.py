"""Cells of a text table: numbers as instruments write them, beyond-range marks, units in words."""

import math
import re
from datetime import UTC, datetime

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
    "ohms": ("Ω", 1.0),
    "kohm": ("Ω", 1e3),
    "kω": ("Ω", 1e3),
    "mω": ("Ω", 1e-3),
    "ka": ("A", 1e3),
    "w": ("W", 1.0),
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
    "sa/s": ("Hz", 1.0),
    "ksa/s": ("Hz", 1e3),
    "msa/s": ("Hz", 1e6),
    "gsa/s": ("Hz", 1e9),
    "counts": ("counts", 1.0),
    "adc": ("counts", 1.0),
    "a.u.": ("a.u.", 1.0),
    "bit": ("", 1.0),
}
EXACT: dict[str, tuple[str, float]] = {
    "MV": ("V", 1e6),
    "MA": ("A", 1e6),
    "mHz": ("Hz", 1e-3),
    "MΩ": ("Ω", 1e6),
    "MOhm": ("Ω", 1e6),
}
BARE_LETTERS = {"v", "a", "w"}
"""Lower-case letters that are a column's name rather than a unit, unless they stand in brackets."""


def unit_of(text: str) -> tuple[str, float] | None:
    """Base unit and factor of a unit's spelling, brackets and blanks stripped; None where it is none."""
    quoted = quoted_away(text)
    plain = quoted.strip("()[]").strip().replace("μ", "µ").replace("\u2126", "Ω")
    if quoted in BARE_LETTERS:
        return None
    return EXACT.get(plain) or WORDS.get(plain.lower())


def quoted_away(text: str) -> str:
    """A cell without its quotes and the blanks around it."""
    return text.strip().strip('"').strip()


WITH_SYMBOL = re.compile(r'(?:\w+=)?"([^"]+)"\s*[^\s"]*\s*/\s*(\S+)')
IN_BRACKETS = re.compile(r"(.*?)\s*[\(\[]\s*([^\(\)\[\]]*?)\s*[\)\]]")
BEHIND_A_WORD = (
    re.compile(r"(.*?)\s*\bin\s+(\S+)"),
    re.compile(r"(.*?)\s+/\s+(\S+)"),
    re.compile(r"([UuIiTt]\w*)/([^\s/]+)"),
)
AT_THE_END = re.compile(r"(.*\w)_(mV|uV|kV|mA|kA|volts?|amps?)")
TIME_AT_THE_END = re.compile(r"((?:time|t|zeit|timestamp|elapsed)(?:_\w+)?)_(s|ms|us|ns|sec|seconds)", re.IGNORECASE)
LONG_TIMES = {"min": ("s", 60.0), "h": ("s", 3600.0)}
"""Units of a time only: elsewhere they are a minimum, or a name."""
TIME_WORD = re.compile(r"time|t|zeit|elapsed|elapsed time", re.IGNORECASE)


def written_unit_in(text: str) -> str:
    """The unit that a header cell carries, as it is written, known or not; empty where there is none."""
    return _split(text)[1]


def name_and_unit(text: str) -> tuple[str, tuple[str, float] | None]:
    """Split a header cell: ``bus (V)``, ``bus[V]``, ``bus in V``, ``U/V``, ``bus_V``, ``"bus" U_1 / V``; the unit None where
    there is none that is known."""
    name, written = _split(text)
    unit = _known(name, written) if written else None
    return (name, unit) if unit is not None else (quoted_away(text), None)


def _split(text: str) -> tuple[str, str]:
    """Name and written unit of a header cell; a unit in brackets may be an unknown one."""
    symbol = WITH_SYMBOL.fullmatch(text.strip())
    if symbol:
        return symbol[1].strip(), symbol[2]
    plain = quoted_away(text)
    bracket = IN_BRACKETS.fullmatch(plain)
    if bracket:
        name, unit = bracket[1].strip(), bracket[2]
        is_unit = unit.lower() not in ("min", "max") and not unit.isdecimal() and len(unit) < 8
        return (name, unit) if is_unit or _known(name, unit) else (plain, "")
    for pattern in (*BEHIND_A_WORD, AT_THE_END, TIME_AT_THE_END):
        found = pattern.fullmatch(plain)
        if found and unit_of(found[2]) is not None:
            return found[1].strip().strip('"'), found[2]
    return plain, ""


def _known(name: str, written: str) -> tuple[str, float] | None:
    if written.lower() in LONG_TIMES and TIME_WORD.fullmatch(name):
        return LONG_TIMES[written.lower()]
    return unit_of(f"({written})")


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
        plain = plain.rstrip(" ").replace(",", ".") if not plain.endswith(",") else ""
    return float(plain) if NUMBER.fullmatch(plain) else None


def is_written(text: str, *, comma: bool) -> bool:
    """Whether a cell holds digits of a number (not an empty cell, not a mark)."""
    plain = quoted_away(text)
    if comma and plain.endswith(","):
        return False
    return bool(NUMBER.fullmatch(plain.replace(",", ".") if comma else plain))


def digit_of(cells: list[str], largest: float, *, comma: bool) -> float:
    """Value of one unit of the last written digit, at the largest value, told from some of a column's cells.

    Where all cells have the same number of decimals and no exponent, that number holds everywhere. Otherwise the most
    significant digits of any cell hold: writers drop trailing zeros, and a bare ``0`` says nothing.

    Parameters
    ----------
    cells : list of str
        Some cells of the column.
    largest : float
        Greatest magnitude in the column, in the file's unit.
    comma : bool
        Decimal comma.
    """
    plain = [quoted_away(cell).lower().replace(",", ".") if comma else quoted_away(cell).lower() for cell in cells]
    written = [cell for cell in plain if NUMBER.fullmatch(cell)]
    decimals = {len(cell.partition(".")[2]) for cell in written if "e" not in cell}
    if len(decimals) == 1 and not any("e" in cell for cell in written):
        return float(10.0 ** -decimals.pop())
    mantissas = [cell.partition("e")[0].lstrip("+-").replace(".", "").lstrip("0") for cell in written]
    significant = max((len(mantissa) for mantissa in mantissas), default=0)
    if not significant or largest <= 0:
        return 0.0
    return float(10.0 ** (math.floor(math.log10(largest)) + 1 - significant))


CLOCK = re.compile(
    r"(?:(?:(\d{1,2})\.(\d{1,2})\.(\d{4}|\d{2})|(\d{4})[-/](\d{1,2})[-/](\d{1,2})|(\d{1,2})/(\d{1,2})/(\d{4}))[ T]+)?"
    r"(\d{1,2}):(\d{2}):(\d{2})(?:[.,](\d+))?\s*([AaPp][Mm])?(?:Z|[+-]\d{2}:?\d{2})?"
)

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
MONTH_NAME = re.compile(rf"(\d{{1,2}})[- ]({'|'.join(MONTHS)})[a-z]*[- ](\d{{4}}|\d{{2}})(?!\d)", re.IGNORECASE)
SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/\d{4}")


def _named_month(found: re.Match[str]) -> str:
    year = found[3] if len(found[3]) == 4 else f"20{found[3]}"
    return f"{found[1]}.{MONTHS.index(found[2].lower()) + 1}.{year}"


def is_month_first(cells: list[str]) -> bool | None:
    """Whether dates with slashes have the month first: told by a part above 12; None where none is."""
    parts = [found.groups() for cell in cells if (found := SLASHED.match(quoted_away(cell)))]
    if any(int(second) > 12 for _, second in parts):
        return True
    return False if not parts or any(int(first) > 12 for first, _ in parts) else None


def clock_s(text: str, *, month_first: bool = False) -> float | None:
    """Seconds since 1970 of a date with a time of day, or since midnight of a time of day; None where it is neither.

    A time zone is not counted. Dots mean the day first, dashes and slashes behind the year mean the month first; with
    slashes and the year last it is as said. Months may be written as three letters.
    """
    plain = MONTH_NAME.sub(_named_month, quoted_away(text))
    found = CLOCK.fullmatch(plain)
    if not found:
        return None
    parts = found.groups()
    hour = int(parts[9]) % 12 + 12 * (parts[13].lower() == "pm") if parts[13] else int(parts[9])
    try:
        moment = datetime(*_date(parts, month_first), hour, int(parts[10]), int(parts[11]), tzinfo=UTC)
    except ValueError:
        return None
    return moment.timestamp() + (float(f"0.{parts[12]}") if parts[12] else 0.0)


def _date(parts: tuple[str, ...], month_first: bool) -> tuple[int, int, int]:
    """Year, month and day of a clock's parts; the first day of 1970 where it tells the time of day only."""
    if parts[0]:
        day, month, year = (int(part) for part in parts[:3])
        return (year if year > 99 else 2000 + year), month, day
    if parts[3]:
        year, month, day = (int(part) for part in parts[3:6])
        return year, month, day
    if parts[6]:
        day, month, year = (int(part) for part in parts[6:9])
        return (year, day, month) if month_first else (year, month, day)
    return 1970, 1, 1


def decimals_of_clock(text: str) -> int:
    """How many decimals of a second a clock shows."""
    found = CLOCK.fullmatch(MONTH_NAME.sub(_named_month, quoted_away(text)))
    return len(found[13]) if found and found[13] else 0


def quantity_in(text: str) -> float | None:
    """A preamble value with or without a unit glued to it, in the base unit: ``2.000E-06``, ``20us``, ``250000Hz``."""
    text = re.sub(r"^\w+:", "", text.strip())
    found = re.fullmatch(r"\s*([+-]?[\d.]+(?:[eE][+-]?\d+)?)\s*([^\d\s,;]*)\s*", text)
    if not found or not NUMBER.fullmatch(found[1]):
        return None
    unit = unit_of(found[2]) if found[2] else ("", 1.0)
    value = float(found[1]) * unit[1] if unit is not None else math.inf
    return value if math.isfinite(value) else None  # 1E+500 was spoilt, or is no quantity
