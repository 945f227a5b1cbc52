"""What the samples of an unknown wire show at first sight: levels, edges, spacings, what repeats."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.levels import StateLevels, state_levels
from loomlight.signal.noise import noise_of
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.wire_survey import survey

Row = npt.NDArray[np.float64]

SETTLED_SHARE = 0.12
"""Of the amplitude: how near to a level a sample has to be to stand at it."""
COARSE = 4096
"""Means over this many stretches show what is slow."""
FEWEST_EDGES = 6
SHARES = (2.0, 6.0, 10.0, 65.0, 94.0, 99.0, 99.97)
FEW_VALUES, LARGEST_STEP = 5, 0.5
"""With so few values a step of more than half a volt is no converter's: eight bits across 128 V."""
STEP_FROM = 50_000
"""Samples that tell the converter's step."""


@dataclass(frozen=True, eq=False)
class Sight:
    """What an unknown channel shows.

    Attributes
    ----------
    channel : Channel
        The stretch that was looked at; form ``even``.
    levels : StateLevels or None
        None where no sample is a number.
    noise : float
        Standard deviation from sample to sample, in the channel's unit; half a converter's step where that hides it.
    settled : float
        Share of the samples that stand at one of two levels, 0 to 1; 0 where there are not two.
    at_s : ndarray of float64, shape (n,)
        Times of the edges.
    rising : ndarray of bool, shape (n,)
        Which of them rise.
    step : float
        Least distance of two values: a converter's step; 0 where the samples have none.
    ordered : ndarray of float64, shape (7,)
        Levels below which the shares `SHARES` of the samples lie; see `level_below`.
    slow : ndarray of float64, shape (m,)
        Means over equal stretches, at most 4096.
    slow_step_s : float
        Length of such a stretch, seconds.
    """

    channel: Channel
    levels: StateLevels | None
    noise: float
    settled: float
    at_s: Row = field(repr=False)
    rising: npt.NDArray[np.bool_] = field(repr=False)
    slow: Row = field(repr=False)
    slow_step_s: float
    step: float = 0.0
    ordered: Row = field(default_factory=lambda: np.zeros(len(SHARES)), repr=False)

    def level_below(self, percent: float) -> float:
        """The level below which so many hundredths of the samples lie, one of `SHARES`."""
        return float(self.ordered[SHARES.index(percent)])

    @property
    def runs_s(self) -> Row:
        """Lengths between edges, seconds."""
        found: Row = np.diff(self.at_s)
        return found

    def runs_of(self, *, high: bool) -> Row:
        """Lengths of the stretches in one state, seconds."""
        found: Row = np.diff(self.at_s)[self.rising[:-1] == high] if self.at_s.size > 1 else np.empty(0)
        return found

    def spacings_s(self, *, rising: bool) -> Row:
        """From one like edge to the next, seconds."""
        found: Row = np.diff(self.at_s[self.rising == rising])
        return found


def sight_of(channel: Channel, progress: Progress = unwatched) -> Sight | None:
    """Look at a channel; None for forms that have no step of their own.

    Parameters
    ----------
    channel : Channel
        Any unit and length; see `survey` for what of a long one is looked at.
    progress : Progress
        0 to 1.
    """
    found = survey(channel, part(progress, 0.0, 0.3))
    return look_at(found.busiest, part(progress, 0.3, 1.0)) if found is not None else None


def look_at(seen: Channel, progress: Progress = unwatched) -> Sight:
    """Look at all samples of a channel of form ``even``, as `survey` gives it."""
    assert seen.step_s is not None
    values = seen.samples.block(0, seen.samples.size)
    levels = state_levels(seen.samples, part(progress, 0.0, 0.5))
    slow, every = _slow(values)
    empty = np.empty(0)
    if levels is None:
        return Sight(seen, None, 0.0, 0.0, empty, empty.astype(bool), slow, every * seen.step_s)
    step = _converter_step(values)
    noise = max(noise_of(seen), 0.5 * step)
    settled = 0.0
    if levels.two_states:
        near = max(SETTLED_SHARE * levels.amplitude, 3.0 * noise)
        known = np.isfinite(values)
        stands = (np.abs(values - levels.low) < near) | (np.abs(values - levels.high) < near)
        settled = np.count_nonzero(stands & known) / max(int(np.count_nonzero(known)), 1)
    at_s, rising = _edges(seen, levels, noise, part(progress, 0.5, 1.0))
    ordered = np.percentile(values[np.isfinite(values)], SHARES).astype(np.float64)
    return Sight(seen, levels, noise, settled, at_s, rising, slow, every * seen.step_s, step, ordered)


def _converter_step(values: npt.NDArray[np.float32]) -> float:
    """Least distance of two values that occur, but for a few odd ones; 0 of a wire that was recorded as on and off."""
    some = values[:: max(1, values.size // STEP_FROM)]
    steps = np.diff(np.unique(some[np.isfinite(some)]).astype(np.float64))
    if not steps.size or (steps.size < FEW_VALUES and steps.min() > LARGEST_STEP):
        return 0.0
    return float(np.percentile(steps, 5.0))


def _slow(values: npt.NDArray[np.float32]) -> tuple[Row, int]:
    every = max(values.size // COARSE, 1)
    rows = values[: values.size // every * every].reshape(-1, every).astype(np.float64)
    known = np.isfinite(rows)
    counts = known.sum(axis=1)
    sums = np.where(known, rows, 0.0).sum(axis=1)
    means: Row = sums[counts > 0] / counts[counts > 0]
    return means, every


def _edges(
    channel: Channel, levels: StateLevels, noise: float, progress: Progress
) -> tuple[Row, npt.NDArray[np.bool_]]:
    """Edges between the two levels; of a signal with one level between the outer quarters of its reach."""
    low, high = (levels.low, levels.high) if levels.two_states else (levels.least, levels.greatest)
    if high - low <= 8.0 * noise or high <= low:
        return np.empty(0), np.empty(0, bool)
    swing = max(0.2 * (high - low), min(4.0 * noise, 0.4 * (high - low)))
    middle = 0.5 * (low + high)
    found = find_edges(
        channel.samples, low=middle - swing / 2, high=middle + swing / 2, level=middle, progress=progress
    )
    assert channel.step_s is not None
    return channel.start_s + found.at * channel.step_s, found.rising
