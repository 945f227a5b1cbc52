"""The verdict on a charged battery."""

from dataclasses import replace

from loomlight.signal.charging_examination import ChargingExamination, ChargingReading
from loomlight.signal.charging_findings import is_charging, is_held_still, is_open_which, rectifier_faults, stands_still
from loomlight.signal.finding import Finding
from loomlight.signal.power_evidence import charging_evidence
from loomlight.signal.quantity import in_words
from loomlight.signal.rectifier_cycles import RectifierFault
from loomlight.signal.trouble import Trouble, cannot_tell, faulty, not_sound
from loomlight.signal.verdict import Verdict

RESTING_V = 12.9
"""A battery that is not charged stands below, for each 12 V (Battery Council International: 12.65 V when full and rested)."""
HIDING_V = 0.05
"""A converter step that hides the ripple of an alternator that delivers, for each 12 V."""
CLEAR = 0.97
"""A cycle this much like an expected one was seen, however coarse the converter."""
NEXT = {
    "open diode": "Record once more with blower, rear window and headlights on; then have the alternator's rectifier tested.",
    "shorted diode": "Measure the battery's drain with the engine off, then have the alternator's rectifier tested.",
    "lost phase": "Have the alternator's windings and their joints to the rectifier tested.",
}


def judge_charging(
    suspect: ChargingExamination, good: ChargingExamination | None
) -> tuple[tuple[Finding, ...], Verdict]:
    """What the findings mean."""
    findings, verdict = _judged(suspect, good)
    if suspect.charge is None:
        return findings, verdict
    return findings, replace(verdict, evidence=charging_evidence(suspect.charge))


def _judged(suspect: ChargingExamination, good: ChargingExamination | None) -> tuple[tuple[Finding, ...], Verdict]:
    charge = suspect.charge
    if charge is None:
        return suspect.findings, not_sound(suspect)
    level = [] if charge.ac_coupled else [*_level(charge), *_fixed(charge)]
    troubles = [*_rectifier(charge), *level, *_slips(charge), *_ripple(charge)]
    settled = not any(one.about == "system voltage" for one in suspect.doubts)
    notes = [*(one.text for one in suspect.doubts), *_not_judged(charge), *_beside_the_good(charge, good)]
    if troubles and settled:
        return suspect.findings, faulty(troubles, notes)
    if charge.ac_coupled:
        return suspect.findings, _level_lost(suspect, charge, notes)
    left = [] if settled else [(suspect.doubts[0].text, suspect.doubts[0].do)]
    left += _open_questions(charge)
    if left:
        return suspect.findings, cannot_tell(left, (), notes)
    return suspect.findings, Verdict("clean", "none", (*_kept(charge), *notes))


def _level_lost(suspect: ChargingExamination, charge: ChargingReading, notes: list[str]) -> Verdict:
    """An input that is AC coupled shows the ripple, and nothing of the level."""
    best = charge.cycle.matches[0] if charge.cycle is not None and charge.cycle.matches else None
    told = []
    if best is not None and not best.fault and not is_open_which(charge):
        height = in_words(charge.height_v, "V", digits=2)
        told.append(f"The ripple, {height} peak to peak, is that of a sound rectifier (likeness {best.likeness:.3f}).")
    else:
        told += [text for text, _ in _open_questions(charge)]
    told.append("The charging voltage itself was not judged.")
    doubt = next(one for one in suspect.doubts if one.about == "AC coupling")
    return Verdict("cannot tell", "unknown", (*told, *notes), next_step=doubt.do)


def _rectifier(charge: ChargingReading) -> list[Trouble]:
    faults, cycle = rectifier_faults(charge), charge.cycle
    if not faults or cycle is None:
        return []
    best = next(one for one in cycle.matches if one.fault == faults[0])
    sound = next((one for one in cycle.matches if not one.fault), None)
    beside = f"; {sound.likeness:.3f} for a sound one" if sound is not None else ""
    humps: dict[RectifierFault, str] = {
        "open diode": "four of six humps and a gap each electrical period",
        "shorted diode": "two humps and half a period without any, each electrical period",
        "lost phase": "two humps with gaps each electrical period, where a sound one has six",
    }
    reasons = [
        f"The ripple, {in_words(cycle.peak_to_peak_v, 'V')} peak to peak, has the shape of {_named(faults)}: "
        f"{humps[faults[0]]} of {in_words(cycle.hz / best.order, 'Hz')} (likeness {best.likeness:.3f}{beside})."
    ]
    if len(faults) > 1:
        reasons.append("Which of them, the ripple alone does not tell; the engine's speed would narrow it down.")
    return [Trouble(" or ".join(faults), "unknown", tuple(reasons), NEXT[faults[0]])]


