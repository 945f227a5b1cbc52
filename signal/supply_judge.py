"""The verdict on a supply rail."""

from dataclasses import replace

from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.power_evidence import supply_evidence
from loomlight.signal.quantity import in_words
from loomlight.signal.supply_examination import SupplyExamination, SupplyReading
from loomlight.signal.supply_findings import (
    drop_findings,
    severity_of_dip,
    severity_of_transient,
    transient_words,
)
from loomlight.signal.supply_limits import CURRENT, FAR_END
from loomlight.signal.trouble import Trouble, cannot_tell, faulty, not_sound, resistance_words
from loomlight.signal.verdict import Verdict
from loomlight.signal.voltage_drop import Drop, drop_between

ASK_THE_LEVEL = "Ask the unit's maker which start profile level it was made for, and set it."
MORE_RIPPLE = 3.0
"""Times the known-good's ripple: what is worth telling."""


def drop_to_the_good(suspect: SupplyExamination, good: SupplyExamination | None, conditions: Conditions) -> Drop | None:
    """Recorded together, the known-good is the other end of the wire; None where a far end was named, or there is none."""
    if good is None or not conditions.same_moment or suspect.rail is None or suspect.rail.drop is not None:
        return None
    return drop_between(good.channel, suspect.channel, conditions.beside(CURRENT.key))


def judge_supply(
    suspect: SupplyExamination, good: SupplyExamination | None, conditions: Conditions
) -> tuple[tuple[Finding, ...], Verdict]:
    """Findings with those that the known-good adds, and what they mean."""
    findings, verdict = _judged(suspect, good, conditions)
    drop, rail = drop_to_the_good(suspect, good, conditions), suspect.rail
    if rail is None:
        return findings, verdict
    return findings, replace(verdict, evidence=supply_evidence(rail, drop if drop is not None else rail.drop))


def _judged(
    suspect: SupplyExamination, good: SupplyExamination | None, conditions: Conditions
) -> tuple[tuple[Finding, ...], Verdict]:
    drop = drop_to_the_good(suspect, good, conditions)
    rail = suspect.rail
    findings = list(suspect.findings)
    if drop is not None and rail is not None:
        findings += drop_findings(suspect.channel, drop, rail.limits.drop_v)
    if rail is None:
        return tuple(findings), _no_supply(suspect, good, conditions)
    troubles = _troubles(rail, drop if drop is not None else rail.drop)
    doubts = [doubt for doubt in suspect.doubts if doubt.about in ("system voltage", "clipping", "gaps")]
    notes = [*(doubt.text for doubt in suspect.doubts), *_beside_the_good(rail, good)]
    ordered = tuple(sorted(findings, key=lambda one: one.start_s))
    if troubles and not any(doubt.about == "system voltage" for doubt in doubts):
        return ordered, faulty(troubles, notes)
    questions = [*((doubt.text, doubt.do) for doubt in doubts), *((text, ASK_THE_LEVEL) for text in _open_dips(rail))]
    if questions:
        return ordered, cannot_tell(questions, (), notes)
    return ordered, Verdict("clean", "none", (*_kept(rail, drop), *notes))


def _no_supply(suspect: SupplyExamination, good: SupplyExamination | None, conditions: Conditions) -> Verdict:
    doubt = suspect.doubts[0]
    if doubt.about == "no supply" and conditions.same_moment and good is not None and good.rail is not None:
        level = in_words(good.rail.level_v, "V")
        return Verdict(
            "faulty",
            "open",
            (f"Nothing arrives at {suspect.channel.name!r} while {good.channel.name!r} holds {level}.", doubt.text),
            next_step="Look for the blown fuse, the open relay or the open wire between the two points.",
            picture="supply does not arrive",
        )
    return not_sound(suspect)


def _troubles(rail: SupplyReading, drop: Drop | None) -> list[Trouble]:
    """The most telling first."""
    drops = _drops(rail, drop)
    # Where the current makes the drop, the drop makes the dips.
    resistive = drop is not None and bool(drops) and drop.ohm is not None and (drop.ohm_low or 0.0) > 0
    found = [
        *(drops if resistive else _breaks(rail)),
        *_load_dumps(rail),
        *([] if resistive else _deep_dips(rail)),
        *_transients(rail),
        *_levels(rail),
        *([] if resistive else drops),
        *_ripples(rail),
    ]
    return found


