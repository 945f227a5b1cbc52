"""What the findings on a wire of a low-speed CAN pair mean."""

import numpy as np

from loomlight.signal.line_case import first_told, unsound
from loomlight.signal.line_faults import LEAST_SPIKES, median, ohms_in_words
from loomlight.signal.line_verdicts import clock_off, frames_break, interference, spoilt, unsure
from loomlight.signal.lscan_findings import beyond_v, dominant_limit_v, doubt_v, rest_off_v
from loomlight.signal.lscan_limits import HIGH
from loomlight.signal.lscan_lost_wire import FEWEST_LOST, cut_off, goes_on, tied_to_a_rail, wires_together
from loomlight.signal.lscan_reading import FEWEST_FRAMES, LsCase
from loomlight.signal.series_resistance import Ohms
from loomlight.signal.setting import PRACTICE
from loomlight.signal.verdict import Verdict

TERMINATION_OHM = Ohms(100.0, 80.0, 180.0)
"""All termination resistors of one wire together: about 100 Ω (ISO 11898-3, from memory)."""
SHIFT_SHARE = 0.5
"""Both wires off the same way by at least half of the other's: their ground has moved (common practice, no source)."""
OTHERS_V = 0.5
"""A node that stands that far from the others on both wires, the same way, has another ground (common practice, no source)."""


def judge_low_speed(case: LsCase) -> Verdict:
    """Soundness first, then a silent wire, then what each fault would do to one that talks, the most telling first."""
    judges = (
        wires_together,
        cut_off,
        tied_to_a_rail,
        _slow,
        _leak,
        _ground,
        _weak,
        _interference,
        _rate,
        _lost,
        _beside,
        _errors,
    )
    return unsound(case) or _quiet(case) or first_told(case, judges, (wires_together, _interference)) or _clean(case)


def _quiet(case: LsCase) -> Verdict | None:
    line = case.line
    if not line.is_silent or (line.other is not None and line.other.frames >= FEWEST_FRAMES):
        return None
    other = f", the other at {line.other.resting_v:.2f} V" if line.other is not None else ""
    return unsure(
        f"The wire is flat at {line.own.resting_v:.2f} V{other}, and no frame is sent: the bus sleeps (CANL then "
        "stands at battery, CANH at 0 V), or nothing of it reaches this probe.",
        "Switch the ignition on, work a function of this bus, and record both wires together.",
    )


def _slow(case: LsCase) -> Verdict | None:
    slow = case.own("slow edge")
    if not slow:
        return None
    return Verdict(
        "faulty",
        "unknown",
        (
            f"{slow[0].rule}.",
            "The termination resistors bring the wire back: some of them are missing, or the wire has too much capacitance.",
            goes_on(case.line),
        ),
        next_step="With everything switched off unplug the nodes one by one and see which resistor is missing; then "
        "look for added wires and parts.",
        picture=f"{case.line.name} edges slow: termination lost, or too much capacitance",
    )


def _leak(case: LsCase) -> Verdict | None:
    off = rest_off_v(case.line, case.conditions)
    if off is None or case.line.wire is None:
        return None
    name = case.line.name
    return Verdict(
        "faulty",
        "short",
        (
            f"{name} rests at {case.line.wire.recessive_v:.2f} V, {off:.2f} V beyond its limit: a leak to "
            f"{'a supply' if name == HIGH else 'ground'}, or to the other wire.",
            goes_on(case.line),
        ),
        next_step="Unplug the nodes one by one; where the level comes back, look at that branch for water or a chafed wire.",
        short_to="battery" if name == HIGH else "ground",
        picture=f"{name} recessive level off: a leak",
    )


def _weak_ones(case: LsCase) -> dict[int, float]:
    """Identifiers whose dominant level misses its limit on the suspect beyond doubt, volts."""
    line = case.line
    if not line.name or line.own.levels is None:
        return {}
    limit_v = dominant_limit_v(line.name, case.conditions)
    found = {}
    for who, levels in line.by_identifier().items():
        if beyond_v(line.name, median(levels), limit_v) > doubt_v(line.own, int(levels.size)):
            found[who] = median(levels)
    return found


def _ground(case: LsCase) -> Verdict | None:
    """A node that stands off the others on both wires, the same way and by about as much."""
    line = case.line
    mine, theirs = line.by_identifier(), line.other_by_identifier()
    if line.other is None or line.other.frames < FEWEST_FRAMES or line.own.frames < FEWEST_FRAMES or len(mine) < 2:
        return None
    shifts = {}
    middle = {who: median(levels) for who, levels in mine.items()}
    other_middle = {who: median(levels) for who, levels in theirs.items()}
    usual, other_usual = float(np.median(list(middle.values()))), float(np.median(list(other_middle.values())))
    for who in middle.keys() & other_middle.keys():
        one, two = middle[who] - usual, other_middle[who] - other_usual
        if one * two > 0 and min(abs(one), abs(two)) > max(OTHERS_V, SHIFT_SHARE * max(abs(one), abs(two))):
            shifts[who] = 0.5 * (one + two)
    if not shifts:
        return None
    shown = ", ".join(f"0x{who:X} {volts:+.2f} V" for who, volts in sorted(shifts.items())[:4])
    return Verdict(
        "faulty",
        "unknown",
        (
            f"Frames {shown} from the others on both wires, the same way: the ground of the node that sends them has "
            f"moved by that.",
            "The difference of the wires is right, so the bus works; with one wire lost it may not.",
        ),
        next_step="Find the node that sends them and measure its ground pin against battery negative while it works.",
        picture="ground offset at one node",
    )


