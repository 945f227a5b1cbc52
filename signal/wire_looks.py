"""Several ways to see the edges of one wire: a fault moves its levels, spikes and lost contacts add others."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.can_line import CanLine, without_glitches
from loomlight.signal.edges import find_edges
from loomlight.signal.level_hills import level_hills
from loomlight.signal.line_states import LineStates
from loomlight.signal.samples import PartOf
from loomlight.signal.wire_sight import Sight

Row = npt.NDArray[np.float64]

MOST_EDGES = 3000
"""Of a look: enough for some twenty frames of any bus."""
GLANCE = 1 << 18
"""Samples whose histogram shows the levels."""
LEAST_STEPS = 3.5
"""Levels nearer than this many steps of the converter are its own play."""
LEAST_SIGMAS = 5.0
SAME = 0.12
"""Of the amplitude: levels that differ by less are the same look."""
FEWEST = 10
SHARES = (0.5, 0.8, 0.25)
"""Where between the levels edges are timed: half way; near the upper or the lower one where slow edges do not reach the other."""
GLITCH_SHARE, GLITCHES = 0.2, 0.04
"""A stretch shorter than this share of the median one is a spike's; from so many on edges are looked at without them."""
WIDEST = 0.12
"""Of the hills' reach: what spreads further is no level but the feet of spikes."""


@dataclass(frozen=True, eq=False)
class Look:
    """Edges between two levels.

    Attributes
    ----------
    low, high : float
        The two levels, in the channel's unit.
    at_s : ndarray of float64, shape (n,)
        Edges, seconds; at most `MOST_EDGES`.
    rising : ndarray of bool, shape (n,)
        Which of them rise.
    stop_s : float
        Up to where edges were taken.
    """

    low: float
    high: float
    at_s: Row = field(repr=False)
    rising: npt.NDArray[np.bool_] = field(repr=False)
    stop_s: float

    @property
    def runs_s(self) -> Row:
        """Lengths between edges, seconds."""
        found: Row = np.diff(self.at_s)
        return found

    def begin(self, most: int) -> "Look":
        """The first edges of it, ``most`` at most."""
        if self.at_s.size <= most:
            return self
        return Look(self.low, self.high, self.at_s[:most], self.rising[:most], float(self.at_s[most]))

    def states(self, start_s: float) -> LineStates:
        """The stretches between the edges, levels and edge times not measured."""
        bounds = np.concatenate([[start_s], self.at_s, [self.stop_s]])
        high = np.concatenate([[not self.rising[0]], self.rising])
        unknown = np.full(high.size, np.nan)
        return LineStates(bounds[:-1], bounds[1:], high, unknown, unknown)


class Looks:
    """All ways in which a wire has edges, the most likely first; each is taken once, and only when it is asked for.

    Parameters
    ----------
    sight : Sight
        Of the channel.
    """

    def __init__(self, sight: Sight) -> None:
        self.sight = sight
        self._taken: list[Look] = []
        self._more = _looks(sight)

    def __iter__(self) -> Iterator[Look]:
        place = 0
        while True:
            if place == len(self._taken):
                one = next(self._more, None)
                if one is None:
                    return
                self._taken.append(one)
            yield self._taken[place]
            place += 1


def _looks(sight: Sight) -> Iterator[Look]:
    pairs = _pairs(sight)
    for share in SHARES:
        for low, high in pairs:
            found = _look(sight, low, high, share)
            if found is None:
                continue
            yield found
            calm = _without_glitches(found)
            if calm is not None:
                yield calm


def _pairs(sight: Sight) -> list[tuple[float, float]]:
    levels = sight.levels
    if levels is None:
        return []
    least = max(LEAST_STEPS * sight.step, LEAST_SIGMAS * sight.noise)
    found: list[tuple[float, float]] = []

    def add(one: float, other: float) -> None:
        low, high = min(one, other), max(one, other)
        near = SAME * (high - low)
        if high - low > least and not any(abs(low - a) < near and abs(high - b) < near for a, b in found):
            found.append((low, high))

    if levels.two_states:
        add(levels.low, levels.high)
    hills = level_hills(_glance(sight))
    reach = max((abs(one.level - hills[0].level) for one in hills), default=0.0)
    hills = [one for one in hills if one.spread <= max(WIDEST * reach, 2.0 * sight.noise)]
    if hills:
        # A bus rests most of the time, and what moves it first is its own; beyond that are two talkers at once, and spikes.
        rest = hills[0].level
        for beside in ([one for one in hills if one.level > rest], [one for one in hills if one.level < rest]):
            clear = [one for one in beside if abs(one.level - rest) > least]
            if clear:
                add(rest, min(clear, key=lambda one: abs(one.level - rest)).level)
                add(rest, max(clear, key=lambda one: one.share).level)
    if len(hills) > 1:
        add(hills[0].level, hills[1].level)
    return found


def _glance(sight: Sight) -> npt.NDArray[np.float32]:
    size = sight.channel.samples.size
    first = max((size - GLANCE) // 2, 0)
    values = sight.channel.samples.block(first, min(first + GLANCE, size))
    known: npt.NDArray[np.float32] = values[np.isfinite(values)]
    return known


def _look(sight: Sight, low: float, high: float, share: float) -> Look | None:
    channel, amplitude = sight.channel, high - low
    assert channel.step_s is not None
    swing = max(0.2 * amplitude, min(4.0 * sight.noise, 0.4 * amplitude))
    middle = low + float(np.clip(share, 0.1 + swing / amplitude / 2, 0.93 - swing / amplitude / 2)) * amplitude
    edges = find_edges(channel.samples, low=middle - swing / 2, high=middle + swing / 2, level=middle)
    if edges.at.size < FEWEST:
        return None
    at_s = channel.start_s + edges.at * channel.step_s
    stop_s = float(at_s[MOST_EDGES]) if at_s.size > MOST_EDGES else channel.stop_s
    return Look(low, high, at_s[:MOST_EDGES], edges.rising[:MOST_EDGES], stop_s)


def _without_glitches(look: Look) -> Look | None:
    """The same edges without pairs that stand close together; None where there are hardly any."""
    shortest_s = GLITCH_SHARE * float(
        np.median(look.runs_s[look.runs_s > GLITCH_SHARE * np.percentile(look.runs_s, 80)])
    )
    return cleaned(look, shortest_s) if np.mean(look.runs_s < shortest_s) >= GLITCHES else None


def cleaned(look: Look, shortest_s: float) -> Look | None:
    """The same edges without stretches shorter than ``shortest_s``; None where too few are left."""
    if not np.any(look.runs_s < shortest_s):
        return look
    starts_low = bool(look.rising[0])
    line = without_glitches(CanLine(look.at_s, starts_low, float(look.at_s[0]), look.stop_s), shortest_s)
    if line.edges_s.size < FEWEST:
        return None
    rising = (np.arange(line.edges_s.size) % 2 == 0) == starts_low
    return Look(look.low, look.high, line.edges_s, rising, look.stop_s)


def part_of(sight: Sight, stop_s: float) -> PartOf:
    """The samples up to a time."""
    step_s = sight.channel.step_s
    assert step_s is not None
    last = round((stop_s - sight.channel.start_s) / step_s)
    return PartOf(sight.channel.samples, 0, min(max(last, 1), sight.channel.samples.size))
