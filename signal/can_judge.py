"""What the levels, frames and oddities of a CAN pair mean."""

import math
from dataclasses import replace

import numpy as np

from loomlight.signal.can_case import CanCase
from loomlight.signal.can_limits import DIFFERENCE_V, METER_V
from loomlight.signal.can_odd_talkers import (
    apart,
    beyond_one_wire,
    never_driven,
    shifted_talkers,
    strong_talkers,
    weak_talkers,
)
from loomlight.signal.can_odd_words import joint, shifted, stronger
from loomlight.signal.can_oddities import REVERSED_V
from loomlight.signal.can_quiet import ASLEEP_V, judge_quiet, short
from loomlight.signal.can_talker_edges import odd_edge
from loomlight.signal.can_termination import Ohms, against_good, from_levels, usual_difference
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Verdict

FEWEST_REVERSED, FEWEST_TOGETHER = 6, 3
MISSING_OHM, TOO_MANY_OHM = 80.0, 52.0
"""The whole interval beyond these is not two terminators of 120 Ω."""
FRESH_SHARE = 0.05
"""Of the tails: where a node's ground is off, each of its dominant bits leaves one, and a few look like a beginning."""
BIASED_V = (1.2, 3.8)
"""A pair that rests beyond is held by something else."""
ERROR_SHARE = 0.02
FEWEST_BROKEN = 3
"""Fewer broken frames may be one disturbance (common practice, no source)."""
TERMINATION = (
    "Power off, measure between CAN-H and CAN-L: 60 Ω belong there; then look for the terminators at both ends."
)


def judge_can(case: CanCase) -> Verdict:
    """Soundness first, then what no sound pair shows, then levels by talker, then the known-good, then errors."""
    if case.suspect.doubts:
        doubts = case.suspect.doubts
        return Verdict("cannot tell", "unknown", tuple(one.text for one in doubts), next_step=doubts[0].do)
    for judge in (
        _reversed,
        _held,
        _together,
        _nothing_read,
        _one_wire,
        _shift,
        _strong,
        _weak,
        _termination,
        _unheard,
    ):
        found = judge(case)
        if found is not None:
            return replace(found, reasons=(*found.reasons, *_caveats(case)))
    found = _errors(case) or _clean(case)
    return replace(found, reasons=(*found.reasons, *_caveats(case)))


def _reversed(case: CanCase) -> Verdict | None:
    odd = case.pair.odd
    if len(odd.reversed_s) < FEWEST_REVERSED:
        return None
    usual = usual_difference(case.pair)
    others = f" while others bring it to {usual:+.2f} V" if usual > 0 else ""
    return Verdict(
        "faulty",
        "unknown",
        (
            f"In {len(odd.reversed_s)} stretches CAN-L stands {-odd.reversed_v:.2f} V above CAN-H{others}: a node drives the "
            f"pair the wrong way round; any receiver on the right wires takes that for recessive (it wants {REVERSED_V:.1f} V).",
            "That node hears nobody, sends into the others' frames, and is acknowledged by none.",
        ),
        next_step="Find the node whose connector has CAN-H and CAN-L exchanged, often the one repaired last: unplug one after "
        "the other until the wrong pulses are gone.",
        picture="wires swapped",
    )


def _held(case: CanCase) -> Verdict | None:
    """A wire that is held at a rail while frames still come through."""
    pair = case.pair
    high, low = pair.high_rest, pair.low_rest
    if pair.frames_read == 0:
        return None
    if high is None or low is None:
        return _one_held(case)
    if low.rest_v < ASLEEP_V and high.rest_v < ASLEEP_V + 0.3:
        level = float(np.median([one.low_v for one in pair.signatures])) if pair.signatures else low.rest_v
        return short(
            "CAN-L shorted to ground",
            "ground",
            (
                f"CAN-L stays at {low.rest_v:.2f} V recessive and {level:.2f} V dominant where 2.0 to 3.0 V and 0.5 "
                "to 2.25 V belong.",
                f"CAN-H falls to {high.rest_v:.2f} V between bits, pulled down through the terminators, and rises when dominant: "
                "frames still get through, with the common mode off.",
            ),
        )
    if min(high.rest_v, low.rest_v) > 4.0:
        level = float(np.median([one.high_v for one in pair.signatures])) if pair.signatures else high.rest_v
        return short(
            "CAN-H shorted to battery",
            "battery",
            (
                f"CAN-H stays at {high.rest_v:.2f} V recessive and {level:.2f} V dominant, where 2.0 to 3.0 V and "
                "2.75 to 4.5 V belong.",
                f"CAN-L rests at {low.rest_v:.2f} V, pulled up through the terminators, and dips when dominant.",
            ),
        )
    return None


