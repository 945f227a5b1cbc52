"""What a supply rail shows: level, dips, transients, ripple, and the drop to its far end."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions, Examination
from loomlight.signal.excursion_shape import ExcursionShape, shape_of
from loomlight.signal.excursions import excursions
from loomlight.signal.noise import noise_of
from loomlight.signal.outline import Outline, Row
from loomlight.signal.power_system import system_volts, usual_level
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.resample import averaged
from loomlight.signal.ripple import Ripple, ripple_of
from loomlight.signal.spans import Spans, joined, spans_of
from loomlight.signal.start_profile import levels_kept
from loomlight.signal.supply_limits import CURRENT, FAR_END, SupplyLimits, limits_for
from loomlight.signal.transients import Transient, named
from loomlight.signal.voltage_drop import Drop, drop_between

MOST_SHAPES = 400
"""Excursions that are measured one by one; of more, as many spread over the capture."""
WHOLE_SHARE = 0.95
"""An excursion over more of the capture than this is the level itself."""
BREAK_S = 1.5e-3
"""What comes back faster than this was cut off, not pulled down: a starter lets go in 40 ms and more (ISO 16750-2)."""
DIP_JOIN_S = 5e-3
DIP_POINTS = 20_000


@dataclass(frozen=True, eq=False)
class Dip:
    """The supply below its lowest working voltage for a while.

    Attributes
    ----------
    shape : ExcursionShape
        As measured.
    start_s, stop_s : float
        Below the limit, seconds.
    lowest_v : float
        Deepest value.
    kept : tuple of str
        Start profile levels that it stays within, the mildest first.
    is_break : bool
        Whether it came back at once: cut off, not pulled down.
    is_whole : bool
        False where the capture begins or ends inside it.
    """

    shape: ExcursionShape
    start_s: float
    stop_s: float
    lowest_v: float
    kept: tuple[str, ...]
    is_break: bool
    is_whole: bool


@dataclass(frozen=True, eq=False)
class SupplyReading:
    """Everything measured on a supply rail.

    Attributes
    ----------
    limits : SupplyLimits
        What it is held against.
    outline : Outline
        The rail, coarser.
    level_v : float
        What it holds most of the time.
    noise_v : float
        Scatter from sample to sample, standard deviation.
    dips, transients : tuple
        In order of time.
    left_out : int
        Excursions that were not measured one by one.
    ripple : Ripple or None
        None where the capture shows none of its stretches undisturbed.
    drop : Drop or None
        To the far end, where that was recorded.
    current : Channel or None
        In the same wire, where that was recorded.
    """

    limits: SupplyLimits
    outline: Outline = field(repr=False)
    level_v: float
    noise_v: float
    dips: tuple[Dip, ...]
    transients: tuple[Transient, ...]
    left_out: int
    ripple: Ripple | None
    drop: Drop | None
    current: Channel | None = field(default=None, repr=False)


@dataclass(frozen=True, eq=False)
class SupplyExamination(Examination):
    """An examination with what was measured on the rail; None where it is no supply."""

    rail: SupplyReading | None = field(kw_only=True)


def read_rail(
    channel: Channel, conditions: Conditions, outline: Outline, progress: Progress = unwatched
) -> SupplyReading:
    """Measure a supply rail.

    Parameters
    ----------
    channel : Channel
        In volts, evenly spaced.
    conditions : Conditions
        With the far end and the current where they were recorded.
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
    limits = limits_for(system_volts(outline, conditions), conditions)
    level_v = usual_level(outline, limits.lowest_v, limits.highest_v)
    noise = noise_of(channel)
    below = excursions(
        channel, limits.lowest_v, -1.0, noise=noise, join_s=3 * channel.step_s, progress=part(progress, 0.0, 0.3)
    )
    above = excursions(
        channel, limits.highest_v, 1.0, noise=noise, join_s=3 * channel.step_s, progress=part(progress, 0.3, 0.6)
    )
    low_shapes, low_left = _shapes(channel, _dip_spans(below), -1.0, level_v)
    high_shapes, high_left = _shapes(channel, above, 1.0, level_v)
    transients = [one for one in named([*low_shapes, *high_shapes]) if one.pulse or one.shape.sign > 0]
    taken = [one for one in transients if one.shape.sign < 0]
    dips = [
        _dip(channel, one, limits) for one in low_shapes if not any(t.start_s <= one.start_s <= t.stop_s for t in taken)
    ]
    progress(0.7)
    away = np.concatenate([below, above])
    ripple = ripple_of(channel, noise, joined(spans_of(away), 0.0), part(progress, 0.7, 0.9))
    far = conditions.beside(FAR_END.key)
    drop = None if far is None else drop_between(channel, far, conditions.beside(CURRENT.key), part(progress, 0.9, 1.0))
    return SupplyReading(
        limits,
        outline,
        level_v,
        noise,
        tuple(sorted(dips, key=lambda one: one.start_s)),
        tuple(transients),
        low_left + high_left,
        ripple,
        drop,
        conditions.beside(CURRENT.key),
    )