def _breaks(rail: SupplyReading) -> list[Trouble]:
    cut = [one for one in rail.dips if one.is_break]
    if not cut:
        return []
    deepest, longest = min(one.lowest_v for one in cut), max(one.stop_s - one.start_s for one in cut)
    times = f"{len(cut)} time{'s' if len(cut) > 1 else ''}"
    return [
        Trouble(
            "supply cut off for moments",
            "open",
            (
                f"The supply was cut off {times}, down to {in_words(deepest, 'V')} and for at most "
                f"{in_words(longest, 's', digits=2)}; first at {in_words(cut[0].start_s, 's', digits=5)}.",
                "It comes back at once. A starter that pulls the supply down lets go of it in 40 ms and more (ISO 16750-2).",
            ),
            "Move the loom, the fuse, the relay and each connector between battery and this point while recording.",
            intermittent=True,
        )
    ]


def _load_dumps(rail: SupplyReading) -> list[Trouble]:
    found = [one for one in rail.transients if one.pulse[:1] == "5"]
    if not found:
        return []
    worst = max(found, key=lambda one: one.shape.peak_v)
    return [
        Trouble(
            "load dump",
            "unknown",
            (
                f"Load dump: {transient_words(worst)}, {in_words(worst.shape.peak_v, 'V')} at most.",
                f"Cause: {worst.cause}.",
            ),
            "Check battery terminals, the alternator's wire to the battery and the earth straps; then the units that saw it.",
        )
    ]


def _deep_dips(rail: SupplyReading) -> list[Trouble]:
    deep = [one for one in rail.dips if not one.is_break and severity_of_dip(one, rail) == "severe"]
    if not deep:
        return []
    worst = min(deep, key=lambda one: one.lowest_v)
    wanted = rail.limits.start_level
    held = f"level {wanted}, which the unit was made for" if wanted else "every level"
    part = "" if worst.is_whole else " The capture does not show all of it."
    lasted = in_words(worst.stop_s - worst.start_s, "s", digits=2)
    return [
        Trouble(
            "dip beyond the start profile",
            "unknown",
            (
                f"The supply dips to {in_words(worst.lowest_v, 'V')}, {lasted} below {in_words(rail.limits.lowest_v, 'V')}: "
                f"deeper or longer than {held} of ISO 16750-2's start profile.{part}",
            ),
            "Judge the battery and the starter's cables with the signal kind for cranking.",
        )
    ]


def _transients(rail: SupplyReading) -> list[Trouble]:
    severe = [
        one
        for one in rail.transients
        if one.pulse[:1] != "5"
        and severity_of_transient(one, rail) == "severe"
        and (one.pulse or one.shape.width_s < 0.05)
    ]
    found: list[Trouble] = []
    for pulse in dict.fromkeys(one.pulse for one in severe):
        alike = [one for one in severe if one.pulse == pulse]
        worst = max(alike, key=lambda one: abs(one.shape.height_v))
        times = f" It comes {len(alike)} times." if len(alike) > 1 else ""
        cause = f" Usual cause: {worst.cause}." if worst.cause else ""
        peak = rail.limits.peak_v if worst.shape.sign > 0 else rail.limits.reverse_v
        found.append(
            Trouble(
                f"transient like pulse {pulse}" if pulse else "transient",
                "unknown",
                (f"A transient {transient_words(worst)}, beyond {in_words(peak, 'V')}.{times}{cause}",),
                "Find what switches at that moment, and measure across it: its diode or resistor against cut-off peaks.",
            )
        )
    return found


def _levels(rail: SupplyReading) -> list[Trouble]:
    limits, level = rail.limits, rail.level_v
    if level < limits.lowest_v:
        return [
            Trouble(
                "supply too low",
                "unknown",
                (f"The supply stands at {in_words(level, 'V')}, below {in_words(limits.lowest_v, 'V')}.",),
                "Measure the battery itself; where that is higher, measure the drop along positive and ground wire under load.",
            )
        ]
    long = [one for one in rail.transients if not one.pulse and one.shape.width_s >= 0.05]
    if level > limits.highest_v or any(severity_of_transient(one, rail) == "severe" for one in long):
        highest = max([level, *(one.shape.peak_v for one in long)])
        return [
            Trouble(
                "supply too high",
                "unknown",
                (
                    f"The supply reaches {in_words(highest, 'V')} and holds it, above {in_words(limits.highest_v, 'V')}.",
                ),
                "Check the regulator with the signal kind for charging.",
            )
        ]
    return []


