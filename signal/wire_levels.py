"""At which levels a bus may stand: a first sieve, wide enough for a weak one."""

from collections.abc import Callable

import numpy as np

from loomlight.signal.wire_sight import Sight

NONE, LESS, RARE, WHOLE = 0.0, 0.6, 0.8, 1.0
HIGH_SPEED_V = 3.1
"""A high-speed pair's difference is at most 3 V dominant (ISO 11898-2)."""
SINGLE_WIRE_RATES = (33_333.0, 83_333.0)
"""SAE J2411, as an association of users prints them."""
SLOW_BIT_S = 11e-6
"""Single-wire CAN has 33.3 or 83.3 kbit/s (SAE J2411), low-speed CAN as a rule 100 or 125 (common practice, no source)."""


def _pulled_up(sight: Sight) -> float:
    """LIN and K-line: rests near the supply, is pulled towards ground."""
    levels = sight.levels
    if levels is None or sight.channel.unit not in (None, "V"):
        return NONE
    return WHOLE if levels.high >= 6.0 and levels.low <= 0.75 * levels.high else NONE


def _high_speed(sight: Sight) -> float:
    """One of the wires around 2.5 V, or the difference: neither moves by more than 3 V."""
    levels = sight.levels
    if levels is None or sight.channel.unit not in (None, "V") or levels.low < -3.0 or levels.high > 6.5:
        return NONE
    return WHOLE if levels.amplitude <= HIGH_SPEED_V else LESS


def _single_wire(sight: Sight) -> float:
    """Rests at ground, moves by some 4 V, and is slow."""
    levels = sight.levels
    if levels is None or sight.channel.unit not in (None, "V") or levels.low > 1.5 or not 2.5 <= levels.high <= 16.0:
        return NONE
    return WHOLE if not _rests_high(sight) and _shortest_s(sight) > SLOW_BIT_S else LESS


def _low_speed(sight: Sight) -> float:
    """Moves by 3 V and more between ground and 5 V; CANL rests high, and CANH alone is as a rule faster than single-wire CAN."""
    levels = sight.levels
    if levels is None or sight.channel.unit not in (None, "V") or levels.low > 2.5 or not 3.0 <= levels.high <= 6.0:
        return NONE
    if levels.amplitude <= HIGH_SPEED_V:
        return LESS
    return WHOLE if _rests_high(sight) or _shortest_s(sight) <= SLOW_BIT_S else LESS


def rate_likely(kind: str, bit_rate: float | None) -> float:
    """How likely a bit rate is: that of single-wire CAN is hardly another's."""
    if kind != "can" or bit_rate is None:
        return WHOLE
    return RARE if any(abs(bit_rate / usual - 1.0) < 0.03 for usual in SINGLE_WIRE_RATES) else WHOLE


def _shortest_s(sight: Sight) -> float:
    """A low estimate of the usual distance between edges: about a bit."""
    apart = np.diff(sight.at_s)
    return float(np.percentile(apart, 10)) if apart.size else 0.0


def _rests_high(sight: Sight) -> bool:
    """Whether the line stands high in its longest pauses."""
    apart = np.diff(sight.at_s)
    if not apart.size:
        return False
    longest = np.argsort(apart)[-3:]
    return bool(np.count_nonzero(sight.rising[longest]) >= 2)


def _sensor(sight: Sight) -> float:
    levels = sight.levels
    if levels is None or sight.channel.unit not in (None, "V"):
        return NONE
    # A short leaves other levels than 0 V and 5 V, and a row of frames whose check is right is still hardly chance.
    return WHOLE


LEVELS: dict[str, Callable[[Sight], float]] = {
    "lin": _pulled_up,
    "k-line": _pulled_up,
    "can": _high_speed,
    "can-single-wire": _single_wire,
    "can-low-speed": _low_speed,
    "sent": _sensor,
}
"""How likely the levels are, by kind: 0 to 1."""
