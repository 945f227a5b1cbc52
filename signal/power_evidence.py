"""Wire, component or control unit: what a supply, a charged battery or a start says for and against each.

The component is the battery, the alternator, the starter, the engine, or a load beside the wire. What one of them keeps
says nothing about another, so nothing that is kept lowers the component.
"""

from loomlight.signal.charging_examination import ChargingReading
from loomlight.signal.charging_findings import (
    is_charging,
    is_held_still,
    rectifier_faults,
    sound_likeness,
    stands_still,
)
from loomlight.signal.cranking_examination import CrankingReading
from loomlight.signal.cranking_findings import weak_cylinders, weak_words
from loomlight.signal.evidence import Evidence, Suspect
from loomlight.signal.quantity import in_words
from loomlight.signal.supply_examination import SupplyReading
from loomlight.signal.supply_findings import severity_of_dip, severity_of_transient, transient_words
from loomlight.signal.voltage_drop import Drop

NOT_RECORDED = "not recorded"


def supply_evidence(rail: SupplyReading, drop: Drop | None) -> tuple[Evidence, ...]:
    """The evidence table of a supply rail, with the drop to its far end where that was recorded."""
    return (
        _rail_level(rail),
        _breaks(rail),
        _drop(drop, rail.limits.drop_v, "far end"),
        *_dips(rail),
        *_struck(rail),
        *_ac(rail),
    )


def _rail_level(rail: SupplyReading) -> Evidence:
    asked, limits = "Is the level kept?", rail.limits
    answer = f"{in_words(rail.level_v, 'V')}, {in_words(limits.lowest_v, 'V')} to {in_words(limits.highest_v, 'V')}"
    if rail.level_v < limits.lowest_v:
        return Evidence(asked, answer, "Empty battery, or a drop on the way.", ("wire", "component"))
    if rail.level_v > limits.highest_v:
        return Evidence(asked, answer, "No wire raises a voltage: the regulator does.", ("component",), ("wire",))
    return Evidence(asked, answer, "Battery and alternator hold what they must.")


def _breaks(rail: SupplyReading) -> Evidence:
    cut = sum(one.is_break for one in rail.dips)
    if cut:
        return Evidence("Does it stay on?", f"cut off {cut} times", "A contact lets go and closes again.", ("wire",))
    return Evidence(
        "Does it stay on?", "yes, while it was recorded", "A fault that comes and goes may have stayed away."
    )


def _drop(drop: Drop | None, limit_v: float, far: str) -> Evidence:
    asked = "What is lost along the wire?"
    if drop is None:
        return Evidence(asked, NOT_RECORDED, f"Record the {far} together with it and name that channel.")
    lost = f"{in_words(drop.greatest_v, 'V', digits=2)}, at most {in_words(limit_v, 'V')}"
    if drop.greatest_v > limit_v + drop.doubt_v:
        return Evidence(asked, lost, "Resistance in wire, joints or contacts between the two points.", ("wire",))
    if drop.greatest_v > limit_v - drop.doubt_v:
        return Evidence(asked, lost, "Within what two channels differ by themselves.")
    return Evidence(asked, lost, "The way between the two points is sound.", (), ("wire",))


def _dips(rail: SupplyReading) -> list[Evidence]:
    pulled = [one for one in rail.dips if not one.is_break]
    if not pulled:
        return []
    worst = min(pulled, key=lambda one: one.lowest_v)
    within = f", within level {worst.kept[0]} of ISO 16750-2" if worst.kept else ", beyond ISO 16750-2's start profile"
    deep = severity_of_dip(worst, rail) == "severe"
    why = "A starter or another load pulls it down further than units have to stand." if deep else "A start does that."
    answer = f"down to {in_words(worst.lowest_v, 'V')}{within}"
    return [Evidence("Do its dips keep the start profile?", answer, why, ("component",) if deep else ())]


