"""What no sound CAN pair shows: the wires driven the wrong way round, or both moving together with nothing between them."""

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.can_bit_levels import read_at
from loomlight.signal.can_decode import Axis, CanTraffic
from loomlight.signal.can_wires import Mixed, Wires, resting
from loomlight.signal.edges import find_edges
from loomlight.signal.samples import Samples, Times, Wave, finite_range

SHORTEST_BITS = 0.6
CALM_BITS = 1.5
"""Since the last dominant bit."""
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
    tails : int
        Stretches that follow a dominant bit: its common mode dying away.
    """

    reversed_s: Times = field(repr=False)
    reversed_v: float
    together_s: Times = field(repr=False)
    together_v: float
    tails: int = 0


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


def oddities(wires: Wires, traffic: CanTraffic | None, axis: Axis, bit_s: float, common_v: float | None) -> Oddities:
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
    common_v : float or None
        Where both wires rest together, volts; None where one of them was not recorded.
    """
    found = _apart(wires, axis, bit_s)
    if wires.high is None or wires.low is None or common_v is None:
        return found
    return _together(found, wires, traffic, axis, common_v, bit_s)


def _apart(wires: Wires, axis: Axis, bit_s: float) -> Oddities:
    reversed_s, reversed_v = np.empty((0, 2)), 0.0
    rest = wires.rest
    if rest is not None and wires.form in ("both wires", "difference") and rest.least_v < rest.rest_v - REVERSED_V:
        turned = Mixed(wires.read, None, -1.0)
        reversed_s = _spans(turned, axis, 0.5 - rest.rest_v, REVERSED_V - rest.rest_v, bit_s)
        reversed_v = rest.below_v if len(reversed_s) else 0.0
    return Oddities(reversed_s, reversed_v, np.empty((0, 2)), 0.0)


def _together(
    found: Oddities, wires: Wires, traffic: CanTraffic | None, axis: Axis, common_v: float, bit_s: float
) -> Oddities:
    assert wires.high is not None
    assert wires.low is not None
    reach_v = finite_range(Mixed(wires.high, wires.low, 0.5, 0.5))
    best = found
    if reach_v is None:
        return best
    for sign, reach in ((1.0, reach_v[1] - common_v), (-1.0, common_v - reach_v[0])):
        if reach < TOGETHER_V:
            continue
        alone = _Together(wires.high, wires.low, common_v, sign)
        every = _spans(alone, axis, 0.5 * TOGETHER_V, TOGETHER_V, bit_s)
        if len(every) <= len(best.together_s):
            continue
        fresh = _fresh(every, wires, traffic, axis, common_v, bit_s)
        if fresh.sum() > len(best.together_s):
            level = resting(alone)
            volts = level.above_v if level is not None else reach
            tails = int((~fresh).sum())
            best = replace(found, together_s=every[fresh], together_v=sign * volts, tails=tails)
    return best


def _fresh(
    spans: Times, wires: Wires, traffic: CanTraffic | None, axis: Axis, common_v: float, bit_s: float
) -> npt.NDArray[np.bool_]:
    """Which are no tails: they begin while the common mode rests, or end a dominant bit in which it rested."""
    before = _away(wires, axis, spans[:, 0] - 0.7 * bit_s, common_v, bit_s) < 0.5 * TOGETHER_V
    if traffic is None:
        return before
    rises = np.concatenate([[-np.inf], traffic.line.rises_s])
    last = rises[np.searchsorted(rises, spans[:, 0] + 0.2 * bit_s, side="right") - 1]
    dominant, _ = traffic.line.dominant_at(spans[:, 0] - 0.2 * bit_s)
    calm = (spans[:, 0] - last > CALM_BITS * bit_s) & ~dominant
    in_bit = np.where(np.isfinite(last), last - 0.4 * bit_s, spans[:, 0])
    quiet = _away(wires, axis, in_bit, common_v, 0.5 * bit_s) < 0.5 * TOGETHER_V
    found: npt.NDArray[np.bool_] = np.where(calm, before, quiet & ~dominant)
    return found


def _away(wires: Wires, axis: Axis, times_s: Times, common_v: float, bit_s: float) -> Times:
    """How far the common mode is from rest around each time, whatever stands between the wires; volts."""
    assert wires.high is not None
    assert wires.low is not None
    places = np.rint((times_s - axis.start_s) / axis.step_s).astype(np.int64)
    order = np.argsort(places, kind="stable")
    reach = int(0.35 * bit_s / axis.step_s)
    found = np.empty(places.size)
    high, low = (read_at(one, places[order], reach) for one in (wires.high, wires.low))
    found[order] = np.abs(0.5 * (high + low) - common_v)
    return found


def _spans(samples: Samples, axis: Axis, below: float, above: float, bit_s: float) -> Times:
    edges = find_edges(samples, low=below, high=above)
    times = axis.start_s + edges.at * axis.step_s
    ups, downs = times[edges.rising], times[~edges.rising]
    if edges.starts_high:
        downs = downs[1:]
    count = min(ups.size, downs.size)
    spans = np.column_stack([ups[:count], downs[:count]])
    return spans[spans[:, 1] - spans[:, 0] >= SHORTEST_BITS * bit_s]
