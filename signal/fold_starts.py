"""Where the stretches begin that a folded view lays over one another: cycles, or a bus's frames and bits."""

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from loomlight.signal.can_fold import can_starts
from loomlight.signal.can_receiver import SAMPLE_POINT as CAN_SAMPLE_POINT
from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.errors import CannotUse
from loomlight.signal.levels import state_levels
from loomlight.signal.lin_decode import LinFrame, decode
from loomlight.signal.lin_words import BYTE_BITS
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.samples import Times

FoldBy = Literal["rising edges", "falling edges", "LIN frames", "LIN bits", "CAN frames", "CAN bits"]
FOLD_WAYS: tuple[FoldBy, ...] = ("rising edges", "falling edges", "LIN frames", "LIN bits", "CAN frames", "CAN bits")

HYSTERESIS = 0.1
"""Half width of the band around the middle, as a share of the amplitude, within which an edge is not yet decided."""
SPARE = 0.1
"""Of a cycle, shown before and after it."""
SPARE_BITS = 2.0
"""Shown before and after a frame."""


@dataclass(frozen=True, eq=False)
class Starts:
    """Stretches to lay over one another.

    Attributes
    ----------
    by : str
        What they begin with.
    at_s : ndarray of float64, shape (n,)
        Ascending, seconds on the channel's own axis.
    begin_s, end_s : float
        What is worth showing, seconds from each start.
    unit_s : float
        Length of one cycle, frame or bit, seconds.
    sampled_s : float or None
        Where in it a receiver reads its value, seconds from its start.
    """

    by: FoldBy
    at_s: Times = field(repr=False)
    begin_s: float
    end_s: float
    unit_s: float
    sampled_s: float | None = None

    def between(self, begin_s: float, end_s: float) -> "Starts":
        """Those that begin in a stretch of time only."""
        return replace(self, at_s=self.at_s[(self.at_s >= begin_s) & (self.at_s <= end_s)])


def fitting_starts(channel: Channel, progress: Progress = unwatched) -> Starts:
    """The bits of a LIN or CAN bus where there is one, else the cycles from the rising edges.

    Parameters and errors as `starts_of`.
    """
    tried: tuple[FoldBy, ...] = ("LIN bits", "CAN bits")
    for number, by in enumerate(tried):
        try:
            return starts_of(channel, by, part(progress, 0.25 * number, 0.25 * (number + 1)))
        except CannotUse:
            continue
    return starts_of(channel, "rising edges", part(progress, 0.5, 1.0))


def starts_of(channel: Channel, by: FoldBy, progress: Progress = unwatched) -> Starts:
    """Find the starts in a whole channel.

    Parameters
    ----------
    channel : Channel
        Any form but ``pairs``; for a bus's frames and bits evenly spaced.
    by : str
        One of `FOLD_WAYS`.
    progress : Progress
        0 to 1 over several walks of the samples.

    Raises
    ------
    CannotUse
        If the channel has no such starts, with the reason and what to do.
    """
    if channel.form == "pairs":
        raise CannotUse(
            f"{channel.name!r} holds minimum and maximum of each interval, so its edges cannot be timed. "
            "Export the capture again with every sample."
        )
    levels = state_levels(channel.samples, part(progress, 0.0, 0.5))
    if levels is None or not levels.two_states:
        raise CannotUse(
            f"{channel.name!r} does not go between two levels, so it has no edges to fold by. "
            "Choose a channel that switches, or a capture in which it does."
        )
    share = part(progress, 0.5, 1.0)
    if by in ("rising edges", "falling edges"):
        middle, half = 0.5 * (levels.low + levels.high), HYSTERESIS * levels.amplitude
        return _cycles(channel, by, middle, half, share)
    if by in ("CAN frames", "CAN bits"):
        return _can(channel, by, share)
    # What the eye follows: anything that leaves the resting line clearly, however weak.
    traffic = decode(
        channel,
        dominant_below=levels.high - 0.25 * levels.amplitude,
        recessive_above=levels.high - 0.15 * levels.amplitude,
        progress=share,
    )
    frames = [one for one in traffic.frames if len(one.byte_starts_s) > 1]
    if not frames:
        raise CannotUse(
            f"No LIN frame can be read on {channel.name!r}. Fold by edges instead, or choose a channel that carries a LIN bus."
        )
    bit_s = float(np.median([one.bit_s for one in frames]))
    return _frames(frames, bit_s) if by == "LIN frames" else _bits(frames, bit_s)


def _cycles(channel: Channel, by: FoldBy, middle: float, half: float, progress: Progress) -> Starts:
    edges = find_edges(channel.samples, low=middle - half, high=middle + half, level=middle, progress=progress)
    chosen = edges.rising == (by == "rising edges")
    if channel.times_s is None:
        assert channel.step_s is not None
        at_s: Times = channel.start_s + edges.at[chosen] * channel.step_s
    elif channel.form == "changes":
        at_s = channel.times_s[edges.decided[chosen]]
    else:
        at_s = np.interp(edges.at[chosen], np.arange(channel.times_s.size), channel.times_s)
    if at_s.size < 2:
        raise CannotUse(
            f"{channel.name!r} has {at_s.size} {by}; a folded view needs two at least. Choose the other edge or a longer capture."
        )
    cycle_s = float(np.median(np.diff(at_s)))
    return Starts(by, at_s, -SPARE * cycle_s, (1.0 + SPARE) * cycle_s, cycle_s)


def _can(channel: Channel, by: FoldBy, progress: Progress) -> Starts:
    found = can_starts(channel, progress)
    if by == "CAN frames":
        room_s = SPARE_BITS * found.bit_s
        return Starts(by, found.frames_s, -room_s, found.longest_s + room_s, found.longest_s)
    bit_s = found.bit_s
    return Starts(by, found.bits_s, -0.5 * bit_s, 1.5 * bit_s, bit_s, sampled_s=CAN_SAMPLE_POINT * bit_s)


def _frames(frames: list[LinFrame], bit_s: float) -> Starts:
    longest_s = max(one.stop_s - one.start_s for one in frames)
    at_s = np.array([one.start_s for one in frames])
    return Starts("LIN frames", at_s, -SPARE_BITS * bit_s, longest_s + SPARE_BITS * bit_s, longest_s)


def _bits(frames: list[LinFrame], bit_s: float) -> Starts:
    """Every bit of every byte field, its own start bit and its stop bit included, by its frame's own clock."""
    at_s = [
        np.asarray(one.byte_starts_s)[:, None] + one.bit_s * np.arange(BYTE_BITS, dtype=np.float64) for one in frames
    ]
    return Starts("LIN bits", np.sort(np.concatenate([one.ravel() for one in at_s])), -0.5 * bit_s, 1.5 * bit_s, bit_s)
