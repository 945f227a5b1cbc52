"""What breaks a limit on one K-line channel by itself."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.kline_decode import Message
from loomlight.signal.kline_limits import (
    CLOCK_SHARE,
    FAST,
    FAST_SLACK,
    FAST_WHOLE,
    RECEIVER_HIGH,
    RECEIVER_LOW,
    SENDER_HIGH,
    SENDER_LOW,
    SHIFT_SHARE,
    TESTER_HIGH_SHARE,
    TESTER_LOW_SHARE,
    UART_SHARE,
)
from loomlight.signal.kline_reading import KReading, TalkLevel, nominal_rate, rates_by_talker, unanswered
from loomlight.signal.kline_words import BYTE_BITS, TESTER
from loomlight.signal.line_faults import level_doubt_v, median, spikes, steady
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.spans import Spans, joined, spans_of

RISE_TO_70 = 1.204 / 1.386
"""A pull-up charges a capacitance to 70 % in 1.204 time constants, from 20 % to 80 % in 1.386 (ln 1/0.3; ln 0.8/0.2)."""
OFF_GRID = 0.22
"""An edge that far from the bits' raster, in bits, was made by no clock (common practice, no source)."""
SHORT_BITS = 0.6
FEWEST_RISES = 5
USUAL_BIT_S = 1.0 / 10_400.0
CLOCK_DOUBT = 0.004
"""How far a bit rate read from a few messages may be off."""


def own_findings(
    channel: Channel, line: KReading, conditions: Conditions, progress: Progress = unwatched
) -> tuple[Finding, ...]:
    """All findings that need no known-good, in order of time."""
    if line.levels is None or line.seen is None or line.supply_v is None or line.supply_v <= 0:
        return ()
    bit_s = line.bit_s or USUAL_BIT_S
    found = [
        *weak_lows(channel.name, line, conditions),
        *weak_high(channel, line, conditions),
        *spikes(
            channel,
            line.levels,
            floor_v=min([line.levels.low, *(median(line.lows_of(who)) for who in line.talkers)]),
            top_v=line.levels.high,
            noise_v=line.noise_v,
            longest_s=2.0 * max(bit_s, USUAL_BIT_S),
            progress=progress,
        ),
        *slow_rises(channel, line),
        *dropout_findings(channel.name, line),
        *message_findings(channel, line),
        *rate_findings(channel.name, line, conditions),
        *opening_findings(channel.name, line, conditions),
    ]
    return tuple(sorted(found, key=lambda one: one.start_s))


def low_limit_v(line: KReading, talk: TalkLevel | str, conditions: Conditions) -> float:
    """What a talker has to reach, volts."""
    talker = talk if isinstance(talk, str) else talk.talker
    assert line.supply_v is not None
    share = TESTER_LOW_SHARE if talker == TESTER else conditions.needed(SENDER_LOW)
    return share * line.supply_v


def low_doubt_v(line: KReading, count: int) -> float:
    """How far a low level may be off, volts."""
    assert line.levels is not None
    return level_doubt_v(line.levels, noise_v=line.noise_v, converter_v=line.converter_v, count=count)


def weak_lows(name: str, line: KReading, conditions: Conditions) -> list[Finding]:
    """Messages whose low level stays above what their sender has to reach."""
    assert line.supply_v is not None
    found = []
    receiver_v = conditions.needed(RECEIVER_LOW) * line.supply_v
    for one in line.talks:
        limit_v = low_limit_v(line, one, conditions)
        if one.low_v <= limit_v + low_doubt_v(line, one.count):
            continue
        severe = one.low_v > receiver_v
        shown = f"a receiver needs {receiver_v:.2f} V" if severe else f"it has to reach {limit_v:.2f} V"
        rule = f"{one.talker}: low at {one.low_v:.2f} V, {shown} or less"
        size = one.low_v - (receiver_v if severe else limit_v)
        severity: Severity = "severe" if severe else "mild"
        found.append(Finding("weak dominant", name, one.message.start_s, one.message.stop_s, size, "V", rule, severity))
    return found


