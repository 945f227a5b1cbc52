"""What the pulses of a switched wire mean."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.cause import Cause, Throughout, lost_throughout, marked_throughout, verdict_of
from loomlight.signal.examination import Conditions, Doubt
from loomlight.signal.finding import Finding
from loomlight.signal.input_doubts import not_about_levels
from loomlight.signal.pwm_reading import LOST_PERIODS, RUNT_LEAST, RUNT_MOST, Pause, PwmReading
from loomlight.signal.pwm_settings import CLAMP, HIGH_SHARE, JITTER, LOW_SHARE, RATE, SLOW, SUPPLY
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Fault, ShortTo, Verdict
from loomlight.signal.voltage_drop import undithered_step

LEVEL_SHARE = 0.15
"""Of the known-good's amplitude: how far a level may be from the known-good's (common practice, no source)."""
PEAK_HIGH, PEAK_LOW = 1.5, 0.6
"""Of the clamp that was given, or of the known-good's flyback above the supply (common practice, no source)."""
TIMES_SLOWER = 3.0
LEAST_STEADY = 0.02
DUTY_END = 0.9


@dataclass(frozen=True)
class PwmCase:
    """All that the verdict is made from; ``works_beside`` says why pulses must have come."""

    channel: Channel
    reading: PwmReading
    good: PwmReading | None
    conditions: Conditions
    doubts: tuple[Doubt, ...]
    works_beside: str
    unit: str


def line_supply(reading: PwmReading, conditions: Conditions) -> tuple[float, str]:
    """What the line is fed from, volts, and how that is known."""
    given = conditions.figure(SUPPLY)
    if given is not None:
        return given, "given"
    options = [5.0, *((conditions.supply_v,) if conditions.supply_v is not None else ())]
    fitting = [one for one in sorted(options) if one * 1.1 >= reading.train.high]
    return (
        (fitting[0], "the nearest supply above the high level") if fitting else (reading.train.high, "its high level")
    )


def is_runt(pause: Pause) -> bool:
    """Whether something began in it that did not reach the other state."""
    return RUNT_LEAST <= pause.reach <= RUNT_MOST and pause.periods < LOST_PERIODS


def is_at_its_end(reading: PwmReading, pause: Pause) -> bool:
    """Whether the duty factor ran into 0 or 100 % there: no pulses are wanted then."""
    if not reading.duty.size:
        return False
    here = int(np.searchsorted(reading.starts_s, pause.start_s))
    before = reading.duty[max(here - 3, 0) : max(here, 1)]
    usual = float(np.median(before)) if before.size else 0.5
    high = abs(pause.level - reading.train.high) < 0.2 * reading.train.amplitude
    low = abs(pause.level - reading.train.low) < 0.2 * reading.train.amplitude
    return (usual > DUTY_END and high) or (usual < 1.0 - DUTY_END and low)


def is_lost(pause: Pause) -> bool:
    """Long enough to be more than some pulses that are missing."""
    return pause.periods >= 20.0 or pause.at_begin or pause.at_end


def judge_pwm(case: PwmCase) -> tuple[tuple[Finding, ...], Verdict]:
    """What is wrong throughout, and the verdict, most telling cause first."""
    reading = case.reading
    if not reading.starts_s.size:
        verdict = _without_pulses(case)
        return lost_throughout(case.channel, verdict), verdict
    causes = [
        *_lost(case),
        *(_levels(case) + _flyback(case) if not_about_levels(case.doubts) else ()),
        *_runts(case),
        *_jitter(case),
        *_missing(case),
        *_extra(case),
        *_edges(case),
        *_rate(case),
    ]
    notes = [f"{one.text} {one.do}" for one in case.doubts if one.about == "clipping"]
    if case.good is not None and not case.good.starts_s.size:
        notes.append("The known-good shows no pulses, so nothing was held against it.")
    unsure = [one for one in case.doubts if one.about != "clipping"]
    verdict = verdict_of(causes, unsure=unsure, notes=notes, clean=_clean(reading))
    return marked_throughout(case.channel, causes), verdict


