"""Several good captures of one entry, laid on the first, become a tolerance band."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.bus_frames import BusFrame
from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.listing import kind_named
from loomlight.signal.laid_fit import own_values
from loomlight.signal.laid_values import deviation_values, good_values
from loomlight.signal.lineup import LineUp, refused
from loomlight.signal.noise import noise_of
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import BLOCK, FloatSamples, Wave, counted_of, evenly
from loomlight.signal.tolerance import CONFIDENCE, COVERAGE, settled_factor, tolerance_factor
from loomlight.signal.tolerance_band import Envelope, LeftOut
from loomlight.signal.ways import Sides, line_up_by

Rows = npt.NDArray[np.float64]

MOST_POINTS = 1_000_000
"""Points of an envelope; of a longer reference each stands for several samples."""
WINDOWS = (9, 65)
"""Instants over which the spread is taken: what one instant tells is mostly luck."""
BY_NOISE = 2.5
"""Deviations by which a spread has to stand above what noise alone makes of it."""
TIMED = 32
"""Instants in which the shift of one capture against the others is measured at a time."""
SAME_FIT, SAME_OVERLAP = 0.95, 0.5
"""Fit, and share of the shorter, from which a capture of the entry is taken although chance cannot be ruled out."""
FEW = 4
"""Fewer captures than this are called few."""


@dataclass(frozen=True, eq=False)
class Members:
    """Captures of one entry, and how each lies on the first.

    Attributes
    ----------
    channels : tuple of Channel
        The first is the reference.
    lineups : tuple of LineUp
        Of each; the reference's own lays it on itself.
    frames : tuple of BusFrame
        Of the reference, where the kind carries frames.
    """

    channels: tuple[Channel, ...]
    lineups: tuple[LineUp, ...] = field(repr=False)
    frames: tuple[BusFrame, ...] = field(default=(), repr=False)

    @property
    def usable(self) -> list[int]:
        """Places of those that lie on the first, the right way up."""
        return [place for place, one in enumerate(self.lineups) if one.accepted and one.polarity > 0]

    def left_out(self) -> tuple[LeftOut, ...]:
        """The others, with the reason."""
        return tuple(
            LeftOut(
                place, one.reason if not one.accepted else "It stands upside down: the probe was the other way round."
            )
            for place, one in enumerate(self.lineups)
            if place not in self.usable
        )


def laid_on_first(
    channels: Sequence[Channel], *, kind: str, conditions: Conditions, progress: Progress = unwatched
) -> Members:
    """Line each capture up with the first, by the way that its signal kind wants.

    Parameters
    ----------
    channels : sequence of Channel
        At least one, in the same unit.
    kind : str
        Key of the signal kind.
    conditions : Conditions
        Of judging; what belongs to one recording is left aside.
    progress : Progress
        0 to 1.

    Raises
    ------
    CannotUse
        If the first has no even step, or its kind cannot work on it.
    """
    first = channels[0]
    if first.step_s is None:
        raise CannotUse(f"{first.name!r} has no even time step; an envelope needs one. Choose another first capture.")
    frames = _frames(first, kind, conditions, part(progress, 0.0, 1.0 / len(channels)))
    members = Members((first,), (_on_itself(first),), frames)
    for place, other in enumerate(channels[1:], start=1):
        watch = part(progress, place / len(channels), (place + 1) / len(channels))
        members = with_one_more(members, other, kind=kind, conditions=conditions, progress=watch)
    return members


def with_one_more(
    members: Members, capture: Channel, *, kind: str, conditions: Conditions, progress: Progress = unwatched
) -> Members:
    """The same captures and one more; parameters and errors as `laid_on_first`."""
    signal_kind = kind_named(kind)
    try:
        theirs = _frames(capture, kind, conditions, part(progress, 0.0, 0.4))
        sides = Sides(signal_kind.title, signal_kind.by, members.frames, theirs)
        lineup = line_up_by(members.channels[0], capture, sides, progress=part(progress, 0.4, 1.0))
    except CannotUse as error:
        lineup = refused("shape", str(error))
    if not lineup.accepted and _fits_as_one_of(members.channels[0], capture, lineup):
        told = f"Fit {lineup.fit:.2f}, which is enough for two captures of one entry."
        lineup = replace(lineup, accepted=True, reason=told)
    return replace(members, channels=(*members.channels, capture), lineups=(*members.lineups, lineup))


def _fits_as_one_of(first: Channel, capture: Channel, lineup: LineUp) -> bool:
    """A slow signal has too little in it to rule chance out; that it is the same is known from the entry."""
    shorter_s = min(first.stop_s - first.start_s, capture.stop_s - capture.start_s)
    return lineup.by == "shape" and lineup.fit >= SAME_FIT and lineup.overlap_s >= SAME_OVERLAP * shorter_s


def _frames(channel: Channel, kind: str, conditions: Conditions, progress: Progress) -> tuple[BusFrame, ...]:
    """Only of kinds that are laid by frame: the others need no look at what the wire carries."""
    signal_kind = kind_named(kind)
    if signal_kind.by != "frame":
        return ()
    alone = replace(conditions, same_moment=False, supply_v=None, besides=())
    return signal_kind.frames(signal_kind.examine(channel, alone, progress))


def _on_itself(channel: Channel) -> LineUp:
    span_s = channel.stop_s - channel.start_s
    return LineUp(True, "shape", 0.0, 1.0, 1.0, 1.0, 1, span_s, None, 1.0, 0.0, "It is the first.")


def envelope_of(members: Members, progress: Progress = unwatched) -> Envelope:
    """Make the band.

    At each instant: the mean of the captures, and either way of it a normal tolerance interval for 99 % of all good
    captures at 95 % confidence, from the spread between them; never less than their noise and one converter step ask for.
    Both ends are taken over the time that edges may come earlier or later.

    Parameters
    ----------
    members : Members
        Two at least that lie on each other.
    progress : Progress
        0 to 1.

    Raises
    ------
    CannotUse
        If fewer than two captures can be laid on each other.
    """
    used = members.usable
    if len(used) < 2:
        why = "; ".join(one.reason for one in members.left_out())
        raise CannotUse(f"An envelope needs two good captures that can be laid on each other. {why}".strip())
    noise = math.sqrt(sum(noise_of(members.channels[place]) ** 2 for place in used) / len(used))
    gathered = _gathered(members, used, noise, progress)
    return _banded(members, used, gathered, noise)


@dataclass(frozen=True, eq=False)
class _Gathered:
    """One number a point: lowest and highest mean, least and greatest value, spread, count; and the scatter in time."""

    low: Wave
    high: Wave
    least: Wave
    greatest: Wave
    spread: Wave
    count: Wave
    bucket: int
    timing_s: float


def _gathered(members: Members, used: list[int], noise: float, progress: Progress) -> _Gathered:
    first = members.channels[0]
    bucket = max(1, math.ceil(first.intervals / MOST_POINTS))
    length = max(bucket, 2 * BLOCK // len(used) // bucket * bucket)
    parts: list[list[Wave]] = []
    timing = np.zeros(3)
    for begin, values in laid_rows(members, used, length, progress):
        known = np.isfinite(values)
        count = known.sum(axis=0)
        some = np.maximum(count, 1)
        filled = np.where(known, values, 0.0)
        mean = np.where(count >= 2, filled.sum(axis=0) / some, np.nan)
        apart = np.where(known & (count >= 2), values - mean, 0.0)
        variance = np.square(apart).sum(axis=0) / np.maximum(count - 1, 1) + _by_cycles(
            members, used, begin, count.size
        )
        timing += _timing(apart, mean, known)
        rows = (
            (np.fmin, mean),
            (np.fmax, mean),
            (np.fmin, np.where(known, values, np.inf).min(axis=0)),
            (np.fmax, np.where(known, values, -np.inf).max(axis=0)),
            (np.fmax, _spread(variance, count, noise)),
            (np.minimum, count),
        )
        starts = np.arange(0, count.size, bucket)
        parts.append([reduce.reduceat(row, starts).astype(np.float32) for reduce, row in rows])
    joined = [np.concatenate(row) for row in zip(*parts, strict=True)]
    weight, square, windows = timing.tolist()
    slopes = max(square - windows * noise**2, 0.0)
    timing_s = math.sqrt(slopes / weight) * (first.step_s or 0.0) if weight > 0 else 0.0
    low, high, least, greatest, spread, count_row = joined
    return _Gathered(low, high, least, greatest, spread, count_row, bucket, timing_s)


def laid_rows(members: Members, used: list[int], length: int, progress: Progress) -> Iterator[tuple[int, Rows]]:
    """Every capture's values on the first one's instants, block after block; shape (captures, m)."""
    first = members.channels[0]
    assert first.step_s is not None
    for begin in range(0, first.intervals, length):
        progress(begin / first.intervals)
        stop = min(begin + length, first.intervals)
        times_s = evenly(first.start_s, first.step_s, begin, stop)
        rows = np.empty((len(used), stop - begin))
        for row, place in enumerate(used):
            lineup = members.lineups[place]
            if place == 0:
                rows[row] = own_values(first, begin, stop)
                continue
            rows[row] = good_values(members.channels[place], lineup, times_s)
            if lineup.laid is not None:
                rows[row, ~lineup.laid.is_fair(times_s)] = np.nan
        yield begin, rows


def _by_cycles(members: Members, used: list[int], begin: int, size: int) -> Rows:
    """Variance of each capture's own cycles, where an average of them was laid."""
    first = members.channels[0]
    assert first.step_s is not None
    times_s = evenly(first.start_s, first.step_s, begin, begin + size)
    cycled = [members.lineups[place] for place in used if members.lineups[place].laid is not None]
    total = np.zeros(size)
    for lineup in cycled:
        total += np.nan_to_num(np.square(deviation_values(lineup, times_s).astype(np.float64)))
    return total / max(len(cycled), 1)


