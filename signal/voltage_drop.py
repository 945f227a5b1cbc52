"""Voltage drop between two channels recorded together, and the resistance that makes it where the current is known."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.noise import noise_of
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.resample import averaged

Row = npt.NDArray[np.float64]

POINTS = 32_768
CHANNELS_DIFFER = 0.005
"""Two channels of one instrument differ by about this share of what they show (common practice, no source)."""
CLAMP_DIFFERS = 0.03
"""A current clamp's own share of doubt (common practice, no source)."""
LEAST_SWING = 0.1
"""Of the greatest current: a current that moves less shows no slope."""
LEAST_CURRENT_A = 0.5
SEEN = 16_384
"""Samples in which the converter's step is looked for."""
HELD = 16
"""Points averaged before a drop is taken for one: an edge that reaches one channel earlier is none."""


@dataclass(frozen=True, eq=False)
class Drop:
    """What lies between two channels.

    Attributes
    ----------
    usual_v, greatest_v : float
        Median, and greatest held value, volts; positive whichever of the two stands nearer to the battery.
    greatest_s : float
        When it is greatest, seconds on the channel's axis.
    doubt_v : float
        How much two channels may differ by themselves.
    ohm, ohm_low, ohm_high : float or None
        Resistance with its interval; None without a current.
    ohm_from : str
        How it was worked out, one sentence; why not, where it was not.
    times_s, volts : ndarray of float64
        The drop over time.
    """

    usual_v: float
    greatest_v: float
    greatest_s: float
    doubt_v: float
    ohm: float | None
    ohm_low: float | None
    ohm_high: float | None
    ohm_from: str
    times_s: Row
    volts: Row


def drop_between(one: Channel, other: Channel, current: Channel | None, progress: Progress = unwatched) -> Drop:
    """Take one channel from the other.

    Parameters
    ----------
    one, other : Channel
        In volts, recorded together, evenly spaced.
    current : Channel or None
        Through the wire between them, recorded together, amperes.
    progress : Progress
        0 to 1.

    Raises
    ------
    CannotUse
        If a unit does not fit, or nothing was recorded at the same time.

    Notes
    -----
    The slope of the drop over the current is the resistance; what both channels are off by drops out of it. Its interval is
    two standard errors, with the clamp's share of doubt, and the converter's step where noise does not spread it. Where
    the current hardly moves, drop over current is all that is left, with the channels' own difference as its doubt.
    """
    wanted = [(other, "V"), *([(current, "A")] if current is not None else [])]
    for channel, unit in wanted:
        if channel.unit not in (unit, None) or channel.step_s is None:
            raise CannotUse(
                f"{channel.name!r} has to be an evenly spaced channel in {unit}; it is in {channel.unit or 'no known unit'}."
            )
    channels = [one, *(channel for channel, _ in wanted)]
    start_s, stop_s = max(each.start_s for each in channels), min(each.stop_s for each in channels)
    coarsest_s = max(each.step_s or 0.0 for each in channels)
    count = int(min(POINTS, (stop_s - start_s) / coarsest_s))
    if count < 4 * HELD:
        raise CannotUse(
            f"{one.name!r} and {other.name!r} have too little in common in time to take one from the other."
        )
    step_s = (stop_s - start_s) / count
    rows: list[Row] = []
    for place, each in enumerate(channels):
        progress(place / len(channels))
        rows.append(averaged(each, step_s=step_s, start_s=start_s + 0.5 * step_s, count=count))
    times_s: Row = start_s + (np.arange(count, dtype=np.float64) + 0.5) * step_s
    volts = rows[0] - rows[1]
    known = np.isfinite(volts)
    usual = float(np.median(volts[known])) if known.any() else math.nan
    held = _held(volts)
    # The end that stands nearer to the battery is the higher one while current flows.
    sign = 1.0 if np.nanmax(held) + np.nanmin(held) >= 0 else -1.0
    worst = int(np.nanargmax(sign * held))
    doubt = CHANNELS_DIFFER * math.hypot(*(abs(float(np.nanmedian(row))) for row in rows[:2]))
    steps = math.hypot(undithered_step(one), undithered_step(other))
    ohm = resistance(sign * volts, rows[2] if current is not None else None, doubt, steps)
    return Drop(sign * usual, sign * float(held[worst]), float(times_s[worst]), doubt, *ohm, times_s, sign * volts)


