"""Which wire of a CAN pair a channel is, and the voltage that frames are read from."""

import math
import re
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.errors import CannotUse
from loomlight.signal.samples import Samples, Wave, blocks, finite_range

Wire = Literal["both wires", "difference", "CAN-H", "CAN-L"]
BINS = 4096
WINDOW = 48
"""Bins that count as one level: a converter's steps leave combs."""
TAIL_SHARE = 2e-4
NOISE_SAMPLES = 65_536
HIGH_NAME = re.compile(r"can[\s_.-]*h(?!z)|\bhigh\b|_h\b|\bch?an[\s_-]*high", re.IGNORECASE)
LOW_NAME = re.compile(r"can[\s_.-]*l|\blow\b|_l\b", re.IGNORECASE)
USUAL_SHARE = 0.1
"""Of the samples, from which on the usual resting level is taken for the rest."""
WIRE_REST_V, DIFFERENCE_REST_V = (1.9, 3.1), (-0.4, 0.4)
"""Where a wire and the difference rest (data sheet: 2.0 to 3.0 V, and about 0 V), with room for the instrument."""
SMALL_REACH_V, LARGE_REACH_V = 0.35, 8.0
"""A wire moves by one to two volts, ringing included."""
ACTIVE_SHARE = 3e-4
"""Samples away from rest, as a share, from which on something talks."""
LEAST_SWING_V, CLEAR_SWING_V = 0.03, 0.6


class Mixed:
    """One row times a factor plus another times a second one: the difference of a pair, or one wire turned over.

    Parameters
    ----------
    one, other : Samples
        Of the same size.
    first, second : float
        The factors.
    """

    def __init__(self, one: Samples, other: Samples | None, first: float, second: float = 0.0) -> None:
        self._one, self._other, self._first, self._second = one, other, np.float32(first), np.float32(second)
        self.size = one.size if other is None else min(one.size, other.size)

    def block(self, start: int, stop: int) -> Wave:
        """Samples ``start`` to ``stop``."""
        values = self._one.block(start, stop) * self._first
        return values if self._other is None else values + self._other.block(start, stop) * self._second


SELDOM = 0.02
"""Share of the samples at either end that ringing may take."""


@dataclass(frozen=True)
class Rest:
    """Where a row of samples stands most of the time, and where else.

    Attributes
    ----------
    rest_v, spread_v : float
        The most frequent level, and the standard deviation around it.
    above_v, below_v : float
        The most frequent level clearly above it, and below; the resting level itself where there is none.
    above_share, below_share : float
        Shares of the samples clearly above and below.
    least_v, greatest_v : float
        Range of the finite samples.
    noise_v : float
        Standard deviation from sample to sample: what moves slowly, or seldom, is not in it.
    foot_v, top_v : float
        What all but 2 % of the samples stay above, and below.
    """

    rest_v: float
    spread_v: float
    above_v: float
    below_v: float
    above_share: float
    below_share: float
    least_v: float
    greatest_v: float
    noise_v: float = 0.0
    foot_v: float = math.nan
    top_v: float = math.nan

    @property
    def talks(self) -> bool:
        """Whether the line leaves its rest often enough, and far enough from its noise."""
        swing = max(self.above_v - self.rest_v, self.rest_v - self.below_v)
        doubt = self.noise_v if swing > CLEAR_SWING_V else self.spread_v  # hum and drift are small
        return max(self.above_share, self.below_share) >= ACTIVE_SHARE and swing > max(6.0 * doubt, LEAST_SWING_V)


def resting(samples: Samples, usual: tuple[float, float] | None = None) -> Rest | None:
    """Levels by the histogram: a CAN bus is recessive more than half of the time.

    Parameters
    ----------
    samples : Samples
        Walked twice.
    usual : tuple of float, optional
        Where a sound line rests, volts: what stands there often enough is the rest, even where another level is more frequent
        (a pair that several nodes keep busy around the clock).

    Returns
    -------
    Rest or None
        None where no sample is finite.
    """
    reach = finite_range(samples)
    if reach is None:
        return None
    low, high = reach
    if high - low < 1e-6:
        return Rest(low, 0.0, low, low, 0.0, 0.0, low, high)
    counts = np.zeros(BINS, dtype=np.int64)
    for _, values in blocks(samples):
        counts += np.histogram(values[np.isfinite(values)], bins=BINS, range=(low, high))[0]
    width = (high - low) / BINS
    centres = low + (np.arange(BINS) + 0.5) * width
    place = _fullest(counts)
    if usual is not None and not usual[0] <= centres[place] <= usual[1]:
        inside = np.where((centres >= usual[0]) & (centres <= usual[1]), counts, 0)
        if inside.sum() > USUAL_SHARE * counts.sum():
            place = _fullest(inside)
    near = slice(max(place - WINDOW, 0), place + WINDOW)
    rest_v = float(counts[near] @ centres[near] / max(counts[near].sum(), 1))
    return replace(_around(counts, centres, rest_v, low, high), noise_v=_noise(samples))


