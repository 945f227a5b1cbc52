"""What breaks a limit on one LIN channel by itself."""

from collections.abc import Sequence

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.lin_decode import LinTraffic
from loomlight.signal.lin_examination import (
    DOMINANT_SHARE,
    DRIVER_HIGH_SHARE,
    DRIVER_LOW_SHARE,
    RECESSIVE_SHARE,
    LineReading,
    Supply,
)
from loomlight.signal.lin_held import held_findings
from loomlight.signal.lin_parts import COMMANDER, FramePart
from loomlight.signal.lin_places import FramePlace
from loomlight.signal.spans import Spans, common, joined, spans_of, touched

SHORTEST_BIT_SHARE = 0.6
"""A recessive stretch shorter than this share of a bit, inside a frame, is no bit (common practice, no source)."""
SPIKE_V = 2.0
"""Beyond the state levels by more than this, for less than half a bit: a spike (common practice, no source)."""


def own_findings(channel: Channel, reading: LineReading) -> tuple[Finding, ...]:
    """All findings that need no known-good, in order of time."""
    if reading.levels is None or reading.supply is None or reading.seen is None or reading.received is None:
        return ()
    breaks = {frame.start_s for frame in reading.received.frames}
    held = [one for one in held_findings(channel, reading.received) if one.start_s not in breaks]
    starts = {one.start_s for one in held}
    found = [
        *weak_dominant(channel.name, reading.parts, reading.supply),
        *weak_recessive(channel, reading),
        *spikes(channel, reading),
        *runts(channel.name, reading),
        *held,
        # What is held down is told once, and not as a break that could not be read too.
        *(one for one in frame_findings(channel.name, reading.received) if one.start_s not in starts),
    ]
    return tuple(sorted(found, key=lambda one: one.start_s))


def weak_dominant(name: str, parts: tuple[FramePart, ...], supply: Supply) -> list[Finding]:
    """Headers and responses whose dominant level is above what a driver has to reach."""
    found = []
    for one in parts:
        limit = DRIVER_LOW_SHARE * supply.volts
        if one.dominant_v <= limit:
            continue
        severe = one.dominant_v > DOMINANT_SHARE * supply.volts
        rule = (
            f"{one.talker}: dominant at {one.dominant_v:.2f} V, "
            + (
                f"a receiver needs {DOMINANT_SHARE * supply.volts:.2f} V"
                if severe
                else f"a driver reaches {limit:.2f} V"
            )
            + " or less"
        )
        size = one.dominant_v - (DOMINANT_SHARE * supply.volts if severe else limit)
        found.append(
            Finding("weak dominant", name, one.start_s, one.stop_s, size, "V", rule, "severe" if severe else "mild")
        )
    return found


def weak_recessive(channel: Channel, reading: LineReading) -> list[Finding]:
    """A resting line below what it has to reach; one finding, as it is a state and not an event."""
    assert reading.levels is not None
    assert reading.supply is not None
    limit = DRIVER_HIGH_SHARE * reading.supply.volts
    volts = reading.levels.high
    if volts >= limit:
        return []
    receiver = RECESSIVE_SHARE * reading.supply.volts
    severe = volts < receiver
    rule = f"the line rests at {volts:.2f} V, it has to reach {receiver if severe else limit:.2f} V"
    size = (receiver if severe else limit) - volts
    severity: Severity = "severe" if severe else "mild"
    return [Finding("weak recessive", channel.name, channel.start_s, channel.stop_s, size, "V", rule, severity)]


def own_dropouts(reading: LineReading) -> Spans:
    """Where the line lets go inside a dominant stretch: high for less than any bit could be.

    A part whose level is weak throughout is left out: it is a weak level, not a dropout.
    """
    traffic = reading.seen
    if traffic is None or traffic.bit_s is None or not traffic.frames:
        return np.empty((0, 2))
    bit_s = traffic.bit_s
    frames = joined(spans_of([(frame.start_s, frame.stop_s) for frame in traffic.frames]), 0.0)
    lengths = reading.high[:, 1] - reading.high[:, 0]
    return without_weak_parts(common(reading.high[lengths < SHORTEST_BIT_SHARE * bit_s], frames), reading)


def without_weak_parts(spans: Spans, reading: LineReading) -> Spans:
    """Leave out what lies in a part whose dominant level is itself near or above the receiver's limit."""
    if reading.supply is None:
        return spans
    limit = 0.85 * DOMINANT_SHARE * reading.supply.volts
    weak = spans_of([(one.start_s, one.stop_s) for one in reading.parts if one.dominant_v > limit])
    kept: Spans = spans[~touched(spans, weak)]
    return kept


def spikes(channel: Channel, reading: LineReading) -> list[Finding]:
    """Short excursions beyond either state."""
    levels, bit_s = reading.levels, reading.seen.bit_s if reading.seen else None
    assert levels is not None
    assert channel.step_s is not None
    found = []
    longest = 0.5 * bit_s if bit_s else 100e-6
    for limit, is_above in ((levels.high + SPIKE_V, True), (levels.low - SPIKE_V, False)):
        beyond = levels.greatest > limit if is_above else levels.least < limit
        if not beyond:
            continue
        low, high = (limit - 0.5, limit) if is_above else (limit, limit + 0.5)
        edges = find_edges(channel.samples, low=low, high=high, level=limit)
        times = channel.start_s + edges.at * channel.step_s
        enters = times[edges.rising == is_above]
        leaves = times[edges.rising != is_above]
        leaves = leaves[leaves > enters[0]] if enters.size else leaves
        for start_s, stop_s in zip(enters, leaves, strict=False):
            if stop_s - start_s < longest:
                found.append(_spike(channel, float(start_s), float(stop_s), limit, is_above))
    return found


