"""What the findings on a SENT line mean."""

import numpy as np

from loomlight.signal.line_case import first_told, unsound
from loomlight.signal.line_faults import LEAST_SPIKES
from loomlight.signal.line_verdicts import interference, spoilt, unsure
from loomlight.signal.quantity import in_words
from loomlight.signal.sent_findings import doubt_v, slow_edges, tick_off
from loomlight.signal.sent_held import held_line, silent_line
from loomlight.signal.sent_limits import HIGH_V, LOW_V
from loomlight.signal.sent_reading import SentCase
from loomlight.signal.sent_rows import check_in_words
from loomlight.signal.verdict import Verdict

SLOWER, SLOWER_S = 2.0, 1e-6
OTHER_V = 0.3


def judge_sent(case: SentCase) -> Verdict:
    """Soundness first, then a silent line, then what each fault would do to one that sends, the most telling first."""
    judges = (held_line, _slow, _lifted, _lowered, _interference, _lost, _unread, _clock, _check)
    return unsound(case) or silent_line(case) or first_told(case, judges, (held_line, _interference)) or _clean(case)


def _slow(case: SentCase) -> Verdict | None:
    line = case.line
    slow = slow_edges(line, case.conditions)
    if not slow:
        return None
    words = [
        f"{'Rises' if rising else 'Falls'} take {in_words(took_s, 's', digits=2)} between 1.1 V and 3.8 V; "
        f"{'18' if rising else '6.5'} µs are allowed (SAE J2716, from memory)."
        for rising, took_s in slow.items()
    ]
    rise_s, fall_s = line.edge_s(rising=True)[0], line.edge_s(rising=False)[0]
    only_rises = True in slow and not rise_s < 3.0 * fall_s
    if only_rises:
        return Verdict(
            "faulty",
            "unknown",
            (
                *words,
                f"Falls are fast ({in_words(fall_s, 's', digits=2)}): the sensor pulls down well, and what pulls up "
                "is weak or has too much capacitance to fill.",
            ),
            next_step="Measure from the line to the 5 V supply with everything switched off: the receiver's pull-up "
            "should read its value. Then look for added capacitors and long stubs.",
            picture="rises slow: pull-up weak, or too much capacitance",
        )
    # 1.1 V to 3.8 V of a swing of 4.8 V is 1.2 time constants.
    tau_s = max(rise_s, fall_s) / 1.2
    return Verdict(
        "faulty",
        "resistive",
        (
            *words,
            *(("The line still falls when a low part ends, so it never gets down.",) if line.never_low else ()),
            f"Both edges are rounded alike, by about {in_words(tau_s, 's', digits=2)}: "
            f"{in_words(tau_s / 2.2e-9, 'Ω', digits=2)} in series before 2.2 nF, or "
            f"{in_words(tau_s / 100.0, 'F', digits=2)} behind a sensor's 100 Ω.",
        ),
        next_step="Record at the sensor's own pin: if the edges are fast there, the resistance lies in the wire or a "
        "connector between.",
        picture="edges slow: series resistance, or too much capacitance",
    )


def _lifted(case: SentCase) -> Verdict | None:
    line = case.line
    if line.low_v <= LOW_V + doubt_v(line):
        return None
    return Verdict(
        "faulty",
        "resistive" if line.low_v < 2.0 else "short",
        (
            f"The low level stands at {line.low_v:.2f} V, {LOW_V:g} V or less are due; the edges are fast and the high level is "
            f"{line.high_v:.2f} V.",
            f"The sensor's ground stands up to {line.low_v:.1f} V too high, the wire has a series resistance before a "
            "strong pull-up, or the line is tied to the sensor's supply through a leak.",
        ),
        next_step="Measure from the sensor's ground pin to the receiver's ground while it works; below 0.1 V record at the "
        "sensor's own pin: right there, the wire has resistance; lifted there too, look for a leak to the 5 V supply.",
        picture="low level lifted: series resistance, the sensor's ground, or a leak to its supply",
    )


def _lowered(case: SentCase) -> Verdict | None:
    line = case.line
    if line.high_v >= HIGH_V - doubt_v(line):
        return None
    return Verdict(
        "faulty",
        "unknown",
        (
            f"The high level stands at {line.high_v:.2f} V, {HIGH_V:g} V or more are due; the low level is right at "
            f"{line.low_v:.2f} V.",
            "A leak from the line to ground, or the sensor's supply is too low.",
        ),
        next_step="Measure the sensor's supply at its plug; if it is 5 V, unplug the receiver and see whether the "
        "level comes back.",
        picture="high level low: a leak to ground, or the sensor's supply",
    )


def _interference(case: SentCase) -> Verdict | None:
    count = len(case.own("spike"))
    if count < LEAST_SPIKES:
        return None
    broken = len(case.own("frame error")) + len(case.own("missing pulse"))
    read = any(one.state == "good" for one in case.line.frames)
    return interference(
        f"{count} spikes beyond the line's own levels, which neither the sensor nor a contact makes.",
        spoilt(broken, "frames could not be read", read=read),
        "check the sensor's screen and where the loom runs beside such wiring",
        is_heard=broken > 0 or not read,
    )


