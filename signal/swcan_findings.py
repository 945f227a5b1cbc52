"""What breaks a limit on one single-wire CAN channel by itself, and the table of its physical layer."""

from collections.abc import Iterator

import numpy as np

from loomlight.signal.can_wire import torn_stretches
from loomlight.signal.can_wire_rates import nominal_rate, rate_findings, rate_measures
from loomlight.signal.can_wire_report import frame_findings
from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.line_faults import level_doubt_v, median, spikes, steady, time_constant_s
from loomlight.signal.measure import Measure, at_least, at_most
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.spans import Spans
from loomlight.signal.swcan_limits import (
    CLOCK,
    NORMAL_HIGH,
    NORMAL_LOW,
    NORMAL_RATES,
    RATE,
    RATE_SOURCE,
    REST,
    TAU,
    THRESHOLD,
    WAKE,
    WAKE_DROP,
    WAKE_FROM_V,
)
from loomlight.signal.swcan_reading import SwReading

USUAL_BIT_S = 30e-6
FEWEST_EDGES = 10


def own_findings(
    channel: Channel, line: SwReading, conditions: Conditions, progress: Progress = unwatched
) -> tuple[Finding, ...]:
    """All findings, in order of time."""
    if line.states is None or line.levels is None:
        return ()
    bit_s = line.traffic.bit_s if line.traffic is not None else USUAL_BIT_S
    tops = [median(volts) for volts in (*line.normal().values(), *line.wake().values())]
    found = [
        *_level_findings(channel, line, conditions),
        *_rest_findings(channel, line, conditions),
        *spikes(
            channel,
            line.levels,
            floor_v=min(line.levels.low, line.rest_v),
            top_v=max([line.levels.high, *tops]),
            noise_v=line.noise_v,
            longest_s=2.0 * max(bit_s, 12e-6),
            progress=progress,
        ),
        *_slow_findings(channel, line, conditions),
        *_torn_findings(channel, line),
        *frame_findings(channel, line.traffic),
        *rate_findings(channel, line.traffic, _nominal(line, conditions), conditions.needed(CLOCK)),
    ]
    return tuple(sorted(found, key=lambda one: one.start_s))


def doubt_v(line: SwReading, count: int) -> float:
    """How far a level may be off, volts."""
    assert line.levels is not None
    return level_doubt_v(line.levels, noise_v=0.4 * line.noise_v, converter_v=line.converter_v, count=count)


def wake_limit_v(conditions: Conditions) -> float:
    """What a wake frame has to reach, volts: its fixed limit, or somewhat below a low battery."""
    fixed_v = conditions.needed(WAKE)
    if conditions.supply_v is None:
        return fixed_v
    return min(fixed_v, conditions.supply_v - conditions.needed(WAKE_DROP))


def _level_findings(channel: Channel, line: SwReading, conditions: Conditions) -> Iterator[Finding]:
    """Frames whose dominant level is too low or too high for what they are."""
    if line.traffic is None or line.wire is None:
        return
    low_v, high_v, wake_v = conditions.needed(NORMAL_LOW), conditions.needed(NORMAL_HIGH), wake_limit_v(conditions)
    threshold_v, doubt = conditions.needed(THRESHOLD), doubt_v(line, 9)
    for frame, good, volts in zip(
        line.traffic.frames, line.traffic.good.tolist(), line.wire.dominant_v.tolist(), strict=True
    ):
        if not good or not np.isfinite(volts):
            continue
        name = frame.name
        if volts >= WAKE_FROM_V:
            if volts < wake_v - doubt:
                rule = f"frame {name}: wake level {volts:.2f} V; {wake_v:.2f} V or more are due"
                yield Finding(
                    "weak dominant", channel.name, frame.start_s, frame.stop_s, wake_v - volts, "V", rule, "severe"
                )
            continue
        if volts < low_v - doubt:
            severity: Severity = "severe" if volts < threshold_v + 0.3 else "mild"
            rule = f"frame {name}: dominant at {volts:.2f} V; {low_v:.2f} V or more are due"
            yield Finding(
                "weak dominant", channel.name, frame.start_s, frame.stop_s, low_v - volts, "V", rule, severity
            )
        elif volts > high_v + doubt:
            rule = f"frame {name}: dominant at {volts:.2f} V; {high_v:.2f} V or less are due"
            yield Finding("too high", channel.name, frame.start_s, frame.stop_s, volts - high_v, "V", rule, "mild")