def _noise(samples: Samples) -> float:
    steps = np.abs(np.diff(samples.block(0, min(samples.size, NOISE_SAMPLES))))
    steps = steps[np.isfinite(steps)]
    return 1.4826 * float(np.median(steps)) / math.sqrt(2.0) if steps.size else 0.0


def _fullest(counts: np.ndarray) -> int:
    running = np.concatenate([[0], np.cumsum(counts)])
    half = WINDOW // 2
    sums = running[2 * half :] - running[: -2 * half]
    return int(np.argmax(sums)) + half


def _around(counts: np.ndarray, centres: np.ndarray, rest_v: float, low: float, high: float) -> Rest:
    total = counts.sum()
    share = np.cumsum(counts) / total
    top = float(centres[min(int(np.searchsorted(share, 1.0 - TAIL_SHARE)), BINS - 1)])
    bottom = float(centres[int(np.searchsorted(share, TAIL_SHARE))])
    reach = max(top - rest_v, rest_v - bottom)
    near = np.abs(centres - rest_v) < 0.22 * reach
    spread = float(np.sqrt(counts[near] @ (centres[near] - rest_v) ** 2 / max(counts[near].sum(), 1)))
    apart = max(0.3 * reach, 3.0 * spread)
    levels, shares = [], []
    for side in (centres > rest_v + apart, centres < rest_v - apart):
        own = np.where(side, counts, 0)
        shares.append(float(own.sum() / total))
        if own.any():
            place = _fullest(own)
            around = slice(max(place - WINDOW, 0), place + WINDOW)
            levels.append(float(own[around] @ centres[around] / max(own[around].sum(), 1)))
        else:
            levels.append(rest_v)
    ends = (float(centres[min(int(np.searchsorted(share, one)), BINS - 1)]) for one in (SELDOM, 1.0 - SELDOM))
    foot_v, top_v = ends
    found = Rest(rest_v, spread, levels[0], levels[1], shares[0], shares[1], low, high)
    return replace(found, foot_v=foot_v, top_v=top_v)


class _WhileResting:
    """One wire where the difference rests; not-a-number elsewhere."""

    def __init__(self, wire: Samples, difference: Samples, rest: Rest) -> None:
        self._wire, self._difference = wire, difference
        self._middle = np.float32(rest.rest_v)
        self._reach = np.float32(max(3.0 * rest.spread_v, 0.12 * (rest.above_v - rest.rest_v)))
        self.size = difference.size

    def block(self, start: int, stop: int) -> Wave:
        away = np.abs(self._difference.block(start, stop) - self._middle)
        return np.where(away < self._reach, self._wire.block(start, stop), np.float32(np.nan))


def wire_rest(wire: Samples, wires: "Wires") -> Rest | None:
    """Levels of one wire of a pair; its rest is where it stands while the difference rests."""
    own = resting(wire)
    if own is None or wires.rest is None or not wires.rest.talks:
        return own
    still = resting(_WhileResting(wire, wires.read, wires.rest), WIRE_REST_V)
    return replace(own, rest_v=still.rest_v) if still is not None else own


@dataclass(frozen=True, eq=False)
class Wires:
    """What was recorded of a pair, ready to be read.

    Attributes
    ----------
    form : str
        `Wire`: what the judged channel is.
    high, low : Samples or None
        The two wires, where recorded.
    read : Samples
        What frames are read from: rests low, dominant high.
    rest : Rest or None
        Of ``read``; None where nothing is finite.
    is_upside_down : bool
        The recorded difference is CAN-L minus CAN-H.
    named_otherwise : bool
        Both wires were recorded, and each carries what the other's name says.
    """

    form: Wire
    high: Samples | None = field(repr=False)
    low: Samples | None = field(repr=False)
    read: Samples = field(repr=False)
    rest: Rest | None
    is_upside_down: bool = False
    named_otherwise: bool = False