def _weak(case: LsCase) -> Verdict | None:
    line = case.line
    weak = _weak_ones(case)
    if not weak or line.wire is None:
        return None
    right = [who for who in line.by_identifier() if who not in weak]
    shown = ", ".join(f"0x{who:X} {volts:.2f} V" for who, volts in list(weak.items())[:4])
    limit_v = dominant_limit_v(line.name, case.conditions)
    levels = [median(volts) for who, volts in line.by_identifier().items() if who in right]
    volts = median(np.array(list(weak.values())))
    # Without others to compare with, a driver leaves its wire about 0.8 V from its rail.
    source_v = float(np.median(levels)) if levels else (4.2 if line.name == HIGH else 0.8)
    swing, kept = abs(source_v - line.wire.recessive_v), max(abs(volts - line.wire.recessive_v), 0.05)
    ratio = max(swing / kept - 1.0, 0.0)
    ohms = Ohms(*(ratio * one for one in (TERMINATION_OHM.best, 0.7 * TERMINATION_OHM.low, 1.3 * TERMINATION_OHM.high)))
    beside = "" if line.other is not None else " A ground of that node that has moved looks the same on one wire alone."
    return Verdict(
        "faulty",
        "resistive",
        (
            f"On {line.name} frames {shown} miss their level; {'at least' if line.name == HIGH else 'at most'} "
            f"{limit_v:.2f} V are due." + (f" Those of {len(right)} other identifiers are right." if right else ""),
            f"A series resistance of {ohms_in_words(ohms)} in {line.name} between that node and the rest does that.{beside}",
            "Assumed: 80 to 180 Ω of termination on the wire, all nodes together (from memory).",
        ),
        next_step=f"Find the node that sends them; measure its ground while it works, then follow its {line.name}.",
        series_ohm=ohms.best,
        series_ohm_low=ohms.low,
        series_ohm_high=ohms.high,
        picture=f"series resistance in {line.name}",
    )


def _interference(case: LsCase) -> Verdict | None:
    count = len(case.own("spike"))
    if count < LEAST_SPIKES:
        return None
    broken = len(case.severe("frame error"))
    read = max(case.line.own.frames, case.line.other.frames if case.line.other is not None else 0)
    return interference(
        f"{count} spikes beyond the wire's own levels, which no driver and no contact makes.",
        spoilt(broken, "frames were spoilt", read=read > 0),
        "look where the loom runs beside such wiring",
        is_heard=broken > 0 or not read,
    )


def _rate(case: LsCase) -> Verdict | None:
    off = case.own("wrong bit rate")
    return clock_off(off, PRACTICE) if off else None


def _lost(case: LsCase) -> Verdict | None:
    found = case.own("dropout")
    if len(found) < FEWEST_LOST or case.line.other is None:
        return None
    return Verdict(
        "faulty",
        "open",
        (
            f"{len(found)} times {case.line.name} does not follow what {case.line.other_name} shows, the first: {found[0].rule}.",
            "In between its levels are right: a contact that opens and closes.",
            goes_on(case.line),
        ),
        next_step=f"Move the loom and the connectors of {case.line.name} between this probe and the rest while recording.",
        intermittent=True,
        picture=f"{case.line.name} intermittent",
    )


def _beside(case: LsCase) -> Verdict | None:
    """The suspect is right and the other wire is not."""
    other = case.line.other
    if other is None or other.frames >= FEWEST_FRAMES or case.line.own.frames < FEWEST_FRAMES:
        return None
    return unsure(
        f"{case.line.name} is right and carries the bus alone; {case.line.other_name} stands at {other.resting_v:.2f} "
        f"V and shows no frame.",
        f"Judge {case.line.other_name} as the suspect, with this wire beside it.",
    )


def _errors(case: LsCase) -> Verdict | None:
    line = case.line
    if line.own.frames < FEWEST_FRAMES and line.reference is None:
        return unsure(
            "The wire moves, but too few CAN frames with a right checksum could be read from it.",
            "Check that this pin carries low-speed CAN, and record a longer stretch.",
        )
    severe = case.severe("frame error")
    if not severe:
        return None
    return frames_break(severe, "Levels and edges are right at this probe.")


def _clean(case: LsCase) -> Verdict:
    line = case.line
    traffic, wire = line.reference, line.wire
    assert traffic is not None
    assert wire is not None
    reasons = [
        f"{line.own.frames} frames with a right checksum read from {line.name} alone at {1.0 / traffic.bit_s:.0f} bit/s.",
        f"Its dominant levels, the recessive one ({wire.recessive_v:.2f} V), edges and bit rates keep their limits.",
    ]
    if line.other is None:
        reasons.append(
            "The other wire was not recorded: a fault of it, and a ground that has moved, would not show; this bus "
            "runs on one wire without a word."
        )
    else:
        reasons.append(f"{line.other_name} carries the same: {line.other.frames} frames.")
    return Verdict("clean", "none", (*reasons, *case.not_laid()))
