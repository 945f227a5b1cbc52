"""Findings, measures and tracks of a supply rail."""

import math

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.examination import LevelMark
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.measure import Measure, at_least, at_most
from loomlight.signal.quantity import in_words
from loomlight.signal.start_profile import SOURCE as PROFILE
from loomlight.signal.supply_examination import Dip, SupplyReading
from loomlight.signal.supply_limits import DROP, HIGHEST, LOWEST, RIPPLE
from loomlight.signal.track import Track
from loomlight.signal.transients import ISO_LEVELS, STANDARD, Transient
from loomlight.signal.voltage_drop import Drop

TRACK_POINTS = 2000


def severity_of_dip(dip: Dip, rail: SupplyReading) -> Severity:
    """Severe: cut off, outside every start profile, or outside the one that the unit was made for."""
    level = rail.limits.start_level
    if dip.is_break or not dip.kept or (level and level not in dip.kept):
        return "severe"
    return "mild"


def severity_of_transient(one: Transient, rail: SupplyReading) -> Severity:
    """Severe: beyond what a unit has to stand for a moment, or a load dump at all."""
    peak = one.shape.peak_v
    return "severe" if peak > rail.limits.peak_v or peak < rail.limits.reverse_v or one.pulse[:1] == "5" else "mild"


def rail_findings(channel: Channel, rail: SupplyReading) -> tuple[Finding, ...]:
    """In order of time."""
    found = [
        *_level(channel, rail),
        *(_of_dip(channel, one, rail) for one in rail.dips),
        *(_of_transient(channel, one, rail) for one in rail.transients),
        *_ripple(channel, rail),
    ]
    if rail.drop is not None:
        found += drop_findings(channel, rail.drop, rail.limits.drop_v)
    return tuple(sorted(found, key=lambda one: one.start_s))


def _level(channel: Channel, rail: SupplyReading) -> list[Finding]:
    whole = (channel.name, channel.start_s, channel.stop_s)
    low, high = rail.limits.lowest_v - rail.level_v, rail.level_v - rail.limits.highest_v
    if low > 0:
        return [Finding("too low", *whole, low, "V", f"held below {in_words(rail.limits.lowest_v, 'V')}", "severe")]
    if high > 0:
        return [Finding("too high", *whole, high, "V", f"held above {in_words(rail.limits.highest_v, 'V')}", "severe")]
    return []


def _of_dip(channel: Channel, dip: Dip, rail: SupplyReading) -> Finding:
    depth = f"down to {in_words(dip.lowest_v, 'V')}, below {in_words(rail.limits.lowest_v, 'V')}"
    if dip.is_break:
        rule = f"{depth}, and back at once: cut off, not pulled down"
    elif dip.kept:
        rule = f"{depth}; within start profile level {dip.kept[0]} of ISO 16750-2"
    else:
        rule = f"{depth}; deeper or longer than every start profile of ISO 16750-2"
    return Finding(
        "dropout" if dip.is_break else "dip",
        channel.name,
        dip.start_s,
        dip.stop_s,
        rail.limits.lowest_v - dip.lowest_v,
        "V",
        rule,
        severity_of_dip(dip, rail),
    )


def transient_words(one: Transient) -> str:
    """Name, height, time constant or length of a transient in one phrase."""
    shape = one.shape
    height = f"{in_words(shape.height_v, 'V')} from {in_words(shape.base_v, 'V')}"
    if not shape.is_resolved:
        return f"a needle of at least {height}, shorter than the sample rate shows"
    if one.count > 1:
        return f"like pulse {one.pulse}: a burst of {one.count} needles, {height} at most"
    named = f"like pulse {one.pulse}: " if one.pulse else ""
    if shape.tau_s is not None:
        return f"{named}{height}, dying away with a time constant of {in_words(shape.tau_s, 's', digits=2)}"
    return f"{named}{height}, {in_words(shape.width_s, 's', digits=2)} long at half height"


def _of_transient(channel: Channel, one: Transient, rail: SupplyReading) -> Finding:
    shape = one.shape
    size = shape.peak_v - rail.limits.highest_v if shape.sign > 0 else rail.limits.lowest_v - shape.peak_v
    plain = not one.pulse and shape.width_s > 0.05
    return Finding(
        "too high" if plain else "transient",
        channel.name,
        one.start_s,
        one.stop_s,
        size,
        "V",
        transient_words(one) if not plain else f"above {in_words(rail.limits.highest_v, 'V')} for a while",
        severity_of_transient(one, rail),
    )


def _ripple(channel: Channel, rail: SupplyReading) -> list[Finding]:
    if rail.ripple is None or rail.ripple.peak_to_peak_v <= rail.limits.ripple_v:
        return []
    beyond = rail.ripple.peak_to_peak_v - rail.limits.ripple_v
    often = f" at {in_words(rail.ripple.hz, 'Hz')}" if rail.ripple.hz is not None else ""
    height, limit = in_words(rail.ripple.peak_to_peak_v, "V"), in_words(rail.limits.ripple_v, "V")
    rule = f"ripple of {height} peak to peak{often}, above {limit}"
    return [Finding("ripple", channel.name, channel.start_s, channel.stop_s, beyond, "V", rule, "severe")]


def drop_findings(channel: Channel, drop: Drop, limit_v: float) -> list[Finding]:
    """One finding where the drop is above its limit by more than two channels may differ."""
    if drop.greatest_v <= limit_v + drop.doubt_v:
        return []
    beyond = np.flatnonzero(drop.volts > limit_v)
    start, stop = (float(drop.times_s[at]) for at in (beyond[0], beyond[-1])) if beyond.size else (drop.greatest_s,) * 2
    rule = f"drop of {in_words(drop.greatest_v, 'V')} to the far end, above {in_words(limit_v, 'V')}"
    return [Finding("voltage drop", channel.name, start, stop, drop.greatest_v - limit_v, "V", rule, "severe")]