def wires_of(channel: Channel, other: Channel | None) -> Wires:
    """Tell what the channel is: by the other wire beside it, by its name, by its levels.

    Raises
    ------
    CannotUse
        If the other wire was not recorded together with it.
    """
    if other is not None:
        return _pair(channel, other)
    hint = _named(channel.name)
    if hint == "CAN-L":
        turned, turned_rest = _turned(channel.samples)
        if turned_rest is not None and turned_rest.talks and turned_rest.above_share >= turned_rest.below_share:
            return Wires("CAN-L", None, channel.samples, turned, turned_rest)
    rest = resting(channel.samples)
    if rest is not None and (hint == "CAN-H" or not DIFFERENCE_REST_V[0] < rest.rest_v < DIFFERENCE_REST_V[1]):
        rest = resting(channel.samples, _usual_rest(rest))
    if rest is None or not rest.talks:
        level = rest.rest_v if rest is not None else 0.0
        form: Wire = hint or ("difference" if abs(level) < 0.8 else "CAN-H")
        if form == "CAN-L":
            return Wires("CAN-L", None, channel.samples, *_turned(channel.samples))
        return Wires(form, None, None, channel.samples, rest)
    up = rest.above_share >= rest.below_share
    if not up and (hint == "CAN-L" or (hint is None and rest.rest_v > 0.8)):
        return Wires("CAN-L", None, channel.samples, *_turned(channel.samples))
    if up and (hint == "CAN-H" or (hint is None and rest.rest_v > 0.8)):
        return Wires("CAN-H", channel.samples, None, channel.samples, rest)
    if hint is not None:
        return _odd(hint, channel.samples, rest)
    if up:
        return Wires("difference", None, None, channel.samples, rest)
    return Wires("difference", None, None, *_turned(channel.samples), is_upside_down=True)


def _usual_rest(rest: Rest) -> tuple[float, float]:
    """Where the wire would rest; a tenth or ten times of it where the swing says that a probe's factor is off."""
    reach = rest.greatest_v - rest.least_v
    factor = 0.1 if reach < SMALL_REACH_V else 10.0 if reach > LARGE_REACH_V and rest.least_v > 0 else 1.0
    return factor * WIRE_REST_V[0], factor * WIRE_REST_V[1]


def _odd(hint: Wire, samples: Samples, rest: Rest) -> Wires:
    """One wire that seems to move the other way than its name says: it rests where it stays longest at a time."""
    down = rest.below_share > rest.above_share
    other_v = rest.below_v if down else rest.above_v
    if _stays_longer_low(samples, min(rest.rest_v, other_v), max(rest.rest_v, other_v)):
        if down:  # dominant most of the time: a busy bus
            rest = replace(rest, rest_v=rest.below_v, above_v=rest.rest_v, above_share=1.0 - rest.below_share)
            rest = replace(rest, below_v=rest.rest_v, below_share=0.0)
        return Wires("CAN-H", samples, None, samples, rest, named_otherwise=hint != "CAN-H")
    turned, own = _turned(samples)
    if own is not None and not down:
        own = replace(own, rest_v=-other_v, above_v=-rest.rest_v, above_share=1.0 - rest.above_share)
    return Wires("CAN-L", None, samples, turned, own, named_otherwise=hint != "CAN-L")


def _stays_longer_low(samples: Samples, low_v: float, high_v: float) -> bool:
    """Whether the longest stretch is one at the lower level: a CAN bus is dominant for twelve bits at most, and rests longer."""
    quarter = 0.25 * (high_v - low_v)
    edges = find_edges(samples, low=low_v + quarter, high=high_v - quarter)
    lengths = np.diff(edges.at)
    if lengths.size < 3:
        return True
    after_rise = edges.rising[:-1]
    return float(lengths[~after_rise].max(initial=0.0)) >= float(lengths[after_rise].max(initial=0.0))


def _turned(samples: Samples) -> tuple[Samples, Rest | None]:
    turned = Mixed(samples, None, -1.0)
    return turned, resting(turned, (-WIRE_REST_V[1], -WIRE_REST_V[0]))


def _pair(channel: Channel, other: Channel) -> Wires:
    if other.form != "even" or other.samples.size != channel.samples.size or other.step_s != channel.step_s:
        raise CannotUse(
            f"{other.name!r} was not recorded together with {channel.name!r} (other times or another number of samples). "
            "Choose the other wire from the same recording."
        )
    difference = Mixed(channel.samples, other.samples, 1.0, -1.0)
    rest = resting(difference, DIFFERENCE_REST_V)
    hint, second = _named(channel.name), _named(other.name)
    named = "high" if hint == "CAN-H" or second == "CAN-L" else "low" if hint == "CAN-L" or second == "CAN-H" else ""
    if rest is None or not rest.talks:
        is_high = named != "low"
    else:
        # A node with swapped wires moves the pair the wrong way too: what most of the samples do counts.
        is_high = rest.above_share >= rest.below_share
    if is_high:
        return Wires("both wires", channel.samples, other.samples, difference, rest, named_otherwise=named == "low")
    turned = Mixed(other.samples, channel.samples, 1.0, -1.0)
    return Wires(
        "both wires",
        other.samples,
        channel.samples,
        turned,
        resting(turned, DIFFERENCE_REST_V),
        named_otherwise=named == "high",
    )


def _named(name: str) -> Wire | None:
    high, low = bool(HIGH_NAME.search(name)), bool(LOW_NAME.search(name))
    if "diff" in name.casefold() or high == low:
        return None
    return "CAN-H" if high else "CAN-L"