def _spread(variance: Rows, count: npt.NDArray[np.int64], noise: float) -> Rows:
    """Deviation between the captures, beyond what noise makes of it; the larger over a short and a long window."""
    from scipy import ndimage

    found = np.zeros(variance.size)
    free = np.maximum(count - 1, 1)
    for width in WINDOWS:
        level = ndimage.uniform_filter1d(np.nan_to_num(variance), min(width, variance.size), mode="nearest")
        by_noise = noise**2 * (1.0 + BY_NOISE * np.sqrt(2.0 / (free * width)))
        found = np.maximum(found, np.where(level > by_noise, level - noise**2, 0.0))
    return np.where(count >= 2, np.sqrt(found), np.nan)


def _timing(apart: Rows, mean: Rows, known: npt.NDArray[np.bool_]) -> Rows:
    """Sums for the scatter in time: what of the captures' departures goes along with the slope of their mean."""
    slope = np.gradient(mean) if mean.size > 1 else np.zeros(mean.size)
    windows = mean.size // TIMED
    slope, apart = slope[: windows * TIMED], apart[:, : windows * TIMED]
    whole = np.isfinite(slope) & known[:, : windows * TIMED].all(axis=0)
    slope = np.where(whole, slope, 0.0)
    square = np.square(slope).reshape(windows, TIMED).sum(axis=1)
    along = (apart * slope).reshape(len(apart), windows, TIMED).sum(axis=2)
    steep = square > 0.1 * square.max(initial=0.0)
    if not steep.any():
        return np.zeros(3)
    free = (len(apart) - 1) / len(apart)
    squares = np.square(along[:, steep]) / square[steep] / free
    return np.array([float(square[steep].sum()) * len(apart), float(squares.sum()), float(squares.size)])


