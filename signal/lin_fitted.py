"""What a LIN verdict's figures predict for the capture itself, to be drawn over it."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.circuit import LinBus
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Examination
from loomlight.signal.lin_bus_frames import chosen_traffic
from loomlight.signal.lin_examination import DRIVER_LOW_SHARE, LineReading, LinExamination
from loomlight.signal.lin_ground import PICTURE as NODE_GROUND_PICTURE
from loomlight.signal.lin_ground import SAME_LEVEL_V, USUAL_LOW_V
from loomlight.signal.lin_parts import COMMANDER
from loomlight.signal.lin_pull_up import PICTURE as PULL_UP_PICTURE
from loomlight.signal.lin_rise import ALL, edge_constants
from loomlight.signal.lineup import LineUp
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import COMMANDER_SIDE, leak_beside
from loomlight.signal.spans import spans_of
from loomlight.signal.supposal import Fitted, SupposedFault, Supposer
from loomlight.signal.supposed import (
    FAULTS,
    GROUND,
    LEAD_S,
    LONGEST_S,
    NODE_GROUND,
    OPEN,
    PULL_UP,
    SERIES,
    Talks,
    ready,
    sent_through,
    supposed,
    talkers_of,
    talks_in,
)
from loomlight.signal.verdict import Verdict

BEHIND_V = 0.03
"""A talker that stands lower on the suspect than on the known-good by more than this sits at the suspect's end."""


def fitted(suspect: Examination, good: Examination | None, lineup: LineUp | None, verdict: Verdict) -> Fitted | None:
    """The prediction; None where the verdict names no fault that the model has, or nothing talks.

    Recorded together, each talker's bits and level are taken from the side that it sits on; else the suspect's own bits are
    sent, with the levels that the known-good of another day has for each talker.
    """
    assert isinstance(suspect, LinExamination)
    assert good is None or isinstance(good, LinExamination)
    together = verdict.joint == "between the probes" and good is not None and lineup is not None and lineup.accepted
    other = good.line if good is not None else None
    if suspect.line.is_flat and not together:
        return None
    fault = _fault(suspect, other if together else None, verdict)
    if fault is None:
        return None

    def picture(start_s: float, stop_s: float) -> Channel:
        if not 0 < stop_s - start_s <= LONGEST_S:
            raise CannotUse(
                f"Zoom in to {in_words(LONGEST_S, 's')} or less: the fitted line is worked out for what is in sight."
            )
        talks = _talks(suspect.line, other, lineup if together else None, fault, start_s - LEAD_S, stop_s)
        if not talks and fault.kind != OPEN:
            raise CannotUse("No frame stands in this stretch: move to where the bus talks.")
        line = other if suspect.line.is_flat and other is not None else suspect.line
        near_f = 0.0
        if (
            fault.kind == PULL_UP
            and (rise := edge_constants(suspect.channel, suspect.line).of(ALL, rising=True)) is not None
        ):
            talks, near_f = _released(talks, rise.tau_s), _bus_farads(rise.tau_s)
        name = f"as fitted: {fault.in_words()}"
        return sent_through(talks, line, fault, start_s, stop_s, name=name, source=suspect.channel.name, near_f=near_f)

    return Fitted(fault, picture)


def _fault(suspect: LinExamination, other: LineReading | None, verdict: Verdict) -> SupposedFault | None:
    line = suspect.line
    if verdict.picture == PULL_UP_PICTURE:
        return SupposedFault(PULL_UP)
    if verdict.picture == NODE_GROUND_PICTURE and verdict.series_ohm:
        levels = {who: volts for who in line.talkers if who != COMMANDER and (volts := line.level_of(who)) is not None}
        weakest = max(levels, key=levels.__getitem__)
        return SupposedFault(NODE_GROUND, verdict.series_ohm, (weakest,), "Ω", before=True)
    before = verdict.joint == "away from the commander" or (other is not None and _is_before(line, other))
    if verdict.fault == "resistive" and verdict.series_ohm:
        return SupposedFault(SERIES, verdict.series_ohm, _beyond(line, other, before), "Ω", before)
    if verdict.fault == "open":
        return SupposedFault(OPEN, beyond=_beyond(line, other, before), before=before)
    if (
        verdict.short_to == "ground"
        and line.recessive_v is not None
        and line.supply is not None
        and not verdict.intermittent
    ):
        ohms = leak_beside(line.recessive_v, top_v=line.supply.volts - 0.7, pull=COMMANDER_SIDE, doubt_v=0.0)
        return SupposedFault(GROUND, ohms.best, unit="Ω") if np.isfinite(ohms.best) else None
    return None


