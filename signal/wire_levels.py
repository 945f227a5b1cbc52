"""At which levels a bus may stand: a first sieve, wide enough for a weak one."""

from collections.abc import Callable

from loomlight.signal.wire_sight import Sight

NONE, WHOLE = 0.0, 1.0


def _pulled_up(sight: Sight) -> float:
    """LIN and K-line: rests near the supply, is pulled towards ground."""
    levels = sight.levels
    if levels is None or sight.channel.unit not in (None, "V"):
        return NONE
    return WHOLE if levels.high >= 6.0 and levels.low <= 0.75 * levels.high else NONE


def _high_speed(sight: Sight) -> float:
    """One of the wires around 2.5 V, or the difference."""
    levels = sight.levels
    if levels is None or sight.channel.unit not in (None, "V"):
        return NONE
    return WHOLE if levels.low >= -3.0 and levels.high <= 6.5 else NONE


def _single_wire(sight: Sight) -> float:
    levels = sight.levels
    if levels is None or sight.channel.unit not in (None, "V"):
        return NONE
    return WHOLE if levels.low <= 1.5 and 2.5 <= levels.high <= 16.0 else NONE


def _low_speed(sight: Sight) -> float:
    levels = sight.levels
    if levels is None or sight.channel.unit not in (None, "V"):
        return NONE
    return WHOLE if levels.low <= 2.5 and 3.0 <= levels.high <= 6.0 else NONE


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