def _banded(members: Members, used: list[int], found: _Gathered, noise: float) -> Envelope:
    from scipy import ndimage

    first = members.channels[0]
    assert first.step_s is not None
    steps_s = [(members.channels[place].step_s or 0.0) / members.lineups[place].stretch for place in used if place] + [
        first.step_s
    ]
    slack_s = max(steps_s) + settled_factor(len(used)) * found.timing_s
    counts = np.unique(found.count[found.count >= 2].astype(np.int64)).tolist()
    factors = np.full(len(members.channels) + 1, np.nan)
    for count in counts:
        factors[count] = tolerance_factor(count)
    factor = factors[found.count.astype(np.int64)]
    known = found.spread[np.isfinite(found.spread)]
    usual = float(np.median(known)) if known.size else 0.0
    step = max(_converter_step(members.channels[place]) for place in used)
    least = math.hypot(settled_factor(len(used)) * math.hypot(noise, usual), step)
    half = np.maximum(np.hypot(factor * found.spread, settled_factor(len(used)) * noise), least)
    room = math.ceil(slack_s / (first.step_s * found.bucket))
    width = 2 * room + 1
    lower = ndimage.minimum_filter1d(np.nan_to_num(found.low - half, nan=np.inf), width)
    upper = ndimage.maximum_filter1d(np.nan_to_num(found.high + half, nan=-np.inf), width)
    unknown = ~np.isfinite(half)
    lower[unknown] = upper[unknown] = np.nan
    least_row = ndimage.minimum_filter1d(found.least, width)
    greatest_row = ndimage.maximum_filter1d(found.greatest, width)
    rows = (lower, 0.5 * (found.low + found.high), upper, least_row, greatest_row, found.spread, found.count)
    names = ("lower", "middle", "upper", "least", "greatest", "spread", "count")
    made = {name: _as_channel(first, row, name, found.bucket) for row, name in zip(rows, names, strict=True)}
    return Envelope(
        lower=made["lower"],
        middle=made["middle"],
        upper=made["upper"],
        least=made["least"],
        greatest=made["greatest"],
        spread=made["spread"],
        count=made["count"],
        captures=len(used),
        left_out=members.left_out(),
        slack_s=slack_s,
        noise=noise,
        told=_told(members, used, counts, half, slack_s),
    )