def drop_measures(drop: Drop, limit_v: float) -> list[Measure]:
    """The drop and its resistance as lines of the table."""
    shown = in_words(limit_v, "V")
    note = f"two channels may differ by {in_words(drop.doubt_v, 'V', digits=2)} by themselves"
    kept = drop.greatest_v <= limit_v if abs(drop.greatest_v - limit_v) > drop.doubt_v else None
    return [
        Measure("voltage drop", "greatest", drop.greatest_v, "V", f"at most {shown}", DROP.source, kept, note),
        Measure("voltage drop", "usual", drop.usual_v, "V", note=note),
        Measure("voltage drop", "resistance", drop.ohm, "Ω", note=drop.ohm_from, low=drop.ohm_low, high=drop.ohm_high),
    ]


def rail_measures(rail: SupplyReading) -> tuple[Measure, ...]:
    """Table of everything measured."""
    limits, mean = rail.limits, rail.outline.mean[np.isfinite(rail.outline.mean)]
    lowest, highest = in_words(limits.lowest_v, "V"), in_words(limits.highest_v, "V")
    found = [
        at_least("level", "usual", rail.level_v, "V", limits.lowest_v, lowest, LOWEST.source),
        at_most("level", "usual, upper side", rail.level_v, "V", limits.highest_v, highest, HIGHEST.source),
        Measure("level", "least and greatest mean", float(mean.max() - mean.min()), "V", note=_reach(mean)),
        Measure("level", "scatter from sample to sample", rail.noise_v, "V", note="standard deviation"),
    ]
    if rail.dips:
        deepest = min(rail.dips, key=lambda one: one.lowest_v)
        longest = max(one.stop_s - one.start_s for one in rail.dips)
        kept = ", ".join(deepest.kept) or "none"
        found += [
            Measure("dips", "number", float(len(rail.dips)), ""),
            Measure("dips", "deepest", deepest.lowest_v, "V", f"within level {kept}", PROFILE, bool(deepest.kept)),
            Measure("dips", "longest", longest, "s", note=f"below {lowest}"),
        ]
    for one in _worst_of_each(rail.transients):
        name = f"pulse {one.pulse}" if one.pulse else "no name"
        level = ISO_LEVELS.get(one.pulse)
        limit = f"test levels III and IV: {level[0]:g} and {level[1]:g} V" if level and limits.system_v < 18 else ""
        shape = one.shape
        found.append(Measure("transients", name, shape.height_v, "V", limit, STANDARD if limit else "", note=one.cause))
        if shape.tau_s is not None:
            found.append(
                Measure(
                    "transients", f"{name}, time constant", shape.tau_s, "s", low=shape.tau_low_s, high=shape.tau_high_s
                )
            )
    if rail.ripple is not None:
        found += [
            at_most(
                "ripple",
                "peak to peak",
                rail.ripple.peak_to_peak_v,
                "V",
                limits.ripple_v,
                in_words(limits.ripple_v, "V"),
                RIPPLE.source,
                note="what moves faster than 50 Hz",
            ),
            Measure("ripple", "on AC volts", rail.ripple.rms_v, "V", note="root mean square"),
            Measure("ripple", "frequency", rail.ripple.hz, "Hz", note="" if rail.ripple.hz else "no line stands out"),
        ]
    if rail.drop is not None:
        found += drop_measures(rail.drop, limits.drop_v)
    return tuple(found)


def _reach(mean: np.ndarray[tuple[int], np.dtype[np.float64]]) -> str:
    return f"from {in_words(float(mean.min()), 'V')} to {in_words(float(mean.max()), 'V')}"


def _worst_of_each(transients: tuple[Transient, ...]) -> list[Transient]:
    worst: dict[str, Transient] = {}
    for one in transients:
        known = worst.get(one.pulse)
        if known is None or abs(one.shape.height_v) > abs(known.shape.height_v):
            worst[one.pulse] = one
    return list(worst.values())


def rail_marks(rail: SupplyReading) -> tuple[LevelMark, ...]:
    """The working range."""
    lowest, highest = rail.limits.lowest_v, rail.limits.highest_v
    return (
        LevelMark(lowest, f"at least {in_words(lowest, 'V')}"),
        LevelMark(highest, f"at most {in_words(highest, 'V')}"),
    )


def rail_tracks(rail: SupplyReading) -> tuple[Track, ...]:
    """Level, ripple and drop over time."""
    times_s, mean = _thinned(rail.outline.times_s, rail.outline.mean)
    found = [Track("level", "V", times_s, mean, "mean of each bucket")]
    if rail.ripple is not None and rail.ripple.times_s.size > 1:
        found.append(Track("ripple", "V", rail.ripple.times_s, rail.ripple.each_v, "peak to peak of each stretch"))
    if rail.drop is not None:
        found.append(Track("voltage drop", "V", *_thinned(rail.drop.times_s, rail.drop.volts), "to the far end"))
    return tuple(found)


def _thinned(
    times_s: np.ndarray[tuple[int], np.dtype[np.float64]], values: np.ndarray[tuple[int], np.dtype[np.float64]]
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], np.ndarray[tuple[int], np.dtype[np.float64]]]:
    """Means of neighbours, at most `TRACK_POINTS`."""
    each = max(1, math.ceil(values.size / TRACK_POINTS))
    whole = values.size // each * each
    return times_s[:whole].reshape(-1, each).mean(axis=1), values[:whole].reshape(-1, each).mean(axis=1)
