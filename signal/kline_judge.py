"""What the findings on a K-line mean."""

import numpy as np

from loomlight.signal.kline_findings import USUAL_BIT_S, is_slow, late_rise_s, low_limit_v
from loomlight.signal.kline_levels_judge import DRIVER_LOW_V, above_the_good, low_rest, lows_not_reached
from loomlight.signal.kline_limits import UART_SHARE
from loomlight.signal.kline_reading import KCase, KReading, pull_up
from loomlight.signal.kline_words import TESTER
from loomlight.signal.line_case import first_told, unsound
from loomlight.signal.line_faults import LEAST_SPIKES, median, ohms_in_words
from loomlight.signal.line_verdicts import interference, spoilt, unsure
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import NO_KNEE, behind_pull_up, leak_beside
from loomlight.signal.spans import joined, spans_of, total
from loomlight.signal.verdict import Verdict

NOTHING_V = 0.3
"""Below this a flat line may as well be a probe that does not touch."""
GROUND_SHARE = 0.55
"""A flat line below this share of the supply is held down: a resting one stands near the supply."""
EPISODE_GAP_S = 5e-3


def judge_k_line(case: KCase) -> Verdict:
    """Soundness first, then a silent line, then what each fault would do to a talking one, the most telling first."""
    judges = (_slow, lows_not_reached, low_rest, _interference, _intermittent, _rate, above_the_good, _in_trouble)
    return unsound(case) or _quiet(case) or first_told(case, judges, (_interference,)) or _clean(case)


def _quiet(case: KCase) -> Verdict | None:
    line, supply_v = case.line, case.conditions.supply_v
    if not line.is_flat:
        return None
    volts = line.levels.high if line.levels is not None else 0.0
    good = case.good.line if case.good is not None else None
    if good is not None and not good.is_flat and case.conditions.same_moment:
        return _while_the_other_end_talks(volts, len(good.messages))
    if volts < NOTHING_V:
        return unsure(
            f"The line is flat at {volts:.2f} V: a short to ground, no tester connected, or a probe that does not touch all look "
            "like this.",
            "Check that the probe touches metal and the tester is connected; then measure the line's resistance to ground with "
            "everything switched off.",
        )
    if supply_v is not None and volts < GROUND_SHARE * supply_v:
        ohms = leak_beside(volts, top_v=supply_v, pull=pull_up(line, case.conditions), doubt_v=0.02 * supply_v)
        return Verdict(
            "faulty",
            "short",
            (
                f"The line cannot leave {volts:.2f} V although the pull-up should bring it to {supply_v:.2f} V: a path to ground "
                f"of {ohms_in_words(ohms)}.",
                "Assumed: a tester is connected and its pull-up is whole.",
            ),
            next_step="Unplug the units one by one; where the level comes back, that unit or its branch holds the line down.",
            short_to="ground",
            picture="short to ground",
        )
    beside = f", the supply is {supply_v:.2f} V" if supply_v is not None else ""
    return unsure(
        f"The line rests at {volts:.2f} V{beside}, and nothing talks: nobody asks, the wire to the tester is open, or the line "
        "is tied to battery.",
        "Start the tester's request during the capture. If the line stays high while the tester sends, unplug the units one by "
        "one and look for a short to battery.",
    )


def _while_the_other_end_talks(volts: float, messages: int) -> Verdict:
    if not volts > NOTHING_V:
        return unsure(
            f"The suspect is flat at {volts:.2f} V while the other end carries {messages} messages: an open wire to a "
            "unit without a pull-up of its own, or a probe that does not touch.",
            "Check that the probe touches metal, then measure the wire from end to end with everything switched off.",
        )
    return Verdict(
        "faulty",
        "open",
        (
            f"The suspect stands at {volts:.2f} V and shows nothing, while the other end of the wire carries "
            f"{messages} messages at the same time.",
            "A short would silence both ends: the wire is open between the two probe points.",
        ),
        next_step="Follow the wire between the two probe points: connectors and splices first, then the wire itself.",
        joint="between the probes",
        picture="wire open",
    )


def _slow(case: KCase) -> Verdict | None:
    line = case.line
    if not is_slow(line) or len(case.own("spike")) >= LEAST_SPIKES:
        return None
    late_s, bit_s = late_rise_s(line), line.bit_s or USUAL_BIT_S
    tau_s = late_s / 1.204
    pull = pull_up(line, case.conditions)
    return Verdict(
        "faulty",
        "unknown",
        (
            f"After a release the line is at 70 % only {in_words(late_s, 's')} later, {late_s / bit_s * 100:.0f} % of "
            "a bit; 30 % are to be borne (ISO 14230-1:2012, 8.2.4).",
            f"The time constant is about {in_words(tau_s, 's', digits=2)}: "
            f"{in_words(tau_s / pull.best, 'F', digits=2)} on a whole pull-up of "
            f"{in_words(pull.best, 'Ω', digits=2)}, or {in_words(tau_s / 3e-9, 'Ω', digits=2)} of pull-up on the 3 nF "
            "of a usual line. The falls are fast, so the drivers are not it.",
        ),
        next_step="Measure from the line to the supply with everything switched off: the pull-up should read its value. If it "
        "does, unplug units and added leads one by one until the rises are fast.",
        picture="pull-up weak, or too much capacitance",
    )


