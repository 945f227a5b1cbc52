"""Edges of a pulsing wire, whether it switches between two levels or swings about one."""

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.edges import Edges, find_edges
from loomlight.signal.level_hills import commonest_levels
from loomlight.signal.levels import StateLevels, levels_of, state_levels
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.resample import Instants, averaged
from loomlight.signal.samples import BLOCK, Samples, Times, Wave, finite_range

Manner = Literal["two levels", "swings", "flat"]

GLANCES, GLANCE = 64, 8192
"""Stretches, and samples in each, that tell the levels of a long channel."""
NEAR_SHARE = 0.1
SETTLED_SHARE = 0.6
"""A signal that switches stands near one of its levels most of the time; a sine does for 41 %, arccos(0.8)/90°."""
LEAST_HYSTERESIS, MOST_HYSTERESIS = 0.12, 0.3
NOISE_TIMES = 5.0
SMOOTHED = 16
"""Points from edge to like edge: finer noise is averaged out before edges are looked for."""
SWING = 0.3
"""Of the swing's own height: how far beyond the middle a swinging signal has to go on either side."""
WINDOW = 9
"""Usual intervals over which the height of a swing is the median."""
FLOOR_NOISE, FLOOR_SHARE = 14.0, 0.03
"""A swing below so many times the noise, or this share of the usual height, is none."""
FEW_EDGES = 6
STILL, STILL_RUN = 0.35, 6
"""Of the liveliest stretches' scatter: below, nothing moves; so many of them in a row are no pulse."""
NOISY, MEAN_OF = 0.035, 5
CALM = 0.06
"""Of the amplitude: noise below it makes no edges of its own."""
FLAT_NOISE, FLAT_SHARE = 9.0, 1e-4


@dataclass(frozen=True, eq=False)
class Train:
    """Edges of one channel, in order; rising and falling ones alternate.

    Attributes
    ----------
    manner : {"two levels", "swings", "flat"}
        How the wire moves.
    low, high : float
        State levels; of a swing its usual lower and upper end; of a flat wire its level.
    middle : float
        The level whose crossing is timed.
    noise : float
        Standard deviation of a sample within a state.
    least, greatest : float
        Range of the finite samples that were looked at.
    at_s : ndarray of float64, shape (n,)
        Time of each edge, interpolated between samples, seconds on the channel's axis.
    rising : ndarray of bool, shape (n,)
        Direction of each edge.
    starts_high : bool or None
        State before the first edge.
    step_s : float
        Spacing of the points in which edges were looked for, seconds.
    """

    manner: Manner
    low: float
    high: float
    middle: float
    noise: float
    least: float
    greatest: float
    at_s: Times = field(repr=False)
    rising: npt.NDArray[np.bool_] = field(repr=False)
    starts_high: bool | None
    step_s: float

    @property
    def amplitude(self) -> float:
        """High minus low."""
        return self.high - self.low

    def like(self, *, rising: bool) -> Times:
        """Times of the edges in one direction."""
        found: Times = self.at_s[self.rising == rising]
        return found


def read_train(channel: Channel, progress: Progress = unwatched, *, switching: bool = False) -> Train | None:
    """Find the edges of a channel.

    Parameters
    ----------
    channel : Channel
        Form ``even``, or ``pairs`` taken at the middle of each.
    progress : Progress
        0 to 1.
    switching : bool
        The wire is known to switch: its two commonest levels count, however high its spikes go.

    Returns
    -------
    Train or None
        None where no sample is a number.

    Notes
    -----
    A signal that switches is compared with two thresholds about the middle of its state levels (IEEE Std 181-2011, 50 %
    reference level; hysteresis by its own noise). One that swings is compared with the level that it swings about, with
    thresholds that follow its height: an inductive sensor's height follows the speed.
    """
    assert channel.step_s is not None
    row = Instants(channel)
    levels = _levels(row, part(progress, 0.0, 0.2))
    if levels is None:
        return None
    glance = glance_of(row)
    if switching:
        levels = _commonest(glance) or levels
    if _is_flat(levels, glance):
        level = float(np.median(glance))
        return _train("flat", levels, (level, level, level), _noise(levels), None, channel.start_s, channel.step_s)
    found = _moving(channel, row, levels, glance, part(progress, 0.2, 0.6), switching=switching)
    lively = _where_it_moves(row)
    other = levels_of(lively) if lively is not None and lively.size else None
    if switching and lively is not None:
        other = _commonest(lively) or other
    if other is None or lively is None or _is_flat(other, lively):
        return found
    # A wire that was shorted or lost meanwhile has a third level, and its own two stand close together beside that.
    again = _moving(channel, row, other, lively, part(progress, 0.6, 1.0), switching=switching)
    return again if again.at_s.size >= max(found.at_s.size, FEW_EDGES) else found


