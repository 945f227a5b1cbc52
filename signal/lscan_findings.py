"""What breaks a limit on one wire of a low-speed CAN pair, and the table of its physical layer."""

from collections.abc import Iterator

import numpy as np

from loomlight.signal.can_wire_rates import nominal_rate, rate_findings, rate_measures
from loomlight.signal.can_wire_report import frame_findings
from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.line_faults import level_doubt_v, median, spikes, steady, time_constant_s
from loomlight.signal.lscan_limits import (
    BACK,
    CLOCK,
    DIFFERENCE_V,
    HIGH,
    HIGH_DOMINANT_BELOW_V,
    HIGH_REST_V,
    LOW_DOMINANT_V,
    LOW_REST_BELOW_V,
    MEMORY,
    MOST_RATE,
    ONE_WIRE_HIGH_V,
    ONE_WIRE_LOW_V,
    RATE,
    SHEET,
    SUPPLY,
)
from loomlight.signal.lscan_reading import FRAME_LOST_SHARE, LsReading, OneWire, sent_bits
from loomlight.signal.measure import Measure, at_least, at_most
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.spans import joined

USUAL_RATES = (125_000.0, 100_000.0, 83_333.0, 62_500.0, 50_000.0, 33_333.0)
FEWEST_EDGES = 10


def own_findings(
    channel: Channel, line: LsReading, conditions: Conditions, progress: Progress = unwatched
) -> tuple[Finding, ...]:
    """All findings on the suspect, in order of time."""
    found, own = [*_lost_findings(channel, line)], line.own
    if own.states is not None and own.levels is not None:
        found += [
            *_level_findings(channel, line, conditions),
            *_rest_findings(channel, line, conditions),
            *spikes(
                channel,
                own.levels,
                floor_v=min([own.levels.low, *(median(one) for one in line.by_identifier().values())]),
                top_v=max([own.levels.high, *(median(one) for one in line.by_identifier().values())]),
                noise_v=own.noise_v,
                longest_s=2.0 * (line.bit_s or 1.0 / MOST_RATE),
                progress=progress,
            ),
            *_slow_findings(channel, line, conditions),
        ]
    nominal, allowed = nominal_rate(conditions.figure(RATE), line.reference, USUAL_RATES), conditions.needed(CLOCK)
    found += [*frame_findings(channel, line.reference), *rate_findings(channel, line.reference, nominal, allowed)]
    return tuple(sorted(found, key=lambda one: one.start_s))


def doubt_v(own: OneWire, count: int) -> float:
    """How far a level may be off, volts."""
    assert own.levels is not None
    return level_doubt_v(own.levels, noise_v=0.4 * own.noise_v, converter_v=own.converter_v, count=count)


def dominant_limit_v(name: str, conditions: Conditions) -> float:
    """What a driver has to reach on this wire, volts."""
    return conditions.needed(SUPPLY) - HIGH_DOMINANT_BELOW_V if name == HIGH else LOW_DOMINANT_V


def rest_limit_v(name: str, conditions: Conditions) -> float:
    """Where the wire has to rest at most (CANH) or at least (CANL), volts."""
    return HIGH_REST_V if name == HIGH else conditions.needed(SUPPLY) - LOW_REST_BELOW_V


def beyond_v(name: str, volts: float, limit_v: float) -> float:
    """How far a dominant level misses its limit, volts; negative where it is kept."""
    return limit_v - volts if name == HIGH else volts - limit_v


def _level_findings(channel: Channel, line: LsReading, conditions: Conditions) -> Iterator[Finding]:
    """Frames whose dominant level misses its limit on this wire; those that are missing altogether are told apart."""
    if line.reference is None or line.wire is None or not line.name:
        return
    limit_v, doubt = dominant_limit_v(line.name, conditions), doubt_v(line.own, 9)
    counts = sent_bits(line.reference)
    receiver_v = ONE_WIRE_HIGH_V if line.name == HIGH else ONE_WIRE_LOW_V
    rows = zip(line.reference.frames, line.reference.good.tolist(), line.wire.dominant_v.tolist(), strict=True)
    for number, (frame, good, volts) in enumerate(rows):
        if not good or not np.isfinite(volts) or line.wire.lost[number] > FRAME_LOST_SHARE * counts[number]:
            continue
        off = beyond_v(line.name, volts, limit_v)
        if off > doubt:
            severity: Severity = "severe" if beyond_v(line.name, volts, receiver_v) > -0.3 else "mild"
            rule = f"frame {frame.name}: {line.name} dominant at {volts:.2f} V; {_bound(line.name)} {limit_v:.2f} V are due"
            yield Finding("weak dominant", channel.name, frame.start_s, frame.stop_s, off, "V", rule, severity)


def _bound(name: str) -> str:
    return "at least" if name == HIGH else "at most"


def rest_off_v(line: LsReading, conditions: Conditions) -> float | None:
    """How far the recessive level misses its limit beyond doubt, volts; None where it is kept or not known."""
    if not line.name or line.wire is None or not np.isfinite(line.wire.recessive_v):
        return None
    off = -beyond_v(line.name, line.wire.recessive_v, rest_limit_v(line.name, conditions))
    return off if off > doubt_v(line.own, 9) + 0.05 else None