def _as_channel(first: Channel, row: npt.NDArray[np.floating], name: str, bucket: int) -> Channel:
    assert first.step_s is not None
    unit = "captures" if name == "count" else first.unit
    history = (*first.history, f"{name} of an envelope")
    return Channel(
        f"{first.name}, {name}", unit, FloatSamples(row), first.start_s, first.step_s * bucket, history=history
    )


def _converter_step(channel: Channel) -> float:
    counted = counted_of(channel.samples)
    if counted is not None:
        return abs(counted.scale)
    values = np.unique(channel.samples.block(0, min(channel.samples.size, 8192)))
    steps = np.diff(values[np.isfinite(values)])
    return float(np.median(steps)) if steps.size and steps.size < 1024 else 0.0


def _told(members: Members, used: list[int], counts: list[int], half: Rows, slack_s: float) -> str:
    unit = members.channels[0].unit or ""
    known = half[np.isfinite(half)]
    usual = in_words(float(np.median(known)), unit) if known.size else "unknown"
    told = (
        f"Rests on {len(used)} good captures: {COVERAGE:.0%} of all good ones are to be expected inside, at {CONFIDENCE:.0%} "
        f"confidence. Usually {usual} either way; edges may come {in_words(slack_s, 's')} earlier or later."
    )
    if len(used) < FEW:
        factor = tolerance_factor(max(counts, default=2))
        told += (
            f" {len(used)} are few: the band is {factor:.1f} standard deviations wide either way, with "
            f"10 captures it would be {tolerance_factor(10):.1f}."
        )
    left = len(members.channels) - len(used)
    if left:
        told += f" {left} {'capture was' if left == 1 else 'captures were'} left out."
    return told
