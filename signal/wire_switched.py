"""What speaks for a wheel speed sensor, a switched wire and a coil: levels, their evenness, and what flies back."""

import numpy as np

from loomlight.signal.edges import find_edges
from loomlight.signal.wire_pulses import Told, evenness, in_volts
from loomlight.signal.wire_sight import FEWEST_EDGES, Sight

HIGHEST_SHUNT_V = 4.3
"""28 mA and a fifth more across 115 Ω, with room (a sensor's data sheet; the shunt from memory)."""
SHORTEST_PULSE_S = 15e-6
"""Half of a sensor's shortest pulse of 50 µs is its shortest state (a sensor's data sheet), with room."""
HIGHEST_LOW_V = 1.95
"""7 mA, a tenth more, and a leak of 9 mA across 115 Ω."""
HIGHEST_SENSOR_A, LOWEST_SENSOR_A = 0.05, 2e-3
MOST_COIL_HZ = 70.0
"""One coil or injector fires at most once a turn: 4200 turns a minute; most fire every second turn (arithmetic)."""
UNLIKE = 0.08
"""Of a period: pulses whose widths differ so much from one to the next are a cam wheel's, or a message."""
LEAST_SETTLED = 0.6
"""A sine stands that near to its ends for 45 % of the time (arithmetic)."""
LEAST_HELD = 0.025
"""Of the time, at either level: a needle is no state."""
IGNITION_V, MOST_ON = 200.0, 0.3
"""No valve's clamp lets its wire go so high; and of a period, how long a coil is fed on most engines at most speeds
(common practice, no source)."""
LEAST_RISE = 0.1
"""Of the time under current: three time constants of a coil's rise leave a good third of it."""
LOWEST_COIL_A, HIGHEST_COIL_A = 0.08, 40.0


def wheel_speed(sight: Sight) -> Told | None:
    """Milliamperes at two levels, one twice or four times the other, neither of them zero; or their volts across a shunt."""
    levels = sight.levels
    if levels is None or not levels.two_states or sight.at_s.size < FEWEST_EDGES:
        return None
    if sight.channel.unit == "A":
        if not 4e-3 < levels.high < HIGHEST_SENSOR_A or levels.low < -LOWEST_SENSOR_A:
            return None
        told = (
            f"Stands at {1e3 * levels.low:.1f} and {1e3 * levels.high:.1f} mA: the currents of an active wheel sensor."
        )
        return 0.97 if levels.low > LOWEST_SENSOR_A else 0.8, told
    if not in_volts(sight) or not 0.2 < levels.low < HIGHEST_LOW_V or levels.high > HIGHEST_SHUNT_V:
        return None
    if sight.level_below(99.0) > HIGHEST_SHUNT_V:
        return None  # it goes where no sensor brings it
    ratio = levels.high / levels.low
    if evenness(sight) > 0.36 or sight.settled < 0.6 or np.percentile(sight.runs_s, 40) < SHORTEST_PULSE_S:
        return None
    told = (
        f"Two levels, {levels.low:.2f} and {levels.high:.2f} V: one is {ratio:.2g} times the other, as across a shunt."
    )
    if 1.6 < ratio < 2.5 or 3.3 < ratio < 4.7:
        return 0.97, told
    return (0.75, told) if 1.2 < ratio < 3.0 else None


