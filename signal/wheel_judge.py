"""What the findings on a toothed wheel mean."""

from collections.abc import Iterable
from dataclasses import dataclass

from loomlight.signal.evidence import Evidence
from loomlight.signal.examination import Conditions, Doubt
from loomlight.signal.finding import Finding
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Fault, ShortTo, Verdict
from loomlight.signal.wheel_cam import CamPhase, drift
from loomlight.signal.wheel_levels import weaknesses
from loomlight.signal.wheel_measures import gap_is_high
from loomlight.signal.wheel_reading import Lost, WheelReading, against
from loomlight.signal.wheel_settings import CAM_DRIFT, RUN_OUT
from loomlight.signal.wheel_shape import SHIFTED, WheelShape
from loomlight.signal.wheel_uneven import away

WEAKER, STRONGER = 0.6, 1.8
"""Of the known-good's strength at the same speed: outside, the air gap or the sensor differs (common practice, no source)."""
LEVEL_SHARE = 0.2
"""Of the known-good's amplitude: how far a level may be from the known-good's (common practice, no source)."""
BATTERY_V = 1.5
PATTERN_SHARE = 0.015
"""Of a turn: how far edges of an uneven wheel may lie from the known-good's (common practice, no source)."""


@dataclass(frozen=True)
class WheelCase:
    """All that the verdict is made from.

    Attributes
    ----------
    reading, good : WheelReading
        Of the suspect and, where there is one, of the known-good.
    shape, good_shape : WheelShape or None
        Their averages over turns.
    phase, good_phase : CamPhase or None
        Their cam sensors.
    findings : sequence of Finding
        On the suspect.
    doubts : sequence of Doubt
        About the measurement.
    conditions : Conditions
        What was known beside it.
    turning_beside : str
        Why the wheel must have turned although nothing came; empty where that is not known.
    unit : str
        Of the channel.
    """

    reading: WheelReading
    good: WheelReading | None
    shape: WheelShape | None
    good_shape: WheelShape | None
    phase: CamPhase | None
    good_phase: CamPhase | None
    findings: tuple[Finding, ...]
    doubts: tuple[Doubt, ...]
    conditions: Conditions
    turning_beside: str
    unit: str


@dataclass(frozen=True)
class _Cause:
    fault: Fault
    picture: str
    reason: str
    do: str
    suspect: str
    intermittent: bool = False
    short_to: ShortTo | None = None


def judge_wheel(case: WheelCase) -> Verdict:
    """The verdict, most telling cause first."""
    if case.reading.teeth is None:
        return _without_edges(case)
    causes = [
        *_lost(case),
        *_teeth(case),
        *_coming_and_going(case),
        *_weak(case),
        *_beside_the_good(case),
        *_cam(case),
    ]
    notes = _notes(case)
    if causes:
        first = causes[0]
        doubts = tuple(one.text for one in case.doubts if one.about != "clipping")
        return Verdict(
            "faulty",
            first.fault,
            (*(one.reason for one in causes), *doubts, *notes),
            next_step=first.do,
            short_to=first.short_to,
            intermittent=first.intermittent,
            picture=first.picture,
            evidence=tuple(_evidence(causes)),
        )
    unsure = [*(one for one in case.doubts if one.about != "clipping"), *_open_questions(case)]
    if unsure:
        return Verdict(
            "cannot tell", "unknown", (*(one.text for one in unsure), *notes), next_step=unsure[0].do
        )
    return Verdict("clean", "none", (_clean_reason(case), *notes))


