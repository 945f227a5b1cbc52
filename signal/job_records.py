"""What a job notes beside its captures: fault codes, meter readings, photos, parts and labour."""

import math
import re
from dataclasses import dataclass
from typing import Literal

CodeStatus = Literal["", "active", "stored", "pending", "cleared"]
Part = Literal["wire", "component", "control unit", "other"]
CostKind = Literal["part", "labour"]

CODE = re.compile(r"[PCBU][0-3][0-9A-F]{3}(?:[- ]?[0-9A-F]{2})?", re.IGNORECASE)
"""A trouble code as SAE J2012 / ISO 15031-6 write it, with the failure type of ISO 14229 (two more digits) where given."""

PREFIX_FACTORS = {"k": 1e3, "M": 1e6, "m": 1e-3, "µ": 1e-6}
PREFIXED_UNITS = ("V", "A", "Ω", "Hz", "s")


@dataclass(frozen=True)
class ListedCause:
    """One of the causes that a fault code's description lists as possible.

    Attributes
    ----------
    text : str
        As listed: "bus wire to the blower open or resistive".
    part : {"wire", "component", "control unit", "other"}
        Which of the three suspects it names.
    """

    text: str
    part: Part = "other"


@dataclass(frozen=True)
class FaultCode:
    """A trouble code as it was read.

    Attributes
    ----------
    code : str
        As the reader showed it; empty where only a text was noted.
    text : str
        What it stands for.
    when : str
        When it was read, or set, as noted.
    status : {"", "active", "stored", "pending", "cleared"}
        As the reader said it.
    causes : tuple of ListedCause
        What its description lists as possible.
    """

    code: str
    text: str = ""
    when: str = ""
    status: CodeStatus = ""
    causes: tuple[ListedCause, ...] = ()


@dataclass(frozen=True)
class MeterReading:
    """A figure read off a meter and typed in.

    Attributes
    ----------
    place : str
        Where the leads were.
    figure : str
        The number as it was typed, with point or comma.
    unit : str
        As the meter showed it: ``"V"``, ``"mV"``, ``"kΩ"``…
    taken : str
        ISO 8601 time with offset, or empty.
    note : str
        Anything else: "loom moved", "ignition on".
    from_stop, to_stop : int or None
        Between which stops of the wire sketch the leads were; None where that was not said.
    """

    place: str
    figure: str
    unit: str
    taken: str = ""
    note: str = ""
    from_stop: int | None = None
    to_stop: int | None = None

    @property
    def quantity(self) -> tuple[float, str] | None:
        """Value and base unit; None where the figure is no number (yet)."""
        try:
            value = float(self.figure.strip().replace(",", ".").replace("−", "-"))
        except ValueError:
            return None
        if not math.isfinite(value):
            return None
        factor = PREFIX_FACTORS.get(self.unit[:1], 1.0) if self.unit[1:] in PREFIXED_UNITS else 1.0
        return value * factor, self.unit[1:] if factor != 1.0 else self.unit


@dataclass(frozen=True)
class Photo:
    """A photo in the job's ``photos/``, without the place where it was taken."""

    file: str
    caption: str = ""
    sha256: str = ""
    added: str = ""


@dataclass(frozen=True)
class CostLine:
    """One line of parts or labour; quantity and price stay as they were typed.

    Attributes
    ----------
    text : str
        What it is.
    kind : {"part", "labour"}
        Which sum it counts to.
    quantity, price : str
        Decimal numbers with point or comma; the price is for one.
    """

    text: str
    kind: CostKind = "part"
    quantity: str = "1"
    price: str = ""


def codes_in(text: str) -> tuple[FaultCode, ...]:
    """Fault codes from free text, one a line; a line without a code is kept as its text."""
    found = []
    for line in filter(None, map(str.strip, text.splitlines())):
        match = CODE.match(line)
        code = match.group(0) if match else ""
        found.append(FaultCode(code.upper(), line[len(code) :].strip(" \t:,;-–")))
    return tuple(found)