def _lost(case: SentCase) -> Verdict | None:
    missing, silent = case.own("missing pulse"), case.own("lost signal")
    if not missing and not silent:
        return None
    frames = len(case.line.frames)
    reasons = [
        f"{len(missing)} of {frames} frames miss a pulse or hold one of an impossible length; the first: {missing[0].rule}."
        if missing
        else f"{len(silent)} times nothing is sent for longer than a pause may last."
    ]
    if missing and silent:
        reasons.append(f"{len(silent)} times nothing is sent for longer than a pause may last.")
    reasons.append(
        "In between levels and edges are right: a contact that opens for moments hides the sensor's falls, as the receiver's "
        "pull-up holds the line high meanwhile. A sensor that fails inside may leave pulses out as well."
    )
    return Verdict(
        "faulty",
        "open",
        tuple(reasons),
        next_step="Move the loom and the connectors between sensor and receiver while recording; record at the "
        "sensor's own pin too: if pulses are missing there, it is the sensor.",
        intermittent=True,
        picture="pulses lost: intermittent contact",
    )


def _unread(case: SentCase) -> Verdict | None:
    if case.line.frames:
        return None
    return unsure(
        "The line moves, but no sync pulse of 56 ticks with nibbles behind it was found: this is no SENT signal, or "
        "too little of one.",
        "Check that this pin carries SENT, and record at least ten frames.",
    )


def _clock(case: SentCase) -> Verdict | None:
    jumps = [one for one in case.own("wrong tick") if one.unit == ""]
    off = tick_off(case.line, case.conditions)
    if off is not None and case.line.tick_s is not None:
        share, from_s = off
        return Verdict(
            "faulty",
            "unknown",
            (
                f"The tick is {in_words(case.line.tick_s, 's')}, {share * 100:+.0f} % from {in_words(from_s, 's')}; "
                "20 % are to be tolerated (SAE J2716).",
                "Levels and edges are right: the sensor's own clock is off, or it is another sensor than the one meant.",
            ),
            next_step="Compare the part number with the maker's; the wire is not at fault.",
            picture="the sensor's clock is off",
        )
    if len(jumps) < 2:
        return None
    worst = max(jumps, key=lambda one: one.size)
    return Verdict(
        "faulty",
        "unknown",
        (
            f"{len(jumps)} sync pulses differ from the one before by more than is allowed; the worst: {worst.rule} "
            f"(from memory).",
            "Levels and edges are right: the sensor's own clock jumps, as it does on a supply that breaks down.",
        ),
        next_step="Record the sensor's supply beside the signal; if it is steady, the sensor is at fault.",
        picture="the sensor's clock jumps",
    )


def _check(case: SentCase) -> Verdict | None:
    wrong = case.severe("frame error")
    traffic = case.line.traffic
    assert traffic is not None
    if not wrong:
        return None
    count = len(traffic.frames)
    if traffic.form is None:
        forms = ", ".join(f"{form} {fits}" for form, fits in traffic.forms)
        return unsure(
            f"No form of the check fits ({forms} of {count} frames): another form of it, or data that are wrong throughout.",
            "Look the sensor's data sheet up for its check; compare with a known-good sensor of the same part number.",
        )
    return Verdict(
        "faulty",
        "unknown",
        (
            f"The check of {len(wrong)} of {count} frames does not fit the {check_in_words(traffic)}, which the others keep; the "
            f"first: {wrong[0].rule}.",
            "Levels, edges and pulse lengths are right, so nothing on the way spoilt them: the sensor sends them so.",
        ),
        next_step="Compare with a known-good sensor of the same part number; the wire is not at fault.",
        picture="checksum wrong while the line is right",
    )


def _clean(case: SentCase) -> Verdict:
    line, traffic = case.line, case.line.traffic
    assert traffic is not None
    good = sum(one.state == "good" for one in line.frames)
    pause = "with a pause" if traffic.has_pause else "without a pause"
    reasons = [
        f"{good} frames of {traffic.data_nibbles} data nibbles {pause} read without an error, tick "
        f"{in_words(line.tick_s, 's')}; the check keeps the {check_in_words(traffic)}.",
        f"Low {line.low_v:.2f} V, high {line.high_v:.2f} V, edges and sync pulses keep their limits.",
        *_beside_the_good(case),
    ]
    return Verdict("clean", "none", (*reasons, *case.not_laid()))


def _beside_the_good(case: SentCase) -> list[str]:
    """What differs from the known-good though it keeps the limits."""
    if case.good is None or case.good.line.is_flat:
        return []
    line, good = case.line, case.good.line
    found = []
    for rising, word in ((True, "rises"), (False, "falls")):
        mine, theirs = line.edge_s(rising=rising)[0], good.edge_s(rising=rising)[0]
        if np.isfinite(mine) and np.isfinite(theirs) and mine > SLOWER * theirs and mine - theirs > SLOWER_S:
            found.append(
                f"Its {word} take {in_words(mine, 's', digits=2)} where the known-good's take "
                f"{in_words(theirs, 's', digits=2)}: a resistance or a capacitance has been added."
            )
    for mine, theirs, word in ((line.low_v, good.low_v, "low"), (line.high_v, good.high_v, "high")):
        if abs(mine - theirs) > OTHER_V:
            found.append(f"Its {word} level is {mine:.2f} V, the known-good's {theirs:.2f} V.")
    if line.traffic is not None and good.traffic is not None and line.traffic.form != good.traffic.form:
        found.append(
            f"Its check is in the {check_in_words(line.traffic)}, the known-good's in the "
            f"{check_in_words(good.traffic)}: another sensor than the known-good's?"
        )
    return found
