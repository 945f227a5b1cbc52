"""Cycles of a signal that turns or repeats: where each begins, whatever the speed does meanwhile."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.levels import state_levels
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.resample import averaged
from loomlight.signal.samples import Samples, Wave, finite_range

Row = npt.NDArray[np.float64]

FEWEST_CYCLES = 4
WINDOW = 32_768
"""Points in which a period is looked for at a time."""
FEWEST_POINTS = 6
"""A cycle that is to be told from its neighbours has at least as many points."""
LEAST_LIKENESS = 0.35
"""Of a signal with itself one period on; noise alone reaches less than 0.1 over a window."""
FIRST_SHARE = 0.85
"""The first peak this near to the highest is the period; later ones are its multiples."""
SMOOTHED = 24
"""Points a period: finer noise is averaged out before edges are looked for."""
SWING = 0.2
"""Of the amplitude: how far beyond its middle a signal has to go on either side."""
LONG, SHORT = 1.5, 0.6
"""Of the usual interval: a gap (a missing tooth, a missing pulse), and a pulse too many."""
GAP_SHARE = 0.7
"""Of the usual gap's excess: what is shorter is no gap between two turns."""
VAGUE = 2.0
"""Times the usual way from the middle to the upper threshold: what takes longer rose out of a flat at the middle."""
LIKE_THE_OTHERS = 0.3


@dataclass(frozen=True, eq=False)
class Cycles:
    """Where the cycles of a channel lie.

    Attributes
    ----------
    bounds_s : ndarray of float64, shape (n, p + 1)
        Begin of each cycle, of each part of it, and its end; p is 1 where a cycle is one pulse. Pulses left out by design
        have their parts too. In a cycle with too few pulses the lost ones are put where they should be.
    pulses : int
        Pulses a cycle: 58 on a wheel of 60 teeth with 2 left out.
    regular : float
        Share of the intervals that are as long as their neighbours, 0 to 1.
    odd : ndarray of bool, shape (n,)
        Cycles with too few or too many pulses.
    """

    bounds_s: Row = field(repr=False)
    pulses: int
    regular: float
    odd: npt.NDArray[np.bool_] = field(repr=False)

    @property
    def count(self) -> int:
        """Number of cycles."""
        return len(self.bounds_s)

    @property
    def parts(self) -> int:
        """Equal parts a cycle: 60 on a wheel of 60 teeth with 2 left out, 1 where each pulse is a cycle."""
        return int(self.bounds_s.shape[1]) - 1

    @property
    def period_s(self) -> float:
        """Median length of a cycle, seconds."""
        return float(np.median(self.bounds_s[:, -1] - self.bounds_s[:, 0]))

    @property
    def drift(self) -> float:
        """How much the length of a cycle varies, longest against shortest, the outermost twentieth at either end left out."""
        low, high = np.percentile(self.bounds_s[:, -1] - self.bounds_s[:, 0], [5, 95])
        return float(high / low - 1.0)


def find_cycles(channel: Channel, progress: Progress = unwatched) -> Cycles | None:
    """Find the cycles of a periodic signal, its speed free to drift.

    The period is looked for in windows of several lengths by the likeness of the signal with itself one period on; then
    each rising passage through the middle (with hysteresis, on a signal smoothed to 24 points a period) begins a pulse.
    Where now and then an interval is longer than its neighbours, and always after as many pulses, those gaps divide the
    cycles (a toothed wheel with missing teeth); else each pulse is a cycle.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    progress : Progress
        0 to 1.

    Returns
    -------
    Cycles or None
        None where nothing repeats, or fewer than 4 times.
    """
    if channel.step_s is None or channel.intervals < FEWEST_CYCLES * FEWEST_POINTS:
        return None
    periods_s = _rough_periods(channel, part(progress, 0.0, 0.3))
    if not periods_s:
        return None
    smooth = _Smoothed(channel, max(channel.step_s, min(periods_s) / SMOOTHED))
    expected = (channel.stop_s - channel.start_s) / max(periods_s)
    starts_s = _rises(smooth, part(progress, 0.3, 0.6))
    if starts_s.size < 0.5 * expected:  # the level drifts by more than the pulses are high
        width = max(3, round(2.0 * max(periods_s) / smooth.step_s) | 1)
        starts_s = _rises(_Levelled(smooth, width), part(progress, 0.6, 1.0))
    return _divided(starts_s) if starts_s.size > FEWEST_CYCLES else None


class _Smoothed:
    """A channel averaged to a coarser step, block by block."""

    def __init__(self, channel: Channel, step_s: float) -> None:
        self._channel, self.step_s, self.start_s = channel, step_s, channel.start_s
        self._size = max(2, int((channel.stop_s - channel.start_s) / step_s))

    @property
    def size(self) -> int:
        return self._size

    def block(self, start: int, stop: int) -> Wave:
        at_s = self.start_s + start * self.step_s
        return averaged(self._channel, step_s=self.step_s, start_s=at_s, count=stop - start).astype(np.float32)