def undithered_step(channel: Channel, noise: float | None = None) -> float:
    """One step of the converter, in the channel's unit, where noise does not spread it out; 0 where it does.

    Noise of half a step makes averages finer than the step (Widrow and Kollár, "Quantization Noise", 2008; from memory).
    """
    first = max(0, channel.samples.size // 2 - SEEN // 2)
    values = channel.samples.block(first, min(first + SEEN, channel.samples.size))
    there = np.unique(values[np.isfinite(values)])
    if there.size < 2:
        return 0.0
    apart = np.diff(there.astype(np.float64))
    step = float(apart[apart > 1e-6 * float(np.abs(there).max())].min(initial=np.inf))
    if not math.isfinite(step):
        return 0.0
    return step if (noise_of(channel, stretches=8) if noise is None else noise) < 0.4 * step else 0.0


def _held(volts: Row) -> Row:
    from scipy import ndimage

    filled = np.where(np.isfinite(volts), volts, np.nanmedian(volts))
    held: Row = ndimage.uniform_filter1d(filled, HELD, mode="nearest")
    return held


def resistance(
    volts: Row, amperes: Row | None, doubt_v: float, steps_v: float
) -> tuple[float | None, float | None, float | None, str]:
    """Resistance from volts across it and amperes through it.

    Parameters
    ----------
    volts, amperes : ndarray, shape (n,)
        At the same instants; a constant in the volts does not matter where the current moves.
    doubt_v : float
        How far the volts may be off, all together.
    steps_v : float
        The converters' steps where noise does not spread them.

    Returns
    -------
    tuple
        Best value, least, most (ohms), and one sentence on how; None where it cannot be known.
    """
    if amperes is None:
        return None, None, None, "No current was recorded, so the resistance is not known."
    known = np.isfinite(volts) & np.isfinite(amperes)
    v, i = volts[known], amperes[known]
    if v.size < HELD or abs(float(i[np.argmax(np.abs(i))])) < LEAST_CURRENT_A:
        return None, None, None, "Hardly any current flowed, so the resistance is not known."
    low, high = np.percentile(i, [2, 98])
    if high - low >= LEAST_SWING * max(abs(low), abs(high)):
        i0, v0 = i - i.mean(), v - v.mean()
        slope = float((i0 @ v0) / (i0 @ i0))
        rest = v0 - slope * i0
        # Neighbouring points are not independent: what is left over hangs together, so fewer count than there are.
        alike = float(rest[1:] @ rest[:-1]) / max(float(rest @ rest), 1e-30)
        count = max(v.size * (1 - alike) / (1 + alike), 4.0) if alike < 0.999 else 4.0
        error = math.sqrt(float(rest @ rest) / v.size / max(count - 2, 1.0) / max(float(i0 @ i0) / v.size, 1e-30))
        best = slope if float(np.mean(i)) >= 0 else -slope  # a clamp may be on the wrong way round
        room = math.hypot(2.0 * error, CLAMP_DIFFERS * best, steps_v / float(high - low))
        if best + room < 0:
            return (None, None, None, "The drop is greatest where the least current flows: no resistance, but a break.")
        best = max(best, 0.0)
        return best, max(best - room, 0.0), best + room, f"Slope of the drop over {high - low:.3g} A of current."
    mean_i, mean_v = abs(float(np.median(i))), float(np.median(v))
    best = max(mean_v, 0.0) / mean_i
    room = math.hypot(doubt_v / mean_i, CLAMP_DIFFERS * best, steps_v / mean_i)
    why = f"Drop over {mean_i:.3g} A; the current hardly moves, so what the channels are off by is in it."
    return best, max(best - room, 0.0), best + room, why
