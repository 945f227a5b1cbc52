"""What the findings on a single-wire CAN line mean."""

import numpy as np

from loomlight.signal.can_wire import good_count
from loomlight.signal.line_case import first_told, unsound
from loomlight.signal.line_faults import LEAST_SPIKES, median
from loomlight.signal.line_verdicts import clock_off, frames_break, interference, spoilt, unsure
from loomlight.signal.quantity import in_words
from loomlight.signal.spans import joined, spans_of
from loomlight.signal.swcan_findings import doubt_v, fall_tau_s, wake_limit_v
from loomlight.signal.swcan_limits import NORMAL_HIGH, NORMAL_LOW, REST, WAKE_FROM_V
from loomlight.signal.swcan_reading import SwCase
from loomlight.signal.verdict import Verdict

HELD_V = 2.0
EPISODE_GAP_S = 20e-3
OTHER_SHARE = 0.12
"""A level that differs from the known-good's by that share is no longer drift (common practice, no source)."""


def judge_single_wire(case: SwCase) -> Verdict:
    """Soundness first, then a silent line, then what each fault would do to a talking one, the most telling first."""
    judges = (_held, _slow, _lifted, _levels, _wake, _interference, _rate, _torn, _beside_the_good, _errors)
    return unsound(case) or _silent(case) or first_told(case, judges, (_held, _interference)) or _clean(case)


def _silent(case: SwCase) -> Verdict | None:
    if not case.line.is_flat:
        return None
    levels = case.line.levels
    volts = levels.high if levels is not None else 0.0
    good = case.good.line if case.good is not None and case.conditions.same_moment else None
    if volts > WAKE_FROM_V:
        return Verdict(
            "faulty",
            "short",
            (
                f"The line stands at {volts:.2f} V and does not move; a resting one stands near 0 V, and no frame holds it up.",
            ),
            next_step="Unplug the nodes one by one; if it stays, look along the loom for a chafe against a supply wire.",
            short_to="battery",
            picture="short to battery",
        )
    if good is not None and not good.is_flat and volts < case.conditions.needed(REST) + 0.5:
        return Verdict(
            "faulty",
            "open",
            (
                f"The suspect rests at {volts:.2f} V and shows no frame, while the known-good end of the wire carries "
                f"{good_count(good.traffic)} frames at the same time.",
                "A short would silence both: the wire is open between the two probe points, or the probe does not touch.",
            ),
            next_step="Check that the probe touches metal, then follow the wire between the two probe points.",
            joint="between the probes",
            picture="wire open",
        )
    return unsure(
        f"The line is flat at {volts:.2f} V, as a resting one is: the bus sleeps, the wire is open or shorted to ground, or the "
        "probe does not touch.",
        "Switch the ignition on, work a function on this bus, and record a working node together with this one; "
        "measure the line's resistance to ground with everything switched off.",
    )


def _held(case: SwCase) -> Verdict | None:
    """A line that talks, and gets nowhere."""
    levels, spikes = case.line.levels, case.own("spike")
    assert levels is not None
    if len(spikes) >= LEAST_SPIKES or levels.high >= HELD_V or case.line.rest_v > case.conditions.needed(REST):
        return None
    low_ohm, high_ohm = levels.high / 0.15, levels.high / 0.03
    return Verdict(
        "faulty",
        "short",
        (
            f"Frames are sent, but the line gets no higher than {levels.high:.2f} V; 4 V are due.",
            "A driver that gives 30 to 150 mA (common practice, no source) leaves that level over "
            f"{in_words(low_ohm, 'Ω', digits=2)} to {in_words(high_ohm, 'Ω', digits=2)} to ground.",
        ),
        next_step="Unplug the nodes one by one; where the level comes back, that node or its branch holds the line down.",
        short_to="ground",
        picture="short to ground",
    )


def _slow(case: SwCase) -> Verdict | None:
    slow = case.own("slow edge")
    if not slow:
        return None
    tau_s, _ = fall_tau_s(case.line)
    return Verdict(
        "faulty",
        "unknown",
        (
            f"{slow[0].rule[:1].upper()}{slow[0].rule[1:]} (from memory).",
            f"Over the usual load of 300 Ω to 1.5 kΩ that is {in_words(tau_s / 1500.0, 'F', digits=2)} to "
            f"{in_words(tau_s / 300.0, 'F', digits=2)}; or load resistors are missing: one node alone pulls down with some 9 kΩ.",
        ),
        next_step="Measure from the line to ground with everything switched off: it should read 9 kΩ divided by the "
        "number of nodes. If it does, unplug added parts until the falls are fast.",
        picture="falls slow: load resistors lost, or too much capacitance",
    )


