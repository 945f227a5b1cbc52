"""What the findings on a LIN wire mean."""

import math

import numpy as np

from loomlight.signal.finding import Finding
from loomlight.signal.lin_case import Case
from loomlight.signal.lin_examination import COMMANDER, DRIVER_LOW_SHARE
from loomlight.signal.lin_findings import own_dropouts
from loomlight.signal.lin_leak import judge_leak
from loomlight.signal.lin_quiet import judge_quiet
from loomlight.signal.lin_reasons import dropout_reasons, series_reasons, where_to_look
from loomlight.signal.lin_resistance import (
    ALONE_DOUBT_V,
    Lift,
    Place,
    SeriesResistance,
    against_itself,
    all_lifted,
    between_probes,
    floor_ohm,
    lifts,
)
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import COMMANDER_SIDE, RESPONDER_SIDE, agreed, behind_pull_up
from loomlight.signal.verdict import Fault, Verdict

PULL_UP_SHARE = 0.9
"""A dropout that gets this share of the way up to the resting level met no resistance that could be bounded."""
SETTLED_S = 30e-6
"""A cut-off node's pull-up of 30 kΩ brings its few hundred picofarads up to the resting level in about this time."""
PLAUSIBLE_DRIVER_LOW_V = (0.5, 1.6)
"""Where drivers put the line without a known-good to say so (data sheets to LIN 2.x: 0.6 to 1.2 V, with room)."""


def judge_lin(case: Case) -> Verdict:
    """Soundness first, then a line that does not talk, then dropouts and levels.

    Parameters
    ----------
    case : Case
        Examinations, line-up, findings.
    """
    if case.suspect.doubts:
        return Verdict(
            "cannot tell",
            "unknown",
            tuple(doubt.text for doubt in case.suspect.doubts),
            next_step=case.suspect.doubts[0].do,
        )
    if case.good is not None and case.good.doubts and case.together:
        return Verdict(
            "cannot tell",
            "unknown",
            tuple(f"The known-good is not sound: {doubt.text}" for doubt in case.good.doubts),
            next_step=case.good.doubts[0].do,
        )
    if case.line.is_flat:
        return judge_quiet(case.line, case.good_line, case.conditions)
    return _judge_talking(case)


def _judge_talking(case: Case) -> Verdict:
    measured = lifts(case.suspect, case.good, same_moment=case.together) if case.good is not None else ()
    top_v = case.line.recessive_v or 0.0
    series = _series(case, measured, top_v)
    caveats = _caveats(case)
    if len(case.dropouts) or series is not None:
        return _resistive_or_open(case, series, top_v, caveats)
    if case.together and all(one.is_lifted or one.is_lowered for one in measured) and len(measured) > 1:
        return _offset(measured, caveats)
    if not case.together and all_lifted(measured):
        return _offset(measured, caveats)
    leak = judge_leak(case, top_v)
    if leak is not None:
        return leak
    return _no_wire_fault(case, caveats)


def _series(case: Case, measured: tuple[Lift, ...], top_v: float) -> SeriesResistance | None:
    """Series resistance by the best evidence at hand."""
    if case.together:
        return between_probes(measured, top_v)
    if case.good_line is not None and case.good_line.parts:
        return against_itself(measured, top_v)
    return _alone(case, top_v)


def _alone(case: Case, top_v: float) -> SeriesResistance | None:
    """Without a known-good only levels that no driver would leave the line at can be told."""
    supply = case.line.supply
    assert supply is not None
    limit = DRIVER_LOW_SHARE * supply.high_v
    levels = {talker: case.line.level_of(talker) for talker in case.line.talkers}
    weak = {talker: volts for talker, volts in levels.items() if volts is not None and volts > limit}
    if not weak or (len(weak) == len(levels) and len(levels) > 1):
        return None
    sound = [volts for talker, volts in levels.items() if volts is not None and talker not in weak]
    if sound and min(weak.values()) - max(sound) < ALONE_DOUBT_V:
        return None  # drivers differ by that much: it names no side
    from_commander = COMMANDER in weak
    pull = RESPONDER_SIDE if from_commander else COMMANDER_SIDE
    low_v, high_v = PLAUSIBLE_DRIVER_LOW_V
    source_v, doubt_v = (low_v + high_v) / 2, (high_v - low_v) / 2
    evidence = []
    for talker, volts in weak.items():
        seen = behind_pull_up(volts, source_v=source_v, top_v=top_v, pull=pull, doubt_v=doubt_v)
        evidence.append((Lift(talker, volts, source_v, doubt_v, 1), seen))
    ohms = agreed([one for _, one in evidence])
    assert ohms is not None
    place: Place = "away from the commander" if from_commander else "on the commander's side"
    return SeriesResistance(ohms, place, tuple(evidence))