def _commonest(values: Wave) -> StateLevels | None:
    """The two commonest levels; of noisy samples, those of the means of five: their hills stand apart sooner."""
    found = commonest_levels(values)
    if found is None or _white(values) <= NOISY * found.amplitude:
        return found
    whole = values.size // MEAN_OF * MEAN_OF
    clearer = commonest_levels(values[:whole].reshape(-1, MEAN_OF).mean(axis=1))
    if clearer is None:
        return found
    # The scatter that edges have to stand clear of is a sample's, not a mean's.
    spread = _white(values)
    return replace(clearer, low_spread=spread, high_spread=spread, least=found.least, greatest=found.greatest)


def _moving(
    channel: Channel, row: Instants, levels: StateLevels, glance: Wave, progress: Progress, *, switching: bool
) -> Train:
    if (switching and levels.two_states) or _is_settled(levels, glance):
        return _switching(channel, row, levels, progress)
    return _swinging(channel, row, levels, glance, progress)


def train_between(channel: Channel, levels: StateLevels, progress: Progress = unwatched) -> Train:
    """Edges between two levels that are known: as `read_train` finds them of a wire that switches."""
    return _switching(channel, Instants(channel), levels, progress)


class Averaged:
    """A channel averaged to a coarser step, worked out block by block.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    step_s : float
        At least the channel's own step, seconds.
    """

    def __init__(self, channel: Channel, step_s: float) -> None:
        assert channel.step_s is not None
        self._channel, self.step_s = channel, step_s
        self.start_s = channel.start_s + 0.5 * (step_s - channel.step_s)
        self._size = max(2, int((channel.stop_s - channel.start_s) / step_s * (1 + 1e-12)))

    @property
    def size(self) -> int:
        """Number of points."""
        return self._size

    def block(self, start: int, stop: int) -> Wave:
        """Points ``start`` to ``stop``."""
        at_s = self.start_s + start * self.step_s
        return averaged(self._channel, step_s=self.step_s, start_s=at_s, count=stop - start).astype(np.float32)


def glance_of(row: Samples) -> Wave:
    """Finite samples of stretches spread over a row; all of a short one."""
    if row.size <= GLANCES * GLANCE:
        values = row.block(0, row.size)
    else:
        firsts = np.linspace(0, row.size - GLANCE, GLANCES).astype(np.int64).tolist()
        values = np.concatenate([row.block(first, first + GLANCE) for first in firsts])
    return values[np.isfinite(values)]


