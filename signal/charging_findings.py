"""Findings, measures and tracks of a charged battery."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.charging_examination import ChargingReading
from loomlight.signal.charging_limits import COLDER_V, HIGHEST, LOWEST, RIPPLE
from loomlight.signal.examination import LevelMark
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.measure import Measure, at_least, at_most
from loomlight.signal.quantity import in_words
from loomlight.signal.rectifier_cycles import RectifierFault
from loomlight.signal.track import Track

LEAST_HEIGHT_V = 0.15
"""A ripple lower than this, for each 12 V, is not blamed on a diode: other loads' pulses may look like anything."""
LEAST_PLACED_V = 0.1
"""The same where the engine's speed says that a sound rectifier's ripple is elsewhere."""
LEAST_LIKENESS = 0.93
AHEAD = {"open diode": 0.03, "shorted diode": 0.012, "lost phase": 0.012}
"""How much more alike than a sound rectifier's cycle it has to be."""
SHARED = 0.006
"""Two faults whose likeness differs by less are both named."""
CHARGES = 0.9
LONG_ENOUGH_S = 20.0
"""A controlled alternator that stands still for this long, at the value it falls back to, has probably lost its command."""
STILL_V = 0.12
NEAR_FALLBACK_V = 0.3


def rectifier_faults(charge: ChargingReading) -> tuple[RectifierFault, ...]:
    """What is wrong with rectifier or windings: empty where nothing is, or where it cannot be told; two where either fits."""
    cycle = charge.cycle
    if cycle is None or not _is_high_enough(charge):
        return ()
    sound = sound_likeness(charge)
    if sound is not None and cycle.is_sixth:
        return ()
    found = [
        one
        for one in cycle.matches
        if one.fault and one.likeness >= LEAST_LIKENESS and (sound is None or one.likeness >= sound + AHEAD[one.fault])
    ]
    return tuple(one.fault for one in found if one.likeness >= found[0].likeness - SHARED)


def is_open_which(charge: ChargingReading) -> bool:
    """Whether the ripple is high enough to be judged, and like neither a sound rectifier's nor clearly a fault's."""
    cycle, sound = charge.cycle, sound_likeness(charge)
    if cycle is None or not _is_high_enough(charge) or rectifier_faults(charge):
        return False
    return sound is None or not (cycle.is_sixth or sound >= max(one.likeness for one in cycle.matches))


def sound_likeness(charge: ChargingReading) -> float | None:
    """How much the ripple is like a sound rectifier's; None where its frequency rules that out, or there is none."""
    matches = charge.cycle.matches if charge.cycle is not None else ()
    return next((one.likeness for one in matches if not one.fault), None)


def _is_high_enough(charge: ChargingReading) -> bool:
    placed = sound_likeness(charge) is None and charge.limits.electrical_hz is not None
    least = (LEAST_PLACED_V if placed else LEAST_HEIGHT_V) * charge.limits.twelves
    return charge.cycle is not None and charge.cycle.peak_to_peak_v >= least


def is_charging(charge: ChargingReading) -> bool:
    """Whether an alternator's ripple is there."""
    cycle = charge.cycle
    if cycle is None:
        return False
    sound = next((one.likeness for one in cycle.matches if not one.fault), 0.0)
    return sound >= CHARGES or cycle.is_sixth or cycle.peak_to_peak_v >= LEAST_HEIGHT_V * charge.limits.twelves


def charge_findings(channel: Channel, charge: ChargingReading) -> tuple[Finding, ...]:
    """In order of time."""
    limits, whole = charge.limits, (channel.name, channel.start_s, channel.stop_s)
    found: list[Finding] = []
    if not charge.ac_coupled:
        found += _of_level(channel, charge)
    height, faults = charge.height_v, rectifier_faults(charge)
    if height is not None and (height > limits.ripple_v or faults):
        what = f"ripple of {in_words(height, 'V')} peak to peak"
        rule = f"{what} like that of {_either(faults)}" if faults else f"{what}, above {in_words(limits.ripple_v, 'V')}"
        found.append(Finding("ripple", *whole, height if faults else height - limits.ripple_v, "V", rule, "severe"))
    for one in charge.slips:
        rule = f"the alternator loses {100 * one.share:.0f} % of its speed and catches up"
        found.append(Finding("belt slip", channel.name, one.start_s, one.stop_s, 100 * one.share, "%", rule, "severe"))
    return tuple(sorted(found, key=lambda one: one.start_s))


def _of_level(channel: Channel, charge: ChargingReading) -> list[Finding]:
    limits, whole = charge.limits, (channel.name, channel.start_s, channel.stop_s)
    found: list[Finding] = []
    if charge.high_v > limits.highest_v:
        rule = f"charging voltage above {in_words(limits.highest_v, 'V')}"
        found.append(Finding("too high", *whole, charge.high_v - limits.highest_v, "V", rule, "severe"))
    if charge.level_v < limits.lowest_v and limits.controlled is not True:
        rule = f"charging voltage below {in_words(limits.lowest_v, 'V')}"
        severity: Severity = "severe" if limits.controlled is False else "mild"
        found.append(Finding("too low", *whole, limits.lowest_v - charge.level_v, "V", rule, severity))
    if is_held_still(charge):
        rule = f"held at {in_words(charge.level_v, 'V')} within {in_words(charge.high_v - charge.low_v, 'V')} though controlled"
        found.append(Finding("held still", *whole, charge.length_s, "s", rule, "severe"))
    return found


