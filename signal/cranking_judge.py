"""The verdict on a start."""

from dataclasses import replace

from loomlight.signal.cranking_examination import CrankingExamination, CrankingReading
from loomlight.signal.cranking_findings import cylinder_words, stands_still, weak_cylinders, weak_words
from loomlight.signal.cranking_pulses import Cylinder
from loomlight.signal.finding import Finding
from loomlight.signal.power_evidence import cranking_evidence
from loomlight.signal.quantity import in_words
from loomlight.signal.trouble import Trouble, cannot_tell, faulty, not_sound, resistance_words
from loomlight.signal.verdict import Verdict

LONG_ENOUGH_S = 1.2
LITTLE_A = 60.0
"""A solenoid alone takes less; a starter takes more (common practice, no source)."""
CAUSE_V = 2.0
"""Lost on the way to a starter that does not turn, for each 12 V: the way is the fault."""


def judge_cranking(
    suspect: CrankingExamination, good: CrankingExamination | None
) -> tuple[tuple[Finding, ...], Verdict]:
    """What the findings mean."""
    findings, verdict = _judged(suspect, good)
    if suspect.start is None:
        return findings, verdict
    return findings, replace(verdict, evidence=cranking_evidence(suspect.start))


def _judged(suspect: CrankingExamination, good: CrankingExamination | None) -> tuple[tuple[Finding, ...], Verdict]:
    start = suspect.start
    if start is None:
        return suspect.findings, not_sound(suspect)
    notes = [*(one.text for one in suspect.doubts), *_beside_the_good(start, good)]
    troubles = _troubles(start)
    if troubles and not any(one.about == "system voltage" for one in suspect.doubts):
        return suspect.findings, faulty(troubles, notes)
    left = [(one.text, one.do) for one in suspect.doubts if one.about == "system voltage"] + _open_questions(start)
    if left:
        return suspect.findings, cannot_tell(left, _kept(start), notes)
    return suspect.findings, Verdict("clean", "none", (*_kept(start), *notes))


def _troubles(start: CrankingReading) -> list[Trouble]:
    """The most telling first: what must be put right before the rest can be judged."""
    if start.stages is not None and not start.stages.is_crank:
        return [*_rest(start), *_no_current(start)]
    drops, locked = _drops(start), _locked(start)
    # A stalled starter takes so much that a sound cable loses a volt; more than that is the cause.
    is_cause = start.drop is not None and start.drop.usual_v > CAUSE_V * start.limits.twelves
    both = [*drops, *locked] if is_cause else [*locked, *drops]
    return [*_rest(start), *both, *_voltage(start), *_slow(start), *_weak(start)]


def _rest(start: CrankingReading) -> list[Trouble]:
    stages = start.stages
    if stages is None or stages.rest_v is None or stages.rest_v >= start.limits.rest_v:
        return []
    level, least = in_words(stages.rest_v, "V"), in_words(start.limits.rest_v, "V")
    return [
        Trouble(
            "battery discharged",
            "unknown",
            (f"The battery rests at {level}, below {least}: half empty or more.",),
            "Charge the battery, let it rest, and repeat the capture; then look for what drained it.",
        )
    ]


def _no_current(start: CrankingReading) -> list[Trouble]:
    stages = start.stages
    if stages is None:
        return []
    fall = in_words((stages.rest_v or stages.turning_v) - stages.turning_v, "V", digits=2)
    clamp = f", and {in_words(start.peak_a, 'A', digits=2)} flow" if start.peak_a is not None else ""
    if start.peak_a is not None and start.peak_a > LITTLE_A:
        return []
    return [
        Trouble(
            "starter takes no current",
            "open",
            (f"The voltage falls by {fall} only{clamp}: the starter's motor takes no current.",),
            "Check the starter's terminal and its control wire with the key turned; then its solenoid and brushes.",
        )
    ]


def _locked(start: CrankingReading) -> list[Trouble]:
    stages = start.stages
    if stages is None or start.pulses is not None or stages.over_s - stages.in_s < LONG_ENOUGH_S:
        return []
    if not stands_still(start):
        return []  # it turns, too slowly or too briefly to be read
    flows = f" and takes {in_words(start.turning_a, 'A')}" if start.turning_a is not None else ""
    return [
        Trouble(
            "starter does not turn",
            "unknown",
            (
                f"The voltage stays at {in_words(stages.turning_v, 'V')} without a compression to be seen: the starter is "
                f"fed{flows}, but nothing turns.",
            ),
            "See whether the engine can be turned by hand, the maker's way; if it can, the starter or its battery is at fault.",
        )
    ]


def _drops(start: CrankingReading) -> list[Trouble]:
    drop = start.drop
    if drop is None or drop.usual_v <= start.limits.drop_v + drop.doubt_v:
        return []
    return [
        Trouble(
            "high resistance to the starter",
            "resistive",
            (
                f"{in_words(drop.usual_v, 'V')} are lost between battery and starter while it turns, above "
                f"{in_words(start.limits.drop_v, 'V')}.{resistance_words(drop)}",
            ),
            "Measure joint by joint while cranking: terminals, cable, solenoid contacts; and the same on the ground side.",
            ohm=(drop.ohm, drop.ohm_low, drop.ohm_high),
        )
    ]


