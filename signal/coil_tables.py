"""Findings, the table of figures, and what changes over time, of a coil."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.coil_case import CoilSide, across, inductance, resistance
from loomlight.signal.coil_current import CurrentReading
from loomlight.signal.coil_settings import BURN, CLAMP, OHMS, ON_SHARE
from loomlight.signal.coil_voltage import VoltageReading
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.measure import Measure, at_least, at_most
from loomlight.signal.quantity import in_words
from loomlight.signal.track import Track
from loomlight.signal.track_points import track_of

MOST_FINDINGS = 300


def coil_findings(channel: Channel, side: CoilSide, conditions: Conditions) -> list[Finding]:
    """What breaks off, lacks, or does not end, in order of time."""
    found = _of_current(channel, side.current) if side.current is not None else []
    if side.voltage is not None:
        found = _of_voltage(channel, side.voltage, conditions)
    stuck = side.current.stuck if side.current is not None else side.voltage.stuck if side.voltage is not None else None
    if stuck is not None:
        rule = "switched on and not off again"
        found.append(Finding("lost signal", channel.name, *stuck, stuck[1] - stuck[0], "s", rule, "severe"))
    return sorted(found, key=lambda one: one.start_s)


def _of_current(channel: Channel, reading: CurrentReading) -> list[Finding]:
    found = []
    for start_s, stop_s in reading.missing[:MOST_FINDINGS]:
        if reading.stuck is None or stop_s < reading.stuck[0]:
            rule = "no current where a pulse should be"
            found.append(Finding("missing pulse", channel.name, start_s, stop_s, 1.0, "", rule, "severe"))
    usual = reading.usual_on_s or 0.0
    for place in reading.short[:MOST_FINDINGS]:
        start_s = float(reading.starts_s[place])
        stop_s = start_s + float(reading.on_s[place])
        rule = f"breaks off after {in_words(stop_s - start_s, 's')}; its neighbours last {in_words(usual, 's')}"
        found.append(
            Finding("dropout", channel.name, stop_s, start_s + usual, start_s + usual - stop_s, "s", rule, "severe")
        )
    return found


def _of_voltage(channel: Channel, reading: VoltageReading, conditions: Conditions) -> list[Finding]:
    found = []
    for start_s, stop_s in reading.missing[:MOST_FINDINGS]:
        if reading.stuck is None or stop_s <= reading.stuck[0]:
            rule = "not switched where it should be"
            found.append(Finding("missing pulse", channel.name, start_s, stop_s, 1.0, "", rule, "severe"))
    given = conditions.figure(CLAMP)
    if given is not None and reading.peaks_v.size == reading.on_s.size:
        ends_s = reading.starts_s + reading.on_s
        for place in np.flatnonzero(reading.peaks_v > 1.5 * given)[:MOST_FINDINGS].tolist():
            at_s, size = float(ends_s[place]), float(reading.peaks_v[place] - given)
            rule = f"flyback above the clamp of {in_words(given, 'V')}"
            stop_s = at_s + max(reading.pulses.spike_s or 0.0, 1e-5)
            found.append(Finding("too high", channel.name, at_s, stop_s, size, "V", rule, "severe"))
    return found


def coil_measures(side: CoilSide, conditions: Conditions) -> tuple[Measure, ...]:
    """Times, currents, resistance and inductance with their intervals; or levels, flyback and burn line."""
    if side.current is not None:
        return tuple(_current_measures(side, side.current, conditions))
    return tuple(_voltage_measures(side.voltage, conditions)) if side.voltage is not None else ()


def _current_measures(side: CoilSide, reading: CurrentReading, conditions: Conditions) -> list[Measure]:
    if reading.flat:
        return [Measure("current", "level", reading.rest_a, "A")]
    rate = 1.0 / reading.period_s if reading.period_s else None
    found = [
        Measure("timing", "pulses a second", rate, "Hz"),
        Measure(
            "timing", "switched on for", reading.usual_on_s, "s", note="from 12 % of the peak until it falls below that"
        ),
        Measure("timing", "duty factor", reading.duty, ""),
        Measure("current", "peak", reading.peak_a, "A", note="above the current between the pulses"),
        Measure("current", "between the pulses", reading.rest_a, "A"),
    ]
    if reading.hold_a is not None:
        found.append(Measure("current", "held after the peak at", reading.hold_a, "A"))
    if reading.knee_s is not None:
        found.append(
            Measure("current", "knee after", reading.knee_s, "s", note="where the slope is least before it comes back")
        )
    if reading.decay_s is not None:
        found.append(Measure("current", "falls from 90 % to 10 % in", reading.decay_s, "s"))
    ohms, henries = resistance(side, conditions), inductance(side, conditions)
    if ohms is None or henries is None or reading.fit is None:
        return found
    _, _, known = across(side, conditions)
    slope, nominal = reading.fit.slope, conditions.figure(OHMS)
    limit = f"about {in_words(nominal, 'Ω')}" if nominal is not None else ""
    return [
        *found,
        Measure("coil", "slope at the switching on", slope.value, "A/s", low=slope.low, high=slope.high, note="V/L"),
        Measure(
            "coil",
            "resistance with wires and switch",
            ohms.value,
            "Ω",
            limit,
            "given" if limit else "",
            None,
            known,
            ohms.low,
            ohms.high,
        ),
        Measure(
            "coil", "inductance at the switching on", henries.value, "H", note=known, low=henries.low, high=henries.high
        ),
        Measure("coil", "current at once", reading.jump_a, "A", note="by the fit, when the switch closes"),
    ]


def _voltage_measures(reading: VoltageReading, conditions: Conditions) -> list[Measure]:
    train = reading.pulses.train
    if not reading.starts_s.size:
        return [Measure("levels", "level", train.low, "V")]
    limit = conditions.needed(ON_SHARE) * train.high
    rate = 1.0 / reading.period_s if reading.period_s else None
    duty = reading.usual_on_s / reading.period_s if reading.usual_on_s and reading.period_s else None
    found = [
        Measure("timing", "pulses a second", rate, "Hz"),
        Measure(
            "timing",
            "switched on for",
            reading.usual_on_s,
            "s",
            note="between the 50 % reference levels, IEEE Std 181-2011",
        ),
        Measure("timing", "duty factor, switched on", duty, ""),
        at_most("levels", "switched on", train.low, "V", limit, f"{limit:.2f} V", ON_SHARE.source),
        Measure("levels", "switched off", train.high, "V", note="the supply at the coil"),
    ]
    given = conditions.figure(CLAMP)
    if reading.peak_v is not None:
        shown = f"at most {in_words(1.5 * given, 'V')}" if given is not None else ""
        kept = None if given is None else reading.peak_v <= 1.5 * given
        low, high = np.percentile(reading.peaks_v, [2.0, 98.0]).tolist()
        found.append(
            Measure(
                "flyback",
                "peak",
                reading.peak_v,
                "V",
                shown,
                CLAMP.source if shown else "",
                kept,
                low=low,
                high=high,
            )
        )
    if reading.burn_s is not None:
        least = conditions.needed(BURN)
        found.append(at_least("spark", "burn time", reading.burn_s, "s", least, in_words(least, "s"), BURN.source))
        found.append(Measure("spark", "burn line at", reading.burn_v, "V", note="as the primary shows it"))
    return found


def coil_tracks(side: CoilSide) -> tuple[Track, ...]:
    """Peak, on-time and rate over time."""
    found = []
    if side.current is not None and side.current.starts_s.size >= 2:
        own = side.current
        found = [
            track_of("peak current", "A", own.starts_s, own.peaks_a),
            track_of("switched on for", "s", own.starts_s, own.on_s),
            track_of("pulses a second", "Hz", own.starts_s[1:], 1.0 / np.diff(own.starts_s)),
        ]
    elif side.voltage is not None and side.voltage.starts_s.size >= 2:
        voltage = side.voltage
        found = [
            track_of("pulses a second", "Hz", voltage.starts_s[1:], 1.0 / np.diff(voltage.starts_s)),
            track_of("switched on for", "s", voltage.starts_s, voltage.on_s),
        ]
        if voltage.peaks_v.size == voltage.on_s.size:
            found.append(track_of("flyback peak", "V", voltage.starts_s + voltage.on_s, voltage.peaks_v))
    return tuple(found)