def _lifted(case: SwCase) -> Verdict | None:
    weak = case.own("weak recessive")
    if not weak:
        return None
    return Verdict(
        "faulty",
        "unknown",
        (
            f"{weak[0].rule[:1].upper()}{weak[0].rule[1:]}.",
            "Every node pulls the resting line to its ground: a leak to battery lifts it, and so does a ground that "
            "stands too high at the probe.",
        ),
        next_step="Put the probe's ground lead on battery negative and repeat; if it stays, unplug the nodes one by one.",
        picture="recessive level lifted: a leak to battery, or a ground that stands too high",
    )


def _wake(case: SwCase) -> Verdict | None:
    limit_v = wake_limit_v(case.conditions)
    wake = {who: volts for who, volts in case.line.wake().items() if volts.size}
    low = {
        who: median(volts)
        for who, volts in wake.items()
        if median(volts) < limit_v - doubt_v(case.line, int(volts.size))
    }
    if not low:
        return None
    shown = ", ".join(f"0x{who:X} {volts:.2f} V" for who, volts in list(low.items())[:4])
    return Verdict(
        "faulty",
        "unknown",
        (
            f"Frames at the wake level reach only {shown}; {limit_v:.2f} V or more are due (from memory). Nodes that "
            "sleep may not wake up.",
            "Normal frames keep their level, so the wire carries it: the supply of the node that wakes, or its "
            "driver, is in question."
            if case.line.normal()
            else "No normal frame was seen beside them.",
        ),
        next_step="Measure the supply at the node that sends the wake frames while it does.",
        picture="wake level low",
    )


def _levels(case: SwCase) -> Verdict | None:
    """Normal frames that stand too low or too high, by identifier."""
    line = case.line
    levels = {who: (median(volts), int(volts.size)) for who, volts in line.normal().items()}
    low_v, high_v = case.conditions.needed(NORMAL_LOW), case.conditions.needed(NORMAL_HIGH)
    weak = {who: volts for who, (volts, count) in levels.items() if volts < low_v - doubt_v(line, count)}
    high = {who: volts for who, (volts, count) in levels.items() if volts > high_v + doubt_v(line, count)}
    right = {who: volts for who, (volts, _) in levels.items() if who not in weak and who not in high}
    if high and not weak:
        return Verdict(
            "faulty",
            "unknown",
            (
                f"Frames {_shown(high)} stand too high; {high_v:g} V or less are due. {_beside(right)}",
                "A node whose ground stands too high sends that much too high, and takes the others' frames for "
                "weaker than they are.",
            ),
            next_step="Find the node that sends them and measure its ground pin against battery negative while it works.",
            picture="level of one node too high: its ground is lifted",
        )
    if not weak:
        return None
    if not right and len(weak) > 2:
        return Verdict(
            "faulty",
            "unknown",
            (
                f"All frames stand too low: {_shown(weak)}; {low_v:g} V or more are due.",
                "Every node is loaded alike: a leak to ground, too many load resistors, or resistance on the way to this probe.",
            ),
            next_step="Measure from the line to ground with everything switched off, then unplug the nodes one by one.",
            picture="weak level of every node: a leak to ground, or too much load",
        )
    return Verdict(
        "faulty",
        "resistive",
        (
            f"Frames {_shown(weak)} stand too low; {low_v:g} V or more are due. {_beside(right)}",
            "The node that sends them reaches the wire through a resistance, drives too weakly, or has a ground below "
            "the others'.",
        ),
        next_step="Find the node that sends them; measure its supply and ground while it works, then follow its wire.",
        picture="weak level of one node: series resistance, its driver or its ground",
    )


def _shown(levels: dict[int, float]) -> str:
    shown = ", ".join(f"0x{who:X} {volts:.2f} V" for who, volts in list(levels.items())[:4])
    return shown + (f" and {len(levels) - 4} more" if len(levels) > 4 else "")