def _without_pulses(case: PwmCase) -> Verdict:
    train = case.reading.train
    level = f"{train.low if train.manner == 'flat' else train.middle:.2f} {case.unit}".strip()
    seen = "no pulse comes" if not train.at_s.size else f"only {train.at_s.size} edges come"
    if case.works_beside:
        return Verdict(
            "faulty",
            "unknown",
            (f"The wire stands at {level} and {seen}, although {case.works_beside}.",),
            next_step="Unplug the load: does the level change? Then measure the wire for continuity, against ground and supply.",
            picture="no signal",
        )
    return Verdict(
        "cannot tell",
        "unknown",
        (
            f"The wire stands at {level} and {seen}: switched off, an open or shorted wire, or a probe that does not touch.",
        ),
        next_step="Switch the function on, at half its range, and repeat the capture; unplug the load: does the level change?",
    )


def _lost(case: PwmCase) -> list[Cause]:
    reading = case.reading
    lost = [one for one in reading.pauses if is_lost(one) and not is_at_its_end(reading, one)]
    if not lost:
        return []
    worst = max(lost, key=lambda one: one.stop_s - one.start_s)
    where = f"at {in_words(worst.start_s, 's', digits=5)}"
    how = f"The pulses stop {where} for {in_words(worst.stop_s - worst.start_s, 's')}"
    how += " and do not come back within the capture" if worst.at_end else ""
    if worst.at_begin:
        how = f"No pulse comes before {in_words(worst.stop_s, 's', digits=5)}"
    fault, short_to = _class_of(reading, worst)
    level = f"{worst.level:.2f} {case.unit}".strip()
    reason = f"{how}; the wire then stands at {level}. Assumed: the function was switched on throughout."
    do = "Repeat the capture with the function held on while loom and plugs are moved."
    return [
        Cause(fault, "signal lost", reason, do, "wire", not worst.at_end, short_to, "Do the pulses come all the time?")
    ]


def _class_of(reading: PwmReading, pause: Pause) -> tuple[Fault, ShortTo | None]:
    train = reading.train
    if pause.level > train.high + 0.25 * train.amplitude:
        return "short", "battery"
    if pause.level < train.low - 0.02 * train.amplitude:
        return "short", "ground"
    return ("open", None) if pause.level > train.middle else ("unknown", None)


def _levels(case: PwmCase) -> list[Cause]:
    train, found = case.reading.train, []
    supply, known = line_supply(case.reading, case.conditions)
    low, high = (case.conditions.needed(one) * supply for one in (LOW_SHARE, HIGH_SHARE))
    good = case.good.train if case.good is not None and case.good.starts_s.size else None
    reach = LEVEL_SHARE * good.amplitude if good is not None else 0.0
    told, limit = "", low
    doubt = 0.5 * undithered_step(case.channel)  # of a level that the converter cannot place
    if case.unit == "V" and train.low > low + doubt:
        told = f"at most {low:.2f} V is wanted ({supply:.3g} V, {known})"
    elif good is not None and train.low > good.low + reach:
        told, limit = f"on the known-good {good.low:.2f} {case.unit}".rstrip(), good.low
    if told:
        do = "Measure the voltage drop from the driver's ground to battery negative while it pulls down; then along the wire."
        level = f"the low level is {train.low:.2f} {case.unit}".rstrip()
        reason = f"T{level[1:]}; {told}: resistance in the driver, its ground or the wire."
        mark = Throughout("too high", train.low - limit, case.unit, f"{level}; {told}")
        found.append(
            Cause("resistive", "weak low level", reason, do, "wire", asked="Are the levels right?", throughout=mark)
        )
    told, limit = "", high
    if case.unit == "V" and train.high < high - doubt:
        told = f"at least {high:.2f} V is wanted ({supply:.3g} V, {known})"
    elif good is not None and train.high < good.high - reach:
        told, limit = f"on the known-good {good.high:.2f} {case.unit}".rstrip(), good.high
    if told:
        do = "Measure the load's or pull-up's supply, and the line with the receiver unplugged: does the level come up?"
        level = f"the high level is {train.high:.2f} {case.unit}".rstrip()
        reason = f"T{level[1:]}; {told}: resistance in the supply or pull-up, or a leak to ground."
        mark = Throughout("too low", limit - train.high, case.unit, f"{level}; {told}")
        found.append(
            Cause("resistive", "weak high level", reason, do, "wire", asked="Are the levels right?", throughout=mark)
        )
    return found