def _dip_spans(below: Spans) -> Spans:
    """Long dips whose ripple passes the limit are one; needles stay apart."""
    lengths = below[:, 1] - below[:, 0]
    long = below[lengths > DIP_JOIN_S]
    if not len(long):
        return below
    whole = joined(below, 4 * DIP_JOIN_S)
    near_long = [bool(((long[:, 0] < stop) & (long[:, 1] > start)).any()) for start, stop in whole.tolist()]
    kept = whole[np.array(near_long)]
    inside = [bool(((kept[:, 0] <= start) & (kept[:, 1] >= stop)).any()) for start, stop in below.tolist()]
    return spans_of(np.concatenate([kept, below[~np.array(inside)]]))


def _shapes(channel: Channel, spans: Spans, sign: float, level_v: float) -> tuple[list[ExcursionShape], int]:
    whole_s = channel.stop_s - channel.start_s
    spans = spans[spans[:, 1] - spans[:, 0] < WHOLE_SHARE * whole_s]
    chosen = spans[np.unique(np.linspace(0, len(spans) - 1, MOST_SHAPES).round().astype(int))] if len(spans) else spans
    measured = [
        (shape_of(channel, start_s, stop_s, sign, usual_v=level_v), start_s, stop_s)
        for start_s, stop_s in chosen.tolist()
    ]
    found: list[ExcursionShape] = []
    for one, start_s, stop_s in sorted(measured, key=lambda row: -abs(row[0].height_v)):
        # Where noise passes the level once more on the way back, that is no excursion of its own.
        if one.sign * one.height_v > 0 and not any(_is_tail_of(other, one, start_s, stop_s) for other in found):
            found.append(one)
    return sorted(found, key=lambda one: one.start_s), len(spans) - len(measured)


def _is_tail_of(other: ExcursionShape, one: ExcursionShape, start_s: float, stop_s: float) -> bool:
    if abs(one.height_v) > 0.35 * abs(other.height_v):
        return other.start_s <= start_s and stop_s <= other.stop_s
    return other.begin_s <= start_s and stop_s <= other.end_s + 2.0 * (other.end_s - other.stop_s)


def _dip(channel: Channel, shape: ExcursionShape, limits: SupplyLimits) -> Dip:
    assert channel.step_s is not None
    start_s = max(shape.start_s - shape.fall_s, channel.start_s)
    stop_s = min(shape.stop_s + shape.return_s, channel.stop_s)
    row, each_s = _row(channel, start_s, stop_s)
    below = np.flatnonzero(row < limits.lowest_v)
    lowest = min(float(row.min()), shape.peak_v) if row.size else shape.peak_v
    room = 2 * max(channel.step_s, each_s)
    return Dip(
        shape=shape,
        start_s=start_s + float(below[0]) * each_s if below.size else shape.start_s,
        stop_s=start_s + float(below[-1] + 1) * each_s if below.size else shape.stop_s,
        lowest_v=lowest,
        kept=levels_kept(limits.system_v, row, each_s, below_v=limits.lowest_v),
        is_break=_returns_in_s(channel, shape) < max(BREAK_S, 2.5 * channel.step_s) and channel.step_s < 5e-3,
        is_whole=shape.begin_s > channel.start_s + room and shape.end_s < channel.stop_s - room,
    )


def _row(channel: Channel, start_s: float, stop_s: float) -> tuple[Row, float]:
    """The stretch in at most `DIP_POINTS` points, finite ones."""
    assert channel.step_s is not None
    count = max(1, min(DIP_POINTS, round((stop_s - start_s) / channel.step_s)))
    each_s = max((stop_s - start_s) / count, channel.step_s)
    row = averaged(channel, step_s=each_s, start_s=start_s + 0.5 * (each_s - channel.step_s), count=count)
    return row[np.isfinite(row)], each_s


def _returns_in_s(channel: Channel, shape: ExcursionShape) -> float:
    """How long it takes to come back from a tenth to nine tenths of its depth, seen at the full sample rate."""
    assert channel.step_s is not None
    around_s = max(4e-3, 6 * channel.step_s)
    row, each_s = _row(
        channel, max(shape.stop_s - around_s, channel.start_s), min(shape.stop_s + around_s, channel.stop_s)
    )
    if row.size < 8:
        return float("inf")
    half = row.size // 2
    bottom, top = float(np.percentile(row[:half], 15)), float(np.percentile(row[half:], 85))
    if shape.width_s < around_s:
        bottom = min(bottom, shape.peak_v)
    if top - bottom < 0.6 * abs(shape.height_v):
        return float("inf")
    high = np.flatnonzero(row >= bottom + 0.9 * (top - bottom))
    high = high[high >= half - 2]
    low = np.flatnonzero(row[: int(high[0]) + 1] <= bottom + 0.1 * (top - bottom)) if high.size else high
    return float(high[0] - low[-1]) * each_s if high.size and low.size else float("inf")
