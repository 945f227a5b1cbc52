"""A vehicle identification number: is it written right?"""

from dataclasses import dataclass
from typing import Literal

LENGTH = 17
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
"""Weight of each place (49 CFR 565.15, table IV; from memory)."""
CHECK_PLACE = 8
NORTH_AMERICA = "12345"
"""First sign of numbers given out in North America, where the check digit is prescribed (ISO 3780; 49 CFR 565)."""
VALUES = {
    **{digit: int(digit) for digit in "0123456789"},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    **{"P": 7, "R": 9},
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
"""Each sign's value (49 CFR 565.15, table III; from memory); I, O and Q do not occur (ISO 3779)."""

VinState = Literal["right", "wrong", "not checked", "empty"]


@dataclass(frozen=True)
class VinCheck:
    """What can be said about a number as written.

    Attributes
    ----------
    state : {"right", "wrong", "not checked", "empty"}
        "right": the check digit fits. "not checked": well formed, but its market prescribes no check digit.
    text : str
        One sentence for the user; empty for an empty number.
    """

    state: VinState
    text: str


def check_vin(written: str) -> VinCheck:
    """Check a number's form, and its check digit where its market prescribes one.

    Parameters
    ----------
    written : str
        As typed; blanks and dashes between the signs do not count, small letters count as capitals.
    """
    number = plain_vin(written)
    if not number:
        return VinCheck("empty", "")
    strange = [(place, sign) for place, sign in enumerate(number, start=1) if sign not in VALUES]
    if strange:
        place, sign = strange[0]
        hint = {"I": "1", "O": "0", "Q": "0 or 9"}.get(sign)
        more = f"; it may be {hint}" if hint else ""
        return VinCheck("wrong", f"Sign {place} is {sign!r}, which no identification number holds{more}.")
    if len(number) != LENGTH:
        return VinCheck("wrong", f"It has {len(number)} signs, an identification number has {LENGTH}.")
    wanted = check_digit(number)
    if number[CHECK_PLACE] == wanted:
        return VinCheck("right", f"The check digit (sign 9, {wanted}) fits.")
    if number[0] in NORTH_AMERICA:
        return VinCheck(
            "wrong", f"The check digit (sign 9) is {number[CHECK_PLACE]}, the others make {wanted}: look again."
        )
    return VinCheck("not checked", "Well formed; its market prescribes no check digit, so a slip cannot be seen.")


def plain_vin(written: str) -> str:
    """The number's signs alone, in capitals."""
    return "".join(written.upper().replace("-", " ").split())


def check_digit(number: str) -> str:
    """The check digit that the other sixteen signs make: sum of value times weight, modulo 11, X for 10.

    Parameters
    ----------
    number : str
        17 signs, all of them in `VALUES`; the ninth does not count.
    """
    rest = sum(VALUES[sign] * weight for sign, weight in zip(number, WEIGHTS, strict=True)) % 11
    return "X" if rest == 10 else str(rest)