def _struck(rail: SupplyReading) -> list[Evidence]:
    if not rail.transients:
        return []
    worst = max(rail.transients, key=lambda one: abs(one.shape.height_v))
    severe = severity_of_transient(worst, rail) == "severe"
    why = f"Cause: {worst.cause}." if worst.cause else "What switches at that moment makes it."
    raises: tuple[Suspect, ...] = ("wire",) if severe and worst.pulse[:1] == "5" else ("component",) if severe else ()
    return [Evidence("Do transients strike it?", transient_words(worst), why, raises)]


def _ac(rail: SupplyReading) -> list[Evidence]:
    if rail.ripple is None:
        return []
    height, limit_v = rail.ripple.peak_to_peak_v, rail.limits.ripple_v
    answer = f"{in_words(height, 'V', digits=2)} peak to peak, at most {in_words(limit_v, 'V')}"
    if height > limit_v:
        return [Evidence("Is its ripple kept?", answer, "Alternator, battery, or a load that pulses.", ("component",))]
    return [Evidence("Is its ripple kept?", answer)]


def charging_evidence(charge: ChargingReading) -> tuple[Evidence, ...]:
    """The evidence table of a charged battery."""
    level = () if charge.ac_coupled else (_charged(charge),)
    return (*level, _rectifier(charge), *_moves(charge), *_belt(charge), *_current(charge))


def _charged(charge: ChargingReading) -> Evidence:
    asked, limits = "Is it charged as high as it must be?", charge.limits
    answer = f"{in_words(charge.level_v, 'V')}, {in_words(limits.lowest_v, 'V')} to {in_words(limits.highest_v, 'V')}"
    if charge.high_v > limits.highest_v:
        why = "The regulator lets it rise; a sense wire with resistance does the same."
        return Evidence(asked, answer, why, ("component", "wire"))
    if charge.level_v >= limits.lowest_v:
        return Evidence(asked, answer)
    if limits.controlled is not False:
        return Evidence(asked, answer, "A controlled alternator may go lower on purpose.")
    if charge.cycle is not None and is_charging(charge):
        return Evidence(asked, answer, "It delivers, but too little arrives.", ("component", "wire"))
    return Evidence(asked, answer, "It does not deliver, or what it delivers does not arrive.", ("component", "wire"))


def _rectifier(charge: ChargingReading) -> Evidence:
    asked, cycle, faults = "Is the ripple a sound rectifier's?", charge.cycle, rectifier_faults(charge)
    if cycle is None:
        return Evidence(asked, "not to be seen", "A faster sample rate, a smaller range or more load may show it.")
    height = in_words(cycle.peak_to_peak_v, "V", digits=2)
    if faults:
        return Evidence(asked, f"no: {height}, {' or '.join(faults)}", "", ("component",), ("wire", "control unit"))
    sound = sound_likeness(charge)
    if cycle.is_sixth or (sound is not None and sound >= max(one.likeness for one in cycle.matches)):
        return Evidence(asked, f"yes: {height} peak to peak", "All diodes and phases deliver.")
    return Evidence(asked, f"cannot be told: {height}", "Give the engine's speed, or record under more load.")


def _moves(charge: ChargingReading) -> list[Evidence]:
    if charge.limits.controlled is not True or charge.ac_coupled:
        return []
    asked = "Does it move as the control unit sets it?"
    answer = (
        f"by {in_words(charge.high_v - charge.low_v, 'V', digits=2)} within {in_words(charge.length_s, 's', digits=2)}"
    )
    if is_held_still(charge):
        return [
            Evidence(asked, answer, "It stands where it falls back to without a command.", ("wire", "control unit"))
        ]
    if stands_still(charge) or charge.high_v - charge.low_v < 0.3 * charge.limits.twelves:
        return [Evidence(asked, answer, "Too little to tell: record revving, coasting and idling.")]
    return [Evidence(asked, answer, "The command arrives.", (), ("wire", "control unit"))]


