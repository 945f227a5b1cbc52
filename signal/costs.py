"""Parts and labour added up, to the cent."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

from loomlight.signal.job_records import CostLine

CENT = Decimal("0.01")
LARGEST = Decimal(10) ** 9


@dataclass(frozen=True)
class Costs:
    """Sums of a job.

    Attributes
    ----------
    lines : tuple of Decimal or None
        Sum of each line; None where its quantity or price is no number yet.
    parts, labour, tax, total : Decimal
        To the cent, halves rounded up.
    open_lines : int
        Lines that are not in the sums because a number is missing.
    """

    lines: tuple[Decimal | None, ...]
    parts: Decimal
    labour: Decimal
    tax: Decimal
    total: Decimal

    @property
    def open_lines(self) -> int:
        """How many lines lack a number and are left out of the sums."""
        return sum(line is None for line in self.lines)


def costs_of(lines: tuple[CostLine, ...], tax_percent: str = "") -> Costs:
    """Add up the lines.

    Parameters
    ----------
    lines : tuple of CostLine
        As typed.
    tax_percent : str
        Added on the sum of all lines; empty for none, and taken as none where it is no number.
    """
    sums = tuple(_sum(line) for line in lines)
    parts = _added(sums, lines, "part")
    labour = _added(sums, lines, "labour")
    rate = number_in(tax_percent) or Decimal(0)
    tax = _cents((parts + labour) * rate / 100)
    return Costs(sums, parts, labour, tax, parts + labour + tax)


def number_in(text: str) -> Decimal | None:
    """A decimal number as typed, with point or comma; None where it is none, below 0, or beyond all reason."""
    try:
        value = Decimal(text.strip().replace(",", "."))
    except InvalidOperation:
        return None
    return value if value.is_finite() and 0 <= value < LARGEST else None


def _sum(line: CostLine) -> Decimal | None:
    quantity, price = number_in(line.quantity), number_in(line.price)
    return None if quantity is None or price is None else _cents(quantity * price)


def _added(sums: tuple[Decimal | None, ...], lines: tuple[CostLine, ...], kind: str) -> Decimal:
    found = (one for one, line in zip(sums, lines, strict=True) if line.kind == kind and one is not None)
    return _cents(sum(found, Decimal(0)))


def _cents(value: Decimal) -> Decimal:
    return value.quantize(CENT, rounding=ROUND_HALF_UP)
