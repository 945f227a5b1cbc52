"""What breaks a limit on one wire of a low-speed CAN pair, and the table of its physical layer."""

from collections.abc import Iterator

import numpy as np

from loomlight.signal.can_wire import name_of
from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding, FindingKind, Severity
from loomlight.signal.line_faults import level_doubt_v, median, needed, spikes
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
from loomlight.signal.swcan_reading import rates_by_identifier

USUAL_RATES = (125_000.0, 100_000.0, 83_333.0, 62_500.0, 50_000.0, 33_333.0)
CLOCK_DOUBT, FAR_CLOCK = 0.002, 0.015
FEWEST_EDGES = 10


def own_findings(
    channel: Channel, line: LsReading, conditions: Conditions, progress: Progress = unwatched
) -> tuple[Finding, ...]:
    """All findings on the suspect, in order of time."""
    found = [*_lost_findings(channel, line)]
    own = line.own
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
    found += [*_frame_findings(channel, line), *_rate_findings(channel, line, conditions)]
    return tuple(sorted(found, key=lambda one: one.start_s))


def doubt_v(own: OneWire, count: int) -> float:
    """How far a level may be off, volts."""
    assert own.levels is not None
    return level_doubt_v(own.levels, noise_v=0.4 * own.noise_v, converter_v=own.converter_v, count=count)


def dominant_limit_v(name: str, conditions: Conditions) -> float:
    """What a driver has to reach on this wire, volts."""
    return needed(conditions, SUPPLY) - HIGH_DOMINANT_BELOW_V if name == HIGH else LOW_DOMINANT_V


def rest_limit_v(name: str, conditions: Conditions) -> float:
    """Where the wire has to rest at most (CANH) or at least (CANL), volts."""
    return HIGH_REST_V if name == HIGH else needed(conditions, SUPPLY) - LOW_REST_BELOW_V


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
            rule = f"frame {name_of(frame)}: {line.name} dominant at {volts:.2f} V; {_bound(line.name)} {limit_v:.2f} V are due"
            yield _finding("weak dominant", channel, frame.start_s, frame.stop_s, off, rule, severity)


def _bound(name: str) -> str:
    return "at least" if name == HIGH else "at most"


def _finding(
    kind: FindingKind,
    channel: Channel,
    start_s: float,
    stop_s: float,
    size: float,
    rule: str,
    severity: Severity,
    unit: str = "V",
) -> Finding:
    return Finding(kind, channel.name, start_s, stop_s, size, unit, rule, severity)


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
    yield _finding("weak recessive", channel, channel.start_s, channel.stop_s, off, rule, "severe")


def back_s(line: LsReading) -> tuple[float, int]:
    """Time constant of the way back to recessive, and how many edges: 80 % to 20 % take 1.386 of it."""
    own = line.own
    if own.states is None or not line.name:
        return float("nan"), 0
    recessive = own.states.high != (line.name == HIGH)
    took = own.states.edge_s[recessive & np.isfinite(own.states.edge_s)]
    return median(took) / 1.386, int(took.size)


def _slow_findings(channel: Channel, line: LsReading, conditions: Conditions) -> Iterator[Finding]:
    tau_s, count = back_s(line)
    if line.bit_s is None or count < FEWEST_EDGES:
        return
    most_s = needed(conditions, BACK) * line.bit_s
    assert channel.step_s is not None
    if tau_s > most_s + 0.3 * channel.step_s:
        shown = in_words(most_s, "s", digits=2)
        rule = f"{line.name} goes back to recessive with a time constant of {in_words(tau_s, 's', digits=2)}; {shown} are usual"
        yield _finding("slow edge", channel, channel.start_s, channel.stop_s, tau_s - most_s, rule, "severe", "s")


def _lost_findings(channel: Channel, line: LsReading) -> Iterator[Finding]:
    """Dominant bits of the bus that this wire does not follow, neighbours as one."""
    if line.wire is None or line.bit_s is None or not len(line.wire.lost_s) or line.other is None:
        return
    for start_s, stop_s in joined(line.wire.lost_s, 6.5 * line.bit_s).tolist():
        bits = int(
            np.count_nonzero((line.wire.lost_s[:, 0] >= start_s - 1e-9) & (line.wire.lost_s[:, 1] <= stop_s + 1e-9))
        )
        what = f"{bits} dominant bit{'s' if bits > 1 else ''}"
        rule = f"{line.name or 'this wire'} does not follow {what} that {line.other_name} shows"
        yield _finding("dropout", channel, start_s, stop_s, float(bits), rule, "severe", "")


