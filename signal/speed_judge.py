"""What a wheel speed sensor's current means."""

from dataclasses import dataclass

from loomlight.signal.capture import Channel
from loomlight.signal.cause import Cause, Throughout, lost_throughout, marked_throughout, verdict_of
from loomlight.signal.examination import Conditions, Doubt
from loomlight.signal.finding import Finding, FindingKind
from loomlight.signal.input_doubts import not_about_levels
from loomlight.signal.quantity import in_words
from loomlight.signal.speed_bits import LEAST_SAMPLES, SpeedData
from loomlight.signal.speed_reading import SpeedReading
from loomlight.signal.speed_settings import HIGH_LEAST, HIGH_MOST, LOW_LEAST, LOW_MOST, PEAK_LEAST, PEAK_MOST, SHEET
from loomlight.signal.verdict import Fault, ShortTo, Verdict
from loomlight.signal.wheel_reading import Lost

RATIO_LEAST, RATIO_MOST = 1.55, 2.6
"""Upper over lower current: 11.7/8.4 = 1.39 to 16.8/5.88 = 2.86 of the sheet; two wires of one vehicle differ by less."""
BESIDE = 0.2
"""Of the known-good's currents (common practice, no source)."""
NOTHING = 0.25
"""Of the lower current: below, none flows."""
PARITY_KEPT, PARITY_THERE, FEWEST_WRONG = 0.99, 0.75, 2
"""Of the whole frames: below the first the data are disturbed, below the second there is no parity (common practice)."""
AIR_GAP_WARNS = 0.9
"""Of the frames: bit 0 in fewer is not the state of the air gap (common practice, no source)."""
LIMITED = 1.2
"""Times the highest current of the sensor: above, it is a short's."""
LOOM = "Move the loom, above all where it bends with the wheel, and the plug while recording."


@dataclass(frozen=True)
class SpeedCase:
    """All that the verdict is made from; ``turns_beside`` says why the wheel must have turned."""

    channel: Channel
    reading: SpeedReading
    good: SpeedReading | None
    findings: tuple[Finding, ...]
    conditions: Conditions
    doubts: tuple[Doubt, ...]
    turns_beside: str
    unit: str


def judge_speed(case: SpeedCase) -> tuple[tuple[Finding, ...], Verdict]:
    """What is wrong throughout, and the verdict, most telling cause first."""
    turned = [one for one in case.doubts if one.about == "upside down"]
    if turned:
        return (), Verdict("cannot tell", "unknown", (turned[0].text,), next_step=turned[0].do)
    if not case.reading.has_pulses:
        verdict = _without_pulses(case)
        return lost_throughout(case.channel, verdict), verdict
    judged = not_about_levels(case.doubts)
    currents = _currents(case) if judged else []
    causes = [*(_lost(case) if judged else ()), *currents, *_ring(case), *_missing(case), *_extra(case), *_data(case)]
    notes = [f"{one.text} {one.do}" for one in case.doubts if one.about == "clipping"]
    if not case.reading.in_amperes:
        notes.append(
            "The shunt is not known: the currents were judged by their ratio only. Give it with the setting shunt."
        )
    notes += _about_data(case.reading.data)
    stops = [one for one in case.reading.wheel.lost if one.stops]
    if stops:
        notes.append(
            f"The wheel comes to rest or starts at {in_words(stops[0].start_s, 's')}: its speed shows that; no fault."
        )
    if case.good is not None and not case.good.has_pulses:
        notes.append("The known-good shows no pulses, so nothing was held against it.")
    unsure = [*(one for one in case.doubts if one.about != "clipping"), *_another_signal(case)]
    verdict = verdict_of(causes, unsure=unsure, notes=notes, clean=_clean(case.reading, case.unit))
    return marked_throughout(case.channel, causes), verdict


def _another_signal(case: SpeedCase) -> list[Doubt]:
    """Volts whose levels do not go together as such a sensor's currents do."""
    own = case.reading
    if own.in_amperes or own.high <= RATIO_MOST * own.low:
        return []
    levels = f"{_own_words(case, own.low)} and {_own_words(case, own.high)}"
    text = f"The levels are {levels}; the currents of such a sensor are as 1 to 2."
    return [Doubt("another signal", text, "Check the signal kind, where the shunt sits, and the instrument's zero.")]


def _level(case: SpeedCase, value: float) -> str:
    """A level of the channel in words, as a current where that is known."""
    return in_words(value * case.reading.factor, "A" if case.reading.in_amperes else case.unit)