def _belt(charge: ChargingReading) -> list[Evidence]:
    if not charge.slips:
        return []
    worst = max(one.share for one in charge.slips)
    return [
        Evidence("Does the belt hold?", f"no: {100 * worst:.0f} % of the speed lost", "", ("component",), ("wire",))
    ]


def _current(charge: ChargingReading) -> list[Evidence]:
    if charge.current_a is None:
        return []
    amps = in_words(charge.current_a, "A")
    if charge.current_a > 0:
        return [Evidence("Does current flow into the battery?", amps, "", (), ("wire",))]
    why = "It is discharged while it was recorded, or the clamp sits the other way round."
    return [Evidence("Does current flow into the battery?", amps, why)]


def cranking_evidence(start: CrankingReading) -> tuple[Evidence, ...]:
    """The evidence table of a start."""
    found = [*_battery(start), *_way(start), *_speed(start), *_compressions(start)]
    return tuple(found)


def _battery(start: CrankingReading) -> list[Evidence]:
    stages, limits = start.stages, start.limits
    if stages is None:
        return []
    found = []
    if stages.rest_v is not None:
        full = stages.rest_v >= limits.rest_v
        answer = f"{in_words(stages.rest_v, 'V')}, at least {in_words(limits.rest_v, 'V')}"
        found.append(Evidence("Is the battery charged?", answer, "", () if full else ("component",)))
    if not stages.is_crank:
        fall = in_words((stages.rest_v or stages.turning_v) - stages.turning_v, "V", digits=2)
        why = "The starter's feed, its control wire, or the starter itself is open."
        found.append(
            Evidence("Does the starter take current?", f"the voltage falls by {fall} only", why, ("wire", "component"))
        )
        return found
    holds = stages.turning_v >= limits.lowest_v
    answer = f"{in_words(stages.turning_v, 'V')}, at least {in_words(limits.lowest_v, 'V')}"
    found.append(Evidence("Does the battery hold its voltage?", answer, "", () if holds else ("component",)))
    return found


def _way(start: CrankingReading) -> list[Evidence]:
    drop, limit_v = start.drop, start.limits.drop_v
    if start.stages is None or not start.stages.is_crank:
        return []
    asked = "What is lost on the way to the starter?"
    if drop is None:
        return [
            Evidence(
                asked, NOT_RECORDED, "Record the starter's terminal together with the battery and name that channel."
            )
        ]
    answer = f"{in_words(drop.usual_v, 'V', digits=2)}, at most {in_words(limit_v, 'V')}"
    if drop.usual_v > limit_v + drop.doubt_v:
        return [Evidence(asked, answer, "Terminals, cable or the solenoid's contacts.", ("wire",), ("control unit",))]
    return [Evidence(asked, answer, "", (), ("wire",) if drop.usual_v < limit_v - drop.doubt_v else ())]


def _speed(start: CrankingReading) -> list[Evidence]:
    if start.rpm is None:
        return []
    answer = f"{start.rpm:.0f} rpm, at least {start.limits.rpm:.0f}"
    if start.rpm >= start.limits.rpm:
        return [Evidence("Is the engine turned fast enough?", answer)]
    return [
        Evidence("Is the engine turned fast enough?", answer, "Starter, engine, or its feed.", ("component", "wire"))
    ]


def _compressions(start: CrankingReading) -> list[Evidence]:
    asked = "Are the compressions alike?"
    if not start.each:
        return []
    weak = weak_cylinders(start)
    if weak:
        names = weak_words(weak, start)
        share = min(one.share for one in weak)
        return [
            Evidence(asked, f"{names} weak, {share:.0%} of the others", "", ("component",), ("wire", "control unit"))
        ]
    least, most = (pick(one.share for one in start.each) for pick in (min, max))
    return [Evidence(asked, f"{least:.0%} to {most:.0%} of each other")]