def high_limit_v(line: KReading, conditions: Conditions) -> float:
    """What the resting line has to reach, volts: the tester, whose pull-up it is, has to let it rise to 90 % of the supply."""
    assert line.supply_v is not None
    return max(conditions.needed(SENDER_HIGH), TESTER_HIGH_SHARE) * line.supply_v


def weak_high(channel: Channel, line: KReading, conditions: Conditions) -> list[Finding]:
    """A resting line below what it has to reach; one finding, as it is a state and not an event."""
    assert line.levels is not None
    assert line.supply_v is not None
    if line.supply_from != "given":
        return []
    volts, limit_v = line.levels.high, high_limit_v(line, conditions)
    if volts >= limit_v - low_doubt_v(line, 9):
        return []
    receiver_v = conditions.needed(RECEIVER_HIGH) * line.supply_v
    severe = volts < receiver_v
    wanted = receiver_v if severe else limit_v
    rule = f"the line rests at {volts:.2f} V, it has to reach {wanted:.2f} V"
    severity: Severity = "severe" if severe else "mild"
    return [steady(channel, "weak recessive", wanted - volts, rule, severity=severity)]


def rise_s(line: KReading) -> tuple[float, int]:
    """Median time of a rise from 20 % to 80 %, and how many; only rises that a long high stretch lets finish."""
    seen = line.seen
    assert seen is not None
    full = seen.high & np.isfinite(seen.edge_s)
    times = seen.edge_s[full]
    return median(times), int(times.size)


def late_rise_s(line: KReading) -> float:
    """How much later than its release the line is at 70 %: the shift of a rising edge at a receiver, seconds."""
    return rise_s(line)[0] * RISE_TO_70


def slow_rises(channel: Channel, line: KReading) -> list[Finding]:
    """Rises so slow that a receiver sees the edge late by more than it has to bear; one finding."""
    if not is_slow(line):
        return []
    late_s, bit_s = late_rise_s(line), line.bit_s or USUAL_BIT_S
    rule = (
        f"the line is at 70 % {late_s * 1e6:.0f} µs after its release; an edge may come {SHIFT_SHARE * bit_s * 1e6:.0f} µs "
        "late, 30 % of a bit"
    )
    return [steady(channel, "slow edge", late_s, rule, unit="s")]


def is_slow(line: KReading) -> bool:
    """Whether the rises are too slow for the bit rate."""
    return (
        line.seen is not None
        and rise_s(line)[1] >= FEWEST_RISES
        and late_rise_s(line) > SHIFT_SHARE * (line.bit_s or USUAL_BIT_S)
    )


def dropouts(line: KReading) -> Spans:
    """Where the line lets go inside a byte: high stretches that begin or end off the raster of its bits, or are too short."""
    seen, traffic = line.seen, line.traffic
    if seen is None or traffic is None or traffic.bit_s is None or is_slow(line):
        return np.empty((0, 2))
    found: list[tuple[float, float]] = []
    rates = rates_by_talker(line)
    for message in traffic.messages:
        if message.state == "before the start":
            continue
        rate, _ = rates.get(message.talker, (np.nan, 0))
        bit_s = next((one for one in (message.bit_s, 1.0 / rate) if np.isfinite(one)), traffic.bit_s)
        found += _torn_lows(line, message, bit_s, traffic.skew_s)
        for number, one in enumerate(message.fields):
            following = message.fields[number + 1].start_s if number + 1 < len(message.fields) else np.inf
            end_s = min(one.start_s + (BYTE_BITS - 0.5) * bit_s, following - 1e-9)
            # A last high stretch runs on to the next byte: where it begins counts.
            inside = slice(*np.searchsorted(seen.start_s, [one.start_s - 1e-12, end_s]).tolist())
            high = seen.high[inside] & seen.is_whole[inside]
            start, stop = seen.start_s[inside][high], seen.stop_s[inside][high]
            rises = (start - one.start_s - traffic.skew_s) / bit_s
            falls = (stop - one.start_s) / bit_s
            off = np.abs(rises - np.rint(rises)) > OFF_GRID
            off |= (np.abs(falls - np.rint(falls)) > OFF_GRID) & (stop < end_s)
            off |= stop - start < SHORT_BITS * bit_s
            # A clock that is a few percent off runs out of the raster by the byte's end.
            off &= stop - start >= 2.0 * line.step_s
            found += list(zip(start[off].tolist(), stop[off].tolist(), strict=True))
    return joined(spans_of(found), 0.0)