def _named(faults: tuple[RectifierFault, ...]) -> str:
    return " or ".join(f"{'an' if one[0] == 'o' else 'a'} {one}" for one in faults)


def _level(charge: ChargingReading) -> list[Trouble]:
    limits = charge.limits
    if charge.high_v > limits.highest_v:
        return [
            Trouble(
                "regulator voltage too high",
                "unknown",
                (
                    f"The charging voltage reaches {in_words(charge.high_v, 'V')}, above {in_words(limits.highest_v, 'V')}.",
                ),
                "Measure the drop from alternator to battery and the regulator's sense wire; then test the regulator.",
            )
        ]
    if charge.level_v >= limits.lowest_v or limits.controlled is not False:
        return []
    level = in_words(charge.level_v, "V")
    delivers = is_charging(charge)
    would_show = charge.shows_cycle and charge.step_v < HIDING_V * limits.twelves
    if charge.level_v < RESTING_V * limits.twelves and would_show and not delivers:
        return [
            Trouble(
                "not charging",
                "unknown",
                (f"The battery stands at {level} and no alternator's ripple is to be seen: it is not charged.",),
                "Check belt, fuse and wire from alternator to battery, the plug with its warning lamp wire, then the alternator.",
            )
        ]
    return [
        Trouble(
            "regulator voltage too low",
            "unknown",
            (
                f"The charging voltage is {level}, below {in_words(limits.lowest_v, 'V')}"
                + (
                    ", though the alternator delivers."
                    if delivers
                    else "; whether the alternator delivers was not to be seen."
                ),
            ),
            "Measure at the alternator itself: if it is higher there, the drop is in the wire; else regulator, belt or overload.",
        )
    ]


def _fixed(charge: ChargingReading) -> list[Trouble]:
    limits = charge.limits
    if not is_held_still(charge):
        return []
    return [
        Trouble(
            "held at one value",
            "unknown",
            (
                f"The voltage stands at {in_words(charge.level_v, 'V')} for {in_words(charge.length_s, 's')}, within "
                f"{in_words(charge.high_v - charge.low_v, 'V')}, though the control unit sets it.",
                f"Common practice, no source: a controlled alternator that has lost its command falls back to one value, about "
                f"{in_words(limits.fallback_v, 'V')}.",
            ),
            "Measure the command wire at the alternator (PWM or LIN) and read the control unit's codes.",
        )
    ]


def _slips(charge: ChargingReading) -> list[Trouble]:
    if not charge.slips:
        return []
    worst = max(charge.slips, key=lambda one: one.share)
    lasted = in_words(worst.stop_s - worst.start_s, "s", digits=2)
    times = f"{len(charge.slips)} time{'s' if len(charge.slips) > 1 else ''}"
    return [
        Trouble(
            "belt slip",
            "unknown",
            (
                f"The alternator loses up to {100 * worst.share:.0f} % of its speed and begins to catch up within {lasted}, "
                f"{times}: an engine does not change its speed that fast.",
            ),
            "Check the belt, its tensioner and the alternator's freewheel with the engine off.",
        )
    ]


def _ripple(charge: ChargingReading) -> list[Trouble]:
    height = charge.height_v
    if height is None or height <= charge.limits.ripple_v or rectifier_faults(charge):
        return []
    hz = charge.cycle.hz if charge.cycle is not None else charge.ripple.hz if charge.ripple is not None else None
    often = f" at {in_words(hz, 'Hz')}" if hz is not None else ""
    return [
        Trouble(
            "too much ripple",
            "unknown",
            (
                f"Ripple of {in_words(height, 'V')} peak to peak{often}, above {in_words(charge.limits.ripple_v, 'V')}; its "
                "shape is not clearly that of a diode or a phase.",
            ),
            "Measure on the lead posts themselves, then the drop along the wires; test the battery; then the rectifier.",
        )
    ]


