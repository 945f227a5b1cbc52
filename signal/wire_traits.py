"""What speaks for the kinds that carry no frames: levels, spacings of edges, what repeats."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from loomlight.signal.wire_sight import FEWEST_EDGES, Sight

Row = npt.NDArray[np.float64]
Told = tuple[float, str]


def _volts(sight: Sight) -> bool:
    return sight.channel.unit in (None, "V")


def _scatter(row: Row) -> float:
    """Median distance from the median, as a share of it; 1 where there is too little."""
    if row.size < 3:
        return 1.0
    middle = float(np.median(row))
    return float(np.median(np.abs(row - middle))) / middle if middle > 0 else 1.0


def _beside_neighbours(row: Row) -> Row:
    """Each spacing as a multiple of the median of the seven around it."""
    padded = np.pad(row, 3, mode="reflect")
    around = np.median(np.lib.stride_tricks.sliding_window_view(padded, 7), axis=1)
    found: Row = row / np.where(around > 0, around, np.inf)
    return found


def toothed_wheel(sight: Sight) -> Told | None:
    """Like edges evenly spaced, but for gaps that come after the same number of teeth each turn."""
    best: Told | None = None
    for rising in (True, False):
        spacings = sight.spacings_s(rising=rising)
        if spacings.size < 12:
            continue
        beside = _beside_neighbours(spacings)
        even = float(np.mean(np.abs(beside - 1.0) < 0.35))
        gaps = np.flatnonzero((beside > 1.6) & (beside < 5.0))
        if gaps.size >= 2:
            between = np.diff(gaps)
            usual = int(np.median(between))
            same = float(np.mean(between == usual))
            if usual >= 4 and even > 0.7 and same > 0.5:
                told = (0.5 + 0.45 * same * even, f"A gap after every {usual} teeth, {gaps.size} times.")
                best = max(best, told) if best is not None else told
        elif gaps.size == 1 and even > 0.9 and spacings.size >= 20:
            told = (0.6, f"{spacings.size} evenly spaced teeth with one gap.")
            best = max(best, told) if best is not None else told
    return best


def wheel_speed(sight: Sight) -> Told | None:
    """Two currents, one twice the other, neither of them zero; or their voltages across a shunt."""
    levels = sight.levels
    if levels is None or not levels.two_states or levels.low <= 0 or sight.at_s.size < 2:
        return None
    ratio = levels.high / levels.low
    if sight.channel.unit == "A":
        if 0.003 < levels.low < 0.011 and 1.4 < ratio < 5.5 and levels.high < 0.04:
            return 0.95, f"Stands at {1e3 * levels.low:.1f} and {1e3 * levels.high:.1f} mA."
        return None
    if _volts(sight) and 1.55 < ratio < 2.6 and levels.low > 0.2 and levels.high < 8.0 and sight.settled > 0.6:
        return 0.75, f"Two levels, {levels.low:.2f} and {levels.high:.2f} V: one is twice the other."
    return None


def pwm(sight: Sight) -> Told | None:
    """Two levels, one near zero, like edges at even spacings."""
    levels = sight.levels
    if levels is None or not levels.two_states or not _volts(sight) or sight.at_s.size < FEWEST_EDGES:
        return None
    if levels.high < 1.0 or abs(levels.low) > 0.35 * levels.high:
        return None
    scatter = min(_scatter(sight.spacings_s(rising=rising)) for rising in (True, False))
    if scatter > 0.05 or sight.settled < 0.6:
        return None
    period = float(np.median(sight.spacings_s(rising=True))) if sight.spacings_s(rising=True).size else 0.0
    if period <= 0:
        return None
    return (
        0.85 - 4.0 * scatter,
        f"Switches between {levels.low:.1f} and {levels.high:.1f} V at even {1 / period:.4g} Hz.",
    )


TRAITS: dict[str, Callable[[Sight], Told | None]] = {
    "toothed-wheel": toothed_wheel,
    "wheel-speed": wheel_speed,
    "pwm": pwm,
}
"""Likeness and reason, by kind; None where nothing speaks for it."""