class _Levelled:
    """What is left of another row after its running mean is taken away."""

    def __init__(self, row: _Smoothed, width: int) -> None:
        self._row, self._half = row, width // 2
        self.step_s, self.start_s = row.step_s, row.start_s

    @property
    def size(self) -> int:
        return self._row.size

    def block(self, start: int, stop: int) -> Wave:
        first, last = max(0, start - self._half), min(self.size, stop + self._half + 1)
        values = self._row.block(first, last).astype(np.float64)
        known = np.isfinite(values)
        sums = np.concatenate([[0.0], np.cumsum(np.where(known, values, 0.0))])
        counts = np.concatenate([[0], np.cumsum(known)])
        at = np.arange(start - first, stop - first)
        low, high = np.maximum(at - self._half, 0), np.minimum(at + self._half + 1, values.size)
        mean = (sums[high] - sums[low]) / np.maximum(counts[high] - counts[low], 1)
        levelled: Wave = (values[at] - mean).astype(np.float32)
        return levelled


def _rough_periods(channel: Channel, progress: Progress) -> list[float]:
    """Periods at the begin, middle and end, seconds, at the time scale that shows them best; empty where none repeats."""
    assert channel.step_s is not None
    best, factor = (0.0, 1), 1
    while channel.intervals // factor >= FEWEST_CYCLES * FEWEST_POINTS:
        progress(min(0.9, 1.0 - factor / channel.intervals))
        strength, period = _own_period(_window(channel, factor, 0.5))
        if period and strength > best[0] + 0.02:
            best = strength, factor
        if channel.intervals // factor <= WINDOW // 16:
            break
        factor *= 4
    if not best[0]:
        return []
    found = [_own_period(_window(channel, best[1], place)) for place in (0.0, 0.5, 1.0)]
    return [period * best[1] * channel.step_s for strength, period in found if period]


