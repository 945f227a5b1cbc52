"""What the levels, frames and oddities of a CAN pair mean."""

import math
from dataclasses import replace

from loomlight.signal.can_case import CanCase
from loomlight.signal.can_odd_talkers import apart, shifted_talkers, strong_talkers, weak_talkers
from loomlight.signal.can_odd_words import joint, shifted, stronger
from loomlight.signal.can_one_wire_judge import both_ways, brought_too_far, one_wire_off
from loomlight.signal.can_pair_judge import wire_held, wire_open, wires_reversed
from loomlight.signal.can_quiet import judge_quiet
from loomlight.signal.can_talker_edges import odd_edge
from loomlight.signal.can_termination import against_good, from_levels, usual_difference
from loomlight.signal.can_termination_judge import termination_off
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Verdict

ERROR_SHARE = 0.02
FEWEST_BROKEN = 3
"""Fewer broken frames may be one disturbance (common practice, no source)."""


def judge_can(case: CanCase) -> Verdict:
    """Soundness first, then what no sound pair shows, then levels by talker, then the known-good, then errors."""
    if case.suspect.doubts:
        doubts = case.suspect.doubts
        return Verdict("cannot tell", "unknown", tuple(one.text for one in doubts), next_step=doubts[0].do)
    judges = (
        wires_reversed,
        wire_held,
        wire_open,
        _nothing_read,
        one_wire_off,
        _shift,
        _strong,
        _weak,
        termination_off,
        _unheard,
        _errors,
        _clean,
    )
    found = next(verdict for judge in judges if (verdict := judge(case)) is not None)
    return replace(found, reasons=(*found.reasons, *_caveats(case)))


def _nothing_read(case: CanCase) -> Verdict | None:
    pair = case.pair
    if pair.frames_read:
        return None
    return both_ways(case) or brought_too_far(case) or judge_quiet(case)


def _shift(case: CanCase) -> Verdict | None:
    odd = shifted_talkers(case)
    return shifted(odd) if odd is not None else None


def _strong(case: CanCase) -> Verdict | None:
    odd = strong_talkers(case)
    return stronger(odd) if odd is not None else None


def _weak(case: CanCase) -> Verdict | None:
    odd = weak_talkers(case)
    return joint(odd) if odd is not None else None


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
            f"{lowest[0]} stands lowest, at {lowest[1]:.2f} V where the others stand at {lowest[2]:.2f} V: within the "
            "limits, and the first to look at should the bus fail."
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
