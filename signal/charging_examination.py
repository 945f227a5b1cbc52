"""What a charged battery shows: level and how it moves, ripple and its cycle, load steps, belt."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.charging_limits import CURRENT, ChargingLimits, limits_for
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions, Examination
from loomlight.signal.noise import noise_of
from loomlight.signal.outline import Outline, Row, outline_of
from loomlight.signal.power_system import system_volts
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.ripple import Ripple, ripple_of
from loomlight.signal.ripple_cycle import RippleCycle, ripple_cycle
from loomlight.signal.voltage_drop import undithered_step

LEAST_RATE = 15_000.0
"""Samples a second that show a ripple's shape at idle."""
PIECES = 400
PIECE_S = 0.05
STEP_S = 5e-3
LEAST_STEP_V = 0.15
SLIP = 0.10
SLIP_WITHIN_S = 0.05
"""An engine with its throttle shut loses 100 to 350 rad/s each second, by friction and inertia: at 1500 rpm a tenth at most in
0.05 s. An alternator whose belt lets go has a hundredth of that inertia and loses it within 0.02 s (own reckoning, no source)."""
STEADY, STEADY_S, KNOWN = 0.08, 0.15, 0.7
"""A fall from an even speed only: behind a burst of revs everything falls."""
BACK_WITHIN_S = 0.4
BACK = 0.4
"""Of what was lost: what has to come back."""
NEAR = 0.14
"""Of the speed before: where it has to settle again; an engine that was revved goes elsewhere."""


@dataclass(frozen=True)
class LoadStep:
    """The voltage's answer to a load that was switched on.

    Attributes
    ----------
    at_s : float
        When, seconds on the channel's axis.
    depth_v : float
        How far it fell.
    recovery_s : float or None
        Until three quarters were made up for; None where the capture ends before.
    """

    at_s: float
    depth_v: float
    recovery_s: float | None


@dataclass(frozen=True)
class Slip:
    """The alternator falls behind and catches up, faster than an engine's speed can change.

    Attributes
    ----------
    start_s, stop_s : float
        Seconds on the channel's axis.
    share : float
        How much of its speed it lost.
    """

    start_s: float
    stop_s: float
    share: float


@dataclass(frozen=True, eq=False)
class ChargingReading:
    """Everything measured on a charged battery.

    Attributes
    ----------
    limits : ChargingLimits
        What it is held against.
    level_v, low_v, high_v : float
        Median; what it stays above and below for all but a twentieth of the time.
    length_s : float
        Length of the capture.
    ripple : Ripple or None
        What moves faster than 50 Hz.
    cycle : RippleCycle or None
        None where no line stands out, or the sample rate does not show one.
    shows_cycle : bool
        Whether the sample rate could show one.
    steps : tuple of LoadStep
        In order of time.
    slips : tuple of Slip
        In order of time.
    current_a : float or None
        Median current into the battery, where it was recorded.
    step_v : float
        The converter's step where noise does not spread it; 0 where it does.
    ac_coupled : bool
        Whether the input took the level away: only the ripple says something.
    times_s, pieces_v : ndarray
        The level over time.
    """

    limits: ChargingLimits
    level_v: float
    low_v: float
    high_v: float
    length_s: float
    ripple: Ripple | None
    cycle: RippleCycle | None
    shows_cycle: bool
    steps: tuple[LoadStep, ...]
    slips: tuple[Slip, ...]
    current_a: float | None
    step_v: float
    times_s: Row = field(repr=False)
    pieces_v: Row = field(repr=False)
    ac_coupled: bool = False

    @property
    def height_v(self) -> float | None:
        """Ripple peak to peak: of its cycle where there is one."""
        if self.cycle is not None:
            return self.cycle.peak_to_peak_v
        return None if self.ripple is None else self.ripple.peak_to_peak_v


@dataclass(frozen=True, eq=False)
class ChargingExamination(Examination):
    """An examination with what was measured; None where the channel is no battery's."""

    charge: ChargingReading | None = field(kw_only=True)


def read_charge(
    channel: Channel,
    conditions: Conditions,
    outline: Outline,
    progress: Progress = unwatched,
    *,
    ac_coupled: bool = False,
) -> ChargingReading:
    """Measure a charged battery.

    Parameters
    ----------
    channel : Channel
        Battery voltage, evenly spaced.
    conditions : Conditions
        With the current where it was recorded.
    outline : Outline
        Of the same channel.
    progress : Progress
        0 to 1.
    ac_coupled : bool
        The channel lies around 0 V for that.

    Raises
    ------
    CannotUse
        If the current's channel does not fit.
    """
    assert channel.step_s is not None
    limits = limits_for(system_volts(outline, conditions), conditions)
    times_s, pieces = _pieces(outline, PIECE_S, PIECES)
    known = pieces[np.isfinite(pieces)]
    low, high = (float(one) for one in np.percentile(known, [5, 95]))
    noise = noise_of(channel, stretches=8)
    ripple = ripple_of(channel, noise, np.empty((0, 2)), part(progress, 0.0, 0.3))
    shows = channel.step_s <= 1.0 / LEAST_RATE
    cycle = (
        ripple_cycle(channel, expected_hz=limits.electrical_hz, progress=part(progress, 0.3, 0.95)) if shows else None
    )
    return ChargingReading(
        limits,
        float(np.median(known)),
        low,
        high,
        channel.stop_s - channel.start_s,
        ripple,
        cycle,
        shows,
        _load_steps(outline, limits.twelves),
        _slips(cycle) if cycle is not None else (),
        _current(conditions),
        undithered_step(channel, noise),
        times_s,
        pieces,
        ac_coupled,
    )