def _drops(rail: SupplyReading, drop: Drop | None) -> list[Trouble]:
    if drop is None or drop.greatest_v <= rail.limits.drop_v + drop.doubt_v:
        return []
    ohm = f"{resistance_words(drop)} {drop.ohm_from}" if drop.ohm is not None else ""
    return [
        Trouble(
            "too much voltage drop",
            "resistive",
            (
                f"{in_words(drop.greatest_v, 'V')} are lost between the two points, above "
                f"{in_words(rail.limits.drop_v, 'V')}.{ohm}",
            ),
            "Measure joint by joint along the wire under the same load; the one that holds most of the drop is the bad one.",
            ohm=(drop.ohm, drop.ohm_low, drop.ohm_high),
        )
    ]


def _ripples(rail: SupplyReading) -> list[Trouble]:
    ripple = rail.ripple
    if ripple is None or ripple.peak_to_peak_v <= rail.limits.ripple_v:
        return []
    often = f" at {in_words(ripple.hz, 'Hz')}" if ripple.hz is not None else ""
    return [
        Trouble(
            "too much ripple",
            "unknown",
            (
                f"Ripple of {in_words(ripple.peak_to_peak_v, 'V')} peak to peak{often}, {in_words(ripple.rms_v, 'V')} on AC "
                f"volts; the limit is {in_words(rail.limits.ripple_v, 'V')} peak to peak.",
            ),
            "Judge the battery's own voltage with the signal kind for charging: diodes, phases, regulator.",
        )
    ]


def _open_dips(rail: SupplyReading) -> list[str]:
    """Dips that some units ride through and others do not."""
    if rail.limits.start_level:
        return []
    left = [one for one in rail.dips if one.kept and one.kept[0] != "I" and not one.is_break]
    if not left:
        return []
    worst = min(left, key=lambda one: one.lowest_v)
    return [
        f"The supply dips to {in_words(worst.lowest_v, 'V')}: within start profile level {' and '.join(worst.kept)} of "
        "ISO 16750-2, but not within level I. Whether the unit was made for that is not known."
    ]


def _beside_the_good(rail: SupplyReading, good: SupplyExamination | None) -> list[str]:
    if good is None or good.rail is None:
        return []
    there = good.rail
    told = [f"The known-good holds {in_words(there.level_v, 'V')}, this {in_words(rail.level_v, 'V')}."]
    if rail.ripple is not None and there.ripple is not None:
        here, known = rail.ripple.peak_to_peak_v, there.ripple.peak_to_peak_v
        if here > MORE_RIPPLE * max(known, 1e-3):
            told.append(f"Its ripple is {here / max(known, 1e-3):.0f} times the known-good's {in_words(known, 'V')}.")
    return told


def _kept(rail: SupplyReading, drop: Drop | None) -> list[str]:
    limits = rail.limits
    told = [
        f"{in_words(rail.level_v, 'V')}, inside {in_words(limits.lowest_v, 'V')} to {in_words(limits.highest_v, 'V')} of a "
        f"{limits.system_v:.0f} V vehicle."
    ]
    if rail.dips:
        deepest = min(rail.dips, key=lambda one: one.lowest_v)
        told.append(
            f"It dips to {in_words(deepest.lowest_v, 'V')} at least, within start profile level {deepest.kept[0]} of ISO 16750-2."
        )
    if rail.transients:
        worst = max(rail.transients, key=lambda one: abs(one.shape.height_v))
        told.append(f"The highest transient is {transient_words(worst)}; units have to stand that.")
    if rail.ripple is not None and rail.ripple.peak_to_peak_v > 0:
        height = in_words(rail.ripple.peak_to_peak_v, "V", digits=2)
        told.append(f"Ripple {height} peak to peak, at most {in_words(limits.ripple_v, 'V')}.")
    seen = drop if drop is not None else rail.drop
    if seen is not None:
        told.append(
            f"Drop to the far end {in_words(seen.greatest_v, 'V', digits=2)}, at most {in_words(limits.drop_v, 'V')}."
        )
    else:
        told.append(f"The drop along its wire was not judged: name the battery's own channel (role {FAR_END.key}).")
    return told
