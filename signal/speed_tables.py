"""Findings, the table of figures, and what changes over time, of a wheel speed sensor."""

from collections.abc import Iterator

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.measure import Measure
from loomlight.signal.quantity import in_words
from loomlight.signal.resample import instants
from loomlight.signal.runs import runs_above_zero
from loomlight.signal.samples import BLOCK
from loomlight.signal.setting import PRACTICE, Setting
from loomlight.signal.speed_bits import BITS, LEAST_SAMPLES, NAMES, PAUSE, SpeedData
from loomlight.signal.speed_judge import NOTHING, PARITY_KEPT, PARITY_THERE, is_disturbed
from loomlight.signal.speed_reading import SpeedReading
from loomlight.signal.speed_settings import (
    HIGH_LEAST,
    HIGH_MOST,
    LOW_LEAST,
    LOW_MOST,
    PEAK_LEAST,
    PEAK_MOST,
    SHEET,
)
from loomlight.signal.track import Track
from loomlight.signal.track_points import track_of
from loomlight.signal.wheel_findings import wheel_findings

MOST_FINDINGS = 300


def speed_findings(channel: Channel, reading: SpeedReading) -> list[Finding]:
    """Pulses missing and too many, stretches without current, levels out of their limits."""
    found = wheel_findings(channel, reading.wheel, gapless=True)
    if reading.has_pulses:
        found += _without_current(channel, reading)
    if reading.data is not None and is_disturbed(reading.data):
        found += _parity_errors(channel, reading.data)
    return sorted(found, key=lambda one: one.start_s)


def _parity_errors(channel: Channel, data: SpeedData) -> Iterator[Finding]:
    long_s = (1.0 + PAUSE + BITS) * data.bit_s
    rule = f"the data's {'odd' if data.parity_is_odd else 'even'} parity does not hold"
    for start_s in data.starts_s[data.wrong][:MOST_FINDINGS].tolist():
        yield Finding("frame error", channel.name, start_s, start_s + long_s, 1.0, "", rule, "severe")


def _without_current(channel: Channel, reading: SpeedReading) -> list[Finding]:
    """A powered sensor always draws its lower current: nothing at all is an open circuit, however short."""
    assert channel.step_s is not None
    bar = np.float32(NOTHING * reading.low / reading.factor)
    if reading.noise / reading.factor > 0.25 * bar:
        bar = np.float32(0.5 * bar)
    rows = (
        (start, bar - np.abs(instants(channel, start, min(start + BLOCK, channel.intervals))))
        for start in range(0, channel.intervals, BLOCK)
    )
    runs = runs_above_zero(rows, most=MOST_FINDINGS)
    usual = reading.wheel.pitch_s or 0.0
    found = []
    for first, last in zip(runs.first.tolist(), runs.last.tolist(), strict=True):
        start_s, stop_s = channel.start_s + first * channel.step_s, channel.start_s + last * channel.step_s
        if last - first < 3 or stop_s - start_s < 0.3 * usual:
            continue
        rule = "no current, not even the lower level that a powered sensor draws"
        size = reading.low if reading.in_amperes else reading.low / reading.factor
        unit = "A" if reading.in_amperes else channel.unit or ""
        found.append(Finding("dropout", channel.name, start_s, stop_s, size, unit, rule, "severe"))
    return found