def _one_held(case: CanCase) -> Verdict | None:
    pair = case.pair
    if pair.wires.form == "CAN-H" and pair.rest_v < ASLEEP_V + 0.3:
        return short(
            "CAN-L shorted to ground",
            "ground",
            (
                f"CAN-H rests at {pair.rest_v:.2f} V where 2.0 to 3.0 V belong, and still carries frames.",
                "With CAN-H itself at ground no frame could be read, so CAN-L is: it pulls CAN-H down through the terminators.",
            ),
        )
    if pair.wires.form == "CAN-L" and pair.rest_v > 4.0:
        return short(
            "CAN-H shorted to battery",
            "battery",
            (
                f"CAN-L rests at {pair.rest_v:.2f} V where 2.0 to 3.0 V belong, and still carries frames.",
                "With CAN-L itself at battery no frame could be read, so CAN-H is: it pulls CAN-L up through the terminators.",
            ),
        )
    return None


def _together(case: CanCase) -> Verdict | None:
    odd = case.pair.odd
    rest = [one.rest_v for one in (case.pair.high_rest, case.pair.low_rest) if one is not None]
    if len(odd.together_s) < max(FEWEST_TOGETHER, FRESH_SHARE * odd.tails) or not all(
        BIASED_V[0] < one < BIASED_V[1] for one in rest
    ):
        return None
    if len(odd.together_s) < odd.tails and shifted_talkers(case) is not None:
        return None
    wire, way, other = ("CAN-H", "down", "CAN-L") if odd.together_v < 0 else ("CAN-L", "up", "CAN-H")
    reasons = [
        f"In {len(odd.together_s)} stretches both wires go {way} by {abs(odd.together_v):.2f} V together with "
        "nothing between them: "
        f"a node pulls {other} and its {wire} does not reach this probe.",
        f"The difference that a receiver needs (0.9 V) does not come about, so {wire} is open between this probe and that node.",
    ]
    usual = usual_difference(case.pair)
    if usual > 0:
        reasons.append(
            f"On this side the talkers reach {usual:.2f} V; a terminator beyond the break is missing here, which raises it."
        )
    return Verdict(
        "faulty",
        "open",
        tuple(reasons),
        next_step=f"Power off, measure {wire} from connector to connector; the break lies between the nodes read here and those "
        "that are not.",
        picture=f"{wire} open",
    )


def _nothing_read(case: CanCase) -> Verdict | None:
    pair = case.pair
    if pair.frames_read:
        return None
    return _both_ways(case) or _never_driven(case) or judge_quiet(case)


def _never_driven(case: CanCase) -> Verdict | None:
    found = never_driven(case.pair)
    if found is None or abs(case.pair.rest_v - 2.5) > 1.3:
        return None
    form = case.pair.wires.form
    return Verdict(
        "faulty",
        "unknown",
        (
            f"{form} is brought to {found[0]:.2f} V again and again, where no sound node brings it ({found[1]:g} V "
            "is the limit), and no "
            "frame can be read off it.",
            "A node's ground is off, its wires are exchanged, or the other wire is open: one wire alone does not tell which.",
        ),
        next_step="Record both wires against ground.",
    )


def _both_ways(case: CanCase) -> Verdict | None:
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
            "are exchanged. One wire "
            "alone does not tell which.",
        ),
        next_step="Record both wires against ground.",
    )


def _one_wire(case: CanCase) -> Verdict | None:
    beyond = beyond_one_wire(case.pair)
    if not beyond:
        return _both_ways(case)
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


def _shift(case: CanCase) -> Verdict | None:
    odd = shifted_talkers(case)
    return shifted(odd) if odd is not None else None


def _strong(case: CanCase) -> Verdict | None:
    odd = strong_talkers(case)
    return stronger(odd) if odd is not None else None


