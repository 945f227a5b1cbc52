"""A battery that sags under a starter: how deep, how fast, for how long, and whether it pulses."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.wire_sight import Sight

Row = npt.NDArray[np.float64]

DEEP = 0.06
"""Of the level at rest: a starter takes at least that."""
SMALL, SMALL_V = 0.009, (11.3, 13.1)
"""What a start switch alone takes, as a share; and a battery's level at rest, not charged, volts of a 12 V system."""
LOWEST_REST_V, HIGHEST_REST_V = 9.0, 13.6
"""Of a battery before a start; 13.6 V: charged a moment ago (common practice, no source)."""
SHORTEST_S, LONGEST_S = 0.3, 30.0
SHORTEST_TURNING_S = 0.5
SMALL_S, BACK = 1.0, 0.004
FASTEST_FALL_S = 1.5e-3
"""A switched load is there at once; a starter's current rises through its own inductance."""
FALL_S = 0.06
"""In which the fall is looked for."""
SLOWEST_HZ, FASTEST_HZ = 1.5, 60.0
"""Compressions a second: three cylinders at 60 turns a minute to eight at 450 (arithmetic)."""
FEWEST_PULSES = 4


@dataclass(frozen=True)
class Sag:
    """One sag.

    Attributes
    ----------
    rest, lowest : float
        Volts before, and at the lowest.
    seconds : float
        How long it lasts.
    fall_s : float
        From a tenth to nine tenths of the way down.
    straight : bool
        Whether it falls in a straight line.
    pulses_hz : float or None
        Evenly spaced humps within; None without.
    small : bool
        Hardly any: what is left is a start switch.
    """

    rest: float
    lowest: float
    seconds: float
    fall_s: float
    straight: bool
    pulses_hz: float | None
    small: bool