def _voltage(start: CrankingReading) -> list[Trouble]:
    stages = start.stages
    if stages is None or stages.turning_v >= start.limits.lowest_v or start.pulses is None:
        return []
    inner = ""
    if start.battery_ohm is not None:
        best, low, high = (in_words(one, "Ω", digits=2) for one in start.battery_ohm)
        inner = f" Battery and leads have {best} ({low} to {high})."
    flows = f" at {in_words(start.turning_a, 'A')}" if start.turning_a is not None else ""
    return [
        Trouble(
            "battery voltage breaks down",
            "unknown",
            (
                f"The battery holds {in_words(stages.turning_v, 'V')} only{flows} while the starter turns, below "
                f"{in_words(start.limits.lowest_v, 'V')}.{inner}",
            ),
            "Charge and load-test the battery; where it is sound, measure the starter's current.",
        )
    ]


def _slow(start: CrankingReading) -> list[Trouble]:
    rpm = start.rpm
    if rpm is None or rpm >= start.limits.rpm:
        return []
    flows = f" at {in_words(start.turning_a, 'A')}" if start.turning_a is not None else ""
    return [
        Trouble(
            "slow cranking",
            "unknown",
            (f"The engine is turned at {rpm:.0f} rpm{flows}, below {start.limits.rpm:.0f} rpm.",),
            "Much current: engine or starter drags. Little current: measure the drop to the starter on both sides.",
        )
    ]


def _weak(start: CrankingReading) -> list[Trouble]:
    weak = weak_cylinders(start)
    if not weak:
        return []
    source = "current" if start.from_current else "voltage"
    names = [cylinder_words(one, start) for one in weak]
    told = [
        f"Weak compression, {name}: its pulse in the {source} is {100 * one.share:.0f} % of the others' "
        f"({100 * one.low:.0f} to {100 * one.high:.0f} %, from {one.pulses} compressions)."
        for name, one in zip(names, weak, strict=True)
    ]
    which_ones = weak_words(weak, start)
    picture = f"weak compression, {which_ones}"
    return [
        Trouble(
            picture,
            "unknown",
            (*told, _whose(start, weak)),
            "Measure that cylinder's compression and leakage; a valve clearance or a stuck valve may be enough.",
        )
    ]


def _whose(start: CrankingReading, weak: tuple[Cylinder, ...]) -> str:
    count = len(start.each)
    if start.cylinders is None:
        return (
            f"How many cylinders it has was not given: of {count} it is {len(weak)}, of {2 * count} it would be "
            f"{2 * len(weak)}. Give their number (setting cylinders), and the speed is judged, too."
        )
    if weak[0].number is not None:
        return "Count in the order of firing from the cylinder that the mark belongs to."
    return "Without a sync mark the weak one cannot be named."


def _open_questions(start: CrankingReading) -> list[tuple[str, str]]:
    stages = start.stages
    if stages is None and not start.from_current:
        return [("Nothing is cranked in this capture.", "Record again, from half a second before the key is turned.")]
    if start.pulses is None:
        return [
            (
                "No compressions could be read: it turns too briefly or too slowly, or sample rate or range do not show them.",
                "Crank for 4 s and choose a range that just holds the voltage, or use a clamp.",
            )
        ]
    if not start.each:
        why = (
            "how many cylinders it has is not known"
            if start.cylinders is None
            else "fewer than three cycles were recorded"
        )
        return [
            (
                f"Cylinder against cylinder could not be judged: {why}.",
                "Give the number of cylinders (setting cylinders), and crank for 4 s.",
            )
        ]
    return []


def _kept(start: CrankingReading) -> list[str]:
    limits, stages = start.limits, start.stages
    told: list[str] = []
    if stages is not None and stages.is_crank:
        rest = f"rests at {in_words(stages.rest_v, 'V')} and " if stages.rest_v is not None else ""
        told.append(
            f"The battery {rest}holds {in_words(stages.turning_v, 'V')} while the starter turns, at least "
            f"{in_words(limits.lowest_v, 'V')}."
        )
        if stages.rest_v is None:
            told.append("The capture begins after the key was turned: the voltage at rest was not judged.")
    if start.rpm is not None:
        told.append(f"The engine is turned at {start.rpm:.0f} rpm, at least {limits.rpm:.0f} rpm.")
    if start.each:
        least, most = (pick(one.share for one in start.each) for pick in (min, max))
        source = "current" if start.from_current else "voltage"
        told.append(
            f"{len(start.each)} cylinders within {100 * least:.0f} to {100 * most:.0f} % of each other, by {source}."
        )
    if start.drop is not None:
        told.append(f"{in_words(start.drop.usual_v, 'V', digits=2)} are lost on the way to the starter.")
    return told


def _beside_the_good(start: CrankingReading, good: CrankingExamination | None) -> list[str]:
    if good is None or good.start is None:
        return []
    there = good.start
    told: list[str] = []
    if start.stages is not None and there.stages is not None:
        here_v, there_v = start.stages.turning_v, there.stages.turning_v
        told.append(f"The known-good holds {in_words(there_v, 'V')} while it turns, this {in_words(here_v, 'V')}.")
    if start.rpm is not None and there.rpm is not None:
        told.append(f"The known-good turns at {there.rpm:.0f} rpm, this at {start.rpm:.0f} rpm.")
    if start.turning_a is not None and there.turning_a is not None:
        told.append(
            f"The known-good's starter takes {in_words(there.turning_a, 'A')}, this {in_words(start.turning_a, 'A')}."
        )
    return told