def _is_before(line: LineReading, other: LineReading) -> bool:
    """Whether the suspect's probe stands on the commander's side: there it is a responder that is lifted, and most."""
    apart = {
        who: here - there
        for who in line.talkers
        if (here := line.level_of(who)) is not None and (there := other.level_of(who)) is not None
    }
    lost = {*other.talkers} - {*line.talkers, COMMANDER}
    responders = max((volts for who, volts in apart.items() if who != COMMANDER), default=0.0)
    return (bool(lost) and COMMANDER in line.talkers) or responders > max(
        2.0 * abs(apart.get(COMMANDER, 0.0)), SAME_LEVEL_V
    )


def _beyond(line: LineReading, other: LineReading | None, before: bool) -> tuple[str, ...]:
    """Who sits behind the fault: right at that end and lifted at the other; with one channel before it, who is weak."""
    found = []
    for who in sorted({*line.talkers, *(other.talkers if other is not None else ())} - {COMMANDER}):
        here, there = line.level_of(who), other.level_of(who) if other is not None else None
        if other is None:
            behind = (
                before and here is not None and line.supply is not None and here > DRIVER_LOW_SHARE * line.supply.volts
            )
        elif here is None or there is None:
            behind = (here is None) == before  # what is not seen at all on the one side sits at the other
        else:
            behind = (here - there if before else there - here) > BEHIND_V
        if behind:
            found.append(who)
    return tuple(found)


def _talks(
    line: LineReading,
    other: LineReading | None,
    lineup: LineUp | None,
    fault: SupposedFault,
    start_s: float,
    stop_s: float,
) -> Talks:
    own = chosen_traffic(line)
    said = talks_in(line, own, start_s, stop_s) if own is not None else []
    if other is None:
        # One channel alone: who is lifted by the fault stands, before it, where drivers usually stand.
        lifted = set(fault.beyond) if fault.before else {who for who, _, _ in said} - set(fault.beyond)
        known = lifted if fault.kind in (SERIES, NODE_GROUND) else set()
        return [(who, USUAL_LOW_V if who in known else low_v, spans) for who, low_v, spans in said]
    if lineup is None:
        levels = {who: other.level_of(who) for who, _, _ in said}
        return [(who, volts if (volts := levels[who]) is not None else low_v, spans) for who, low_v, spans in said]
    there = chosen_traffic(other)
    first_s, last_s = lineup.on_good(start_s), lineup.on_good(stop_s)
    heard = talks_in(other, there, first_s, last_s) if there is not None else []
    laid = [(who, low_v, lineup.spans_on_suspect(spans)) for who, low_v, spans in heard]
    behind, ahead = (laid, said) if fault.before else (said, laid)
    return [*(one for one in behind if one[0] in fault.beyond), *(one for one in ahead if one[0] not in fault.beyond)]


def _released(talks: Talks, tau_s: float) -> Talks:
    """Dominant stretches up to where the driver lets go: the line crosses the middle only τ · ln 2 later."""
    late = np.array([0.0, tau_s * np.log(2.0)])
    return [(who, low_v, spans_of(spans - late)) for who, low_v, spans in talks]


def _bus_farads(tau_s: float) -> float:
    """Capacitance that makes the measured rise with a usual bus's responders' pull-ups."""
    bus = LinBus()
    return max(tau_s * (bus.near_responders + bus.far_responders) / bus.responder_ohm - bus.far_f, bus.far_f)


SUPPOSER = Supposer(FAULTS, talkers_of, ready, supposed, fitted, LONGEST_S)