def _weak(case: CanCase) -> Verdict | None:
    odd = weak_talkers(case)
    return joint(odd) if odd is not None else None


def _termination(case: CanCase) -> Verdict | None:
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


def _unheard(case: CanCase) -> Verdict | None:
    """Whole frames that nobody acknowledges: whoever sends is alone on its part of the bus."""
    traffic = case.pair.traffic
    if traffic is None:
        return None
    mute = sum(one.state == "no acknowledge" for one in traffic.frames)
    heard = sum(one.state == "good" for one in traffic.frames)
    if mute < 3 or mute <= 4 * heard:
        return None
    return Verdict(
        "faulty",
        "unknown",
        (
            f"{mute} of {mute + heard} whole frames are not acknowledged: the sender is alone here, or the others hear it on "
            "neither wire.",
            "Its levels are right at this probe: the break lies beyond, or all other nodes are without power.",
        ),
        next_step="Probe the pair at the next node: where the frames no longer arrive, the break lies before it.",
    )


def _errors(case: CanCase) -> Verdict | None:
    bus = case.suspect.bus
    if bus is None or bus.errors < max(2.0, ERROR_SHARE * bus.frames):
        return None
    counts = ", ".join(f"{count} × {what}" for what, count in bus.error_counts[:3])
    many = bus.errors >= FEWEST_BROKEN
    return Verdict(
        "faulty" if many else "cannot tell",
        "unknown",
        (
            f"{bus.errors} of {bus.frames} frames are broken off or wrong ({counts}), and all levels keep their limits.",
            "Some node reads the bus otherwise than this probe: a joint in its stub, its clock, its supply, or interference.",
        ),
        next_step="Probe at one node after the other and compare; errors in one identifier's frames alone point to its sender, "
        "those in all frames to one listener.",
        picture="frames broken" if many else "",
    )


def _clean(case: CanCase) -> Verdict:
    pair = case.pair
    traffic = pair.traffic
    assert traffic is not None
    usual = usual_difference(pair)
    level = (
        f"the talkers bring the pair to {usual:.2f} V"
        if math.isfinite(usual)
        else f"{pair.wires.form} keeps its limits"
    )
    reasons = [
        f"{pair.frames_read} frames with right checksums, {level}, and every level that settles keeps its limits."
    ]
    ohms = against_good(pair, case.good_pair, case.held) if case.good_pair is not None else None
    ohms = ohms or from_levels(pair)
    if ohms is not None:
        reasons.append(
            f"The termination is between {ohms.low:.0f} Ω and {in_words(ohms.high, 'Ω', digits=2)} by {ohms.rests_on}: "
            "only a meter across the pair, power off, tells 60 Ω for sure."
        )
    lowest = apart(pair)
    if lowest is not None:
        reasons.append(
            f"{lowest[0]} stands lowest, at {lowest[1]:.2f} V where the others stand at {lowest[2]:.2f} V: within "
            "the limits, and the "
            "first to look at should the bus fail."
        )
    return Verdict("clean", "none", tuple(reasons))


def _caveats(case: CanCase) -> tuple[str, ...]:
    found = []
    form = case.pair.wires.form
    if form in ("CAN-H", "CAN-L"):
        found.append(
            f"Judged from {form} alone: common mode, symmetry, swapped wires, and most resistances need the other wire too."
        )
    elif form == "difference":
        found.append(
            "Judged from the difference alone: what both wires do alike (ground offset, shorts to a rail) does not show."
        )
    slow = odd_edge(case.pair.edges, case.pair.axis.step_s)
    if slow is not None:
        found.append(
            f"{slow.slow.name} has slower edges than the others: {in_words(slow.slow.time_s, 's')} to dominant against "
            f"{in_words(slow.usual_s, 's')}. Its driver, or capacitance at its node."
        )
    if case.pair.wires.named_otherwise:
        found.append(
            "The channels' names say otherwise which wire is CAN-H: probes or wires are exchanged at this connector."
        )
    if case.good is not None and case.good.doubts:
        found.append(f"The known-good itself is doubtful and was not used: {case.good.doubts[0].text}")
    elif case.good is not None and case.good_pair is None:
        found.append("The known-good was recorded otherwise (other wires), so levels were not held against it.")
    return tuple(found)
