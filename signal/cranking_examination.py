"""What a start shows: battery at rest and under load, drop to the starter, speed, cylinder against cylinder."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.cranking_limits import CURRENT, FAR_END, SYNC, CrankingLimits, limits_for
from loomlight.signal.cranking_pulses import (
    Cylinder,
    Pulses,
    counted_cylinders,
    cylinders_of,
    find_pulses,
    recurring_weak,
)
from loomlight.signal.cranking_stages import SETTLED_S, Stages, stages_of
from loomlight.signal.edges import find_edges
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions, Examination
from loomlight.signal.levels import state_levels
from loomlight.signal.noise import noise_of
from loomlight.signal.outline import Outline, Row
from loomlight.signal.power_system import system_volts
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.resample import averaged
from loomlight.signal.samples import PartOf
from loomlight.signal.voltage_drop import Drop, drop_between, resistance

STEP_S = 1e-3
MOST_POINTS = 120_000
FEWEST_POINTS = 60
FEWEST_THROUGHOUT, SLOWEST_THROUGHOUT_HZ = 8, 3.0
"""Compressions without any rest before them: a blinker makes some too, but no faster than twice a second."""


@dataclass(frozen=True, eq=False)
class CrankingReading:
    """Everything measured on a start.

    Attributes
    ----------
    limits : CrankingLimits
        What it is held against.
    stages : Stages or None
        None where the judged channel is the current, or nothing comes on.
    from_current : bool
        Whether the pulses come from the current, else from the voltage.
    pulses : Pulses or None
        None where the engine does not turn, or the stretch is too short.
    cylinders : int or None
        As given, else counted between sync marks.
    each : tuple of Cylinder
        In order of firing; of an unknown number of cylinders the row in which a weak one comes again; empty where neither
        could be told.
    peak_a, turning_a : float or None
        First rush of current, and median while it turns.
    battery_ohm : tuple of float or None
        Fall of the voltage over the current: battery and leads together, best, least, most.
    drop : Drop or None
        To the starter, while it turns.
    """

    limits: CrankingLimits
    stages: Stages | None
    from_current: bool
    pulses: Pulses | None
    cylinders: int | None
    each: tuple[Cylinder, ...]
    peak_a: float | None
    turning_a: float | None
    battery_ohm: tuple[float, float, float] | None
    drop: Drop | None
    times_s: Row = field(repr=False)
    volts: Row = field(repr=False)

    @property
    def rpm(self) -> float | None:
        """Median engine speed; None where the cylinders are not known."""
        if self.pulses is None or self.cylinders is None:
            return None
        return 120.0 * self.pulses.hz / self.cylinders


@dataclass(frozen=True, eq=False)
class CrankingExamination(Examination):
    """An examination with what was measured; None where the channel is no battery's."""

    start: CrankingReading | None = field(kw_only=True)


def read_start(
    channel: Channel, conditions: Conditions, outline: Outline, progress: Progress = unwatched
) -> CrankingReading:
    """Measure a start.

    Parameters
    ----------
    channel : Channel
        Battery voltage, or the starter's current alone; evenly spaced.
    conditions : Conditions
        With current, far end and sync mark where they were recorded.
    outline : Outline
        Of the same channel.
    progress : Progress
        0 to 1.

    Raises
    ------
    CannotUse
        If a channel beside does not fit.
    """
    assert channel.step_s is not None
    times_s, row = _row(channel)
    progress(0.3)
    if channel.unit == "A":
        return _from_current_alone(channel, conditions, times_s, row)
    limits = limits_for(system_volts(outline, conditions), conditions)
    stages = stages_of(times_s, row, limits.twelves)
    clamp = _checked(conditions, CURRENT.key, "A")
    if stages is None or not stages.is_crank:
        stages = _turning_throughout(channel, times_s, row) or stages
    if stages is None or not stages.is_crank:
        peak = None if clamp is None else _peak(clamp)
        return CrankingReading(limits, stages, False, None, limits.cylinders, (), peak, None, None, None, times_s, row)
    span = stages.turning_s
    marks_s = _marks(conditions, part(progress, 0.3, 0.5))
    use_clamp = clamp is not None and _covers(clamp, span)
    pulses = _pulses(clamp if use_clamp and clamp is not None else channel, span, 1.0 if use_clamp else -1.0)
    progress(0.7)
    cylinders, each = _told_apart(pulses, limits, marks_s)
    far = _checked(conditions, FAR_END.key, "V")
    inner = _part(channel, *span)
    drop = None
    if far is not None and inner is not None:
        drop = drop_between(inner, far, clamp, part(progress, 0.7, 0.9))
    peak, turning, ohm = _current_figures(channel, clamp, stages)
    return CrankingReading(limits, stages, use_clamp, pulses, cylinders, each, peak, turning, ohm, drop, times_s, row)


