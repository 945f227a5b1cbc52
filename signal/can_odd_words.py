"""Verdicts on talkers that stand apart: a joint before them, a weak driver, an offset of their ground."""

from loomlight.signal.can_odd_talkers import Odd
from loomlight.signal.can_termination import in_series
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Verdict

RAISED = 1.06
"""Of their known-good level: the others do not see the whole termination any more; less may be two captures' gain."""


def _who(odd: Odd) -> str:
    names = ", ".join(odd.names[:6]) + (" …" if len(odd.names) > 6 else "")
    return f"{names} ({len(odd.names)} of {odd.of} identifiers)"


def _compared(odd: Odd) -> str:
    return "the pair rests" if len(odd.names) == odd.of else "the others bring them"


def joint(odd: Odd) -> Verdict:
    """Weak talkers: resistance in one wire, in both, or a weak driver."""
    ohms = in_series(odd.level_v, odd.usual_v)
    interval = f"{in_words(ohms.low, 'Ω', digits=2)} to {in_words(ohms.high, 'Ω', digits=2)}"
    reasons = [f"{_who(odd)}: the pair reaches {odd.level_v:.2f} V where {odd.usual_v:.2f} V belong (at least 1.5 V)."]
    leg = odd.one_leg
    if leg:
        way = "falls" if leg == "CAN-H" else "rises"
        reasons.append(
            f"The common mode {way} by {abs(odd.common_v):.2f} V with it: the loss is in {leg} alone, {interval} in series."
        )
    else:
        reasons.append(
            "The common mode stays: either both wires lost alike, or the node's driver gives less (its supply, its transceiver). "
            f"As a resistance it would be {interval} in both wires together."
        )
    several = odd.talkers >= 2
    if several:
        reasons.append(
            f"At least {odd.talkers} nodes are weak alike, so what they share lies in the trunk, not in one stub."
        )
    if odd.others_share > RAISED:
        reasons.append(
            f"The others stand at {odd.others_share:.2f} of their known-good level: the resistance takes part of the "
            "termination from them, so it lies in the trunk."
        )
    if several or odd.others_share > RAISED:
        picture, step = (
            "series resistance in the trunk",
            "Wiggle and measure the trunk's joints between the weak nodes and the others, connector by connector.",
        )
    elif leg:
        picture, step = (
            "series resistance in a stub",
            f"Measure {leg} of that node's stub from its connector to the splice; look for a corroded or pushed-back pin.",
        )
    else:
        picture, step = (
            "weak node",
            "Check that node's supply and ground under load, then its connector; if both are sound, its transceiver is weak.",
        )
    sure = bool(leg) or several
    return Verdict(
        "faulty",
        "resistive" if sure else "unknown",
        tuple(reasons),
        next_step=step,
        series_ohm=ohms.best if sure else None,
        series_ohm_low=ohms.low if sure else None,
        series_ohm_high=ohms.high if sure else None,
        picture=picture,
    )


def stronger(odd: Odd) -> Verdict:
    """Talkers that stand too high at this probe."""
    return Verdict(
        "faulty",
        "resistive",
        (
            f"{_who(odd)}: the pair reaches {odd.level_v:.2f} V where the others bring it to {odd.usual_v:.2f} V and "
            "3.0 V is the most.",
            "That talker does not see both terminators: a resistance lies between it, with this probe, and the rest of the bus.",
        ),
        next_step="Measure both wires of this stub from the connector to the splice.",
        picture="series resistance in a stub",
    )


def shifted(odd: Odd) -> Verdict:
    """Talkers whose two wires stand off together."""
    way = "above" if odd.common_v > 0 else "below"
    return Verdict(
        "faulty",
        "resistive",
        (
            f"{_who(odd)}: both wires stand {abs(odd.common_v):.2f} V {way} where {_compared(odd)}, and the "
            f"difference is sound ({odd.level_v:.2f} V).",
            "The node's ground is off by that much: a resistance in its ground wire while it draws current, or a "
            "ground point that is shared with a large load. ISO 16750-2 tests nodes with 1 V of offset (from memory).",
        ),
        next_step="Measure from that node's ground pin to battery negative, all of it switched on: more than 0.1 V is too much.",
        picture="ground offset of a node",
    )