def _frame_findings(channel: Channel, line: LsReading) -> Iterator[Finding]:
    if line.reference is None:
        return
    for frame in line.reference.frames:
        if frame.state in ("good", "past the end"):
            continue
        name = name_of(frame)
        rule = f"frame {name}: {frame.problem}" if name else frame.problem
        severity: Severity = "mild" if frame.state == "no acknowledge" else "severe"
        yield _finding("frame error", channel, frame.start_s, frame.stop_s, 1.0, rule, severity, "")


def nominal_rate(line: LsReading, conditions: Conditions) -> float | None:
    """The bit rate meant: given, else the usual one that is near; None where none is."""
    given = conditions.figure(RATE)
    if given is not None or line.bit_s is None:
        return given
    near = min(USUAL_RATES, key=lambda one: abs(one * line.bit_s - 1.0))  # type: ignore[operator]
    return near if abs(near * line.bit_s - 1.0) < 0.06 else None


def _rate_findings(channel: Channel, line: LsReading, conditions: Conditions) -> Iterator[Finding]:
    nominal = nominal_rate(line, conditions)
    if nominal is None or line.reference is None:
        return
    allowed = needed(conditions, CLOCK)
    for identifier, (rate, _) in rates_by_identifier(line.reference).items():
        off = rate / nominal - 1.0
        if abs(off) <= allowed + CLOCK_DOUBT:
            continue
        mine = [one for one in line.reference.frames if one.identifier == identifier]
        rule = f"frame 0x{identifier:X}: {rate:.0f} bit/s, {off * 100:+.1f} % from {nominal:.0f}; {allowed * 100:g} % are allowed"
        severity: Severity = "severe" if abs(off) > FAR_CLOCK else "mild"
        yield _finding(
            "wrong bit rate", channel, mine[0].start_s, mine[-1].stop_s, abs(off) * nominal, rule, severity, "bit/s"
        )


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
            shown = f"{dominant_v:.2f} V"
            found.append(
                drives(
                    "levels",
                    f"{name} dominant, 0x{identifier:X}",
                    median(volts),
                    "V",
                    dominant_v,
                    shown,
                    SHEET,
                    note=note,
                )
            )
    found += _differences(line)
    tau_s, count = back_s(line)
    if count and line.bit_s is not None:
        most_s = needed(conditions, BACK) * line.bit_s
        shown = in_words(most_s, "s", digits=2)
        name = f"{line.name}: time constant of the way back to recessive"
        found.append(at_most("edges", name, tau_s, "s", most_s, shown, BACK.source, note=f"{count} edges"))
    rate = 1.0 / line.reference.bit_s
    found.append(at_most("bit rate", "bit rate", rate, "bit/s", 1.02 * MOST_RATE, "125 kbit/s", MEMORY))
    nominal, allowed = nominal_rate(line, conditions), needed(conditions, CLOCK)
    for identifier, (own_rate, frames) in rates_by_identifier(line.reference).items():
        off = abs(own_rate / nominal - 1.0) if nominal is not None else None
        shown = (
            f"{allowed * 100:g} % of {nominal:.0f} bit/s" if nominal is not None else "not known: no usual rate is near"
        )
        note = f"{own_rate:.0f} bit/s over {frames} frames"
        found.append(
            at_most("bit rate", f"off nominal, 0x{identifier:X}", off, "", allowed, shown, CLOCK.source, note=note)
        )
    return tuple(found)


def _differences(line: LsReading) -> list[Measure]:
    """CANH less CANL, dominant and recessive."""
    if line.wire is None or line.other_wire is None or line.name == line.other_name:
        return []
    high, low = (line.wire, line.other_wire) if line.name == HIGH else (line.other_wire, line.wire)
    dominant = (
        float(np.nanmedian(high.dominant_v - low.dominant_v))
        if np.isfinite(high.dominant_v - low.dominant_v).any()
        else None
    )
    recessive_v = high.recessive_v - low.recessive_v
    recessive = recessive_v if np.isfinite(recessive_v) else None
    shown = f"{DIFFERENCE_V:g} V"
    return [
        at_least("levels", "difference, dominant", dominant, "V", DIFFERENCE_V, shown, SHEET),
        at_most("levels", "difference, recessive", recessive, "V", DIFFERENCE_V, shown, SHEET),
    ]