def _rest_findings(channel: Channel, line: SwReading, conditions: Conditions) -> Iterator[Finding]:
    limit_v = conditions.needed(REST)
    if line.rest_v > limit_v + doubt_v(line, 9):
        rule = f"the line rests at {line.rest_v:.2f} V; {limit_v:.2f} V or less are due"
        yield steady(channel, "weak recessive", line.rest_v - limit_v, rule)


def fall_tau_s(line: SwReading) -> tuple[float, int]:
    """Time constant of the falls, and how many."""
    return time_constant_s(line.states, rising=False) if line.states is not None else (float("nan"), 0)


def slow_limit_s(line: SwReading, conditions: Conditions) -> float:
    """Longest time constant allowed: that of 33.3 kbit/s, less at a higher bit rate by the square root."""
    bit_s = line.traffic.bit_s if line.traffic is not None else USUAL_BIT_S
    return conditions.needed(TAU) * min(1.0, float(np.sqrt(bit_s / USUAL_BIT_S)))


def _slow_findings(channel: Channel, line: SwReading, conditions: Conditions) -> Iterator[Finding]:
    tau_s, count = fall_tau_s(line)
    most_s = slow_limit_s(line, conditions)
    if count >= FEWEST_EDGES and tau_s > most_s + 0.3 * line.step_s:
        rule = f"falls with a time constant of {in_words(tau_s, 's', digits=2)}; {in_words(most_s, 's', digits=2)} are allowed"
        yield steady(channel, "slow edge", tau_s - most_s, rule, unit="s")


def torn(line: SwReading) -> Spans:
    """Stretches inside traffic that no clock made."""
    if line.states is None or line.traffic is None or not line.traffic.rates.is_sure:
        return np.empty((0, 2))
    return torn_stretches(line.states, line.traffic, dominant_high=True)


def _torn_findings(channel: Channel, line: SwReading) -> Iterator[Finding]:
    assert line.levels is not None
    rule = "a stretch that lasts no whole number of bits: the line lets go inside a bit"
    for start_s, stop_s in torn(line).tolist():
        yield Finding("dropout", channel.name, start_s, stop_s, line.levels.amplitude, "V", rule, "severe")


def physical_layer(line: SwReading, conditions: Conditions) -> tuple[Measure, ...]:
    """Everything that one channel shows of the physical layer; empty where nothing talks."""
    if line.states is None:
        return ()
    low_v, high_v, rest_v = (conditions.needed(one) for one in (NORMAL_LOW, NORMAL_HIGH, REST))
    found = [at_most("levels", "recessive", line.rest_v, "V", rest_v, f"{rest_v:g} V", REST.source)]
    for identifier, volts in line.normal().items():
        note = f"{volts.size} frames, {np.ptp(volts) * 1e3:.0f} mV from lowest to highest"
        name = f"dominant, 0x{identifier:X}"
        found.append(at_least("levels", name, median(volts), "V", low_v, f"{low_v:g} V", NORMAL_LOW.source, note=note))
        found.append(
            at_most("levels", name, median(volts), "V", high_v, f"{high_v:g} V", NORMAL_HIGH.source, note=note)
        )
    wake_v = wake_limit_v(conditions)
    for identifier, volts in line.wake().items():
        name, note = f"wake level, 0x{identifier:X}", f"{volts.size} frames"
        found.append(at_least("levels", name, median(volts), "V", wake_v, f"{wake_v:.2f} V", WAKE.source, note=note))
    tau_s, count = fall_tau_s(line)
    if count:
        most_s = slow_limit_s(line, conditions)
        note = f"{count} falls" if tau_s > line.step_s else "shorter than a sample step: it may be faster"
        shown = in_words(most_s, "s", digits=2)
        found.append(at_most("edges", "time constant of the falls", tau_s, "s", most_s, shown, TAU.source, note=note))
        rises = line.states.edge_s[line.states.high & np.isfinite(line.states.edge_s)]
        found.append(
            Measure(
                "edges", "rise, 20 % to 80 %", median(rises) if rises.size else None, "s", note=f"{rises.size} rises"
            )
        )
    if line.traffic is not None:
        note = f"{line.traffic.bit_s / line.step_s:.0f} samples a bit"
        found.append(Measure("bit rate", "bit rate", 1.0 / line.traffic.bit_s, "bit/s", note=note))
        nominal, allowed = _nominal(line, conditions), conditions.needed(CLOCK)
        found += rate_measures(line.traffic, nominal, allowed, RATE_SOURCE)
    return tuple(found)


def _nominal(line: SwReading, conditions: Conditions) -> float | None:
    return nominal_rate(conditions.figure(RATE), line.traffic, NORMAL_RATES)