def _without_pulses(case: SpeedCase) -> Verdict:
    level = case.reading.most / case.reading.factor
    amps = case.reading.most
    told = f"The sensor's line draws {_level(case, level)} and no pulse comes"
    known = case.reading.in_amperes
    if known and amps > LIMITED * case.conditions.needed(PEAK_MOST):
        text = f"{told}: more than any level of such a sensor, so a short between its wires or to ground."
        return Verdict(
            "faulty", "short", (text,), next_step="Unplug the sensor: does the current go?", picture="short circuit"
        )
    if known and abs(amps) < NOTHING * case.conditions.needed(LOW_LEAST):
        text = f"{told}: a powered sensor draws 7 mA even when the wheel stands, so its circuit is open, or it is not powered."
        do = "Measure the control unit's supply at the sensor's plug; then the wire for continuity; check the clamp's zero."
        return Verdict("faulty", "open", (text,), next_step=do, picture="open circuit")
    if case.turns_beside:
        text = f"{told}, although {case.turns_beside}: the sensor does not see the ring, or is dead."
        do = "Check the sensor's seat, the air gap and the ring."
        return Verdict("faulty", "unknown", (text,), next_step=do, picture="no signal")
    text = f"{told}: the wheel stands, or the sensor does not see its ring."
    return Verdict(
        "cannot tell", "unknown", (text,), next_step="Turn the wheel by hand while recording, a turn in two seconds."
    )


def _lost(case: SpeedCase) -> list[Cause]:
    lost = [one for one in case.reading.wheel.lost if not one.stops and (one.at_end or one.at_begin)]
    if not lost:
        return []
    worst = max(lost, key=lambda one: one.stop_s - one.start_s)
    where = (
        f"At {in_words(worst.start_s, 's', digits=5)} the pulses end at full speed"
        if not worst.at_begin
        else f"The pulses begin at full speed at {in_words(worst.stop_s, 's', digits=5)}"
    )
    stands = f"the line {'before' if worst.at_begin else 'then'} draws {_level(case, worst.level)}"
    kind = _kind_of(case, worst)
    if kind == "short":
        reason = f"{where}; {stands}, more than any level of the sensor: a short between its wires or to ground."
        do = f"Unplug the sensor: does the current go? {LOOM}"
        return [
            Cause(
                "short",
                "short circuit",
                reason,
                do,
                "wire",
                short_to="ground",
                asked="Do the pulses come all the time?",
            )
        ]
    if kind == "open":
        reason = f"{where}; {stands}: nothing, so the circuit is open."
        return [Cause("open", "open circuit", reason, LOOM, "wire", asked="Do the pulses come all the time?")]
    reason = f"{where}; {stands}, a level of the sensor: it no longer sees the ring, or is dead."
    do = "Check the sensor's seat, the air gap, and dirt or damage on the ring."
    return [Cause("unknown", "signal lost", reason, do, "component", asked="Do the pulses come all the time?")]


def _kind_of(case: SpeedCase, lost: Lost) -> str:
    amps = lost.level * case.reading.factor
    top = case.reading.third or case.reading.high
    if amps > LIMITED * top:
        return "short"
    return "open" if amps < NOTHING * case.reading.low else "level"


def _currents(case: SpeedCase) -> list[Cause]:
    own = case.reading
    if own.in_amperes:
        found = _absolute(case)
        if found:
            return found
    elif own.high < RATIO_LEAST * own.low:
        ratio = own.high / own.low
        reason = f"The upper level is {ratio:.2f} times the lower one; about 2 is wanted (14 mA over 7 mA, {SHEET})."
        do = "Give the shunt's resistance, or clamp the current; compare with another wheel."
        mark = Throughout(
            "too high", own.low - own.high / RATIO_LEAST, case.unit, f"the levels are as 1 to {ratio:.2f}"
        )
        return [
            Cause("resistive", "leak to ground", reason, do, "wire", asked="Are the currents right?", throughout=mark)
        ]
    good = case.good
    if good is None or not good.has_pulses:
        return []
    unlike = [
        (name, here, there)
        for name, here, there in (("lower", own.low, good.low), ("upper", own.high, good.high))
        if abs(here / there - 1.0) > BESIDE
    ]
    if not unlike:
        return []
    told = " and ".join(
        f"the {name} current is {_own_words(case, here)}, on the known-good {_own_words(case, there)}"
        for name, here, there in unlike
    )
    picture = "leak to ground" if all(here > there for _, here, there in unlike) else "low current"
    if picture == "low current" and len(unlike) == 1 and unlike[0][0] == "upper":
        picture = "series resistance"
    reason = f"{told[0].upper()}{told[1:]}."
    kind: FindingKind = "too high" if picture == "leak to ground" else "too low"
    worst = max(abs(here - there) for _, here, there in unlike)
    mark = Throughout(kind, worst, "A" if own.in_amperes else case.unit, told)
    return [Cause("resistive", picture, reason, LOOM, "wire", asked="Are the currents right?", throughout=mark)]


