"""What the findings on a LIN wire mean."""

import math

import numpy as np

from loomlight.signal.lin_case import Case
from loomlight.signal.lin_clean import judge_without_wire_fault
from loomlight.signal.lin_examination import DRIVER_LOW_SHARE, SUPPLY_DIODE_V
from loomlight.signal.lin_ground import WIRE_PICTURE, judge_ground, wire_or_ground
from loomlight.signal.lin_held_judge import judge_held
from loomlight.signal.lin_leak import judge_leak
from loomlight.signal.lin_parts import COMMANDER
from loomlight.signal.lin_pull_up import judge_pull_up
from loomlight.signal.lin_quiet import judge_quiet
from loomlight.signal.lin_reasons import dropout_reasons, series_reasons, where_to_look
from loomlight.signal.lin_resistance import (
    ALONE_DOUBT_V,
    MOST_OFFSET_V,
    Lift,
    Place,
    SeriesResistance,
    against_itself,
    all_lifted,
    between_probes,
    floor_ohm,
    lifts,
)
from loomlight.signal.line_faults import finite
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import COMMANDER_SIDE, RESPONDER_SIDE, agreed, behind_pull_up
from loomlight.signal.verdict import Fault, Joint, Verdict

PULL_UP_SHARE = 0.9
"""A dropout that gets this share of the way up to the resting level met no resistance that could be bounded."""
SETTLED_S = 30e-6
"""A cut-off node's pull-up of 30 kΩ brings its few hundred picofarads up to the resting level in about this time."""
OPEN_PICTURE = "open wire"
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
    if case.slow_rise is not None:
        return judge_pull_up(case, case.slow_rise, caveats)
    held = judge_held(case, caveats)
    if held is not None:
        return held
    grounded = judge_ground(case, measured, top_v, caveats)
    if grounded is not None and (grounded.state == "faulty" or (series is None and not case.lets_go)):
        return grounded
    if case.lets_go or series is not None:
        return _resistive_or_open(case, series, top_v, caveats)
    if case.together and all(one.is_lifted or one.is_lowered for one in measured) and len(measured) > 1:
        return _offset(measured, caveats)
    if not case.together and all_lifted(measured):
        if not _is_harmless(measured, case):
            return _offset(measured, caveats)
        volts = float(np.median([one.volts for one in measured]))
        caveats = (
            f"Every talker stands about {volts:+.2f} V from where the known-good has it and keeps its limits: a small ground "
            "shift or the instrument's offset.",
            *caveats,
        )
    leak = judge_leak(case, top_v)
    if leak is not None:
        return leak
    return judge_without_wire_fault(case, caveats)


def _is_harmless(measured: tuple[Lift, ...], case: Case) -> bool:
    """Whether all talkers are off by so little that every level still keeps its limits."""
    weak = any(one.kind == "weak dominant" for one in case.suspect.findings)
    return not weak and max(abs(one.volts) for one in measured) < MOST_OFFSET_V


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
    intermittent = case.lets_go
    if series is None and _is_interference(case):
        return _interference(case, caveats)
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
        series_ohm=finite(ohms.best) if ohms else None,
        series_ohm_low=finite(ohms.low) if ohms else None,
        series_ohm_high=finite(ohms.high) if ohms else None,
        joint=_joint(case, series),
        picture=_picture(case, series, fault),
    )


def _picture(case: Case, series: SeriesResistance | None, fault: Fault) -> str:
    if fault == "open":
        return OPEN_PICTURE
    if fault != "resistive":
        return ""
    return wire_or_ground(case, series) if series is not None else WIRE_PICTURE


def _joint(case: Case, series: SeriesResistance | None) -> Joint:
    """Where the fault lies as seen from the suspect's probe."""
    if case.together:
        return "between the probes"
    if series is None:
        return ""
    return "towards the commander" if series.suspect_is == "away from the commander" else "away from the commander"


def _is_interference(case: Case) -> bool:
    """Whether the few short dropouts stand among spikes beyond both of the line's levels, which no contact makes."""
    spans = np.concatenate([case.dropouts, case.good_dropouts])
    return _spikes(case) >= len(spans) and float((spans[:, 1] - spans[:, 0]).max()) < SETTLED_S


def _spikes(case: Case) -> int:
    """Spikes on the channels that drop out: the suspect, and the known-good where it does too."""
    examined = (case.suspect, case.good) if len(case.good_dropouts) else (case.suspect,)
    return sum(one.kind == "spike" for looked in examined if looked is not None for one in looked.findings)


def _interference(case: Case, caveats: tuple[str, ...]) -> Verdict:
    count = len(case.dropouts) + len(case.good_dropouts)
    return Verdict(
        "cannot tell",
        "unknown",
        (
            f"Times that the line lets go: {count}, none as long as {in_words(SETTLED_S, 's')}, among {_spikes(case)} "
            "spikes beyond its own levels. No contact makes those: interference, or a ground lead that picks it up.",
            *caveats,
        ),
        next_step="Shorten the probe's ground lead, keep both leads off ignition and motor wiring, and repeat the capture.",
    )


def _median_peak_share(case: Case, top_v: float) -> float | None:
    """How far up to the resting level those dropouts get that last long enough, 0 to 1; None where none does."""
    found = [one for one in case.findings if one.kind == "dropout"]
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


def _caveats(case: Case) -> tuple[str, ...]:
    caveats = []
    if case.lineup is not None and not case.lineup.accepted:
        caveats.append(f"The known-good was not used to lay one over the other: {case.lineup.reason}")
    if case.good is not None and not case.together and case.good.doubts:
        caveats.append(f"The known-good itself is doubtful: {case.good.doubts[0].text}")
    if case.line.supply is not None and case.line.supply.source == "recessive level":
        supply = case.line.supply
        caveats.append(
            f"The supply was not given; it is taken from the resting level as {supply.low_v:.1f} to {supply.high_v:.1f} V at the "
            f"node, so the battery should stand at about {supply.volts + SUPPLY_DIODE_V:.1f} V: if the meter shows clearly more, "
            "something holds the line down, and the capture should be judged again with that supply given."
        )
    return tuple(caveats)
