"""What breaks a limit on one SENT channel by itself."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.line_faults import level_doubt_v, spikes, steady
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.sent_limits import (
    DRIFT,
    FALL,
    HIGH_V,
    LONGEST_TICK_S,
    LOW_V,
    RISE,
    SHORTEST_TICK_S,
    TICK,
    TICK_SLACK,
)
from loomlight.signal.sent_reading import SentReading, sync_jumps

FEWEST_EDGES = 5
LONGEST_PAUSE_TICKS = 768.0
TICK_DOUBT = 0.002
"""How far a tick may be read wrongly from one sync pulse, as a share."""


def own_findings(
    channel: Channel, line: SentReading, conditions: Conditions, progress: Progress = unwatched
) -> tuple[Finding, ...]:
    """All findings, in order of time."""
    if line.states is None or line.levels is None:
        return ()
    tick_s = line.tick_s or SHORTEST_TICK_S
    found = [
        *level_findings(channel, line),
        *spikes(
            channel,
            line.levels,
            floor_v=min(line.low_v, line.levels.low),
            top_v=max(line.high_v, line.levels.high),
            noise_v=line.noise_v,
            longest_s=12.0 * tick_s,
            progress=progress,
        ),
        *edge_findings(channel, line, conditions),
        *frame_findings(channel, line),
        *silence_findings(channel, line),
        *tick_findings(channel, line, conditions),
    ]
    return tuple(sorted(found, key=lambda one: one.start_s))


def doubt_v(line: SentReading) -> float:
    """How far a level may be off, volts."""
    assert line.levels is not None
    return level_doubt_v(line.levels, noise_v=line.noise_v, converter_v=line.converter_v, count=len(line.frames) or 9)


def level_findings(channel: Channel, line: SentReading) -> list[Finding]:
    """A low level that is too high, a high level that is too low."""
    found = []
    if line.low_v > LOW_V + doubt_v(line):
        rule = f"low level {line.low_v:.2f} V; {LOW_V:g} V or less are due"
        found.append(steady(channel, "too high", line.low_v - LOW_V, rule))
    if line.high_v < HIGH_V - doubt_v(line):
        rule = f"high level {line.high_v:.2f} V; {HIGH_V:g} V or more are due"
        found.append(steady(channel, "too low", HIGH_V - line.high_v, rule))
    return found


def slow_edges(line: SentReading, conditions: Conditions) -> dict[bool, float]:
    """Time of the rises (True) and falls (False) that take too long, seconds; empty where none do."""
    found = {}
    for rising, setting in ((True, RISE), (False, FALL)):
        took_s, count = line.edge_s(rising=rising)
        # An edge between two samples is stretched to most of a step by drawing the line between them.
        if count >= FEWEST_EDGES and took_s > conditions.needed(setting) + 0.6 * line.step_s:
            found[rising] = took_s
    return found


def edge_findings(channel: Channel, line: SentReading, conditions: Conditions) -> list[Finding]:
    """Rises or falls that take too long; one finding each."""
    found = []
    for rising, took_s in slow_edges(line, conditions).items():
        most_s = conditions.needed(RISE if rising else FALL)
        what = "rise from 1.1 V to 3.8 V" if rising else "fall from 3.8 V to 1.1 V"
        rule = f"{what} takes {in_words(took_s, 's', digits=2)}; {in_words(most_s, 's')} are allowed"
        found.append(steady(channel, "slow edge", took_s - most_s, rule, unit="s"))
    return found


def frame_findings(channel: Channel, line: SentReading) -> list[Finding]:
    """Frames with a pulse missing, and those whose check does not fit."""
    found = []
    for one in line.frames:
        if one.state == "pulse missing":
            found.append(
                Finding("missing pulse", channel.name, one.start_s, one.stop_s, 1.0, "", one.problem, "severe")
            )
        elif one.state in ("checksum error", "nibble unclear"):
            severity: Severity = "severe" if one.state == "checksum error" else "mild"
            found.append(Finding("frame error", channel.name, one.start_s, one.stop_s, 1.0, "", one.problem, severity))
    return found


def silence_findings(channel: Channel, line: SentReading) -> list[Finding]:
    """Stretches without a falling edge that are longer than any pause may be."""
    assert line.states is not None
    falls = line.states.start_s[1:][~line.states.high[1:]]
    apart = np.diff(falls)
    longest_s = 1.3 * LONGEST_PAUSE_TICKS * (line.tick_s or LONGEST_TICK_S)
    rule = f"nothing is sent for longer than a pause may last ({LONGEST_PAUSE_TICKS:g} ticks)"
    return [
        Finding(
            "lost signal",
            channel.name,
            float(falls[place]),
            float(falls[place + 1]),
            float(apart[place]),
            "s",
            rule,
            "severe",
        )
        for place in np.flatnonzero(apart > longest_s).tolist()
    ]


def tick_off(line: SentReading, conditions: Conditions) -> tuple[float, float] | None:
    """How far the tick is off, as a share, and from what, seconds; None where it is right or not known."""
    tick_s, nominal_s = line.tick_s, conditions.figure(TICK)
    if tick_s is None:
        return None
    if nominal_s is not None:
        off = tick_s / nominal_s - 1.0
        return (off, nominal_s) if abs(off) > TICK_SLACK + TICK_DOUBT else None
    for bound_s, sign in ((SHORTEST_TICK_S, -1.0), (LONGEST_TICK_S, 1.0)):
        off = tick_s / bound_s - 1.0
        if off * sign > TICK_SLACK + TICK_DOUBT:
            return off, bound_s
    return None


def tick_findings(channel: Channel, line: SentReading, conditions: Conditions) -> list[Finding]:
    """A tick that is off, and sync pulses that differ from one to the next."""
    found = []
    off = tick_off(line, conditions)
    if off is not None and line.tick_s is not None:
        share, from_s = off
        rule = (
            f"tick {in_words(line.tick_s, 's')}, {share * 100:+.0f} % from {in_words(from_s, 's')}; "
            f"{TICK_SLACK * 100:g} % are to be tolerated"
        )
        found.append(steady(channel, "wrong tick", abs(line.tick_s - from_s), rule, unit="s"))
    frames = [one for one in line.frames if one.state in ("good", "checksum error", "nibble unclear")]
    jumps, most = sync_jumps(line), conditions.needed(DRIFT)
    for place in np.flatnonzero(jumps > most + jump_doubt(line)).tolist():
        one = frames[place + 1]
        rule = f"sync pulse {jumps[place] * 100:.1f} % from the one before; {most * 100:.2g} % are allowed"
        stop_s = one.start_s + 56 * one.tick_s
        found.append(Finding("wrong tick", channel.name, one.start_s, stop_s, float(jumps[place]), "", rule, "severe"))
    return found


def jump_doubt(line: SentReading) -> float:
    """How far two sync pulses may seem to differ by sampling and noise alone, as a share."""
    tick_s = line.tick_s or SHORTEST_TICK_S
    fall_s, _ = line.edge_s(rising=False)
    slope = max(line.amplitude_v, 1e-3) / max(fall_s if np.isfinite(fall_s) else 0.0, line.step_s)
    # An edge is placed to a fifth of a step at best, and noise moves it by itself over the slope.
    edge_s = 0.2 * line.step_s + 1.5 * line.noise_v / slope
    return TICK_DOUBT + 4.0 * edge_s / (56.0 * tick_s)
