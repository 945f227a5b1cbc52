"""Wires that pulse: several ways to see their pulses, and what their spacings are like."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

import numpy as np
import numpy.typing as npt

from loomlight.signal.wire_live import living_part
from loomlight.signal.wire_looks import Look, Looks
from loomlight.signal.wire_sight import SETTLED_SHARE, Sight

Row = npt.NDArray[np.float64]
Told = tuple[float, str]

MOST_LOOKS = 5


def views(looks: Looks) -> list[Sight]:
    """The whole capture as it is, then between each two of its levels; and the same of the part in which it lives."""
    found = list(_views_of(looks))
    part = living_part(looks.sight)
    if part is not None:
        found += _views_of(Looks(part))
    return found


def _views_of(looks: Looks) -> Iterator[Sight]:
    yield looks.sight
    for look in islice(looks, MOST_LOOKS):
        yield _between(looks.sight, look)


def _between(sight: Sight, look: Look) -> Sight:
    levels = sight.levels
    assert levels is not None
    values = sight.channel.samples.block(0, sight.channel.samples.size)
    near = max(SETTLED_SHARE * (look.high - look.low), 3.0 * sight.noise)
    stands = np.minimum(np.abs(values - look.low), np.abs(values - look.high)) < near
    two = replace(levels, two_states=True, low=look.low, high=look.high)
    return replace(sight, levels=two, settled=float(np.mean(stands)), at_s=look.at_s, rising=look.rising)


def scatter_of(row: Row) -> float:
    """Median distance from the median, as a share of it; 1 where there is too little."""
    if row.size < 3:
        return 1.0
    middle = float(np.median(row))
    return float(np.median(np.abs(row - middle))) / middle if middle > 0 else 1.0


def evenness(sight: Sight) -> float:
    """`scatter_of` the spacings of rises or falls, whichever are more even."""
    return min(scatter_of(sight.spacings_s(rising=rising)) for rising in (True, False))


def in_volts(sight: Sight) -> bool:
    """Whether the channel is in volts, or does not say."""
    return sight.channel.unit in (None, "V")