def _pieces(outline: Outline, least_s: float, most: int) -> tuple[Row, Row]:
    """Means of pieces at least so long, at most so many."""
    whole_s = outline.mean.size * outline.step_s
    each = max(1, round(max(least_s, whole_s / most) / outline.step_s))
    count = max(1, outline.mean.size // each)
    rows = outline.mean[: count * each].reshape(count, -1) if outline.mean.size >= each else outline.mean[None, :]
    known = np.isfinite(rows)
    mean = np.where(
        known.any(axis=1), np.where(known, rows, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1), np.nan
    )
    times_s = outline.start_s + (np.arange(len(rows), dtype=np.float64) + 0.5) * each * outline.step_s
    return times_s, mean


def _load_steps(outline: Outline, twelves: float) -> tuple[LoadStep, ...]:
    """The deepest sudden fall, if it is deep enough to be a load."""
    times_s, row = _pieces(outline, STEP_S, 20_000)
    if row.size < 60 or not np.isfinite(row).all():
        return ()
    step_s = float(times_s[1] - times_s[0])
    falls = row[3:] - row[:-3]
    at = int(np.argmin(falls))
    ahead = max(4, round(0.1 / step_s))
    before = float(np.median(row[max(0, at - ahead) : at + 1]))
    after = row[at : at + max(8, round(1.0 / step_s))]
    lowest = int(np.argmin(after[: max(4, round(0.3 / step_s))]))
    depth = before - float(after[lowest])
    if depth < LEAST_STEP_V * twelves or after.size < 20:
        return ()
    final = float(np.median(after[-max(4, after.size // 4) :]))
    made_up = np.flatnonzero(after[lowest:] >= final - 0.25 * max(final - float(after[lowest]), 0.0))
    recovery = float(made_up[0] + lowest) * step_s if made_up.size and final - after[lowest] > 0.3 * depth else None
    return (LoadStep(float(times_s[at]), depth, recovery),)


def _slips(cycle: RippleCycle) -> tuple[Slip, ...]:
    """Falls of the frequency from an even speed that no engine makes, and comes back from."""
    times_s, hz = cycle.times_s, cycle.each_hz
    if times_s.size < 12 or times_s[1] - times_s[0] > 0.5 * SLIP_WITHIN_S:
        return ()
    step_s = float(times_s[1] - times_s[0])
    reach, back = (max(2, round(one / step_s)) for one in (SLIP_WITHIN_S, BACK_WITHIN_S))
    earlier = max(4, round(STEADY_S / step_s))
    found: list[Slip] = []
    at = earlier // 2
    while at < hz.size - 2:
        one = _slip_at(times_s, hz, at, slice(max(0, at - earlier), at + 1), reach, back)
        if one is None:
            at += 1
            continue
        found.append(one[0])
        at = one[1] + 1
    return tuple(found)


def _slip_at(times_s: Row, hz: Row, at: int, before: slice, reach: int, back: int) -> tuple[Slip, int] | None:
    """The slip that begins in this window, and the window in which enough is back; None where none does."""
    if np.isfinite(hz[before]).sum() < KNOWN * (before.stop - before.start):
        return None
    usual = float(np.nanmedian(hz[before]))
    if not _is_steady(hz[before], usual):
        return None
    ahead = hz[at : at + reach + 1] / usual
    low = np.flatnonzero(ahead < 1.0 - SLIP)
    # One window alone may have caught another line.
    if low.size < 2 or np.diff(low).min() > 1 or not ahead[0] > 1.0 - 0.5 * SLIP:
        return None
    rest = hz[at + low[0] : at + low[0] + back] / usual
    lowest = int(np.nanargmin(rest[: 3 * reach]))
    again = np.flatnonzero(rest[lowest:] > 1.0 - (1.0 - BACK) * (1.0 - rest[lowest]))
    settled = rest[lowest:][np.isfinite(rest[lowest:])]
    if not again.size or abs(float(settled.max()) - 1.0) > NEAR:
        return None
    stop = at + int(low[0]) + lowest + int(again[0])
    return Slip(float(times_s[at]), float(times_s[stop]), 1.0 - float(rest[lowest])), stop


def _is_steady(row: Row, usual: float) -> bool:
    known = row[np.isfinite(row)]
    return float(np.ptp(known)) <= STEADY * usual


def _current(conditions: Conditions) -> float | None:
    channel = conditions.beside(CURRENT.key)
    if channel is None:
        return None
    if channel.unit not in ("A", None):
        raise CannotUse(f"{channel.name!r} has to be in A; it is in {channel.unit}.")
    return outline_of(channel).level()
