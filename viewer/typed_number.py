"""Numbers as people type them: decimal comma or point, with or without the unit behind."""

import math

from loomlight.signal.errors import LoomlightError


def typed_number(text: str, what: str, *, unit: str = "", example: str) -> float | None:
    """The number in a field; None where nothing was typed.

    Raises
    ------
    LoomlightError
        If it is no finite number: which field, what stands there, an example of what is wanted.
    """
    plain = text.strip().replace("−", "-")
    if unit:
        plain = plain.removesuffix(unit)
    plain = plain.strip().replace(",", ".")
    if not plain:
        return None
    try:
        value = float(plain)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise LoomlightError(f"{what}: {text.strip()!r} is no number. Type one such as {example}.")
    return value
