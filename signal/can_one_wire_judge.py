"""One wire of a CAN pair that leaves its levels: what it tells alone, and what it does not."""

from loomlight.signal.can_case import CanCase
from loomlight.signal.can_odd_talkers import beyond_one_wire, never_driven
from loomlight.signal.verdict import Verdict


def one_wire_off(case: CanCase) -> Verdict | None:
    """Identifiers that leave the limits of the one wire that was recorded."""
    beyond = beyond_one_wire(case.pair)
    if not beyond:
        return both_ways(case)
    form, total = case.pair.wires.form, len(case.pair.signatures)
    name, volts, limit = max(beyond, key=lambda one: abs(one[1] - one[2]))
    who = (
        "all identifiers"
        if len(beyond) == total
        else f"{len(beyond)} of {total} identifiers ({', '.join(one[0] for one in beyond[:4])})"
    )
    picture = "" if len(beyond) == total else "weak node" if (volts < limit) == (form == "CAN-H") else ""
    return Verdict(
        "faulty",
        "unknown",
        (
            f"{form} leaves its limits with {who}: {name} stands at {volts:.2f} V where {limit:g} V is the limit.",
            "One wire alone does not tell a weak driver, a resistance, and an offset of that node's ground apart.",
        ),
        next_step="Record both wires against ground.",
        picture=picture,
    )


def both_ways(case: CanCase) -> Verdict | None:
    """One wire alone that leaves its rest in both directions: an open wire or exchanged wires do that."""
    rest, form = case.pair.wires.rest, case.pair.wires.form
    if form not in ("CAN-H", "CAN-L") or rest is None or min(rest.above_share, rest.below_share) < 0.01:
        return None
    if min(rest.above_v - rest.rest_v, rest.rest_v - rest.below_v) < 0.5:
        return None
    sign = -1.0 if form == "CAN-L" else 1.0
    levels = sorted(sign * one for one in (rest.below_v, rest.rest_v, rest.above_v))
    shown = ", ".join(f"{one:.2f}" for one in levels)
    return Verdict(
        "faulty",
        "unknown",
        (
            f"{form} stands at three levels ({shown} V); a sound one has two.",
            "Some node moves it the wrong way: the other wire is open between here and there, or that node's wires "
            "are exchanged. One wire alone does not tell which.",
        ),
        next_step="Record both wires against ground.",
    )


def brought_too_far(case: CanCase) -> Verdict | None:
    """A wire without a readable frame that is brought where no sound node brings it."""
    found = never_driven(case.pair)
    if found is None or abs(case.pair.rest_v - 2.5) > 1.3:
        return None
    form = case.pair.wires.form
    return Verdict(
        "faulty",
        "unknown",
        (
            f"{form} is brought to {found[0]:.2f} V again and again, where no sound node brings it ({found[1]:g} V is "
            "the limit), and no frame can be read off it.",
            "A node's ground is off, its wires are exchanged, or the other wire is open: one wire alone does not tell which.",
        ),
        next_step="Record both wires against ground.",
    )