def _told_apart(pulses: Pulses | None, limits: CrankingLimits, marks_s: Row) -> tuple[int | None, tuple[Cylinder, ...]]:
    """How many cylinders there are, and each of them; of an unknown number what is weak again and again."""
    if pulses is None:
        return limits.cylinders, ()
    cylinders = limits.cylinders or counted_cylinders(pulses, marks_s)
    if cylinders is None:
        return None, recurring_weak(pulses, limits.weak)
    return cylinders, cylinders_of(pulses, cylinders, marks_s)


def _turning_throughout(channel: Channel, times_s: Row, row: Row) -> Stages | None:
    """A capture that begins and ends while the engine is turned: neither rest nor a step shows, but compressions all through."""
    span = channel.start_s, channel.stop_s
    pulses = _pulses(channel, span, -1.0)
    if pulses is None or pulses.hz < SLOWEST_THROUGHOUT_HZ:
        return None
    lasts_s = float(pulses.at_s[-1] - pulses.at_s[0])
    if pulses.at_s.size < FEWEST_THROUGHOUT or lasts_s < 0.7 * (span[1] - span[0]):
        return None
    known = row[np.isfinite(row)]
    begin_s = float(times_s[0]) - SETTLED_S  # its first rush lies before the capture
    return Stages(None, begin_s, float(times_s[-1]), float(known.min()), float(np.median(known)), None, None, True)


def _from_current_alone(channel: Channel, conditions: Conditions, times_s: Row, row: Row) -> CrankingReading:
    """The judged channel is the clamp: compression and speed, no voltages."""
    limits = limits_for(12.0, conditions)
    sign = 1.0 if float(np.nanmedian(row)) >= 0 or float(np.nanmax(row)) > -float(np.nanmin(row)) else -1.0
    flows = sign * row
    on = np.flatnonzero(flows > max(0.25 * float(np.nanpercentile(flows, 90)), 20.0))
    peak = float(np.nanmax(flows))
    if on.size < FEWEST_POINTS:
        return CrankingReading(limits, None, True, None, limits.cylinders, (), peak, None, None, None, times_s, row)
    span = (float(times_s[on[0]]) + 0.45, float(times_s[on[-1]]) - 0.1)
    pulses = _pulses(channel, span, sign)
    marks_s = _marks(conditions, unwatched)
    cylinders, each = _told_apart(pulses, limits, marks_s)
    inside = (times_s >= span[0]) & (times_s <= span[1])
    turning = float(np.nanmedian(flows[inside])) if inside.any() else None
    return CrankingReading(limits, None, True, pulses, cylinders, each, peak, turning, None, None, times_s, row)


def _row(channel: Channel) -> tuple[Row, Row]:
    """The channel a millisecond apart, coarser where it is very long."""
    assert channel.step_s is not None
    whole_s = channel.stop_s - channel.start_s
    step_s = max(STEP_S, channel.step_s, whole_s / MOST_POINTS)
    count = max(1, int(whole_s / step_s))
    start_s = channel.start_s + 0.5 * (step_s - channel.step_s)
    times_s: Row = start_s + np.arange(count, dtype=np.float64) * step_s
    return times_s, averaged(channel, step_s=step_s, start_s=start_s, count=count)


def _checked(conditions: Conditions, role: str, unit: str) -> Channel | None:
    channel = conditions.beside(role)
    if channel is None:
        return None
    if channel.unit not in (unit, None) or channel.step_s is None:
        raise CannotUse(
            f"{channel.name!r} has to be an evenly spaced channel in {unit}; it is in {channel.unit or 'no known unit'}."
        )
    return channel