def _rest_findings(channel: Channel, line: LsReading, conditions: Conditions) -> Iterator[Finding]:
    off = rest_off_v(line, conditions)
    if off is None or line.wire is None:
        return
    limit_v = rest_limit_v(line.name, conditions)
    sense = "at most" if line.name == HIGH else "at least"
    rule = f"{line.name} rests at {line.wire.recessive_v:.2f} V; {sense} {limit_v:.2f} V are due"
    yield steady(channel, "weak recessive", off, rule)


def back_s(line: LsReading) -> tuple[float, int]:
    """Time constant of the way back to recessive, and how many edges."""
    if line.own.states is None or not line.name:
        return float("nan"), 0
    return time_constant_s(line.own.states, rising=line.name != HIGH)


def _slow_findings(channel: Channel, line: LsReading, conditions: Conditions) -> Iterator[Finding]:
    tau_s, count = back_s(line)
    if line.bit_s is None or count < FEWEST_EDGES:
        return
    most_s = conditions.needed(BACK) * line.bit_s
    assert channel.step_s is not None
    if tau_s > most_s + 0.3 * channel.step_s:
        shown = in_words(most_s, "s", digits=2)
        rule = f"{line.name} goes back to recessive with a time constant of {in_words(tau_s, 's', digits=2)}; {shown} are usual"
        yield steady(channel, "slow edge", tau_s - most_s, rule, unit="s")


def _lost_findings(channel: Channel, line: LsReading) -> Iterator[Finding]:
    """Dominant bits of the bus that this wire does not follow, neighbours as one."""
    if line.wire is None or line.bit_s is None or not len(line.wire.lost_s) or line.other is None:
        return
    for start_s, stop_s in joined(line.wire.lost_s, 6.5 * line.bit_s).tolist():
        begin_s, end_s = line.wire.lost_s.T
        bits = np.count_nonzero((begin_s >= start_s - 1e-9) & (end_s <= stop_s + 1e-9))
        what = f"{bits} dominant bit{'s' if bits > 1 else ''}"
        rule = f"{line.name or 'this wire'} does not follow {what} that {line.other_name} shows"
        yield Finding("dropout", channel.name, start_s, stop_s, float(bits), "", rule, "severe")


def physical_layer(line: LsReading, conditions: Conditions) -> tuple[Measure, ...]:
    """Everything that was seen of the physical layer, the other wire's levels beside."""
    if line.reference is None or not line.name:
        return ()
    found: list[Measure] = []
    for name, wire, levels in (
        (line.name, line.wire, line.by_identifier()),
        (line.other_name, line.other_wire, line.other_by_identifier()),
    ):
        if wire is None or not name:
            continue
        rest_v, dominant_v = rest_limit_v(name, conditions), dominant_limit_v(name, conditions)
        rests, drives = (at_most, at_least) if name == HIGH else (at_least, at_most)
        value = wire.recessive_v if np.isfinite(wire.recessive_v) else None
        found.append(rests("levels", f"{name} recessive", value, "V", rest_v, f"{rest_v:.2f} V", SHEET))
        for identifier, volts in levels.items():
            note = f"{volts.size} frames, {np.ptp(volts) * 1e3:.0f} mV from lowest to highest"
            what, shown = f"{name} dominant, 0x{identifier:X}", f"{dominant_v:.2f} V"
            found.append(drives("levels", what, median(volts), "V", dominant_v, shown, SHEET, note=note))
    found += _differences(line)
    tau_s, count = back_s(line)
    if count and line.bit_s is not None:
        most_s = conditions.needed(BACK) * line.bit_s
        shown = in_words(most_s, "s", digits=2)
        name = f"{line.name}: time constant of the way back to recessive"
        found.append(at_most("edges", name, tau_s, "s", most_s, shown, BACK.source, note=f"{count} edges"))
    rate = 1.0 / line.reference.bit_s
    found.append(at_most("bit rate", "bit rate", rate, "bit/s", 1.02 * MOST_RATE, "125 kbit/s", MEMORY))
    nominal = nominal_rate(conditions.figure(RATE), line.reference, USUAL_RATES)
    found += rate_measures(line.reference, nominal, conditions.needed(CLOCK), CLOCK.source)
    return tuple(found)


def _differences(line: LsReading) -> list[Measure]:
    """CANH less CANL, dominant and recessive."""
    if line.wire is None or line.other_wire is None or line.name == line.other_name:
        return []
    high, low = (line.wire, line.other_wire) if line.name == HIGH else (line.other_wire, line.wire)
    apart = high.dominant_v - low.dominant_v
    dominant = float(np.nanmedian(apart)) if np.isfinite(apart).any() else None
    recessive_v = high.recessive_v - low.recessive_v
    recessive = recessive_v if np.isfinite(recessive_v) else None
    shown = f"{DIFFERENCE_V:g} V"
    return [
        at_least("levels", "difference, dominant", dominant, "V", DIFFERENCE_V, shown, SHEET),
        at_most("levels", "difference, recessive", recessive, "V", DIFFERENCE_V, shown, SHEET),
    ]