def _own_words(case: SpeedCase, value: float) -> str:
    return in_words(value, "A" if case.reading.in_amperes else case.unit)


def _absolute(case: SpeedCase) -> list[Cause]:
    own = case.reading
    low_least, low_most, high_least, high_most, peak_least, peak_most = (
        case.conditions.needed(one) for one in (LOW_LEAST, LOW_MOST, HIGH_LEAST, HIGH_MOST, PEAK_LEAST, PEAK_MOST)
    )
    levels = f"{in_words(own.low, 'A')} and {in_words(own.high, 'A')}"
    wanted = f"{low_least * 1e3:.3g} to {low_most * 1e3:.3g} mA and {high_least * 1e3:.3g} to {high_most * 1e3:.3g} mA ({SHEET})"
    if own.third is not None:
        levels += f", speed pulse {in_words(own.third, 'A')}"
        wanted += f", speed pulse {peak_least * 1e3:.3g} to {peak_most * 1e3:.3g} mA"
    if own.low > low_most and own.high > low_most:
        supply = case.conditions.supply_v
        extra = own.low - 7e-3
        ohms = (
            f" (about {in_words(supply / extra, 'Ω', digits=2)} if all of the supply lies across it)" if supply else ""
        )
        more = in_words(extra, "A", digits=2)
        reason = f"The currents are {levels}; {wanted}: about {more} more flows beside the sensor, a leak{ohms}."
        do = "Unplug the sensor: what still flows is the leak. Look for water in plug and loom."
        mark = Throughout("too high", own.low - low_most, "A", f"currents {levels}")
        return [_current_cause("short", "leak to ground", reason, do, mark)]
    if own.low < low_least:
        reason = (
            f"The currents are {levels}; {wanted}: both too low, by a leak beside the shunt, a sensor of another kind, or too "
            "little supply."
        )
        do = "Measure the sensor's supply at its plug while it draws its current; check the shunt's value and the clamp's zero."
        mark = Throughout("too low", low_least - own.low, "A", f"currents {levels}")
        return [_current_cause("resistive", "low current", reason, do, mark)]
    low_peak = own.third is not None and own.third < peak_least
    if own.high < high_least or low_peak:
        reason = (
            f"The currents are {levels}; {wanted}: the lower one is right and the upper one is not reached, so resistance in "
            "series takes the sensor's supply away just then."
        )
        do = "Measure the voltage drop along both wires while the sensor draws its upper current; look at the plug's pins."
        short_by = max(high_least - own.high, peak_least - own.third if own.third is not None else 0.0)
        mark = Throughout("too low", short_by, "A", f"currents {levels}")
        return [_current_cause("resistive", "series resistance", reason, do, mark)]
    if own.high > high_most or (own.third is not None and own.third > peak_most):
        reason = f"The currents are {levels}; {wanted}: too high."
        over = max(own.high - high_most, own.third - peak_most if own.third is not None else 0.0)
        mark = Throughout("too high", over, "A", f"currents {levels}")
        return [_current_cause("short", "leak to ground", reason, LOOM, mark)]
    return []


def _current_cause(fault: Fault, picture: str, reason: str, do: str, mark: Throughout) -> Cause:
    asked = "Are the currents right?"
    to: ShortTo | None = "ground" if fault == "short" else None
    return Cause(fault, picture, reason, do, "wire", short_to=to, asked=asked, throughout=mark)


def _ring(case: SpeedCase) -> list[Cause]:
    missing = case.reading.wheel.missing
    if not missing:
        return []
    wheel = case.reading.wheel.wheel
    poles = wheel.positions if wheel is not None else 0
    places = ", ".join(str(one + 1) for one in missing[:5])
    reason = (
        f"The same {'pulse is' if len(missing) == 1 else 'pulses are'} missing in every turn of {poles} pulses ({places}, "
        "counted from the first of the capture): the ring is damaged or dirty there."
    )
    do = "Look at the magnet ring with a viewing film, at the tooth ring with a lamp; turn the wheel and feel for play."
    return [Cause("unknown", "ring damaged", reason, do, "component", asked="At the same place each turn?")]


