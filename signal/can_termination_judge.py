"""A CAN pair with a terminator too few or too many, by its levels or against the known-good."""

import math

from loomlight.signal.can_case import CanCase
from loomlight.signal.can_limits import DIFFERENCE_V, METER_V
from loomlight.signal.can_termination import Ohms, against_good, from_levels, usual_difference
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Verdict

MISSING_OHM, TOO_MANY_OHM = 80.0, 52.0
"""The whole interval beyond these is not two terminators of 120 Ω."""
TERMINATION = (
    "Power off, measure between CAN-H and CAN-L: 60 Ω belong there; then look for the terminators at both ends."
)


def termination_off(case: CanCase) -> Verdict | None:
    """More or less between the wires than two terminators: against the known-good, else by the levels alone."""
    pair, other = case.pair, case.good_pair
    usual = usual_difference(pair)
    held = against_good(pair, other, case.held) if other is not None else None
    alone = from_levels(pair)
    if held is not None and held.low > MISSING_OHM:
        return _missing(held, usual)
    if held is not None and held.high < TOO_MANY_OHM:
        return _too_many(held, usual)
    if usual > DIFFERENCE_V[1] + METER_V:
        return _missing(held or alone, usual)
    volts = [one.difference_v for one in pair.signatures if math.isfinite(one.difference_v)]
    if volts and min(volts) < DIFFERENCE_V[0] - METER_V:
        return _too_many(held or alone, usual)
    return None


def _missing(ohms: Ohms | None, usual: float) -> Verdict:
    level = f"the talkers bring the pair to {usual:.2f} V" if math.isfinite(usual) else "the wire swings wider"
    return Verdict(
        "faulty",
        "open",
        (
            f"One terminator is missing: {level}, which {_in_ohms(ohms)}; two of 120 Ω make 60 Ω.",
            "The pair is driven harder, comes back to rest later, and rings more; on a short bus it may still run.",
        ),
        next_step=TERMINATION,
        picture="one terminator missing",
    )


def _too_many(ohms: Ohms | None, usual: float) -> Verdict:
    level = (
        f"all talkers bring the pair to {usual:.2f} V only"
        if math.isfinite(usual)
        else "the wire swings less with all talkers"
    )
    return Verdict(
        "faulty",
        "resistive",
        (
            f"A terminator too many, or a partial short between the wires: {level}, which {_in_ohms(ohms)}; two of "
            "120 Ω make 60 Ω.",
            "A low supply of all transceivers would lower them alike too: it is the one other cause to rule out.",
        ),
        next_step=TERMINATION,
        picture="one terminator too many",
    )


def _in_ohms(ohms: Ohms | None) -> str:
    if ohms is None:
        return "is too little or too much for 60 Ω"
    high = in_words(ohms.high, "Ω", digits=2) if ohms.high < 2000 else "open"
    return f"fits {ohms.low:.0f} Ω to {high} between the wires ({ohms.rests_on})"