def _covers(channel: Channel, span: tuple[float, float]) -> bool:
    return channel.start_s <= span[0] and channel.stop_s >= span[1]


def _part(channel: Channel, start_s: float, stop_s: float) -> Channel | None:
    """A stretch of a channel as a channel; None where it is too short. Only times and samples are kept."""
    assert channel.step_s is not None
    first = max(0, int((start_s - channel.start_s) / channel.step_s))
    last = min(channel.intervals, int((stop_s - channel.start_s) / channel.step_s))
    if last - first < FEWEST_POINTS:
        return None
    each = 2 if channel.form == "pairs" else 1
    return Channel(
        channel.name,
        channel.unit,
        PartOf(channel.samples, each * first, each * last),
        channel.start_s + first * channel.step_s,
        channel.step_s,
        channel.form,
    )


def _pulses(channel: Channel, span: tuple[float, float], sign: float) -> Pulses | None:
    inner = _part(channel, *span)
    if inner is None or inner.step_s is None:
        return None
    times_s, row = _row(inner)
    if times_s.size <= FEWEST_POINTS:
        return None
    noise = noise_of(inner, stretches=8) * float(
        np.sqrt(min(1.0, inner.step_s / max(times_s[1] - times_s[0], inner.step_s)))
    )
    return find_pulses(times_s, sign * row, noise)


def _marks(conditions: Conditions, progress: Progress) -> Row:
    """Times of the sync marks: the first edge after each long pause, whichever way the mark goes."""
    channel = _checked(conditions, SYNC.key, "V")
    if channel is None or channel.step_s is None:
        return np.empty(0)
    levels = state_levels(channel.samples, part(progress, 0.0, 0.5))
    if levels is None or not levels.two_states:
        return np.empty(0)
    low, high = (levels.low + share * levels.amplitude for share in (0.35, 0.65))
    edges = find_edges(channel.samples, low=low, high=high, progress=part(progress, 0.5, 1.0))
    per = 2 if channel.form == "pairs" else 1
    at_s: Row = channel.start_s + edges.at / per * channel.step_s
    if at_s.size < 3:
        return at_s[:1]
    pauses = np.diff(at_s)
    begins = np.concatenate([[True], pauses > 0.5 * float(pauses.max())])
    # The first mark may be the end of one that was cut off by the capture's begin.
    marks: Row = at_s[begins]
    return marks[1:] if marks.size > 2 else marks


def _peak(clamp: Channel) -> float:
    _, row = _row(clamp)
    return float(np.nanmax(np.abs(row)))


def _current_figures(
    channel: Channel, clamp: Channel | None, stages: Stages
) -> tuple[float | None, float | None, tuple[float, float, float] | None]:
    """First rush, median while it turns, and the resistance of battery and leads."""
    if clamp is None:
        return None, None, None
    times_s, amperes = _row(clamp)
    inside = (times_s >= stages.turning_s[0]) & (times_s <= stages.turning_s[1])
    if not inside.any() or not np.isfinite(amperes[inside]).any():
        return None, None, None
    turning = abs(float(np.nanmedian(amperes[inside])))
    rush = (times_s >= stages.in_s - 0.05) & (times_s <= stages.over_s)
    peak = float(np.nanmax(np.abs(amperes[rush]))) if rush.any() else turning
    inner, flows = _part(channel, *stages.turning_s), _part(clamp, *stages.turning_s)
    if inner is None or flows is None:
        return peak, turning, None
    start_s = max(inner.start_s, flows.start_s) + 1e-3
    count = int((min(inner.stop_s, flows.stop_s) - start_s) / STEP_S) - 2
    if count < FEWEST_POINTS:
        return peak, turning, None
    step_s = max(STEP_S, inner.step_s or 0.0, flows.step_s or 0.0)
    count = min(count, int(count * STEP_S / step_s))
    rows = [averaged(one, step_s=step_s, start_s=start_s, count=count) for one in (inner, flows)]
    best, low, high, _ = resistance(-rows[0], rows[1], 0.0, 0.0)
    if best is None or low is None or high is None or best <= 0:
        return peak, turning, None
    return peak, turning, (best, low, high)