def _spike(channel: Channel, start_s: float, stop_s: float, limit: float, is_above: bool) -> Finding:
    values = channel.samples.block(channel.index_at(start_s), channel.index_at(stop_s) + 1)
    peak = float(np.nanmax(values) if is_above else np.nanmin(values))
    side = "above" if is_above else "below"
    rule = f"reaches {peak:.2f} V, {SPIKE_V:g} V {side} the line's level is {limit:.2f} V"
    return Finding("spike", channel.name, start_s, stop_s, abs(peak - limit), "V", rule, "mild")


def runts(name: str, reading: LineReading) -> list[Finding]:
    """Pulses that leave the resting level, do not reach a receiver's dominant, and come back (IEEE 181: runt)."""
    seen, supply = reading.seen, reading.supply
    assert seen is not None
    assert supply is not None
    if seen.bit_s is None or not len(seen.dominant):
        return []
    low = _low_spans(reading)
    first = np.searchsorted(low[:, 1], seen.dominant[:, 0], side="right")
    touched = first < len(low)
    touched[touched] &= low[first[touched], 0] < seen.dominant[touched, 1]
    pulses = seen.dominant[~touched]
    pulses = pulses[pulses[:, 1] - pulses[:, 0] < 4 * seen.bit_s]
    pulses = joined(without_weak_parts(pulses, reading), seen.bit_s)
    rule = f"dips without reaching {DOMINANT_SHARE * supply.volts:.2f} V, where a receiver takes it for dominant"
    return [
        Finding("runt", name, float(start), float(stop), float(stop - start), "s", rule, "mild")
        for start, stop in pulses
    ]


def _low_spans(reading: LineReading) -> Spans:
    """Where the line is below the limit for dominant: the rest of what `LineReading.high` covers."""
    high, seen = reading.high, reading.seen
    assert seen is not None
    if not len(high):
        return spans_of([(-np.inf, np.inf)])
    starts = np.concatenate([[-np.inf], high[:, 1]])
    stops = np.concatenate([high[:, 0], [np.inf]])
    low = np.column_stack([starts, stops])
    return low[low[:, 1] > low[:, 0]]


def frame_findings(name: str, received: LinTraffic) -> list[Finding]:
    """Frames that were not answered, and those that could not be read."""
    found = []
    for frame in received.frames:
        if frame.state in ("good", "past the end"):
            continue
        called = f"frame {frame.identifier:#04x}" if frame.identifier is not None else "frame"
        unanswered = frame.state == "no response"
        found.append(
            Finding(
                "no response" if unanswered else "frame error",
                name,
                frame.start_s,
                frame.stop_s,
                1.0,
                "",
                f"{called}: {frame.problem}",
                "mild" if unanswered else "severe",
            )
        )
    bit_s = received.bit_s or 0.0
    for start_s in received.broken_breaks:
        rule = "a header whose break or sync field could not be read"
        found.append(Finding("frame error", name, start_s, start_s + 14 * bit_s, 1.0, "", rule, "severe"))
    return found


def dropout_findings(
    channel: Channel, spans: Spans, reading: LineReading, places: Sequence[FramePlace | None] = (), *, wire: str = ""
) -> list[Finding]:
    """Dropouts as findings; their size is how far the line let go of where its driver puts it.

    Parameters
    ----------
    channel : Channel
        That lost the signal.
    spans : ndarray, shape (n, 2)
        On its axis, seconds.
    reading : LineReading
        Read off it.
    places : sequence of FramePlace or None
        Where in a frame each begins; empty where that is not known.
    wire : str
        Which wire lets go, in words; empty where that is not known.
    """
    levels, supply = reading.levels, reading.supply
    if levels is None or supply is None:
        return []
    commander_v = reading.level_of(COMMANDER)
    if commander_v is None:
        commander_v = levels.low
    found = []
    for (start_s, stop_s), place in zip(spans.tolist(), places or [None] * len(spans), strict=True):
        part = reading.part_at(start_s)
        driven_v = part.dominant_v if part is not None else commander_v
        values = channel.samples.block(channel.index_at(start_s), channel.index_at(stop_s) + 1)
        peak = float(np.nanmax(values)) if np.isfinite(values).any() else levels.high
        rule = (
            f"should be dominant near {driven_v:.2f} V, rises to {peak:.2f} V; "
            f"a receiver needs {DOMINANT_SHARE * supply.volts:.2f} V or less"
        )
        rule += f"; at {place.in_words()}" if place is not None else ""
        found.append(
            Finding(
                "dropout",
                channel.name,
                start_s,
                stop_s,
                max(peak - driven_v, 0.0),
                "V",
                rule + (f"; {wire}" if wire else ""),
                "severe" if peak > RECESSIVE_SHARE * supply.volts else "mild",
                place.talker if place is not None else "",
                place.in_words() if place is not None else "",
            )
        )
    return found