def stands_still(charge: ChargingReading) -> bool:
    """Whether the voltage keeps to one value for long."""
    return charge.length_s >= LONG_ENOUGH_S and charge.high_v - charge.low_v <= STILL_V * charge.limits.twelves


def is_held_still(charge: ChargingReading) -> bool:
    """Whether a controlled alternator stands at the value that it falls back to."""
    limits = charge.limits
    near = abs(charge.level_v - limits.fallback_v) <= NEAR_FALLBACK_V * limits.twelves
    return limits.controlled is True and near and stands_still(charge)


def _either(faults: tuple[RectifierFault, ...]) -> str:
    return " or ".join(f"{'an' if one[0] == 'o' else 'a'} {one}" for one in faults)


def charge_measures(charge: ChargingReading) -> tuple[Measure, ...]:
    """Table of everything measured."""
    limits = charge.limits
    found = [] if charge.ac_coupled else _level_measures(charge)
    height, shown = charge.height_v, in_words(limits.ripple_v, "V")
    source = "of its mean cycle" if charge.cycle is not None else "what moves faster than 50 Hz"
    found.append(at_most("ripple", "peak to peak", height, "V", limits.ripple_v, shown, RIPPLE.source, note=source))
    if charge.ripple is not None:
        found.append(Measure("ripple", "on AC volts", charge.ripple.rms_v, "V", note="root mean square"))
    if charge.cycle is not None:
        found.append(Measure("ripple", "frequency", charge.cycle.hz, "Hz", note="of its strongest line"))
        for one in charge.cycle.matches:
            note = f"the line taken for the {one.order}. multiple of {in_words(charge.cycle.hz / one.order, 'Hz')}"
            found.append(Measure("ripple", f"like {one.fault or 'a sound rectifier'}", one.likeness, "", note=note))
        found += _spectrum(charge.cycle.cycle)
    for step in charge.steps:
        note = f"at {in_words(step.at_s, 's', digits=4)}"
        found.append(Measure("load step", "falls by", step.depth_v, "V", note=note))
        late = "" if step.recovery_s is not None else "not within the capture"
        found.append(Measure("load step", "three quarters made up after", step.recovery_s, "s", note=late))
    if charge.current_a is not None:
        found.append(Measure("current", "into the battery", charge.current_a, "A", note="median"))
    return tuple(found)


def _level_measures(charge: ChargingReading) -> list[Measure]:
    limits = charge.limits
    lowest, highest = in_words(limits.lowest_v, "V"), in_words(limits.highest_v, "V")
    cold = f"about {in_words(10 * COLDER_V * limits.twelves, 'V')} more for each 10 °C colder"
    return [
        at_most("level", "held at most", charge.high_v, "V", limits.highest_v, highest, HIGHEST.source, note=cold),
        at_least("level", "usual", charge.level_v, "V", limits.lowest_v, lowest, LOWEST.source, note=cold)
        if limits.controlled is not True
        else Measure("level", "usual", charge.level_v, "V", note="moves on purpose"),
        Measure(
            "level", "moves by", charge.high_v - charge.low_v, "V", note=f"within {in_words(charge.length_s, 's')}"
        ),
    ]


def _spectrum(cycle: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[Measure]:
    """Amplitudes at the strongest line's parts and multiples, from its mean cycle over twelve periods."""
    size = np.abs(np.fft.rfft(cycle)) * 2.0 / cycle.size
    parts = ((2, "1/6"), (4, "1/3"), (6, "1/2"), (12, "1"), (24, "2"))
    return [
        Measure("ripple", f"amplitude at {name} of that", float(size[at]), "V", note="sub-harmonic" if at < 12 else "")
        for at, name in parts
    ]


def charge_marks(charge: ChargingReading) -> tuple[LevelMark, ...]:
    """The charging voltage's limits."""
    lowest, highest = charge.limits.lowest_v, charge.limits.highest_v
    return (
        LevelMark(lowest, f"at least {in_words(lowest, 'V')}"),
        LevelMark(highest, f"at most {in_words(highest, 'V')}"),
    )


def charge_tracks(charge: ChargingReading) -> tuple[Track, ...]:
    """Level, ripple and its frequency over time."""
    found = [Track("level", "V", charge.times_s, charge.pieces_v, "means")]
    if charge.ripple is not None and charge.ripple.times_s.size > 1:
        found.append(Track("ripple", "V", charge.ripple.times_s, charge.ripple.each_v, "peak to peak of each stretch"))
    if charge.cycle is not None and charge.cycle.times_s.size > 1:
        note = "moves with the alternator's speed"
        found.append(Track("ripple frequency", "Hz", charge.cycle.times_s, charge.cycle.each_hz, note))
    return tuple(found)
