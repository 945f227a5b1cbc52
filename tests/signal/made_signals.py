"""What made signals are: volts at any time, and how an entry of the library records them."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Row = npt.NDArray[np.float64]
Signal = Callable[[Row], Row]
"""Volts at any times, seconds."""
BEYOND = 0.5
"""Of its length: how far a signal goes on to either side of what an entry holds of it."""


@dataclass(frozen=True, eq=False)
class Made:
    """A signal, and how an entry records it."""

    signal: Signal
    length_s: float
    samples: int


def steps(edges_s: Row, *, first: float, low: float, high: float, rise: Row, fall: Row, step_s: float) -> Signal:
    """Two states that change at ``edges_s``; ``rise`` and ``fall`` run 0 to 1 and 1 to 0 in steps of ``step_s``."""

    def at(times_s: Row) -> Row:
        place = np.searchsorted(edges_s, times_s, side="right") - 1
        known = place >= 0
        since = np.where(known, times_s - edges_s[np.maximum(place, 0)], np.inf) / step_s
        up = place % 2 == (1 if first > 0.5 else 0)
        ends = np.arange(rise.size), np.arange(fall.size)
        shape = np.where(up, np.interp(since, ends[0], rise), np.interp(since, ends[1], fall))
        return low + (high - low) * np.where(known, shape, first)

    return at


def edge(slope: float = 8.0, count: int = 64) -> tuple[Row, Row]:
    rise = np.append(1.0 - np.exp(-np.arange(count - 1) / slope), 1.0)
    return rise, 1.0 - rise


def two_states(
    rng: np.random.Generator,
    edges_s: Row,
    shortest_s: float,
    *,
    first: float = 0.0,
    low: float = 0.0,
    high: float = 5.0,
) -> Signal:
    rise, fall = edge()
    speed = rng.uniform(0.004, 0.02) * shortest_s
    return steps(edges_s, first=first, low=low, high=high, rise=rise, fall=fall, step_s=speed)


def span(length_s: float) -> tuple[float, float]:
    return -BEYOND * length_s, (1.0 + BEYOND) * length_s


def wander(rng: np.random.Generator, length_s: float, *, knots: float, low: float, high: float) -> Signal:
    """A smooth curve through random points."""
    from scipy.interpolate import CubicSpline

    begin_s, stop_s = span(length_s)
    at = np.linspace(begin_s, stop_s, max(4, round(knots * (1 + 2 * BEYOND))))
    spline = CubicSpline(at, rng.uniform(low, high, at.size))
    return lambda times_s: np.clip(spline(times_s), low, high)


def turns_of(rng: np.random.Generator, length_s: float, hertz: float, unsteady: float) -> Signal:
    """Turns done by a shaft whose speed wanders."""
    begin_s, stop_s = span(length_s)
    at = np.linspace(begin_s - 0.1 * length_s, stop_s + 0.1 * length_s, 4000)
    speed = hertz * (1 + unsteady * wander(rng, length_s, knots=rng.uniform(4, 12), low=-1.0, high=1.0)(at))
    done = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(at))])
    return lambda times_s: np.interp(times_s, at, done)
