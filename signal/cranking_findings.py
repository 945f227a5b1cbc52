"""Findings, measures and tracks of a start."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.cranking_examination import CrankingReading
from loomlight.signal.cranking_limits import DROP, LOWEST, REST, SPEED, WEAK
from loomlight.signal.cranking_pulses import Cylinder
from loomlight.signal.examination import LevelMark
from loomlight.signal.finding import Finding
from loomlight.signal.measure import Measure, at_least
from loomlight.signal.quantity import in_words
from loomlight.signal.track import Track

MANY = {2: "two", 3: "three", 4: "four"}
STANDS_STILL = 0.15
"""Of the fall of the voltage: with made starts a held starter swings by 1 or 2 %, one that turns an engine by 45 % and more
(common practice, no source)."""
FEWEST_IN_SWING, SMOOTHED = 200, 20


def weak_cylinders(start: CrankingReading) -> tuple[Cylinder, ...]:
    """Those below the limit for certain: the whole interval of their share lies below it, or below what the others scatter by."""
    return tuple(
        one for one in start.each if one.share < start.limits.weak and one.high < 0.5 * (1.0 + start.limits.weak)
    )


def stands_still(start: CrankingReading) -> bool:
    """Whether the voltage hardly swings while the engine should turn: a held starter."""
    return swing_share(start) <= STANDS_STILL


def swing_share(start: CrankingReading) -> float:
    """How far the voltage swings while it should turn, as a share of how far it fell; 0 where that cannot be said."""
    stages = start.stages
    if stages is None or stages.rest_v is None or stages.rest_v - stages.turning_v <= 0:
        return 0.0
    begin_s, end_s = stages.turning_s
    inside = start.volts[(start.times_s >= begin_s) & (start.times_s <= end_s)]
    inside = inside[np.isfinite(inside)]
    if inside.size < FEWEST_IN_SWING:
        return 0.0
    low, high = np.percentile(np.convolve(inside, np.ones(SMOOTHED) / SMOOTHED, mode="valid"), [5.0, 95.0]).tolist()
    return float(high - low) / (stages.rest_v - stages.turning_v)


def cylinder_words(one: Cylinder, start: CrankingReading) -> str:
    """Which cylinder, as far as that is known."""
    count = len(start.each)
    if start.cylinders is None:
        return f"one in every {count} compressions"
    return f"number {one.number} after the sync mark" if one.number is not None else f"one of {count}"


def weak_words(weak: tuple[Cylinder, ...], start: CrankingReading) -> str:
    """Which cylinders are weak together, as far as that is known."""
    if len(weak) == 1 or weak[0].number is not None:
        return " and ".join(cylinder_words(one, start) for one in weak)
    among = f"in every {len(start.each)} compressions" if start.cylinders is None else f"of {len(start.each)}"
    return f"{MANY.get(len(weak), str(len(weak)))} {among}"


def start_findings(channel: Channel, start: CrankingReading) -> tuple[Finding, ...]:
    """In order of time."""
    limits, stages = start.limits, start.stages
    found: list[Finding] = []
    if stages is not None:
        held = start.pulses is None and stages.over_s - stages.in_s > 1.0 and stands_still(start)
        if stages.rest_v is not None and stages.rest_v < limits.rest_v:
            rule = f"battery at rest below {in_words(limits.rest_v, 'V')}"
            size = limits.rest_v - stages.rest_v
            found.append(Finding("too low", channel.name, channel.start_s, stages.in_s, size, "V", rule, "severe"))
        if stages.is_crank and stages.turning_v < limits.lowest_v:
            rule = f"below {in_words(limits.lowest_v, 'V')} while the starter turns"
            size = limits.lowest_v - stages.turning_v
            found.append(Finding("too low", channel.name, stages.in_s, stages.over_s, size, "V", rule, "severe"))
        if not stages.is_crank or held:
            rule = "the starter takes no current" if not stages.is_crank else "no compression shows: nothing turns"
            found.append(Finding("lost signal", channel.name, stages.in_s, stages.over_s, 0.0, "", rule, "severe"))
    rpm, pulses = start.rpm, start.pulses
    if rpm is not None and pulses is not None and rpm < limits.rpm:
        rule = f"{rpm:.0f} rpm, below {limits.rpm:.0f} rpm"
        size = limits.rpm - rpm
        span = (float(pulses.at_s[0]), float(pulses.at_s[-1]))
        found.append(Finding("slow cranking", channel.name, *span, size, "rpm", rule, "severe"))
    found += _weak(channel, start)
    drop = start.drop
    if drop is not None and drop.usual_v > limits.drop_v + drop.doubt_v:
        rule = f"{in_words(drop.usual_v, 'V')} lost on the way to the starter, above {in_words(limits.drop_v, 'V')}"
        span = (float(drop.times_s[0]), float(drop.times_s[-1]))
        found.append(Finding("voltage drop", channel.name, *span, drop.usual_v - limits.drop_v, "V", rule, "severe"))
    return tuple(sorted(found, key=lambda one: one.start_s))


def _weak(channel: Channel, start: CrankingReading) -> list[Finding]:
    """One at each pulse of a weak cylinder."""
    if start.pulses is None:
        return []
    half_s, limit = 0.4 / start.pulses.hz, 100 * start.limits.weak
    found: list[Finding] = []
    for one in weak_cylinders(start):
        rule = f"{cylinder_words(one, start)}: {100 * one.share:.0f} % of the others' pulse, below {limit:.0f} %"
        size = limit - 100 * one.share
        found += [
            Finding("weak compression", channel.name, at_s - half_s, at_s + half_s, size, "%", rule, "severe")
            for at_s in one.at_s
        ]
    return found


def start_measures(start: CrankingReading) -> tuple[Measure, ...]:
    """Table of everything measured."""
    limits, stages = start.limits, start.stages
    found: list[Measure] = []
    if stages is not None:
        rest, lowest = in_words(limits.rest_v, "V"), in_words(limits.lowest_v, "V")
        late = "" if stages.rest_v is not None else "the capture begins after the key was turned"
        found += [
            at_least("battery", "at rest", stages.rest_v, "V", limits.rest_v, rest, REST.source, note=late),
            Measure("battery", "first dip", stages.dip_v, "V", note="while the starter pulls in"),
        ]
        if stages.is_crank:
            found.append(
                at_least(
                    "battery",
                    "while it turns",
                    stages.turning_v,
                    "V",
                    limits.lowest_v,
                    lowest,
                    LOWEST.source,
                    note="median",
                )
            )
        found.append(Measure("battery", "afterwards", stages.after_v, "V"))
        late = "" if stages.recovery_s is not None else "the capture ends before"
        found.append(Measure("battery", "recovers within", stages.recovery_s, "s", note=late))
        found.append(Measure("battery", "cranked for", stages.over_s - stages.in_s, "s"))
    if start.battery_ohm is not None:
        best, low, high = start.battery_ohm
        note = "fall of the battery's voltage over the starter's current"
        found.append(Measure("battery", "inner resistance", best, "Ω", note=note, low=low, high=high))
    if start.peak_a is not None:
        found.append(Measure("current", "first rush", start.peak_a, "A"))
    if start.turning_a is not None:
        found.append(Measure("current", "while it turns", start.turning_a, "A", note="median"))
    if start.pulses is not None:
        source = "current" if start.from_current else "voltage"
        found.append(Measure("engine", "compressions a second", start.pulses.hz, "Hz", note=f"from the {source}"))
        unknown = "" if start.cylinders else "how many cylinders it has is not known"
        found.append(
            at_least(
                "engine", "speed", start.rpm, "rpm", limits.rpm, f"{limits.rpm:.0f} rpm", SPEED.source, note=unknown
            )
        )
    for place, one in enumerate(start.each):
        name = _short_name(start, place)
        note = f"of the others' pulse, from {one.pulses} compressions"
        kept = None if one.low < limits.weak < one.high else one.share >= limits.weak
        least = f"at least {limits.weak:g}"
        found.append(Measure("compression", name, one.share, "", least, WEAK.source, kept, note, one.low, one.high))
    found += _of_drop(start)
    return tuple(found)


def _short_name(start: CrankingReading, place: int) -> str:
    number, letter = start.each[place].number, chr(ord("A") + place)
    if start.cylinders is None:
        return f"{letter} of {len(start.each)} compressions"
    return f"number {number} after the mark" if number is not None else f"cylinder {letter}"


def _of_drop(start: CrankingReading) -> list[Measure]:
    drop, limit_v = start.drop, start.limits.drop_v
    if drop is None:
        return []
    note = f"two channels may differ by {in_words(drop.doubt_v, 'V', digits=2)} by themselves"
    kept = drop.usual_v <= limit_v if abs(drop.usual_v - limit_v) > drop.doubt_v else None
    least = f"at most {in_words(limit_v, 'V')}"
    return [
        Measure("way to the starter", "drop", drop.usual_v, "V", least, DROP.source, kept, note),
        Measure(
            "way to the starter", "resistance", drop.ohm, "Ω", note=drop.ohm_from, low=drop.ohm_low, high=drop.ohm_high
        ),
    ]


def start_marks(start: CrankingReading) -> tuple[LevelMark, ...]:
    """The battery's limits; none on a current."""
    if start.stages is None:
        return ()
    rest, lowest = start.limits.rest_v, start.limits.lowest_v
    return (
        LevelMark(rest, f"at rest at least {in_words(rest, 'V')}"),
        LevelMark(lowest, f"turning at least {in_words(lowest, 'V')}"),
    )


def start_tracks(start: CrankingReading) -> tuple[Track, ...]:
    """Engine speed and pulse heights over time."""
    pulses = start.pulses
    if pulses is None or pulses.at_s.size < 3:
        return ()
    middles = 0.5 * (pulses.at_s[1:] + pulses.at_s[:-1])
    unit = "A" if start.from_current else "V"
    found = [Track("compression", unit, pulses.at_s, pulses.heights, "pulse of each compression")]
    if start.cylinders is not None:
        found.insert(0, Track("engine speed", "rpm", middles, pulses.rpm(start.cylinders), "from pulse to pulse"))
    else:
        found.insert(
            0, Track("compressions a second", "Hz", middles, 1.0 / np.diff(pulses.at_s), "from pulse to pulse")
        )
    if start.drop is not None:
        found.append(Track("voltage drop", "V", start.drop.times_s[::16], start.drop.volts[::16], "to the starter"))
    return tuple(found)