def speed_measures(reading: SpeedReading, conditions: Conditions, unit: str) -> tuple[Measure, ...]:
    """Levels with their limits, frequency, pulse widths."""
    shown = "A" if reading.in_amperes else unit
    found = []
    if not reading.has_pulses:
        level = reading.wheel.train.low * reading.factor
        return (Measure("levels", "level", level, shown, note="no pulses"),)
    found += [
        _within("lower level", reading.low, shown, LOW_LEAST, LOW_MOST, reading, conditions),
        _within("upper level", reading.high, shown, HIGH_LEAST, HIGH_MOST, reading, conditions),
    ]
    if reading.third is not None:
        found.append(_within("speed pulse", reading.third, shown, PEAK_LEAST, PEAK_MOST, reading, conditions))
    else:
        found.append(
            Measure("levels", "upper over lower", reading.high / max(reading.low, 1e-12), "", note="14 over 7 mA is 2")
        )
    found.append(Measure("speed", "frequency", reading.rate_hz, "Hz"))
    speed = reading.wheel.rpm()
    if speed is not None:
        low, middle, high = np.percentile(speed[1], [2.0, 50.0, 98.0]).tolist()
        found.append(Measure("speed", "wheel speed", middle, "rpm", low=low, high=high))
    if reading.widths_s.size:
        low, middle, high = np.percentile(reading.widths_s, [2.0, 50.0, 98.0]).tolist()
        coded = (
            "where the width is coded, 45 µs doubled again and again is usual, ±20 % (a wheel speed sensor's data sheet); what "
            "each means stands in the part's own sheet"
        )
        note = coded if reading.third is None else "the speed pulse of the kind with three levels"
        found.append(Measure("speed", "pulse width", middle, "s", low=low, high=high, note=note))
    if reading.data is not None:
        found += _of_data(reading.data)
    return tuple(found)


def _of_data(data: SpeedData) -> list[Measure]:
    """Frames, parity, and what each bit says in most of them."""
    if data.samples_a_bit < LEAST_SAMPLES:
        note = f"{data.samples_a_bit:.1f} samples a bit; {LEAST_SAMPLES:g} are needed"
        return [Measure("data", "frames read", 0.0, "", note=note)]
    some, whole = data.bits[data.bits[:, 0] >= 0], int(data.whole.sum())
    found = [
        Measure(
            "data",
            "frames read",
            float(len(some)),
            "",
            note=f"{whole} with all {BITS} bits; the next pulse may cut them",
        ),
        Measure("data", "length of a bit", data.bit_s, "s"),
    ]
    if data.kept is not None and data.kept >= PARITY_THERE:
        which = "odd" if data.parity_is_odd else "even"
        limit = f"at least {PARITY_KEPT:g}"
        is_kept = not is_disturbed(data)
        found.append(
            Measure("data", "parity kept", data.kept, "", limit, PRACTICE, is_kept, f"{which}, of the whole frames")
        )
    for place, name in enumerate(NAMES):
        seen = data.bits[:, place][data.bits[:, place] >= 0]
        if seen.size:
            note = "share of ones; the meaning is from memory, the part's own sheet decides"
            found.append(Measure("data", f"bit {place}, {name}", float(seen.mean()), "", note=note))
    return found


def _within(
    name: str, value: float, unit: str, least: Setting, most: Setting, reading: SpeedReading, conditions: Conditions
) -> Measure:
    if not reading.in_amperes:
        return Measure("levels", name, value, unit, note="the shunt is not known")
    low, high = conditions.needed(least), conditions.needed(most)
    limit = f"{in_words(low, 'A')} to {in_words(high, 'A')}"
    return Measure("levels", name, value, unit, limit, SHEET, low <= value <= high)


def speed_tracks(reading: SpeedReading, unit: str) -> tuple[Track, ...]:
    """Frequency, pulse width and levels over time."""
    teeth = reading.wheel.teeth
    if teeth is None:
        return ()
    shown = "A" if reading.in_amperes else unit
    times_s = 0.5 * (teeth.times_s[1:] + teeth.times_s[:-1])
    found = [track_of("frequency", "Hz", times_s, teeth.steps / np.diff(teeth.times_s))]
    ups = reading.wheel.train.like(rising=True)[: reading.widths_s.size]
    if ups.size:
        found.append(track_of("pulse width", "s", ups, reading.widths_s))
    found.append(track_of("lower level", shown, reading.times_s, reading.lows))
    found.append(track_of("upper level", shown, reading.times_s, reading.highs))
    return tuple(found)