def _window(channel: Channel, factor: int, place: float) -> Row:
    assert channel.step_s is not None
    count = min(WINDOW, channel.intervals // factor)
    first = int(place * (channel.intervals - count * factor))
    step_s = channel.step_s * factor
    at_s = channel.start_s + first * channel.step_s + 0.5 * (factor - 1) * channel.step_s
    return averaged(channel, step_s=step_s, start_s=at_s, count=count)


def _own_period(row: Row) -> tuple[float, float]:
    """Likeness of a row with itself one period on, and that period in points; 0 where there is none."""
    from scipy import fft

    known = np.isfinite(row)
    if known.sum() < FEWEST_CYCLES * FEWEST_POINTS:
        return 0.0, 0.0
    row = np.where(known, row - row[known].mean(), 0.0)
    at = np.arange(row.size) - 0.5 * (row.size - 1)
    row = row - at * float((at * row).sum() / np.square(at).sum())
    length = fft.next_fast_len(2 * row.size, real=True)
    spectrum = fft.rfft(row, length)
    whole = fft.irfft(spectrum.real**2 + spectrum.imag**2, length)[: row.size // 3 + 1]
    if whole[0] <= 1e-12 * row.size * max(1.0, float(np.abs(row).max())) ** 2:
        return 0.0, 0.0
    likeness = whole / whole[0] * (row.size / (row.size - np.arange(whole.size)))
    low = np.flatnonzero(likeness < 0.5 * LEAST_LIKENESS)
    if not low.size:
        return 0.0, 0.0
    inner = likeness[1:-1]
    peaks = np.flatnonzero((inner >= likeness[:-2]) & (inner > likeness[2:])) + 1
    peaks = peaks[(peaks > low[0]) & (peaks >= FEWEST_POINTS)]
    if not peaks.size or likeness[peaks].max() < LEAST_LIKENESS:
        return 0.0, 0.0
    high = peaks[likeness[peaks] >= FIRST_SHARE * likeness[peaks].max()]
    return float(likeness[high[0]]), float(high[0])


def _rises(row: "_Smoothed | _Levelled", progress: Progress) -> Row:
    """Times at which the signal rises through its middle, seconds."""
    ends = _ends(row, part(progress, 0.0, 0.5))
    if ends is None:
        return np.empty(0)
    middle, swing = 0.5 * (ends[0] + ends[1]), SWING * (ends[1] - ends[0])
    low, high = middle - swing, middle + swing
    edges = find_edges(row, low=low, high=high, level=middle, progress=part(progress, 0.5, 0.75))
    above = find_edges(row, low=low, high=high, level=high, progress=part(progress, 0.75, 1.0)).at[edges.rising]
    rises = edges.at[edges.rising]
    if rises.size:
        # Out of a flat at the middle (teeth left out) a pulse rises at no clear moment: there the upper threshold counts.
        usual = float(np.median(above - rises))
        rises = np.where(above - rises > VAGUE * usual + 0.5, above - usual, rises)
    found: Row = row.start_s + rises * row.step_s
    return found


def _ends(row: Samples, progress: Progress) -> tuple[float, float] | None:
    levels = state_levels(row, progress)
    if levels is not None and levels.two_states:
        return levels.low, levels.high
    ends = finite_range(row)
    return ends if ends is not None and ends[1] > ends[0] else None


def _divided(starts_s: Row) -> Cycles | None:
    apart = np.diff(starts_s)
    usual = _usual(apart)
    long = np.flatnonzero(apart > LONG * usual)
    if long.size:  # a tooth that is lost makes a shorter gap than the two that are left out by design
        bar = 1.0 + GAP_SHARE * (float(np.median(apart[long] / usual[long])) - 1.0)
        long = long[apart[long] > bar * usual[long]]
    regular = float((np.abs(apart / usual - 1.0) <= LIKE_THE_OTHERS).mean())
    between = np.diff(long)
    if between.size >= FEWEST_CYCLES - 1:
        pulses = int(np.median(between))
        if pulses >= 3 and float((between == pulses).mean()) >= 0.6:
            found = _by_gaps(starts_s, usual, long, pulses, regular)
            if found is not None:
                return found
    return _by_pulses(starts_s, apart, usual, regular)


def _usual(apart: Row) -> Row:
    """Median of each interval's neighbourhood of nine."""
    padded = np.pad(apart, 4, mode="edge")
    usual: Row = np.median(np.lib.stride_tricks.sliding_window_view(padded, 9), axis=1)
    return usual


def _by_gaps(starts_s: Row, usual: Row, long: npt.NDArray[np.int64], pulses: int, regular: float) -> Cycles | None:
    """From the pulse after a gap to the pulse after the next; None where no cycle is whole."""
    firsts = long + 1
    counts = np.diff(firsts)
    torn = np.abs(counts[:-1] + counts[1:] - pulses) <= 2  # a lost tooth that looks like the gap
    firsts = np.delete(firsts, np.flatnonzero(torn) + 1)
    counts = np.diff(firsts)
    bounds = np.empty((counts.size, pulses + 1))
    whole = counts == pulses
    if not whole.any():
        return None
    bounds[whole] = starts_s[firsts[:-1][whole, None] + np.arange(pulses + 1)]
    begins = bounds[whole, :1]
    share = np.median((bounds[whole] - begins) / (bounds[whole, -1:] - begins), axis=0)
    # A gap that was not seen, or seen twice, makes a cycle of another length: it cannot be laid on a whole one.
    near = np.abs(counts / pulses - 1.0) <= LIKE_THE_OTHERS
    for place in np.flatnonzero(near & ~whole).tolist():
        own = slice(int(firsts[place]), int(firsts[place + 1]) + 1)
        bounds[place] = _mended(starts_s[own], usual[own], share)
    gap = max(1, round(float(np.median((np.diff(starts_s)[firsts[1:] - 1]) / usual[firsts[1:] - 1]))))
    last, end = bounds[:, -2:-1], bounds[:, -1:]
    filled = np.hstack([bounds[:, :-1], last + (end - last) * np.arange(1, gap + 1) / gap])
    # All but the gap itself are as long as their neighbours.
    return Cycles(filled[near], pulses, min(1.0, regular * pulses / (pulses - 1)), ~whole[near])


def _mended(starts_s: Row, usual: Row, share: Row) -> Row:
    """Bounds of a cycle that lacks pulses or has some too many: lost ones put back evenly, else as in the other cycles."""
    apart = np.diff(starts_s)
    parts = np.maximum(np.round(apart / usual[: apart.size]), 1).astype(np.int64)
    parts[-1] = 1  # the gap
    if parts.sum() == share.size - 1:
        whole = np.concatenate([[0], np.cumsum(parts)])
        mended: Row = np.interp(np.arange(share.size), whole, starts_s)
        return mended
    like_others: Row = starts_s[0] + share * (starts_s[-1] - starts_s[0])
    return like_others


def _by_pulses(starts_s: Row, apart: Row, usual: Row, regular: float) -> Cycles | None:
    """Each pulse a cycle; an interval that lacks pulses is divided, and one with a pulse too many is joined."""
    begins = np.ones(starts_s.size, dtype=bool)
    both = (apart[:-1] + apart[1:]) / usual[:-1]
    close = np.append(np.abs(both - 1.0), np.inf)
    short = np.minimum(apart[:-1], apart[1:]) < SHORT * usual[:-1]
    # Of two neighbours either of which could be joined, the pair that makes the truer cycle.
    joint = short & (close[:-1] <= LIKE_THE_OTHERS) & (close[:-1] <= close[1:])
    begins[np.flatnonzero(joint) + 1] = False
    kept = starts_s[begins]
    lengths = np.diff(kept)
    usual = _usual(lengths)
    parts = np.maximum(np.round(lengths / usual), 1).astype(np.int64)
    which = np.repeat(np.arange(parts.size), parts)
    within = np.arange(which.size) - np.repeat(np.cumsum(parts) - parts, parts)
    step = lengths[which] / parts[which]
    first = kept[:-1][which] + within * step
    joined = np.isin(kept[:-1], starts_s[:-1][~begins[1:]])
    odd = (parts > 1)[which] | joined[which]
    if first.size < FEWEST_CYCLES:
        return None
    return Cycles(np.column_stack([first, first + step]), 1, regular, odd)