def _without_edges(case: WheelCase) -> Verdict:
    train = case.reading.train
    level = f"The wire stands at {in_words(train.low, case.unit)}"
    if case.turning_beside and train.manner == "flat":
        short = _to_battery(case, train.low)
        return Verdict(
            "faulty",
            "short" if short else "unknown",
            (
                f"{level} and no pulse comes, although {case.turning_beside}.",
                "An open wire, a short, a sensor without supply, or a sensor that is dead can all look like this.",
            ),
            next_step="Measure the sensor's supply and ground at its plug, then its wire for continuity and against ground.",
            short_to="battery" if short else None,
            picture="no signal",
        )
    few = train.at_s.size
    return Verdict(
        "cannot tell",
        "unknown",
        (
            f"{level} and {'no pulse comes' if not few else f'only {few} edges came'}: the wheel may stand still, the wire may be "
            "open or shorted, or the probe does not touch.",
        ),
        next_step="Crank the engine while recording; record the cam sensor or a working wheel together with this one.",
    )


def _to_battery(case: WheelCase, level: float) -> bool:
    supply = case.conditions.supply_v
    near = supply is not None and abs(level - supply) < BATTERY_V
    return near and level > case.reading.train.high + BATTERY_V


def _lost(case: WheelCase) -> list[_Cause]:
    lost = [one for one in case.reading.lost if not one.stops and (one.at_end or one.at_begin or _is_long(case, one))]
    if not lost:
        return []
    worst = max(lost, key=lambda one: one.stop_s - one.start_s)
    train = case.reading.train
    where = f"at {in_words(worst.start_s, 's', digits=5)}"
    how = f"The signal is lost {where} for {in_words(worst.stop_s - worst.start_s, 's')}"
    how += " and does not come back within the capture" if worst.at_end else ""
    at = f"the wire then stands at {in_words(worst.level, case.unit)}"
    reason = f"{how}; the speed before shows no stop, and {at}."
    if worst.at_begin:
        reason = f"The signal comes at once at {in_words(worst.stop_s, 's', digits=5)}, at full speed; before, {at}."
    fault, short_to, do = _class_of(case, worst, train.low, train.high)
    return [_Cause(fault, "signal lost", reason, do, "wire", not worst.at_end, short_to)]


def _is_long(case: WheelCase, lost: Lost) -> bool:
    pitch = case.reading.pitch_s or 0.0
    positions = case.reading.wheel.positions if case.reading.wheel is not None else 30
    return lost.stop_s - lost.start_s > positions * pitch


def _class_of(case: WheelCase, lost: Lost, low: float, high: float) -> tuple[Fault, ShortTo | None, str]:
    wiggle = "Repeat the capture while the loom and both plugs are moved; measure the sensor's supply and ground meanwhile."
    if case.reading.swings:
        if abs(lost.level - case.reading.train.middle) < 0.2 * (high - low):
            return "open", None, wiggle
        return "short", "battery" if lost.level > high else "ground", wiggle
    amplitude = high - low
    if lost.level > high + max(BATTERY_V, 0.15 * amplitude):
        return "short", "battery", "Look along the loom for a chafe against a supply wire."
    if lost.level > high - 0.15 * amplitude:
        return "open", None, wiggle
    if lost.level < low + 0.15 * amplitude:
        return "short", "ground", "Look along the loom for a chafe to ground; unplug the sensor: does the line rise?"
    return "unknown", None, wiggle