def _resistive_or_open(case: Case, series: SeriesResistance | None, top_v: float, caveats: tuple[str, ...]) -> Verdict:
    intermittent = len(case.dropouts) > 0
    reasons = [*dropout_reasons(case), *series_reasons(case, series)]
    bounded = series is not None and math.isfinite(series.ohms.high)
    fault: Fault = "resistive"
    if series is None:
        share = _median_peak_share(case, top_v)
        fault = "unknown" if share is None else "open" if share >= PULL_UP_SHARE else "resistive"
    if series is not None and not bounded:
        fault = "open"
        reasons.append(
            "Nothing of that talker gets through, so the resistance has no upper bound: the wire is as good as open."
        )
    if fault == "open" and intermittent and series is None:
        floor = floor_ohm(case.line, case.good_line, same_moment=case.together)
        reasons.append(
            f"Between the dropouts the levels are right (under {in_words(floor, 'Ω')} with this instrument); in them the "
            "line is pulled up to its resting level as if cut."
        )
    elif fault == "unknown":
        reasons.append(
            f"None of the dropouts lasts {in_words(SETTLED_S, 's')}, so the line has no time to show whether the wire opens or "
            "only gains resistance."
        )
    elif series is None:
        reasons.append("In the dropouts the line is lifted only part of the way: a resistance that comes and goes.")
    ohms = series.ohms if series is not None else None
    return Verdict(
        "faulty",
        fault,
        tuple(reasons) + caveats,
        next_step=where_to_look(case, series),
        intermittent=intermittent,
        series_ohm=_finite(ohms.best) if ohms else None,
        series_ohm_low=_finite(ohms.low) if ohms else None,
        series_ohm_high=_finite(ohms.high) if ohms else None,
    )


def _median_peak_share(case: Case, top_v: float) -> float | None:
    """How far up to the resting level those dropouts get that last long enough, 0 to 1; None where none does."""
    found = [one for one in case.findings if one.kind == "dropout" and one.channel == case.suspect.channel.name]
    low_v = case.line.levels.low if case.line.levels else 0.0
    shares = [one.size / max(top_v - low_v, 0.1) for one in found if one.stop_s - one.start_s >= SETTLED_S]
    return float(np.median(shares)) if shares else None


def _offset(measured: tuple[Lift, ...], caveats: tuple[str, ...]) -> Verdict:
    volts = [one.volts for one in measured]
    return Verdict(
        "cannot tell",
        "unknown",
        (
            f"Every talker's dominant level differs from the known-good's by about the same ({min(volts):+.2f} V to "
            f"{max(volts):+.2f} V): that is a ground offset or the instrument, not one wire.",
            *caveats,
        ),
        next_step="Put the probe's ground lead on battery negative, zero the channel, and repeat the capture.",
    )


def _no_wire_fault(case: Case, caveats: tuple[str, ...]) -> Verdict:
    own = [one for one in case.findings if one.channel == case.suspect.channel.name]
    severe = [one for one in own if one.severity == "severe" or one.kind == "weak dominant"]
    unanswered = [one for one in own if one.kind == "no response"]
    if severe or unanswered:
        return _trouble_without_wire(case, severe, unanswered, caveats)
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
        floor = floor_ohm(case.line, case.good_line, same_moment=True)
        sharp = floor_ohm(case.line, case.good_line, same_moment=True, pull=COMMANDER_SIDE)
        reasons.append(
            f"Both probes agree: under {in_words(sharp, 'Ω', digits=2)} between them if one of these talkers sits behind the "
            f"suspect wire, under {in_words(floor, 'Ω', digits=2)} if none does."
        )
    elif case.comparable:
        reasons.append("Each talker's level is where the known-good has it.")
    if floor is None:
        hidden = floor_ohm(case.line, case.good_line, same_moment=False)
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


def _trouble_without_wire(
    case: Case, severe: list[Finding], unanswered: list[Finding], caveats: tuple[str, ...]
) -> Verdict:
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


def _caveats(case: Case) -> tuple[str, ...]:
    caveats = []
    if case.lineup is not None and not case.lineup.accepted:
        caveats.append(f"The known-good was not used to lay one over the other: {case.lineup.reason}")
    if case.good is not None and not case.together and case.good.doubts:
        caveats.append(f"The known-good itself is doubtful: {case.good.doubts[0].text}")
    if case.line.supply is not None and case.line.supply.source == "recessive level":
        supply = case.line.supply
        caveats.append(
            f"The supply was not given; it is taken from the resting level as {supply.low_v:.1f} to {supply.high_v:.1f} V."
        )
    return tuple(caveats)


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