def sag_of(sight: Sight) -> Sag | None:
    """The sag of a start; None where there is none.

    Parameters
    ----------
    sight : Sight
        Of a channel in volts.
    """
    levels, slow, step_s = sight.levels, sight.slow, sight.slow_step_s
    if levels is None or slow.size < 64:
        return None
    rest = float(np.median(slow[: max(slow.size // 50, 4)]))
    times = 2.0 if rest > 18.0 else 1.0
    if (
        not LOWEST_REST_V <= rest / times <= HIGHEST_REST_V
        or levels.greatest > 1.6 * rest
        or levels.least < -0.1 * rest
    ):
        return None
    found = _deep(sight, rest)
    if found is not None:
        return found
    return _small(sight, rest, step_s)


def _deep(sight: Sight, rest: float) -> Sag | None:
    slow, step_s = sight.slow, sight.slow_step_s
    sagging = slow < (1.0 - DEEP) * rest
    inside = np.flatnonzero(sagging)
    if inside.size < 16:
        return None
    first, last = int(inside[0]), int(inside[-1]) + 1
    seconds = (last - first) * step_s
    if not SHORTEST_S <= seconds <= LONGEST_S or float(np.mean(slow[first:last] < 0.97 * rest)) < 0.6 or first < 4:
        return None
    fall_s, straight = _fall(sight, first, rest)
    if fall_s < FASTEST_FALL_S:
        return None
    row = slow[first:last]
    hz = _pulses(row, step_s, least=0.003 * rest)
    if hz is None and (
        fall_s < 2.0 * FASTEST_FALL_S or float(np.ptp(row[row.size // 5 : -row.size // 5])) > 0.2 * rest
    ):
        return None
    return Sag(rest, float(row.min()), seconds, fall_s, straight, hz, small=False)


def _small(sight: Sight, rest: float, step_s: float) -> Sag | None:
    slow = sight.slow
    times = 2.0 if rest > 18.0 else 1.0
    if not SMALL_V[0] <= rest / times <= SMALL_V[1]:
        return None
    wide = max(round(0.02 / step_s), 1)
    level = np.convolve(slow, np.ones(wide) / wide, "valid")
    below = np.flatnonzero(level < (1.0 - SMALL) * rest)
    if below.size < 16 or below[0] < 2 * wide:
        return None
    first = int(below[0])
    after = level[first + 2 * wide :]
    jumps = after[2 * wide :] - after[: -2 * wide]
    if not jumps.size:
        return None
    release = int(np.argmax(jumps))
    inner = after[: release - wide // 2]
    seconds = inner.size * step_s
    if not SMALL_S <= seconds <= LONGEST_S or jumps[release] < BACK * rest:
        return None
    # It sinks on evenly while the load stays, and comes back up in one go.
    line = np.polyfit(np.arange(inner.size) * step_s, inner, 1)
    off = float(np.std(inner - np.polyval(line, np.arange(inner.size) * step_s)))
    if not -0.1 * times < line[0] < 0.0 or off > 0.003 * rest:
        return None
    fall_s, straight = _fall(sight, first + wide // 2, rest)
    return Sag(rest, float(inner.min()), seconds, fall_s, straight, None, small=True)


def _fall(sight: Sight, place: int, rest: float) -> tuple[float, bool]:
    """Time from a tenth to nine tenths of the fall at a place of the slow row, and whether it is a straight line."""
    channel = sight.channel
    assert channel.step_s is not None
    at = round(place * sight.slow_step_s / channel.step_s)
    reach = max(round(FALL_S / channel.step_s), 8)
    start = max(at - reach, 0)
    values = channel.samples.block(start, min(at + reach, channel.samples.size)).astype(np.float64)
    values = np.where(np.isfinite(values), values, rest)
    wide = max(round(0.4e-3 / channel.step_s), 1)
    level = np.convolve(values, np.ones(wide) / wide, "valid")
    lowest = float(level.min())
    depth = rest - lowest
    if depth <= 0:
        return 0.0, False
    end = int(np.argmax(level < rest - 0.9 * depth))
    before = np.flatnonzero(level[: end + 1] > rest - 0.1 * depth)
    begin = int(before[-1]) if before.size else 0
    fall = level[begin : end + 1]
    if fall.size < 4:
        return fall.size * channel.step_s, False
    line = np.linspace(fall[0], fall[-1], fall.size)
    return (end - begin) * channel.step_s, bool(np.max(np.abs(fall - line)) < 0.07 * depth)


def _pulses(row: Row, step_s: float, *, least: float) -> float | None:
    """Humps a second where they are evenly spaced: the strongest line of the sag about its own slow course."""
    row = row[max(row.size // 12, 1) : -max(row.size // 40, 1)]
    if row.size < 32:
        return None
    trend = np.polyval(np.polyfit(np.linspace(-1, 1, row.size), row, 3), np.linspace(-1, 1, row.size))
    apart = row - trend
    # A twentieth and a ninth of it: a hundredth at either end may be anything.
    if float(np.ptp(np.percentile(apart, (3, 97)))) < 2.0 * least:
        return None
    power = np.abs(np.fft.rfft(apart * np.hanning(apart.size), 4 * apart.size)) ** 2
    hz = np.fft.rfftfreq(4 * apart.size, step_s)
    slowest = max(SLOWEST_HZ, FEWEST_PULSES / (row.size * step_s) * 0.8)
    inside = (hz >= slowest) & (hz <= FASTEST_HZ)
    if not inside.any():
        return None
    top = int(np.argmax(np.where(inside, power, 0.0)))
    # Its own line and its harmonics hold most of what moves.
    width = 2.5 / (row.size * step_s)
    held = sum(float(power[np.abs(hz - times * hz[top]) <= width].sum()) for times in (0.5, 1.0, 1.5, 2.0, 3.0, 4.0))
    whole = float(power[hz >= 0.5 * slowest].sum())
    return float(hz[top]) if whole > 0 and held >= 0.55 * whole else None
