"""Stretches of a CAN channel that break a limit, each frame's or each wrong pulse's own."""

from collections.abc import Iterator

import numpy as np

from loomlight.signal.can_examination import PairReading
from loomlight.signal.can_limits import DIFFERENCE_V, HIGH_DOMINANT_V, LOW_DOMINANT_V, METER_V, RECEIVER_V
from loomlight.signal.capture import Channel
from loomlight.signal.finding import Finding, FindingKind, Severity

MOST = 400
"""Findings of one sort; beyond, those farthest off are kept."""
SLACK_V = 2 * METER_V
"""One frame's level, noise and converter included, is known less well than the median over many."""


def findings_of(channel: Channel, pair: PairReading) -> tuple[Finding, ...]:
    """All findings on one channel by itself, in order of time."""
    found = [*_levels(channel, pair), *_frames(channel, pair), *_odd(channel, pair)]
    return tuple(sorted(found, key=lambda one: one.start_s))


def _levels(channel: Channel, pair: PairReading) -> list[Finding]:
    traffic, levels = pair.traffic, pair.levels
    if traffic is None or levels is None or not levels.dominant.size:
        return []
    good = traffic.good
    found: list[Finding] = []
    for volts, (least, most), what in _held_against(pair):
        noise = _noise(volts[good])
        room = SLACK_V + 3.0 * noise
        low = np.flatnonzero(good & (volts < least - room))
        high = np.flatnonzero(good & (volts > most + room))
        for rows, kind, limit, sign in ((low, "weak dominant", least, -1.0), (high, "too high", most, 1.0)):
            kind = "too low" if what == "CAN-L" and sign < 0 else kind
            kind = "weak dominant" if what == "CAN-L" and sign > 0 else kind
            found += _each(channel, pair, rows, volts, kind, limit, sign, what)  # type: ignore[arg-type]
    return found


def _noise(volts: np.ndarray) -> float:
    """Of one frame's level against the one before, whoever sends."""
    steps = np.abs(np.diff(volts[np.isfinite(volts)]))
    return float(np.percentile(steps, 20)) if steps.size > 4 else 0.0


def _held_against(pair: PairReading) -> Iterator[tuple[np.ndarray, tuple[float, float], str]]:
    assert pair.levels is not None
    dominant = pair.levels.dominant
    if dominant.shape[1] == 2:
        yield dominant[:, 0] - dominant[:, 1], DIFFERENCE_V, "difference"
        yield dominant[:, 0], HIGH_DOMINANT_V, "CAN-H"
        yield dominant[:, 1], LOW_DOMINANT_V, "CAN-L"
    elif pair.wires.form == "difference":
        yield dominant[:, 0], DIFFERENCE_V, "difference"
    else:
        yield dominant[:, 0], HIGH_DOMINANT_V if pair.wires.form == "CAN-H" else LOW_DOMINANT_V, pair.wires.form


def _each(
    channel: Channel,
    pair: PairReading,
    rows: np.ndarray,
    volts: np.ndarray,
    kind: FindingKind,
    limit: float,
    sign: float,
    what: str,
) -> list[Finding]:
    traffic = pair.traffic
    assert traffic is not None
    if rows.size > MOST:
        rows = np.sort(rows[np.argsort(-np.abs(volts[rows] - limit))[:MOST]])
    found = []
    for row in rows.tolist():
        frame = traffic.frames[row]
        severity: Severity = "severe" if what == "difference" and volts[row] < RECEIVER_V[1] else "mild"
        side = "at least" if sign < 0 else "at most"
        rule = f"{what} dominant {side} {limit:g} V; {volts[row]:.2f} V in this frame"
        size = float(abs(volts[row] - limit))
        found.append(Finding(kind, channel.name, frame.start_s, frame.stop_s, size, "V", rule, severity))
    return found


def _frames(channel: Channel, pair: PairReading) -> list[Finding]:
    if pair.traffic is None or not pair.traffic.rates.is_sure:
        return []
    found = []
    for frame in pair.traffic.frames:
        if frame.state in ("good", "past the end", "unreadable"):
            continue
        kind: FindingKind = "no response" if frame.state == "no acknowledge" else "frame error"
        found.append(Finding(kind, channel.name, frame.start_s, frame.stop_s, 1.0, "", frame.problem, "mild"))
    return found[:MOST]


def _odd(channel: Channel, pair: PairReading) -> list[Finding]:
    odd = pair.odd
    found = [
        Finding(
            "reversed pair",
            channel.name,
            start_s,
            stop_s,
            abs(odd.reversed_v),
            "V",
            f"CAN-L above CAN-H by {abs(odd.reversed_v):.2f} V",
            "severe",
        )
        for start_s, stop_s in odd.reversed_s[:MOST].tolist()
    ]
    found += [
        Finding(
            "common mode",
            channel.name,
            start_s,
            stop_s,
            abs(odd.together_v),
            "V",
            f"both wires move by {odd.together_v:+.2f} V with nothing between them",
            "severe",
        )
        for start_s, stop_s in odd.together_s[:MOST].tolist()
    ]
    return found