def _flyback(case: PwmCase) -> list[Cause]:
    own, good = case.reading.peak, case.good.peak if case.good is not None else None
    high = case.reading.train.high
    given = case.conditions.figure(CLAMP)
    wanted = given if given is not None else good
    if wanted is None:
        return []
    source = "given" if given is not None else "on the known-good"
    if own is not None and own > PEAK_HIGH * wanted:
        peaks = f"{in_words(own, case.unit)}; {in_words(wanted, case.unit)} {source}"
        reason = f"The flyback reaches {peaks}: the clamp does not hold."
        do = "Check the driver's clamp or the diode across the coil; the driver itself is at risk."
        mark = None if given is not None else Throughout("too high", own - wanted, case.unit, f"flyback {peaks}")
        return [Cause("open", "no clamp", reason, do, "control unit", asked="Is the flyback clamped?", throughout=mark)]
    if good is not None and case.good is not None and (own or high) - high < PEAK_LOW * (good - case.good.train.high):
        seen = "no flyback" if own is None else f"a flyback of {in_words(own, case.unit)} only"
        reason = (
            f"The wire shows {seen}, the known-good {in_words(good, case.unit)}: shorted turns, a diode that shunts it, or no "
            "coil."
        )
        do = "Measure the coil's resistance and current against the maker's figures."
        rule = f"{seen}, on the known-good {in_words(good, case.unit)}"
        mark = Throughout("too low", good - (own or high), case.unit, rule)
        return [
            Cause("unknown", "flyback too low", reason, do, "component", asked="Is the flyback there?", throughout=mark)
        ]
    return []


def _runts(case: PwmCase) -> list[Cause]:
    runts = [one for one in case.reading.pauses if is_runt(one)]
    if not runts:
        return []
    worst = max(runts, key=lambda one: one.reach)
    reason = (
        f"{len(runts)} {'pulse does' if len(runts) == 1 else 'pulses do'} not reach the other level, the first at "
        f"{in_words(runts[0].start_s, 's', digits=5)}; {worst.reach:.0%} of the amplitude at most: a resistance that "
        "comes and goes, or two drivers against each other."
    )
    do = "Move loom and plugs while recording; look for a loose pin in the load's supply and ground."
    return [
        Cause("resistive", "runts", reason, do, "wire", intermittent=True, asked="Does each pulse reach its level?")
    ]


def _missing(case: PwmCase) -> list[Cause]:
    reading = case.reading
    gone = [one for one in reading.pauses if not is_runt(one) and not is_lost(one) and not is_at_its_end(reading, one)]
    if not gone:
        return []
    count = sum(max(round(one.periods) - 1, 1) for one in gone)
    longest = max(one.periods for one in gone)
    picture = "missing pulses" if longest < 2.5 else "intermittent wire"
    reason = (
        f"{count} {'pulse is' if count == 1 else 'pulses are'} missing at {len(gone)} "
        f"{'place' if len(gone) == 1 else 'places'}, the first at {in_words(gone[0].start_s, 's', digits=5)}, while the rest "
        "keep their time."
    )
    do = "Move loom and plugs while recording; then record at the control unit's own pin: are they missing there too?"
    return [Cause("open", picture, reason, do, "wire", intermittent=True, asked="Do all pulses come?")]