def _beside(right: dict[int, float]) -> str:
    return f"Others are right: {_shown(right)}." if right else "No other identifier was seen to compare with."


def _interference(case: SwCase) -> Verdict | None:
    count = len(case.own("spike"))
    if count < LEAST_SPIKES:
        return None
    broken, read = len(case.severe("frame error")) + len(case.own("dropout")), good_count(case.line.traffic)
    return interference(
        f"{count} spikes beyond the line's own levels, which no driver and no contact of this wire makes.",
        spoilt(broken, "frames or bits were spoilt", read=read > 0),
        "look where the loom runs beside such wiring",
        is_heard=broken > 0 or not read,
    )


def _torn(case: SwCase) -> Verdict | None:
    found = case.own("dropout")
    if not found:
        return None
    groups = joined(spans_of([(one.start_s, one.stop_s) for one in found]), EPISODE_GAP_S)
    return Verdict(
        "faulty",
        "open",
        (
            f"{len(found)} stretches in {len(groups)} episode{'s' if len(groups) != 1 else ''} last no whole number of bits, and "
            f"{len(case.severe('frame error'))} frames are broken by it: the line lets go inside a bit.",
            "In between levels and edges are right: a contact that opens and closes.",
        ),
        next_step="Move the loom and the connectors between the senders and this probe, one after the other, while recording.",
        intermittent=True,
        picture="intermittent contact",
    )


def _rate(case: SwCase) -> Verdict | None:
    off = case.own("wrong bit rate")
    return clock_off(off, "from memory") if off else None


def _beside_the_good(case: SwCase) -> Verdict | None:
    """Levels that keep their limit and still stand well below the same identifier's on the known-good."""
    if case.good is None or case.good.line.is_flat or case.conditions.same_moment:
        return None
    mine, theirs = case.line.normal(), case.good.line.normal()
    off = {
        who: (median(mine[who]), median(theirs[who]))
        for who in mine
        if who in theirs and median(mine[who]) < (1.0 - OTHER_SHARE) * median(theirs[who])
    }
    if not off:
        return None
    who, (volts, good_v) = next(iter(off.items()))
    return Verdict(
        "faulty",
        "resistive",
        (
            f"Frame 0x{who:X} stands at {volts:.2f} V where the known-good has {good_v:.2f} V"
            f"{f', and {len(off) - 1} more are lower too' if len(off) > 1 else ''}.",
            "The limits are still kept: it works today.",
        ),
        next_step="Measure supply and ground of the node that sends it, then follow its wire.",
        picture="weak level of one node: series resistance, its driver or its ground",
    )


def _errors(case: SwCase) -> Verdict | None:
    traffic = case.line.traffic
    if not good_count(traffic):
        return unsure(
            "The line moves, but no CAN frame with a right checksum could be read from it.",
            "Check that this pin carries single-wire CAN, and record a longer stretch.",
        )
    broken, severe = case.own("frame error"), case.severe("frame error")
    if not severe:
        if broken and traffic is not None and len(broken) == len(traffic.frames):
            return unsure(
                f"None of {len(broken)} frames is acknowledged: the node that sends is alone on its side of the wire.",
                "Record at another node together with this one: the wire between them may be open.",
            )
        return None
    return frames_break(severe, "Levels, edges and bit rates are right at this probe.")


def _clean(case: SwCase) -> Verdict:
    line, traffic = case.line, case.line.traffic
    assert traffic is not None
    wake = sum(volts.size for volts in line.wake().values())
    levels = [median(volts) for volts in line.normal().values()]
    reach = f"{min(levels):.2f} to {max(levels):.2f} V" if levels else "none at the normal level"
    reasons = [
        f"{good_count(traffic)} frames with a right checksum read at {1.0 / traffic.bit_s:.0f} bit/s"
        f"{f', {wake} of them at the wake level' if wake else ''}.",
        f"Dominant levels ({reach}), the recessive one ({line.rest_v:.2f} V), falls and bit rates keep their limits.",
    ]
    if not np.any([one.acknowledged for one in traffic.frames]):
        reasons.append("No frame is acknowledged: only the sender seems to be on this wire.")
    return Verdict("clean", "none", (*reasons, *case.not_laid()))