def _teeth(case: WheelCase) -> list[_Cause]:
    reading, found = case.reading, []
    missing, extra = reading.missing, reading.extra
    beside = against(reading, case.good) if case.good is not None else None
    told = ""
    if beside is not None:
        missing, extra, told = beside[0], beside[1], " that the known-good's wheel has"
    look = "Look at the wheel: a tooth broken off, bent, or a chip of metal held by the sensor's magnet."
    for tooth in missing[:3]:
        reason = f"Tooth {tooth + 1} lacks in every turn{told}: {len(_turns(case))} whole turns seen."
        found.append(_Cause("unknown", f"tooth {tooth + 1} missing", reason, look, "component"))
    for tooth in extra[:3]:
        reason = f"A tooth stands at position {tooth + 1} in every turn, where this wheel has its gap."
        found.append(_Cause("unknown", "extra tooth", reason, look, "component"))
    found += _extra_every_turn(case, look)
    if case.shape is not None:
        odd_teeth = [one for one in case.shape.odd if abs(one.shift) > SHIFTED or not _is_cut_off(case)]
        for odd in odd_teeth[:3]:
            parts = []
            if abs(odd.shift) > 0.05:
                parts.append(f"{abs(odd.shift):.0%} of a pitch {'late' if odd.shift > 0 else 'early'}")
            if odd.height < 0.9:
                parts.append(f"{odd.height:.0%} of its neighbours' signal")
            if abs(odd.width) > 0.05:
                parts.append(f"{abs(odd.width):.0%} of a pitch {'wider' if odd.width > 0 else 'narrower'} than its neighbours")
            reason = f"Tooth {odd.position + 1} differs in turn after turn: {', '.join(parts)}."
            found.append(_Cause("unknown", f"tooth {odd.position + 1} damaged", reason, look, "component"))
        limit = case.conditions.figure(RUN_OUT)
        size, doubt = case.shape.run_out, case.shape.run_out_doubt
        if _is_cut_off(case):
            return found
        if size is not None and doubt is not None and limit is not None and size - 2 * doubt > limit:
            reason = (
                f"The signal's strength goes up and down by ±{size:.0%} once a turn (±{2 * doubt:.0%}); at most ±{limit:.0%} "
                f"({RUN_OUT.source}): the wheel runs out, or sits askew."
            )
            do = "Measure the wheel's run-out and the air gap all round, after the maker's figures."
            found.append(_Cause("unknown", "run-out", reason, do, "component"))
    return found


def _is_cut_off(case: WheelCase) -> bool:
    """Whether the instrument cut the swings off: their heights say nothing then."""
    return any(one.about == "clipping" for one in case.doubts)


def _turns(case: WheelCase) -> range:
    return range(case.reading.turns.count if case.reading.turns is not None else 0)


def _extra_every_turn(case: WheelCase, look: str) -> list[_Cause]:
    turns, wheel = case.reading.turns, case.reading.wheel
    if turns is None or wheel is None or turns.count < 2:
        return []
    places: dict[int, int] = {}
    for at in turns.extra_at.tolist():
        places[int(at)] = places.get(int(at), 0) + 1
    often = [place for place, count in places.items() if count >= 0.6 * turns.count]
    return [
        _Cause(
            "unknown",
            "extra tooth",
            f"An edge too many beside tooth {place + 1} in {places[place]} of {turns.count} turns: something that is no tooth of "
            "this wheel passes the sensor there.",
            look,
            "component",
        )
        for place in sorted(often)[:2]
    ]


def _coming_and_going(case: WheelCase) -> list[_Cause]:
    """Pulses missing or too many that keep to no position of the wheel."""
    pulses = [one for one in case.findings if one.kind in ("missing pulse", "lost signal") and "as in most" not in one.rule]
    pulses = [one for one in pulses if not (one.kind == "lost signal" and _told(case, one))]
    extra = [one for one in case.findings if one.kind == "extra pulse"]
    turns = max(len(_turns(case)), 1)
    found = []
    if pulses and not (case.reading.missing or _missing_beside(case)):
        count = sum(one.size for one in pulses if one.kind == "missing pulse")
        reason = (
            f"Pulses are missing at {len(pulses)} {'place' if len(pulses) == 1 else 'places'}"
            f"{f' ({count:.0f} teeth)' if count else ''}, the first at {in_words(pulses[0].start_s, 's', digits=5)}, and not at the "
            "same tooth each turn: the wheel has those teeth, so the signal comes and goes."
        )
        do = "Repeat the capture while the loom and both plugs are moved; look for a loose pin or a chafed screen."
        found.append(_Cause("open", "intermittent wire", reason, do, "wire", intermittent=True))
    if extra and not pulses and len(extra) < 0.6 * turns:
        reason = (
            f"{len(extra)} {'edge' if len(extra) == 1 else 'edges'} too many, the first at "
            f"{in_words(extra[0].start_s, 's', digits=5)}, not at the same tooth each turn: interference, or a contact that chatters."
        )
        do = "Check the screen's ground and the loom's way past ignition and starter cables; move the plugs while recording."
        found.append(_Cause("unknown", "extra pulses", reason, do, "wire", intermittent=True))
    return found


