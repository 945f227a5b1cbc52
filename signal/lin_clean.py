"""A LIN line that shows no fault of its wire: clean, or in trouble for another reason."""

from loomlight.signal.finding import Finding
from loomlight.signal.lin_case import Case
from loomlight.signal.lin_findings import own_dropouts
from loomlight.signal.lin_resistance import ALONE_DOUBT_V, floor_ohm, hidden_ohm, lifts
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import COMMANDER_SIDE, RESPONDER_SIDE
from loomlight.signal.verdict import Verdict

DIAGNOSTIC_RESPONSE = 0x3D
"""Answered only after a request (LIN 2.2A, diagnostic frames)."""


def judge_without_wire_fault(case: Case, caveats: tuple[str, ...]) -> Verdict:
    """Clean where everything keeps its limits; else what is amiss, without blaming the wire for it.

    Parameters
    ----------
    case : Case
        Of a line that talks, without dropouts, lifted levels or a leak.
    caveats : tuple of str
        What was assumed or could not be used, one sentence each.
    """
    own = [one for one in case.findings if one.channel == case.suspect.channel.name]
    severe = [one for one in own if one.severity == "severe" or one.kind == "weak dominant"]
    unanswered = [one for one in own if one.kind == "no response" and not is_answered_on_request_only(one)]
    if severe or unanswered:
        return _trouble_without_wire(severe, unanswered, caveats)
    doubtful = _known_good_lets_go(case)
    if doubtful is not None:
        return doubtful
    bus = case.suspect.bus
    supply = case.line.supply
    if bus is None or not bus.frames or supply is None:
        return Verdict(
            "cannot tell",
            "unknown",
            ("The line moves, but no LIN frame could be read from it.", *caveats),
            next_step="Check that this pin carries LIN, and record a longer stretch with the ignition on.",
        )
    reasons = [
        f"{bus.frames} frames read without an error at {bus.bit_rate or 0:.0f} bit/s.",
        f"All levels keep their limits for a supply of {supply.low_v:.1f} to {supply.high_v:.1f} V.",
    ]
    floor = None
    if case.comparable and case.together:
        assert case.good is not None
        doubt_v = max((one.doubt_v for one in lifts(case.suspect, case.good, same_moment=True)), default=ALONE_DOUBT_V)
        floor, sharp = (hidden_ohm(case.line, doubt_v, pull) for pull in (RESPONDER_SIDE, COMMANDER_SIDE))
        reasons.append(
            f"Both probes agree: under {in_words(sharp, 'Ω', digits=2)} between them if one of these talkers sits behind the "
            f"suspect wire, under {in_words(floor, 'Ω', digits=2)} if none does."
        )
    elif case.comparable:
        reasons.append(
            "Each talker's level is where the known-good has it, as far as one day can be held against another."
        )
    if floor is None:
        hidden = _hidden_at_this_point(case)
        reasons.append(
            f"A series resistance of up to about {in_words(hidden, 'Ω', digits=2)} would not show at this point by itself; a "
            "working node of the same bus, recorded together with this one, shows far less."
        )
    return Verdict(
        "clean",
        "none",
        (*reasons, *caveats),
        series_ohm_low=0.0 if floor is not None else None,
        series_ohm_high=floor,
    )


def _hidden_at_this_point(case: Case) -> float:
    """Series resistance that one channel, or another day's known-good, may leave unseen, ohms.

    A level may be off by its doubt and still be lifted by as much again before it stands out.
    """
    measured = lifts(case.suspect, case.good, same_moment=False) if case.good is not None else ()
    alone = floor_ohm(case.line, None, same_moment=False)
    if not measured:
        return alone
    return min(alone, hidden_ohm(case.line, 2.0 * max(one.doubt_v for one in measured), RESPONDER_SIDE))


def is_answered_on_request_only(finding: Finding) -> bool:
    """The diagnostic response frame is answered only after a request (LIN 2.2A: identifier 0x3D)."""
    return finding.rule.startswith(f"frame {DIAGNOSTIC_RESPONSE:#04x}:")


def _known_good_lets_go(case: Case) -> Verdict | None:
    """A known-good that itself drops out is none."""
    if case.good is None or not case.together:
        return None
    severe = [one for one in case.good.findings if one.severity == "severe"]
    own = own_dropouts(case.good.line)
    if not severe and not len(own):
        return None
    return Verdict(
        "cannot tell",
        "unknown",
        (
            f"The suspect keeps its limits, but the known-good itself shows {len(own)} dropouts and {len(severe)} severe "
            "findings: it is no known-good.",
        ),
        next_step="Swap the two: take this channel for the suspect; or choose another known-good.",
    )


def _trouble_without_wire(severe: list[Finding], unanswered: list[Finding], caveats: tuple[str, ...]) -> Verdict:
    reasons = []
    if unanswered:
        called = sorted({one.rule.split(":")[0] for one in unanswered})
        reasons.append(f"{len(unanswered)} headers were not answered ({', '.join(called[:4])}).")
    if severe:
        kinds = sorted({one.kind for one in severe})
        reasons.append(f"{len(severe)} findings that matter ({', '.join(kinds)}), the first: {severe[0].rule}.")
    reasons.append(
        "Nothing at this point says that this wire is at fault and no other part: the node, its supply or its ground, or a "
        "break beyond this probe may be."
    )
    return Verdict(
        "cannot tell",
        "unknown",
        (*reasons, *caveats),
        next_step="Probe at the plug of the node that does not answer, with its supply and ground on the meter.",
    )