def _extra(case: PwmCase) -> list[Cause]:
    extra = case.reading.extra_s
    if not extra.size:
        return []
    first = in_words(float(extra[0]), "s", digits=5)
    reason = (
        f"{extra.size} {'pulse' if extra.size == 1 else 'pulses'} too many, the first at {first}: "
        "interference, or a contact that chatters."
    )
    do = "Check grounds and screen, and the loom's way past ignition cables; move the plugs while recording."
    return [Cause("unknown", "extra pulses", reason, do, "wire", intermittent=True, asked="Do other pulses come?")]


def _edges(case: PwmCase) -> list[Cause]:
    reading, found = case.reading, []
    period_s = float(np.median(reading.usual_s))
    limit_s = case.conditions.needed(SLOW) * period_s
    for name, own, good in (
        ("rising", reading.rise_s, case.good.rise_s if case.good is not None else None),
        ("falling", reading.fall_s, case.good.fall_s if case.good is not None else None),
    ):
        if own is None or own <= 0.3 * limit_s:
            continue
        told = ""
        if own > limit_s:
            told = f"at most {in_words(limit_s, 's')}, {case.conditions.needed(SLOW):g} of a period ({SLOW.source})"
        elif good is not None and own > TIMES_SLOWER * good:
            told = f"on the known-good {in_words(good, 's')}"
        if told:
            long = in_words(own, "s")
            reason = f"The {name} edges take {long} from 10 % to 90 %; {told}: resistance with capacitance, or a weak driver."
            do = "Look for resistance in the pull-up or driver path, and for a filter or a leak on the line."
            most = limit_s if own > limit_s or good is None else good
            mark = Throughout("slow edge", own - most, "s", f"{name} edges take {long}; {told}")
            found.append(
                Cause("resistive", "slow edges", reason, do, "wire", asked="Are the edges quick?", throughout=mark)
            )
    return found


def _jitter(case: PwmCase) -> list[Cause]:
    reading = case.reading
    limit = case.conditions.needed(JITTER)
    if reading.jitter is not None and reading.jitter > limit:
        reason = f"The periods scatter by {reading.jitter:.1%} of a period; at most {limit:.1%} ({JITTER.source})."
        do = "Record the control unit's supply beside it; compare with the known-good at the same operating point."
        rule = f"periods scatter by {reading.jitter:.1%}, at most {limit:.1%}"
        mark = Throughout("jitter", 100 * (reading.jitter - limit), "%", rule)
        return [Cause("unknown", "jitter", reason, do, "control unit", asked="Is the clock steady?", throughout=mark)]
    return []


def _rate(case: PwmCase) -> list[Cause]:
    own, good = case.reading.rate_hz, case.good.rate_hz if case.good is not None else None
    if not own or not good or case.good is None or abs(own / good - 1.0) <= case.conditions.needed(RATE):
        return []
    most = max(LEAST_STEADY, 0.25 * abs(own / good - 1.0))
    if _drift(case.reading) > most or _drift(case.good) > most:
        return []
    here, there = in_words(own, "Hz", digits=4), in_words(good, "Hz", digits=4)
    reason = (
        f"The frequency is {here}, steady, on the known-good {there}, steady too. "
        "Where the frequency itself carries the value, this is no fault."
    )
    do = "Compare the control unit's part and software with the maker's list; repeat at the same operating point."
    asked = "Is the frequency the known-good's?"
    mark = Throughout("wrong rate", abs(own - good), "Hz", f"{here}, on the known-good {there}")
    return [Cause("unknown", "frequency differs", reason, do, "control unit", asked=asked, throughout=mark)]


def _drift(reading: PwmReading) -> float:
    low, high = np.percentile(reading.usual_s, [5.0, 95.0])
    return float(high / low - 1.0)


def _clean(reading: PwmReading) -> str:
    rate = in_words(reading.rate_hz, "Hz", digits=4)
    low, high = np.percentile(reading.duty, [2.0, 98.0]) if reading.duty.size else (0.0, 0.0)
    return (
        f"{reading.starts_s.size} pulses at {rate}, duty factor {low:.1%} to {high:.1%}: none missing, none too many, levels and "
        "edges kept."
    )