def _open_questions(charge: ChargingReading) -> list[tuple[str, str]]:
    limits = charge.limits
    level = in_words(charge.level_v, "V")
    if charge.level_v < limits.lowest_v and limits.controlled is None and not charge.ac_coupled:
        return [
            (
                f"The voltage is {level}, below {in_words(limits.lowest_v, 'V')}. A controlled alternator may do that on "
                "purpose, another one may not.",
                "Say whether a control unit sets the charging voltage.",
            )
        ]
    if is_open_which(charge) and charge.cycle is not None:
        height, hz = in_words(charge.cycle.peak_to_peak_v, "V"), in_words(charge.cycle.hz, "Hz")
        faults = [one for one in charge.cycle.matches if one.fault]
        like = (
            f"that of {_named((faults[0].fault,))} (likeness {faults[0].likeness:.3f})" if faults else "any known one"
        )
        if limits.electrical_hz is not None:
            sound = in_words(6.0 * limits.electrical_hz, "Hz")
            text = (
                f"The ripple of {height} peak to peak has its strongest line at {hz}, a sound rectifier near {sound}; "
            )
            text += f"its shape is not clearly that of a fault, most like {like}."
            return [
                (text, "Record again with blower, rear window and headlights on: the ripple shows more under load.")
            ]
        text = f"The ripple of {height} peak to peak at {hz} is as much like {like} as like that of a sound rectifier. "
        return [(text + "The engine's speed would tell.", "Give the engine's speed while it was recorded.")]
    if limits.controlled is True and stands_still(charge):
        return [
            (
                f"The voltage stands at {level} for {in_words(charge.length_s, 's')} though the control unit sets it; that alone "
                "is no fault.",
                "Record again while the engine revs up, coasts and idles, and loads are switched.",
            )
        ]
    return []


def _not_judged(charge: ChargingReading) -> list[str]:
    if not charge.shows_cycle:
        return ["Diodes and phases were not judged: the sample rate is too low for the ripple's shape."]
    known = charge.cycle is not None and any(one.likeness >= CLEAR for one in charge.cycle.matches)
    if charge.step_v > 0.3 * (charge.height_v or 0.0) and charge.step_v > 0 and not known:
        step = in_words(charge.step_v, "V", digits=2)
        return [f"Diodes and phases were hardly judged: one step of the converter is {step}. Choose a smaller range."]
    if charge.cycle is None:
        return ["No ripple of an alternator stands out; diodes and phases could not be judged."]
    return []


def _beside_the_good(charge: ChargingReading, good: ChargingExamination | None) -> list[str]:
    if good is None or good.charge is None:
        return []
    there = good.charge
    if charge.ac_coupled or there.ac_coupled:
        return []
    told = [f"The known-good is charged at {in_words(there.level_v, 'V')}, this at {in_words(charge.level_v, 'V')}."]
    here_v, there_v = charge.height_v, there.height_v
    if here_v and there_v and here_v > 2.0 * there_v:
        told.append(f"Its ripple is {here_v / there_v:.1f} times the known-good's {in_words(there_v, 'V')}.")
    return told


def _kept(charge: ChargingReading) -> list[str]:
    limits = charge.limits
    moves = f", moves by {in_words(charge.high_v - charge.low_v, 'V', digits=2)}" if limits.controlled else ""
    told = [f"Charged at {in_words(charge.level_v, 'V')}{moves}, at most {in_words(limits.highest_v, 'V')}."]
    if charge.height_v:
        told.append(
            f"Ripple {in_words(charge.height_v, 'V', digits=2)} peak to peak, at most {in_words(limits.ripple_v, 'V')}."
        )
    if charge.cycle is not None and charge.cycle.matches:
        best = charge.cycle.matches[0]
        if not best.fault:
            told.append(f"Its cycle is that of a sound rectifier (likeness {best.likeness:.3f}).")
    for step in charge.steps:
        back = f", three quarters back after {in_words(step.recovery_s, 's', digits=2)}" if step.recovery_s else ""
        told.append(f"A load makes it fall by {in_words(step.depth_v, 'V', digits=2)}{back}.")
    return told