def _interference(case: KCase) -> Verdict | None:
    count = len(case.own("spike"))
    if count < LEAST_SPIKES:
        return None
    broken = len(case.own("frame error"))
    unread = not any(one.state == "good" for one in case.line.messages)
    crossed = _crossings(case.line)
    spikes = f"{count} spikes beyond the line's own levels, which no driver and no contact of this wire makes."
    if crossed:
        spikes += f" {crossed} of them carry the line across the middle for less than half a bit."
    return interference(
        spikes,
        spoilt(broken, "messages could not be read", read=not unread, unit="message"),
        "look where the loom runs beside such wiring, and at suppressors",
        is_heard=broken > 0 or unread or crossed >= LEAST_SPIKES,
    )


def _crossings(line: KReading) -> int:
    """How often the line crosses to the other state for less than half a bit."""
    assert line.seen is not None
    return int(np.count_nonzero(line.seen.is_whole & (line.seen.length_s < 0.45 * (line.bit_s or USUAL_BIT_S))))


def _intermittent(case: KCase) -> Verdict | None:
    found = case.own("dropout")
    if not found:
        return None
    spans = spans_of([(one.start_s, one.stop_s) for one in found])
    groups = joined(spans, EPISODE_GAP_S)
    hit = sorted(
        {
            talk.talker
            for talk in case.line.talks
            if np.any((spans[:, 0] < talk.message.stop_s) & (spans[:, 1] > talk.message.start_s))
        }
    )
    sending = (
        f" All of them while {hit[0]} sends."
        if len(hit) == 1
        else f" They stand in messages of {', '.join(hit)}."
        if hit
        else ""
    )
    longest_s = float((spans[:, 1] - spans[:, 0]).max())
    return Verdict(
        "faulty",
        "open",
        (
            f"{len(spans)} times in {len(groups)} episode{'s' if len(groups) != 1 else ''} the line lets go at a "
            f"moment that is no bit's edge, for {in_words(total(spans), 's')} in all, {in_words(longest_s, 's')} at "
            f"the longest.{sending}",
            "In between its lows are right: a contact that opens and closes.",
        ),
        next_step="Move the loom and the connectors between the sender and this probe, one after the other, while recording.",
        intermittent=True,
        picture="intermittent contact",
    )


def _rate(case: KCase) -> Verdict | None:
    off, far = case.own("wrong bit rate"), case.severe("wrong bit rate")
    if not off:
        return None
    worst = max(off, key=lambda one: one.size)
    reasons = (
        *(one.rule[:1].upper() + one.rule[1:] + " (ISO 14230-1:2012, 8.2.3)." for one in off),
        f"A receiver with a right clock reads the last bit of a byte wrongly beyond about {UART_SHARE * 100:g} %."
        if far
        else "A receiver may still read it; together with its own clock's fault it may not.",
    )
    return Verdict(
        "faulty",
        "unknown",
        reasons,
        next_step=f"Check which bit rate the maker names; if {worst.rule.split(':')[0]} is off, its clock or its "
        "software is at fault, not the wire.",
        picture="bit rate off",
    )


def _in_trouble(case: KCase) -> Verdict | None:
    """Errors and silence that nothing on the wire explains."""
    broken, silent = case.own("frame error"), case.own("no response")
    if not case.line.messages:
        return unsure(
            "The line moves, but no message could be read from it.",
            "Check that this pin is the K-line, and record from before the tester's request.",
        )
    if not broken and not silent:
        return None
    reasons = []
    if silent:
        reasons.append(
            f"{len(silent)} request{'s' if len(silent) > 1 else ''} without an answer, the first: {silent[0].rule}."
        )
    if broken:
        reasons.append(
            f"{len(broken)} message{'s' if len(broken) > 1 else ''} with an error, the first: {broken[0].rule}."
        )
    reasons.append(
        "The levels are right at this probe: the unit, its supply or its ground, or a break beyond this probe may be at fault."
    )
    return Verdict(
        "cannot tell",
        "unknown",
        tuple(reasons),
        next_step="Probe at the plug of the unit that does not answer, with its supply and ground on the meter.",
    )


def _clean(case: KCase) -> Verdict:
    line = case.line
    whole = sum(one.state == "good" for one in line.messages)
    rate = f"{1.0 / line.bit_s:.0f} bit/s" if line.bit_s else "a bit rate that could not be found"
    pull = pull_up(line, case.conditions)
    levels = [median(line.lows_of(who)) for who in line.talkers if who != TESTER]
    reasons = [
        f"{whole} message{'s' if whole != 1 else ''} read without an error at {rate}.",
        "Lows, the resting level, edges and bit rates keep their limits.",
    ]
    if levels and line.supply_v is not None:
        limit_v = low_limit_v(line, "unit", case.conditions)
        hidden = behind_pull_up(
            limit_v, source_v=DRIVER_LOW_V[0], top_v=line.supply_v, pull=pull, doubt_v=0.0, knee=NO_KNEE
        )
        reasons.append(
            f"A series resistance of up to about {in_words(hidden.best, 'Ω', digits=2)} to a unit would keep the limits too; a "
            "known-good of the same vehicle shows less."
        )
    if line.supply_from != "given":
        reasons.append(
            f"The supply was not given; the resting level of {line.supply_v or 0.0:.2f} V was taken for it, so a leak to ground "
            "would not show."
        )
    return Verdict("clean", "none", (*reasons, *case.not_laid()))
