"""Findings, the table of figures, and what changes over time, of a switched wire."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.measure import Measure, at_least, at_most
from loomlight.signal.pwm_judge import is_at_its_end, is_lost, is_runt, line_supply
from loomlight.signal.pwm_reading import PwmReading
from loomlight.signal.pwm_settings import CLAMP, HIGH_SHARE, JITTER, LOW_SHARE, SLOW
from loomlight.signal.quantity import in_words
from loomlight.signal.track import Track
from loomlight.signal.track_points import track_of

MOST_FINDINGS = 300
IEEE_181 = "IEEE Std 181-2011 terms"


def pwm_findings(channel: Channel, reading: PwmReading, conditions: Conditions) -> list[Finding]:
    """Pauses and pulses too many, in order of time."""
    found = []
    for pause in reading.pauses[:MOST_FINDINGS]:
        if is_at_its_end(reading, pause):
            continue
        if is_lost(pause):
            rule = f"no pulse for {pause.periods:.0f} periods, the wire stands at {in_words(pause.level, channel.unit or '')}"
            long_s = pause.stop_s - pause.start_s
            found.append(Finding("lost signal", channel.name, pause.start_s, pause.stop_s, long_s, "s", rule, "severe"))
        elif is_runt(pause):
            rule = f"reaches {pause.reach:.0%} of the way to the other level"
            size = pause.reach * reading.train.amplitude
            found.append(
                Finding("runt", channel.name, pause.start_s, pause.stop_s, size, channel.unit or "", rule, "severe")
            )
        else:
            many = max(round(pause.periods) - 1, 1)
            rule = f"{many} of the pulses that keep time missing"
            found.append(
                Finding("missing pulse", channel.name, pause.start_s, pause.stop_s, float(many), "", rule, "severe")
            )
    half_s = 0.1 * float(np.median(reading.usual_s)) if reading.usual_s.size else 0.0
    for at_s in reading.extra_s[:MOST_FINDINGS].tolist():
        rule = "an edge between two that keep time"
        found.append(Finding("extra pulse", channel.name, at_s - half_s, at_s + half_s, 1.0, "", rule, "severe"))
    given = conditions.figure(CLAMP)
    if given is not None and reading.peaks.size:
        high = np.flatnonzero(reading.peaks > 1.5 * given)[:MOST_FINDINGS]
        for place in high.tolist():
            at_s = float(reading.peak_times_s[place])
            size = float(reading.peaks[place] - given)
            rule = f"flyback above the clamp of {in_words(given, channel.unit or '')}"
            stop_s = at_s + max(reading.spike_s or 0.0, half_s)
            found.append(Finding("too high", channel.name, at_s, stop_s, size, channel.unit or "", rule, "severe"))
    return sorted(found, key=lambda one: one.start_s)


def pwm_measures(reading: PwmReading, conditions: Conditions, unit: str) -> tuple[Measure, ...]:
    """Frequency, duty, levels, edges, jitter, flyback."""
    train = reading.train
    if not reading.starts_s.size:
        return (Measure("levels", "level", train.low, unit), Measure("timing", "edges", float(train.at_s.size), ""))
    supply, known = line_supply(reading, conditions)
    low, high = (conditions.needed(one) * supply for one in (LOW_SHARE, HIGH_SHARE))
    period_s = float(np.median(reading.usual_s))
    duty_low, duty, duty_high = np.percentile(reading.duty, [2.0, 50.0, 98.0]).tolist()
    rate_low, rate_high = (1.0 / np.percentile(reading.usual_s, [98.0, 2.0])).tolist()
    resolved = train.step_s / period_s
    return (
        Measure("timing", "frequency", 1.0 / period_s, "Hz", low=rate_low, high=rate_high, note=IEEE_181),
        Measure(
            "timing",
            "duty factor, high",
            duty,
            "",
            low=duty_low,
            high=duty_high,
            note=f"one sample is {resolved:.2%} of a period",
        ),
        at_most(
            "timing",
            "periods scatter by",
            reading.jitter,
            "",
            conditions.needed(JITTER),
            f"{conditions.needed(JITTER):.1%}",
            JITTER.source,
        ),
        *_edges(reading, conditions, period_s),
        at_most(
            "levels", "low state", train.low, unit, low, f"{low:.2f} {unit}".strip(), LOW_SHARE.source, note=IEEE_181
        ),
        at_least(
            "levels", "high state", train.high, unit, high, f"{high:.2f} {unit}".strip(), HIGH_SHARE.source, note=known
        ),
        *_flyback(reading, conditions, unit),
    )


def _edges(reading: PwmReading, conditions: Conditions, period_s: float) -> list[Measure]:
    limit_s = conditions.needed(SLOW) * period_s
    found = []
    for name, value in (("rise time, 10 % to 90 %", reading.rise_s), ("fall time, 90 % to 10 %", reading.fall_s)):
        note = IEEE_181 if value is not None else f"below two samples, {in_words(reading.transition_doubt_s, 's')}"
        found.append(at_most("edges", name, value, "s", limit_s, in_words(limit_s, "s"), SLOW.source, note=note))
    return found


def _flyback(reading: PwmReading, conditions: Conditions, unit: str) -> list[Measure]:
    if not reading.flies_back:
        return []
    low, high = np.percentile(reading.peaks, [2.0, 98.0]).tolist()
    given = conditions.figure(CLAMP)
    limit = f"at most {in_words(1.5 * given, unit)}" if given is not None else ""
    kept = None if given is None or reading.peak is None else reading.peak <= 1.5 * given
    return [
        Measure("flyback", "peak", reading.peak, unit, limit, CLAMP.source if given else "", kept, low=low, high=high),
        Measure("flyback", "above the middle of it for", reading.spike_s, "s"),
    ]


def pwm_tracks(reading: PwmReading, unit: str) -> tuple[Track, ...]:
    """Frequency, duty factor, jitter and flyback over time."""
    if reading.starts_s.size < 3:
        return ()
    times_s = reading.starts_s[:-1]
    found = [
        track_of("frequency", "Hz", times_s, 1.0 / reading.period_s),
        track_of("duty factor", "", times_s, reading.duty, note="share of the period for which the wire is high"),
        track_of("period against its neighbours", "", times_s, reading.period_s / reading.usual_s - 1.0, note="jitter"),
    ]
    if reading.flies_back:
        found.append(track_of("flyback peak", unit, reading.peak_times_s, reading.peaks))
    return tuple(found)