def pwm(sight: Sight) -> Told | None:
    """Two levels, one near zero, like edges at even spacings."""
    levels = sight.levels
    if levels is None or not levels.two_states or not in_volts(sight) or sight.at_s.size < FEWEST_EDGES:
        return None
    # Where a coil flies back at each switching off, its level is the third one, and the lowest sample tells the low.
    lowest = levels.low if levels.low <= 0.35 * levels.high else levels.least
    if levels.high < max(1.0, 1.25 * levels.low) or abs(lowest) > 0.5 * levels.high:
        return None
    scatter = evenness(sight)
    period = float(np.median(sight.spacings_s(rising=True))) if sight.spacings_s(rising=True).size else 0.0
    if scatter > 0.15 or sight.settled < LEAST_SETTLED or period <= 0:
        return None
    widths = sight.runs_of(high=True)
    alike = 1.0 if float(np.median(np.abs(np.diff(widths)))) < UNLIKE * period else 0.65
    held = min(float(np.median(sight.runs_of(high=high))) for high in (True, False)) / period
    if held < LEAST_HELD:
        return None
    grounded = 1.0 if abs(lowest) < 0.2 * levels.high else 0.9 if abs(lowest) < 0.35 * levels.high else 0.68
    return (
        (0.85 - 1.5 * scatter) * min(1.0, sight.at_s.size / 24) * grounded * alike,
        f"Switches between {levels.low:.1f} and {levels.high:.1f} V at even {1 / period:.4g} Hz.",
    )


def coil(sight: Sight) -> Told | None:
    """Current pulses of a few amperes from nothing, or volts that fly back far above the supply at each switching off."""
    levels = sight.levels
    if levels is None or sight.at_s.size < 4 or not sight.slow.size:
        return None
    if sight.channel.unit == "A":
        if not LOWEST_COIL_A < levels.greatest < HIGHEST_COIL_A or levels.least < -0.2 * levels.greatest:
            return None
        if sight.level_below(10.0) > 0.25 * levels.greatest or levels.low > 0.15 * levels.greatest:
            return None
        if not _rises(sight):
            return (
                0.45,
                f"Steps of up to {levels.greatest:.2g} A, without the slow rise of a coil: a load that is switched.",
            )
        return 0.88, f"Pulses of up to {levels.greatest:.2g} A that begin at nothing."
    usual = sight.level_below(65.0)
    if not in_volts(sight) or not 8.0 <= usual <= 32.0:
        return None
    flies, low = (sight.level_below(99.97) - 4.0 * sight.noise) / usual, sight.level_below(2.0)
    # Most of the time it rests at the supply; at a coil's duty it is pulled down for more than a fiftieth of it.
    if flies < 1.3 or low > 0.62 * usual or evenness(sight) > 0.3 or sight.settled < 0.6:
        return None
    spacings = sight.spacings_s(rising=False)
    hz = 1.0 / max(float(np.median(spacings)), 1e-9) if spacings.size else 0.0
    told = (
        f"Rests at {usual:.1f} V, is pulled to {low:.1f} V {hz:.3g} times a second, and flies back to "
        f"{levels.greatest:.0f} V."
    )
    # A wire that switches a coil evenly is a switched wire too: how seldom and how shortly tells an injector from a valve.
    period = 1.0 / hz if hz > 0 else np.inf
    on = float(np.median(sight.runs_of(high=False))) / period
    if hz >= MOST_COIL_HZ:
        return 0.55, told
    if levels.greatest > IGNITION_V or on < MOST_ON or _rings(sight, low, usual):
        return 0.9, told
    return 0.72, told


def _rings(sight: Sight, low: float, usual: float) -> bool:
    """Whether it swings below the supply after flying back, again and again: a coil left to itself."""
    depth = usual - low
    if depth < 8.0 * sight.noise:
        return False

    def falls(share: float, swing: float) -> int:
        level = usual - share * depth
        found = find_edges(sight.channel.samples, low=level - swing * depth, high=level + swing * depth, level=level)
        return int(np.count_nonzero(~found.rising))

    return falls(0.15, 0.07) >= 1.4 * falls(0.6, 0.2)


def _rises(sight: Sight) -> bool:
    """Whether a current takes its time: a coil's rises slowly, or is held at less than its peak."""
    levels = sight.levels
    assert levels is not None
    values = sight.channel.samples.block(0, sight.channel.samples.size)
    most = levels.greatest
    active = values > 0.12 * most
    between = active & (values < 0.75 * most)
    return bool(np.count_nonzero(between) > LEAST_RISE * max(int(np.count_nonzero(active)), 1))
