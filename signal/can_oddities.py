"""What no sound CAN pair shows: the wires driven the wrong way round, or both moving together with nothing between them."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.signal.can_decode import Axis, CanTraffic
from loomlight.signal.can_wires import Mixed, Wires, resting
from loomlight.signal.edges import find_edges
from loomlight.signal.samples import Samples, Times, Wave

SHORTEST_BITS = 0.6
TOGETHER_V = 0.4
"""Both wires move by this much with less than that between them (common practice, no source)."""
REVERSED_V = 0.9
"""CAN-L above CAN-H by this much is a dominant bit for a node whose wires are exchanged (ISO 11898-2: 0.9 V)."""


@dataclass(frozen=True, eq=False)
class Oddities:
    """Stretches of at least `SHORTEST_BITS`.

    Attributes
    ----------
    reversed_s : ndarray, shape (n, 2)
        CAN-L clearly above CAN-H, seconds.
    reversed_v : float
        The usual voltage there; 0 where there is none.
    together_s : ndarray, shape (m, 2)
        Both wires away from rest alike, not as the tail of a dominant bit.
    together_v : float
        How far, with its sign; 0 where there is none.
    """

    reversed_s: Times = field(repr=False)
    reversed_v: float
    together_s: Times = field(repr=False)
    together_v: float


NONE = Oddities(np.empty((0, 2)), 0.0, np.empty((0, 2)), 0.0)


class _Together:
    """Common mode where nothing stands between the wires, else its rest."""

    def __init__(self, high: Samples, low: Samples, rest_v: float, sign: float) -> None:
        self._high, self._low, self._rest, self._sign = high, low, np.float32(rest_v), np.float32(sign)
        self.size = high.size

    def block(self, start: int, stop: int) -> Wave:
        high, low = self._high.block(start, stop), self._low.block(start, stop)
        away = self._sign * (np.float32(0.5) * (high + low) - self._rest)
        return np.where(np.abs(high - low) < TOGETHER_V, away, np.float32(0.0))


def oddities(wires: Wires, traffic: CanTraffic | None, axis: Axis, bit_s: float) -> Oddities:
    """Look for both over the whole capture.

    Parameters
    ----------
    wires : Wires
        What was recorded.
    traffic : CanTraffic or None
        Tells where the line was dominant.
    axis : Axis
        Of the samples.
    bit_s : float
        Bit time, seconds.
    """
    reversed_s, reversed_v = np.empty((0, 2)), 0.0
    rest = wires.rest
    if rest is not None and wires.form in ("both wires", "difference") and rest.least_v < rest.rest_v - REVERSED_V:
        turned = Mixed(wires.read, None, -1.0)
        reversed_s = _spans(turned, axis, 0.5 - rest.rest_v, REVERSED_V - rest.rest_v, bit_s)
        reversed_v = rest.below_v if len(reversed_s) else 0.0
    if wires.high is None or wires.low is None:
        return Oddities(reversed_s, reversed_v, np.empty((0, 2)), 0.0)
    common = resting(Mixed(wires.high, wires.low, 0.5, 0.5))
    best = Oddities(reversed_s, reversed_v, np.empty((0, 2)), 0.0)
    if common is None:
        return best
    for sign, reach in ((1.0, common.greatest_v - common.rest_v), (-1.0, common.rest_v - common.least_v)):
        if reach < TOGETHER_V:
            continue
        alone = _Together(wires.high, wires.low, common.rest_v, sign)
        spans = _fresh(_spans(alone, axis, 0.5 * TOGETHER_V, TOGETHER_V, bit_s), traffic, bit_s)
        if len(spans) > len(best.together_s):
            level = resting(alone)
            volts = level.above_v if level is not None else reach
            best = Oddities(reversed_s, reversed_v, spans, sign * volts)
    return best


def _spans(samples: Samples, axis: Axis, below: float, above: float, bit_s: float) -> Times:
    edges = find_edges(samples, low=below, high=above)
    times = axis.start_s + edges.at * axis.step_s
    ups, downs = times[edges.rising], times[~edges.rising]
    if edges.starts_high:
        downs = downs[1:]
    count = min(ups.size, downs.size)
    spans = np.column_stack([ups[:count], downs[:count]])
    return spans[spans[:, 1] - spans[:, 0] >= SHORTEST_BITS * bit_s]


def _fresh(spans: Times, traffic: CanTraffic | None, bit_s: float) -> Times:
    """Those that begin from rest: what follows a dominant bit may be its common mode dying away."""
    if traffic is None or not len(spans):
        return spans
    rises = np.concatenate([[-np.inf], traffic.line.rises_s])
    since = spans[:, 0] - rises[np.searchsorted(rises, spans[:, 0] + 0.2 * bit_s, side="right") - 1]
    dominant, _ = traffic.line.dominant_at(spans[:, 0] - 0.2 * bit_s)
    return spans[(since > 1.5 * bit_s) & ~dominant]
