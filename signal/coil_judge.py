"""What a coil's current or voltage means."""

from collections.abc import Iterable
from dataclasses import replace

from loomlight.signal.cause import Cause, lost_throughout, marked_throughout, verdict_of
from loomlight.signal.coil_case import CoilCase, across, inductance, ohms_words, resistance
from loomlight.signal.coil_current_causes import clamp_factor_off, current_causes
from loomlight.signal.coil_fit import Interval
from loomlight.signal.coil_settings import OHMS, OHMS_SHARE
from loomlight.signal.coil_voltage_causes import voltage_causes
from loomlight.signal.finding import Finding
from loomlight.signal.input_doubts import not_about_levels
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Verdict


def judge_coil(case: CoilCase) -> tuple[tuple[Finding, ...], Verdict]:
    """What is wrong throughout, and the verdict, most telling cause first."""
    wrong_way = [one for one in case.doubts if one.about == "upside down"]
    if wrong_way:
        return (), Verdict("cannot tell", "unknown", (wrong_way[0].text,), next_step=wrong_way[0].do)
    if not case.own.has_pulses and not _stuck(case):
        verdict = _without_pulses(case)
        return lost_throughout(case.own.channel, verdict), verdict
    factor = clamp_factor_off(case)
    if factor is not None:
        case = replace(case, doubts=(*case.doubts, factor))
    seen = current_causes(case) if case.own.current is not None else voltage_causes(case)
    causes = [*_stuck_causes(case), *(seen if not_about_levels(case.doubts) else ())]
    notes = [f"{one.text} {one.do}" for one in case.doubts if one.about == "clipping"]
    if case.good is not None and not case.good.has_pulses:
        notes.append("The known-good shows no pulses, so nothing was held against it.")
    notes += _told(case)
    unsure = [one for one in case.doubts if one.about != "clipping"]
    verdict = verdict_of(causes, unsure=unsure, notes=notes, clean=_clean(case))
    return marked_throughout(case.own.channel, causes), _with_ohms(case, verdict)


def _without_pulses(case: CoilCase) -> Verdict:
    own = case.own
    level = (
        own.current.rest_a
        if own.current is not None
        else own.voltage.pulses.train.low
        if own.voltage is not None
        else 0.0
    )
    unit = "A" if own.current is not None else case.own.channel.unit or "V"
    stands = f"{level:.2f} {unit}"
    if case.worked_beside and own.current is not None:
        return Verdict(
            "faulty",
            "open",
            (f"No current flows ({stands}) although {case.worked_beside}: coil, wire or supply is open.",),
            next_step="Measure the supply at the coil's plug, then the coil's resistance, then the wire to the driver.",
            picture="open circuit",
        )
    if case.worked_beside:
        return Verdict(
            "faulty",
            "unknown",
            (f"The wire stands at {stands} and is not switched, although {case.worked_beside}.",),
            next_step="Measure the coil's supply, its resistance, and the wire to the control unit.",
            picture="no signal",
        )
    return Verdict(
        "cannot tell",
        "unknown",
        (
            f"{stands} and no pulses: not switched on, an open circuit, a clamp round the wrong wire, or a probe that is off.",
        ),
        next_step="Work the coil while recording; record the voltage at its switched end beside its current.",
    )


def _stuck(case: CoilCase) -> tuple[float, float] | None:
    if case.own.current is not None:
        return case.own.current.stuck
    return case.own.voltage.stuck if case.own.voltage is not None else None


def _stuck_causes(case: CoilCase) -> list[Cause]:
    stuck = _stuck(case)
    if stuck is None:
        return []
    usual = (
        case.own.current.usual_on_s
        if case.own.current is not None
        else case.own.voltage.usual_on_s
        if case.own.voltage
        else None
    )
    beside = f"; its other pulses last {in_words(usual, 's')}" if usual else ""
    since, long = in_words(stuck[0], "s", digits=5), in_words(stuck[1] - stuck[0], "s")
    reason = (
        f"From {since} on the coil stays switched on for {long}{beside}: "
        "the driver does not open, or its wire is shorted to ground."
    )
    do = "Switch off: a coil that stays on overheats. Unplug it at the control unit: is the wire still at ground?"
    return [
        Cause("short", "driver stuck on", reason, do, "control unit", short_to="ground", asked="Does each pulse end?")
    ]


def _told(case: CoilCase) -> Iterable[str]:
    ohms, henries = resistance(case.own, case.conditions), inductance(case.own, case.conditions)
    if ohms is not None and henries is not None:
        _, _, known = across(case.own, case.conditions)
        high = in_words(henries.high, "H") if henries.high is not None else "no upper bound"
        told = f"{in_words(henries.value, 'H')} ({in_words(henries.low, 'H')} to {high})"
        yield f"By the fit of the rise, coil, wires and switch have {ohms_words(ohms)} and {told}; {known}."
        if case.conditions.figure(OHMS) is None and case.good is None:
            yield "Whether that is right was not judged: give the coil's resistance (ohms), or lay a known-good beside it."


def _with_ohms(case: CoilCase, verdict: Verdict) -> Verdict:
    """What lies in series, where that is the fault and the coil's own resistance is known."""
    ohms = resistance(case.own, case.conditions)
    if verdict.picture != "high resistance" or ohms is None:
        return verdict
    given = case.conditions.figure(OHMS)
    beside = resistance(case.good, case.conditions) if case.good is not None else None
    spread = case.conditions.needed(OHMS_SHARE)
    if given is not None:
        own = Interval(given, given * (1 - spread), given * (1 + spread))
    elif beside is not None:
        own = beside
    else:
        return verdict
    low = max(ohms.low - (own.high if own.high is not None else own.value), 0.0)
    high = None if ohms.high is None else ohms.high - own.low
    return replace(verdict, series_ohm=max(ohms.value - own.value, 0.0), series_ohm_low=low, series_ohm_high=high)


def _clean(case: CoilCase) -> str:
    own = case.own
    if own.current is not None:
        knee = f", knee at {in_words(own.current.knee_s, 's')}" if own.current.knee_s is not None else ""
        hold = f", held at {in_words(own.current.hold_a, 'A')}" if own.current.hold_a is not None else ""
        long, high = in_words(own.current.usual_on_s, "s"), in_words(own.current.peak_a, "A")
        return (
            f"{own.current.starts_s.size} pulses of {long} reach {high}{hold}{knee}; each begins at zero and is whole."
        )
    assert own.voltage is not None
    peak = own.voltage.peak_v
    burn = f", burn line {in_words(own.voltage.burn_s, 's')}" if own.voltage.burn_s is not None else ""
    back = f"flyback {in_words(peak, 'V')}" if peak is not None else "no flyback above the supply"
    many = own.voltage.starts_s.size
    return f"{many} pulses of {in_words(own.voltage.usual_on_s, 's')}, {back}{burn}; the driver pulls down and lets go each time."