def _missing(case: SpeedCase) -> list[Cause]:
    gone = [
        one
        for one in case.findings
        if one.kind in ("missing pulse", "lost signal", "dropout") and "as in most" not in one.rule
    ]
    gone = [
        one
        for one in gone
        if not (
            one.kind == "lost signal"
            and any(lost.start_s == one.start_s and (lost.at_end or lost.at_begin) for lost in case.reading.wheel.lost)
        )
    ]
    if not gone or case.reading.wheel.missing:
        return []
    dropped = [one for one in gone if one.kind == "dropout"]
    picture = "intermittent wire" if dropped else "missing pulses"
    count = sum(one.size for one in gone if one.kind == "missing pulse")
    level = ", the current falling to nothing each time" if dropped else ""
    pulses = f" ({count:.0f} {'pulse' if count == 1 else 'pulses'})" if count else ""
    reason = (
        f"Pulses are missing at {len(gone)} {'place' if len(gone) == 1 else 'places'}{pulses}, the first at "
        f"{in_words(gone[0].start_s, 's', digits=5)}{level}: no wheel stops for one pulse."
    )
    suspect_wire = bool(dropped)
    return [
        Cause(
            "open" if suspect_wire else "unknown",
            picture,
            reason,
            LOOM
            if suspect_wire
            else f"{LOOM} Give the pulses a turn (poles): are they missing at the same place of the ring?",
            "wire" if suspect_wire else "component",
            intermittent=True,
            asked="Do all pulses come?",
        )
    ]


def _extra(case: SpeedCase) -> list[Cause]:
    extra = [one for one in case.findings if one.kind == "extra pulse"]
    gone = any(one.kind in ("missing pulse", "lost signal", "dropout") for one in case.findings)
    if not extra or gone:
        return []
    first = in_words(extra[0].start_s, "s", digits=5)
    reason = f"{len(extra)} {'pulse' if len(extra) == 1 else 'pulses'} too many, the first at {first}."
    do = "Check the sensor's seat and the ring for a chip of metal; keep the loom away from ignition and motor cables."
    return [Cause("unknown", "extra pulses", reason, do, "component", intermittent=True, asked="Do other pulses come?")]


def is_disturbed(data: SpeedData) -> bool:
    """Whether a parity holds in most frames, and fails in too many for chance."""
    kept = data.kept
    return kept is not None and PARITY_THERE <= kept < PARITY_KEPT and int(data.wrong.sum()) >= FEWEST_WRONG


def _data(case: SpeedCase) -> list[Cause]:
    data = case.reading.data
    if data is None or not is_disturbed(data):
        return []
    wrong, whole = int(data.wrong.sum()), int(data.whole.sum())
    first = in_words(float(data.starts_s[data.wrong][0]), "s", digits=5)
    reason = (
        f"The data behind the speed pulse break their parity in {wrong} of {whole} frames, the first at {first}; the others keep "
        "it: interference, or a contact that comes and goes."
    )
    asked = "Do the data keep their parity?"
    return [Cause("unknown", "data disturbed", reason, LOOM, "wire", intermittent=True, asked=asked)]


def _about_data(data: SpeedData | None) -> list[str]:
    """What is said about the data in any case."""
    if data is None:
        return []
    if data.samples_a_bit < LEAST_SAMPLES:
        few = f"{data.samples_a_bit:.1f} samples a bit, {LEAST_SAMPLES:g} are needed"
        return [f"The data behind the speed pulse were not read: {few}."]
    kept, whole = data.kept, int(data.whole.sum())
    if kept is None:
        return ["No data with all nine bits follow the speed pulse; their parity was not judged."]
    if kept < PARITY_THERE:
        return [f"The ninth bit is no parity: it fits in {kept:.0%} of {whole} frames. The data were not judged."]
    told = (
        []
        if is_disturbed(data)
        else [f"The data behind the speed pulse keep their parity in {kept:.1%} of {whole} frames."]
    )
    warned = float((data.bits[data.whole][:, 0] > 0).mean())
    if warned > AIR_GAP_WARNS:
        told.append(
            f"Bit 0 of the data is set in {warned:.0%} of the frames: from memory, the air gap's reserve is used up. The part's "
            "own sheet decides."
        )
    return told


def _clean(reading: SpeedReading, unit: str) -> str:
    shown = "A" if reading.in_amperes else unit
    third = f" and {in_words(reading.third, shown)}" if reading.third is not None else ""
    teeth = reading.wheel.teeth
    assert teeth is not None
    levels = f"{in_words(reading.low, shown)} and {in_words(reading.high, shown)}{third}"
    return f"{teeth.times_s.size} speed pulses at about {in_words(reading.rate_hz, 'Hz')}, none missing; the levels are {levels}."