def _told(case: WheelCase, finding: Finding) -> bool:
    return any(
        one.start_s == finding.start_s and (one.at_end or one.at_begin or _is_long(case, one)) for one in case.reading.lost
    )


def _missing_beside(case: WheelCase) -> bool:
    beside = against(case.reading, case.good) if case.good is not None else None
    return beside is not None and bool(beside[0])


def _weak(case: WheelCase) -> list[_Cause]:
    found = []
    for one in weaknesses(case.reading, case.conditions, case.unit):
        do = {
            "low": "Measure the voltage drop from the sensor's ground pin to battery negative while it pulls down.",
            "high": "Measure the sensor's supply and the line with the sensor unplugged; look for resistance in the line.",
            "height": "Check the air gap, chips of metal on the sensor, and its resistance against the maker's figures.",
        }[one.what]
        fault: Fault = "resistive" if one.what in ("low", "high") else "unknown"
        found.append(_Cause(fault, "weak signal", one.text, do, "component" if one.what == "height" else "wire"))
    return found


def _beside_the_good(case: WheelCase) -> list[_Cause]:
    good, reading = case.good, case.reading
    if good is None or good.teeth is None or good.train.manner != reading.train.manner:
        return []
    found = []
    if reading.swings:
        found += _strength(case)
        if reading.rising != good.rising and reading.wheel is not None and reading.wheel.absent:
            reason = (
                f"The teeth cross the middle {'rising' if reading.rising else 'falling'}, on the known-good "
                f"{'rising' if good.rising else 'falling'}: the sensor's two wires are swapped, or the probe's."
            )
            do = "Compare pins and colours with the maker's diagram at both plugs; check which way the probe was clipped."
            found.append(_Cause("unknown", "wires swapped", reason, do, "wire"))
    else:
        found += _levels_beside(case)
        gaps = gap_is_high(reading), gap_is_high(good)
        if None not in gaps and gaps[0] != gaps[1]:
            reason = (
                f"The gap stands {'high' if gaps[0] else 'low'}, on the known-good {'high' if gaps[1] else 'low'}: a sensor of the "
                "other polarity."
            )
            found.append(_Cause("unknown", "inverted signal", reason, "Compare the sensor's part with the maker's list.", "component"))
    if reading.uneven is not None and good.uneven is not None:
        off = away(reading.uneven, good.uneven)
        if off is None or off > PATTERN_SHARE:
            what = f"has {reading.uneven.edges} edges, on the known-good {good.uneven.edges}" if off is None else f"differs by up to {off:.1%} of a turn"
            reason = f"The pattern of unlike teeth {what}."
            found.append(_Cause("unknown", "pattern differs", reason, "Look at the wheel, and whether it is the same part.", "component"))
    return found


def _strength(case: WheelCase) -> list[_Cause]:
    own = case.shape.strength if case.shape is not None else None
    good = case.good_shape.strength if case.good_shape is not None else None
    if _is_cut_off(case) or not own or not good or WEAKER <= own / good <= STRONGER:
        return []
    wide = own < good
    reason = (
        f"At the same speed the sensor gives {own / good:.0%} of the known-good's signal ({in_words(own, case.unit)} against "
        f"{in_words(good, case.unit)} peak to peak at 1000 teeth a second)."
    )
    do = "Check the air gap, and the sensor's resistance against the maker's figures."
    return [_Cause("unknown", f"air gap too {'wide' if wide else 'narrow'}", reason, do, "component")]


