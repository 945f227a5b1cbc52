"""What speaks for the kinds that carry no frames: levels, spacings of edges, what repeats."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from loomlight.signal.wire_bits import clocked
from loomlight.signal.wire_sight import FEWEST_EDGES, Sight

Row = npt.NDArray[np.float64]
Told = tuple[float, str]

LOWEST_SUPPLY_V, HIGHEST_SUPPLY_V = 6.5, 36.0
"""A 12 V supply in a start to a 24 V one while charging (ISO 16750-2, supply ranges)."""
USUAL_TURNS = (58, 35)
"""Spacings in a turn of the wheels met most, 60-2 and 36-1: of these one turn alone is enough."""
HIGHEST_SHUNT_V = 4.3
"""28 mA and a fifth more across 115 Ω, with room (a sensor's data sheet; the shunt from memory)."""
MOST_COIL_HZ = 60.0
"""One coil or injector fires at most once a turn: 3600 turns a minute; most fire every second turn (arithmetic)."""
MOST_ON = 0.3
"""Of the time a coil is fed, on most engines at most speeds (common practice, no source)."""
SLOWEST_RIPPLE_HZ = 60.0
LINE_STANDS_OUT = 30.0
"""Times the spectrum around it; loads and noise alone reach about 10 (tried on made supplies)."""
FLAT_SHARE = 0.003
"""Of the level: what moves less stands still."""


def _volts(sight: Sight) -> bool:
    return sight.channel.unit in (None, "V")


def _scatter(row: Row) -> float:
    """Median distance from the median, as a share of it; 1 where there is too little."""
    if row.size < 3:
        return 1.0
    middle = float(np.median(row))
    return float(np.median(np.abs(row - middle))) / middle if middle > 0 else 1.0


def _beside_neighbours(row: Row) -> Row:
    """Each spacing as a multiple of the lower middle of the eleven around it, which gaps do not reach."""
    padded = np.pad(row, 5, mode="reflect")
    around = np.percentile(np.lib.stride_tricks.sliding_window_view(padded, 11), 40, axis=1)
    found: Row = row / np.where(around > 0, around, np.inf)
    return found


def toothed_wheel(sight: Sight) -> Told | None:
    """Like edges evenly spaced, but for gaps that come back at the same teeth each turn."""
    levels = sight.levels
    if levels is None or levels.greatest - levels.least < 0.25 * abs(levels.greatest):
        return None  # a ripple on a level, however even
    told = [one for rising in (True, False) if (one := _teeth(sight.spacings_s(rising=rising))) is not None]
    if told:
        return max(told)
    if sight.at_s.size < 24:
        return None
    # A coil without a gap on its wheel: swings about zero with every tooth.
    swings = levels.least < 0 < levels.greatest and 0.4 < -levels.least / levels.greatest < 2.5
    scatter = min(_scatter(sight.spacings_s(rising=rising)) for rising in (True, False))
    if swings and scatter < 0.1 and sight.settled < 0.75:
        return (
            0.7,
            f"Swings about zero {sight.at_s.size // 2} times, evenly: an inductive sensor before a wheel without a gap.",
        )
    return None


def _teeth(spacings: Row) -> Told | None:
    if spacings.size < 12:
        return None
    beside = _beside_neighbours(spacings)
    even = float(np.mean((np.abs(beside - 1.0) < 0.35) | (beside > 1.6)))
    gap = beside > 1.6
    count = int(np.count_nonzero(gap))
    if even < 0.6 or not 1 <= count <= 0.2 * spacings.size:
        return None
    turns = _turn_of(gap)
    if turns is not None:
        teeth, share = turns
        return 0.5 + 0.45 * share * even, f"The same gaps come back after every {teeth} teeth."
    if count == 1 and even > 0.9 and spacings.size >= 20 and float(beside.max()) > 2.5:
        return 0.65, f"{spacings.size} evenly spaced teeth and one gap."
    return None


def _turn_of(gap: npt.NDArray[np.bool_]) -> tuple[int, float] | None:
    """After how many spacings the gaps come back, and the share of them that do; None where they do not."""
    places = np.flatnonzero(gap)
    best: tuple[int, float] | None = None
    for apart in range(4, min(160, gap.size - 4)):
        later = places[places + apart < gap.size]
        if later.size < max(1, places.size // 4):
            break
        share = float(np.mean(gap[later + apart]))
        hits = int(np.count_nonzero(gap[later + apart]))
        if share >= 0.6 and (hits >= 3 or apart in USUAL_TURNS) and (best is None or share > best[1] + 0.1):
            best = apart, share
    return best


def wheel_speed(sight: Sight) -> Told | None:
    """Milliamperes at two levels, one twice or four times the other, neither of them zero; or their volts across a shunt."""
    levels = sight.levels
    if levels is None or not levels.two_states:
        return None
    if sight.channel.unit == "A":
        if not 0.009 < levels.high < 0.05 or levels.low < -0.002:
            return None
        told = (
            f"Stands at {1e3 * levels.low:.1f} and {1e3 * levels.high:.1f} mA: the currents of an active wheel sensor."
        )
        return 0.95 if levels.low > 0.003 else 0.8, told
    if not _volts(sight) or not 0.2 < levels.low < levels.high < HIGHEST_SHUNT_V or sight.at_s.size < 6:
        return None
    ratio = levels.high / levels.low
    if min(_scatter(sight.spacings_s(rising=rising)) for rising in (True, False)) > 0.3 or sight.settled < 0.6:
        return None
    told = (
        f"Two levels, {levels.low:.2f} and {levels.high:.2f} V: one is {ratio:.2g} times the other, as across a shunt."
    )
    if 1.7 < ratio < 2.35 or 3.4 < ratio < 4.6:
        return 0.96, told
    return (0.7, told) if 1.25 < ratio < 2.6 else None


def pwm(sight: Sight) -> Told | None:
    """Two levels, one near zero, like edges at even spacings."""
    levels = sight.levels
    if levels is None or not levels.two_states or not _volts(sight) or sight.at_s.size < FEWEST_EDGES:
        return None
    # Where a coil flies back at each switching off, its level is the third one, and the lowest sample tells the low.
    lowest = levels.low if levels.low <= 0.35 * levels.high else levels.least
    if levels.high < 1.0 or abs(lowest) > 0.35 * levels.high:
        return None
    scatter = min(_scatter(sight.spacings_s(rising=rising)) for rising in (True, False))
    if scatter > 0.15 or sight.settled < 0.45:
        return None
    period = float(np.median(sight.spacings_s(rising=True))) if sight.spacings_s(rising=True).size else 0.0
    if period <= 0:
        return None
    return (
        (0.85 - 1.5 * scatter) * min(1.0, sight.at_s.size / 24),
        f"Switches between {levels.low:.1f} and {levels.high:.1f} V at even {1 / period:.4g} Hz.",
    )


def supply(sight: Sight) -> Told | None:
    """Rests near one level that a vehicle's supply has, whatever disturbs it now and then."""
    levels = sight.levels
    if levels is None or not _volts(sight) or not sight.slow.size:
        return None
    usual = float(np.median(sight.slow))
    if not LOWEST_SUPPLY_V <= usual <= HIGHEST_SUPPLY_V:
        return None
    near = float(np.mean(np.abs(sight.slow - usual) < 0.3 * usual))
    many = sight.at_s.size > 60 and levels.amplitude > 0.5 * usual
    if near < 0.35 or many:
        return None
    if levels.greatest - levels.least <= max(FLAT_SHARE * usual, 12.0 * sight.noise):
        return 0.5, f"A steady {usual:.1f} V: a supply rail, or a line that rests."
    return 0.45 + 0.3 * near, f"Rests near {usual:.1f} V and moves little, as a supply does."


def charging(sight: Sight) -> Told | None:
    """A supply with an even ripple, faster than any load is switched."""
    levels = sight.levels
    if levels is None or not _volts(sight) or not sight.slow.size:
        return None
    usual = float(np.median(sight.slow))
    if not 10.5 <= usual <= HIGHEST_SUPPLY_V or levels.greatest - levels.least > 0.5 * usual:
        return None
    hz = _line_hz(sight)
    if hz is None:
        return _regulated(sight, usual)
    charges = any(13.0 * times <= usual <= 15.6 * times for times in (1.0, 2.0))
    return 0.85 if charges else 0.7, f"{usual:.1f} V with an even ripple at {hz:.3g} Hz."


def _regulated(sight: Sight, usual: float) -> Told | None:
    """A level that is moved between a battery's and a full charge's over many seconds, as a controlled alternator does."""
    times = 2.0 if usual > 18.0 else 1.0
    low, high = (float(one) / times for one in np.percentile(sight.slow, (5, 95)))
    seconds = sight.slow.size * sight.slow_step_s
    if seconds < 8.0 or not 12.2 <= low <= high <= 15.3 or high < 13.2 or high - low < 0.2:
        return None
    return 0.78, f"Moves between {times * low:.1f} and {times * high:.1f} V over {seconds:.0f} s."


def _line_hz(sight: Sight) -> float | None:
    """Frequency of a line that stands far out of the spectrum around it, and above `SLOWEST_RIPPLE_HZ`; None without one.

    The spectrum is the mean over stretches (Welch 1967), held against its own running median.
    """
    from scipy import ndimage, signal

    step_s, size = sight.channel.step_s, sight.channel.samples.size
    assert step_s is not None
    values = sight.channel.samples.block(0, size).astype(np.float64)
    if size < 2048 or not np.all(np.isfinite(values)):
        return None
    hz, power = signal.welch(values, 1.0 / step_s, nperseg=min(8192, size // 4))
    around = ndimage.median_filter(power, size=101, mode="nearest")
    fast = (hz > max(SLOWEST_RIPPLE_HZ, 6.0 * hz[1])) & (around > 0)
    if not fast.any():
        return None
    stands_out = np.where(fast, power / np.where(around > 0, around, 1.0), 0.0)
    first = int(np.argmax(stands_out))
    return float(hz[first]) if stands_out[first] >= LINE_STANDS_OUT else None


def cranking(sight: Sight) -> Told | None:
    """Volts that sag for a while and pulse slowly meanwhile, or the hundreds of amperes that do it."""
    levels = sight.levels
    if levels is None or sight.slow.size < 64:
        return None
    slow, step_s = sight.slow, sight.slow_step_s
    if sight.channel.unit == "A":
        if levels.greatest < 60.0:
            return None
        return 0.9, f"Up to {levels.greatest:.0f} A: only a starter takes that."
    rest = float(np.median(slow[: max(slow.size // 50, 4)]))
    if not _volts(sight) or not 9.0 <= rest <= 29.0 or levels.greatest > 1.6 * rest:
        return None
    sagging = slow < 0.94 * rest
    inside = np.flatnonzero(sagging)
    if inside.size < 16 or np.count_nonzero(sagging) * step_s < 0.3:
        return None
    humps = _humps(slow[inside[0] : inside[-1] + 1], least=0.004 * rest)
    if humps.size < 5 or _scatter(np.diff(humps)) > 0.25:
        return None
    hz = 1.0 / (float(np.median(np.diff(humps))) * step_s)
    if not 3.0 <= hz <= 60.0:
        return None
    return (
        0.88,
        f"Sags from {rest:.1f} to {float(slow.min()):.1f} V and pulses {hz:.1f} times a second: a starter turning.",
    )


def _humps(row: Row, *, least: float) -> Row:
    """Where a row crosses its own slow middle upwards by more than ``least`` and its noise."""
    width = max(row.size // 12, 8)
    padded = np.pad(row, width, mode="edge")
    middle = np.convolve(padded, np.ones(2 * width + 1) / (2 * width + 1), "valid")
    apart = row - middle
    swing = max(0.35 * float(np.percentile(np.abs(apart), 75)), least)
    sides = np.where(apart > swing, 1, np.where(apart < -swing, -1, 0))
    places = np.flatnonzero(sides)
    changes = places[1:][np.diff(sides[places]) > 0]
    found: Row = changes.astype(np.float64)
    return found


def coil(sight: Sight) -> Told | None:
    """Current pulses of a few amperes from nothing, or volts that fly back far above the supply at each switching off."""
    levels = sight.levels
    if levels is None or sight.at_s.size < 4 or not sight.slow.size:
        return None
    if sight.channel.unit == "A":
        if not 0.1 < levels.greatest < 40.0 or levels.least < -0.15 * levels.greatest:
            return None
        if abs(float(np.median(sight.slow))) > 0.5 * levels.greatest:
            return None
        return 0.85, f"Pulses of up to {levels.greatest:.2g} A that begin at nothing."
    values = sight.channel.samples.block(0, sight.channel.samples.size)
    usual = float(np.median(values))
    if not _volts(sight) or not 8.0 <= usual <= 32.0 or levels.greatest < 1.8 * usual or levels.least > 0.5 * usual:
        return None
    scatter = min(_scatter(sight.spacings_s(rising=rising)) for rising in (True, False))
    on = float(np.mean(values < 0.6 * usual))
    if scatter > 0.3 or not 0.0 < on < 0.45:
        return None
    # A wire that switches a coil evenly is a switched wire too: what is on for long is told by that.
    hz = 1.0 / max(float(np.median(sight.spacings_s(rising=True))), 1e-9) if sight.at_s.size > 3 else 0.0
    likeness = 0.88 if on < MOST_ON and hz < MOST_COIL_HZ else 0.65
    return (
        likeness,
        f"Rests at {usual:.1f} V, is pulled to {levels.least:.1f} V, flies back to {levels.greatest:.0f} V.",
    )


TRAITS: dict[str, Callable[[Sight], Told | None]] = {
    "toothed-wheel": toothed_wheel,
    "wheel-speed": wheel_speed,
    "pwm": pwm,
    "supply": supply,
    "charging": charging,
    "cranking": cranking,
    "coil": coil,
    "can": clocked("can", ((0.9e-6, 10.8e-6),), "as on a CAN bus"),
    "can-low-speed": clocked("can-low-speed", ((7.7e-6, 10.4e-6), (15e-6, 21e-6)), "as low-speed CAN has"),
    "can-single-wire": clocked("can-single-wire", ((11.6e-6, 12.4e-6), (29e-6, 31e-6)), "as single-wire CAN has"),
    "lin": clocked("lin", ((49e-6, 54e-6), (100e-6, 108e-6)), "as a LIN bus has"),
    "k-line": clocked("k-line", ((94e-6, 99e-6),), "as a K-line has"),
}
"""Likeness and reason, by kind; None where nothing speaks for it."""