def _torn_lows(line: KReading, message: Message, bit_s: float, skew_s: float) -> list[tuple[float, float]]:
    """Lows of less than most of a bit: the line let go before the bit was over, and a start bit may be gone with it."""
    seen = line.seen
    assert seen is not None
    inside = seen.within(message.start_s, message.stop_s)
    length = seen.length_s[inside] - skew_s
    torn = ~seen.high[inside] & seen.is_whole[inside] & (length < SHORT_BITS * bit_s) & (length >= 2.0 * line.step_s)
    stops = seen.stop_s[inside][torn]
    return list(zip(stops.tolist(), (seen.start_s[inside][torn] + bit_s).tolist(), strict=True))


def dropout_findings(name: str, line: KReading) -> list[Finding]:
    """Each as a finding."""
    assert line.levels is not None
    size, rule = line.levels.amplitude, "the line lets go at a moment that is no bit's edge"
    return [Finding("dropout", name, start, stop, size, "V", rule, "severe") for start, stop in dropouts(line).tolist()]


def message_findings(channel: Channel, line: KReading) -> list[Finding]:
    """Messages that could not be read, and requests that nobody answered."""
    found = []
    for one in line.messages:
        if one.state in ("checksum error", "framing error", "cut short"):
            rule = f"{_called(one)}: {one.problem}"
            found.append(Finding("frame error", channel.name, one.start_s, one.stop_s, 1.0, "", rule, "severe"))
    for one in unanswered(line, channel.stop_s):
        rule = f"{_called(one)}: no answer"
        found.append(Finding("no response", channel.name, one.start_s, one.stop_s, 1.0, "", rule, "mild"))
    return found


def _called(message: Message) -> str:
    shown = message.values.hex(" ").upper()
    return f"message {shown if len(message.values) <= 6 else shown[:17] + ' …'}"


def rate_findings(name: str, line: KReading, conditions: Conditions) -> list[Finding]:
    """Talkers whose bit rate is off; one finding each, over their messages."""
    nominal = nominal_rate(line, conditions)
    if nominal is None:
        return []
    found = []
    for talker, (rate, count) in rates_by_talker(line).items():
        off = rate / nominal - 1.0
        if abs(off) <= CLOCK_SHARE + CLOCK_DOUBT or count < 1:
            continue
        mine = [one for one in line.messages if one.talker == talker]
        severe = abs(off) > UART_SHARE
        rule = f"{talker}: {rate:.0f} bit/s, {off * 100:+.1f} % from {nominal:.0f}; {CLOCK_SHARE * 100:g} % is allowed"
        severity: Severity = "severe" if severe else "mild"
        found.append(
            Finding(
                "wrong bit rate", name, mine[0].start_s, mine[-1].stop_s, abs(off) * nominal, "bit/s", rule, severity
            )
        )
    return found


def opening_findings(name: str, line: KReading, conditions: Conditions) -> list[Finding]:
    """Fast openings whose times are off."""
    if line.traffic is None:
        return []
    slack_s = conditions.needed(FAST_SLACK)
    wanted = conditions.needed(FAST), conditions.needed(FAST_WHOLE)
    found = []
    for one in line.traffic.openings:
        if one.pattern != "fast":
            continue
        for measured_s, wanted_s, what in zip((one.low_s, one.whole_s), wanted, ("low", "low and high"), strict=True):
            off_s = abs(measured_s - wanted_s)
            if off_s > slack_s + 2.0 * line.step_s:
                rule = f"fast opening: {what} for {measured_s * 1e3:.1f} ms, {wanted_s * 1e3:g} ± {slack_s * 1e3:g} ms are due"
                found.append(Finding("wrong pattern", name, one.start_s, one.stop_s, off_s, "s", rule, "mild"))
    return found