def _levels_beside(case: WheelCase) -> list[_Cause]:
    assert case.good is not None
    own, good = case.reading.train, case.good.train
    found = []
    reach = LEVEL_SHARE * good.amplitude
    for name, here, there in (("low", own.low, good.low), ("high", own.high, good.high)):
        worse = here - there if name == "low" else there - here
        if worse > reach:
            reason = f"The {name} level is {here:.2f} V, on the known-good {there:.2f} V."
            do = "Measure the sensor's supply, and the voltage drop on its ground while it runs."
            found.append(_Cause("resistive", "weak signal", reason, do, "wire"))
    return found


def _cam(case: WheelCase) -> list[_Cause]:
    limit = case.conditions.figure(CAM_DRIFT)
    if case.phase is None or case.good_phase is None or limit is None:
        return []
    late = drift(case.phase, case.good_phase)
    if late is None or abs(late) <= limit:
        return []
    reason = (
        f"The cam comes {abs(late):.1f}° of the crankshaft {'later' if late > 0 else 'earlier'} than on the known-good; at most "
        f"{limit:g}° ({CAM_DRIFT.source})."
    )
    do = "Check chain or belt, and whether the cam was being adjusted on either capture; then the maker's timing marks."
    return [_Cause("unknown", "cam timing off", reason, do, "component")]


def _open_questions(case: WheelCase) -> list[Doubt]:
    wheel, reading = case.reading.wheel, case.reading
    if reading.uneven is not None or wheel is None and reading.teeth is not None and not reading.teeth.steps.max() > 1:
        if reading.uneven is not None and reading.uneven.broken_s:
            first = reading.uneven.broken_s[0][0]
            text = f"The pattern of unlike teeth does not hold at {len(reading.uneven.broken_s)} places, the first at {in_words(first, 's')}."
            return [Doubt("pattern", text, "Record more turns at a steady speed.")]
        return []
    if wheel is None:
        return [
            Doubt(
                "pattern unknown",
                "The intervals follow no pattern that repeats for two turns, so missing and extra teeth cannot be told.",
                "Record more turns, or give the number of teeth and those left out at the gap.",
            )
        ]
    if reading.known_by == "learnt" and len(set(wheel.gaps)) > 1 and case.good is None:
        gaps = ", ".join(str(one) for one in wheel.gaps)
        text = f"A turn of {wheel.positions} positions has gaps of {gaps} teeth: made so, or a tooth lost."
        return [Doubt("pattern unlike", text, "Look at the wheel, give its teeth and those left out, or lay a known-good beside it.")]
    return []


def _notes(case: WheelCase) -> tuple[str, ...]:
    stops = [one for one in case.reading.lost if one.stops]
    notes = [f"{one.text} {one.do}" for one in case.doubts if one.about == "clipping"]
    if stops:
        notes.append(f"The wheel comes to rest or starts at {in_words(stops[0].start_s, 's')}: its speed shows that; no fault.")
    if case.good is not None and case.good.teeth is None:
        notes.append("The known-good shows no pulses, so nothing was held against it.")
    if case.phase is not None and case.good_phase is None:
        notes.append("The cam's place was measured; without a known-good's cam it was not judged.")
    return tuple(notes)


def _clean_reason(case: WheelCase) -> str:
    reading = case.reading
    if reading.uneven is not None:
        return f"The pattern of {reading.uneven.edges // 2} unlike teeth repeats all the way."
    if reading.wheel is None:
        assert reading.teeth is not None
        return f"{reading.teeth.times_s.size} teeth pass evenly; the wheel has no gap, so its turns are not known."
    count = len(_turns(case))
    gap = f" its gap of {' and '.join(str(one) for one in sorted(set(reading.wheel.gaps)))} is by design" if reading.wheel.absent else ""
    return f"Every tooth of the {reading.wheel.name} wheel comes at its place in {count} whole turns;{gap or ' it has no gap'}."


def _evidence(causes: Iterable[_Cause]) -> Iterable[Evidence]:
    for one in causes:
        if one.suspect == "component":
            yield Evidence("At the same place of the wheel each turn?", one.picture, one.reason, ("component",), ("wire",))
        else:
            yield Evidence("At any place of the wheel?", one.picture, one.reason, ("wire",), ())