def _where_it_moves(row: Samples) -> Wave | None:
    """Samples of the lively stretches, those beside still ones left out; None without a long still part."""
    length = min(max(row.size // GLANCES, 1), GLANCE)
    firsts = np.linspace(0, row.size - length, GLANCES).astype(np.int64).tolist()
    stretches = [row.block(first, first + length) for first in firsts]
    known = [one[np.isfinite(one)] for one in stretches]
    spreads = np.array([float(one.std()) if one.size else 0.0 for one in known])
    # Without the two greatest: those hold the step to another level.
    usual = float(np.percentile(np.sort(spreads)[:-2], 90.0))
    lively = np.pad(spreads > STILL * usual, 1, constant_values=True)
    if usual <= 0 or _longest_run(~lively) < STILL_RUN:
        return None
    inner = lively[1:-1] & lively[:-2] & lively[2:]
    chosen = [one for one, use in zip(known, inner.tolist(), strict=True) if use]
    return np.concatenate(chosen) if len(chosen) >= 2 else None


def _longest_run(mask: npt.NDArray[np.bool_]) -> int:
    bounds = np.flatnonzero(np.diff(mask, prepend=False, append=False))
    return int(np.diff(bounds)[::2].max()) if bounds.size else 0


def _levels(row: Samples, progress: Progress) -> StateLevels | None:
    """State levels from a glance; from everything where the glance missed what moves."""
    glance = glance_of(row)
    found = levels_of(glance) if glance.size else None
    if row.size <= GLANCES * GLANCE:
        return found
    ends = finite_range(row, part(progress, 0.0, 0.4))
    if found is not None and ends is not None and ends[1] - ends[0] <= 2.0 * (found.greatest - found.least):
        return found
    return state_levels(row, part(progress, 0.4, 1.0))


def _noise(levels: StateLevels) -> float:
    return max(min(levels.low_spread, levels.high_spread), 0.0)


def _is_flat(levels: StateLevels, glance: Wave) -> bool:
    reach = levels.greatest - levels.least
    if reach <= FLAT_SHARE * max(abs(levels.least), abs(levels.greatest)):
        return True
    if levels.two_states:
        return False
    # One level: it is flat where its scatter is white, and its reach no more than white noise reaches.
    spread = float(glance.std())
    change = float(np.diff(glance).std()) / np.sqrt(2.0)
    return bool(reach <= FLAT_NOISE * 1.5 * spread and change > 0.8 * spread)


def _is_settled(levels: StateLevels, glance: Wave) -> bool:
    if not levels.two_states:
        return False
    near = min(max(NEAR_SHARE * levels.amplitude, 3.0 * _white(glance)), 0.2 * levels.amplitude)
    away = np.minimum(np.abs(glance - levels.low), np.abs(glance - levels.high))
    return bool((away <= near).mean() >= SETTLED_SHARE)


def _switching(channel: Channel, row: Instants, levels: StateLevels, progress: Progress) -> Train:
    noise = max(levels.low_spread, levels.high_spread)
    share = min(max(NOISE_TIMES * noise / levels.amplitude, LEAST_HYSTERESIS), MOST_HYSTERESIS)
    middle, half = 0.5 * (levels.low + levels.high), share * levels.amplitude
    assert channel.step_s is not None
    ends = (levels.low, levels.high, middle)
    edges = find_edges(row, low=middle - half, high=middle + half, level=middle, progress=part(progress, 0.0, 0.5))
    coarser = _smoothing(noise / levels.amplitude, edges)
    if coarser < 2.0:
        return _train("two levels", levels, ends, noise, edges, channel.start_s, channel.step_s)
    smooth = Averaged(channel, coarser * channel.step_s)
    half = max(LEAST_HYSTERESIS, 0.8 * share) * levels.amplitude
    edges = find_edges(smooth, low=middle - half, high=middle + half, level=middle, progress=part(progress, 0.5, 1.0))
    return _train("two levels", levels, ends, noise, edges, smooth.start_s, smooth.step_s)


def _smoothing(noise_share: float, edges: Edges) -> float:
    """How many samples to average before edges are looked for: none where they stand clear of the noise."""
    if noise_share <= CALM or edges.at.size < FEW_EDGES:
        return 1.0
    usual = float(np.percentile(np.diff(edges.at), 75.0))
    return min((noise_share / (0.6 * CALM)) ** 2, usual / SMOOTHED)


def _swinging(channel: Channel, row: Instants, levels: StateLevels, glance: Wave, progress: Progress) -> Train:
    """Twice: at first with one height for all, which gives the usual interval; then with the height of the moment."""
    assert channel.step_s is not None
    middle = float(np.median(glance))
    ends = tuple(float(one) for one in np.percentile(glance, [2.0, 98.0]))
    height = max(0.5 * (ends[1] - ends[0]), 1e-30)
    noise = min(_white(glance), 0.1 * height)
    rough = find_edges(
        row, low=middle - 0.2 * height, high=middle + 0.2 * height, level=middle, progress=part(progress, 0.0, 0.3)
    )
    rises = rough.at[rough.rising]
    apart = np.diff(rises) if rises.size > 1 else np.array([float(row.size)])
    usual = max(float(np.median(apart)), 1.0)
    coarser = max(1.0, usual / SMOOTHED)
    smooth: Averaged | Instants = row if coarser < 2.0 else Averaged(channel, coarser * channel.step_s)
    step_s, start_s = channel.step_s, channel.start_s
    if isinstance(smooth, Averaged):
        step_s, start_s = smooth.step_s, smooth.start_s
        noise /= float(np.sqrt(coarser))
    piece = round(1.1 * usual * channel.step_s / step_s) + 1
    followed = _Followed(smooth, middle, piece, part(progress, 0.3, 0.6))
    followed.set_floor(max(FLOOR_NOISE * noise, FLOOR_SHARE * height))
    edges = find_edges(followed, low=-SWING, high=SWING, level=0.0, progress=part(progress, 0.6, 1.0))
    return _train("swings", levels, (*ends, middle), noise, edges, start_s, step_s)


def _white(values: Wave) -> float:
    """Scatter from sample to sample, by the median second difference: a slope has none."""
    if values.size < 3:
        return 0.0
    return float(np.median(np.abs(np.diff(values, n=2)))) * 1.4826 / float(np.sqrt(6.0))


class _Followed:
    """Another row about its middle, divided by the height that it usually has around each point.

    The median over single intervals: beside a gap an inductive sensor swings several times as high as on its teeth.
    """

    def __init__(self, row: Samples, middle: float, piece: int, progress: Progress) -> None:
        self._row, self._middle = row, np.float32(middle)
        self._piece = piece
        heights = []
        rows = max(1, BLOCK // piece)
        for start in range(0, row.size, rows * piece):
            progress(start / row.size)
            away = np.abs(row.block(start, min(start + rows * piece, row.size)) - self._middle)
            away = np.where(np.isfinite(away), away, np.float32(0.0))
            heights.append(np.maximum.reduceat(away, np.arange(0, away.size, piece)))
        padded = np.pad(np.concatenate(heights), WINDOW // 2, mode="edge")
        self._heights: Wave = np.median(np.lib.stride_tricks.sliding_window_view(padded, WINDOW), axis=1)

    def set_floor(self, floor: float) -> None:
        self._heights = np.maximum(self._heights, np.float32(floor))

    @property
    def size(self) -> int:
        return self._row.size

    def block(self, start: int, stop: int) -> Wave:
        centres = (np.arange(self._heights.size, dtype=np.float64) + 0.5) * self._piece
        first, last = max(start // self._piece - 1, 0), min(stop // self._piece + 2, self._heights.size)
        height = np.interp(np.arange(start, stop), centres[first:last], self._heights[first:last]).astype(np.float32)
        followed: Wave = (self._row.block(start, stop) - self._middle) / height
        return followed


def _train(
    manner: Manner,
    levels: StateLevels,
    ends: tuple[float, ...],
    noise: float,
    edges: Edges | None,
    start_s: float,
    step_s: float,
) -> Train:
    return Train(
        manner=manner,
        low=ends[0],
        high=ends[1],
        middle=ends[2],
        noise=noise,
        least=levels.least,
        greatest=levels.greatest,
        at_s=start_s + edges.at * step_s if edges is not None else np.empty(0),
        rising=edges.rising if edges is not None else np.empty(0, bool),
        starts_high=edges.starts_high if edges is not None else None,
        step_s=step_s,
    )
