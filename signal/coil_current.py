"""A coil's current, read pulse by pulse: slope, knee, peak, hold, and resistance and inductance by a fit."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.coil_fit import CoilFit, fit_rise
from loomlight.signal.edges import Edges, find_edges
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.pulse_train import Averaged, glance_of
from loomlight.signal.pwm_reading import usual_of
from loomlight.signal.resample import Instants, instants, values_at
from loomlight.signal.samples import BLOCK, Samples, Times, Wave

Row = npt.NDArray[np.float64]

ON_SHARE, OFF_SHARE = 0.12, 0.06
"""Of the peak: where a pulse begins and ends; a coil's current has no two states, so 50 % would say nothing."""
NOISE_ON, NOISE_OFF = 6.0, 3.0
FLAT_NOISE = 10.0
CALM = 0.02
MOST_PULSES, POINTS = 64, 400
BEFORE, AFTER = 0.15, 0.35
"""Shares of the usual on-time that the average pulse reaches before its begin and beyond its end."""
ALIKE = 0.12
LONG, SHORT = 1.5, 0.75
CHATTER = 0.1
"""Of the on-time: a shorter break is noise at the threshold."""
STUCK_TIMES = 3.0
HOLDS = 0.65
KNEE_LEAST = 0.04
KNEE_SHARE = 0.1
"""Of the steepest slope: how much the slope has to come back after a knee."""


@dataclass(frozen=True, eq=False)
class CurrentReading:
    """What one current channel shows.

    Attributes
    ----------
    rest_a, noise_a : float
        Current between the pulses, and a sample's scatter.
    flat : bool
        Nothing rises out of the noise.
    starts_s, on_s, peaks_a : ndarray, shape (n,)
        Begin, length and peak of each pulse, the peak above the rest.
    period_s : float or None
        Usual time from pulse to pulse.
    missing : tuple of (float, float)
        Stretches in which pulses should have come.
    short : tuple of int
        Pulses much shorter than their neighbours.
    stuck : (float, float) or None
        A pulse that does not end.
    fit : CoilFit or None
        Of its rise.
    knee_s : float or None
        Where the slope comes back, from the switching on.
    hold_a : float or None
        What a current that was let down after its peak is held at.
    decay_s : float or None
        From 90 % to 10 % of the current at the switching off.
    jump_a : float or None
        What the current has at once when the switch closes, by the fit.
    knee_size : float
        Current that the knee costs, or what looks like one, share of the peak.
    """

    rest_a: float
    noise_a: float
    flat: bool
    starts_s: Times = field(repr=False)
    on_s: Row = field(repr=False)
    peaks_a: Row = field(repr=False)
    period_s: float | None = None
    missing: tuple[tuple[float, float], ...] = ()
    short: tuple[int, ...] = ()
    stuck: tuple[float, float] | None = None
    fit: CoilFit | None = None
    knee_s: float | None = None
    hold_a: float | None = None
    decay_s: float | None = None
    jump_a: float | None = None
    knee_size: float = 0.0

    @property
    def peak_a(self) -> float | None:
        """Usual peak, amperes above the rest."""
        return float(np.median(self.peaks_a)) if self.peaks_a.size else None

    @property
    def usual_on_s(self) -> float | None:
        """Usual on-time, seconds."""
        return float(np.median(self.on_s)) if self.on_s.size else None

    @property
    def duty(self) -> float | None:
        """Share of the time switched on."""
        return self.usual_on_s / self.period_s if self.usual_on_s and self.period_s else None


def read_current(channel: Channel, progress: Progress = unwatched) -> CurrentReading | None:
    """Read a channel in amperes; None where no sample is a number."""
    assert channel.step_s is not None
    row: Samples = Instants(channel)
    glance = glance_of(row)
    if not glance.size:
        return None
    low, high = np.percentile(glance, [1.0, 99.5]).tolist()
    noise = float(np.median(np.abs(np.diff(glance, n=2)))) * 1.4826 / float(np.sqrt(6.0)) if glance.size > 2 else 0.0
    rest = float(np.median(glance[glance <= low + ON_SHARE * (high - low)]))
    empty = np.empty(0)
    if high - low <= max(FLAT_NOISE * noise, 1e-6 * max(abs(high), abs(low))) or _is_white(glance, high - low):
        return CurrentReading(float(np.median(glance)), noise, True, empty, empty, empty)
    edges, step_s, start_s = _pulse_edges(channel, row, rest, high, noise, part(progress, 0.0, 0.5))
    at_s = start_s + edges.at * step_s
    ups, downs = at_s[edges.rising], at_s[~edges.rising]
    stuck = _open_end(channel, edges, ups, downs)
    downs = downs[np.searchsorted(downs, ups[0]) :] if ups.size else empty
    count = min(ups.size, downs.size)
    starts, on = _joined(ups[:count], downs[:count])
    stuck = stuck or _too_long(starts, on)
    if stuck is not None:
        keep = (starts < stuck[0] - 1e-9) | (starts > stuck[1])
        starts, on = starts[keep], on[keep]
    if starts.size < 2:
        return CurrentReading(rest, noise, False, starts, on, _peaks(channel, starts, on) - rest, stuck=stuck)
    period = np.diff(starts)
    usual = usual_of(period)
    missing = tuple(
        (float(starts[place]), float(starts[place + 1]))
        for place in np.flatnonzero(period > LONG * usual)[:500].tolist()
    )
    lengths = usual_of(on)
    short = tuple(np.flatnonzero(on < SHORT * lengths)[:500].tolist())
    peaks = _peaks(channel, starts, on) - rest
    usual_on = float(np.median(on))
    grid, average = _average(channel, starts, on, usual_on, rest, part(progress, 0.6, 0.9))
    shape = _shape(grid, average, usual_on, noise, channel.step_s)
    return CurrentReading(rest, noise, False, starts, on, peaks, float(np.median(usual)), missing, short, stuck, *shape)


def _is_white(values: Wave, reach: float) -> bool:
    """Whether the scatter is from sample to sample, and no further than noise goes."""
    spread = float(values.std())
    change = float(np.diff(values).std()) / np.sqrt(2.0)
    return bool(change > 0.8 * spread and reach < 12.0 * spread)


def _pulse_edges(
    channel: Channel, row: Samples, rest: float, high: float, noise: float, progress: Progress
) -> tuple[Edges, float, float]:
    """Crossings of a share of the peak, on a smoother row where noise would make some of its own."""
    assert channel.step_s is not None
    height = high - rest
    upper = min(max(ON_SHARE * height, NOISE_ON * noise), 0.4 * height)
    lower = min(max(OFF_SHARE * height, NOISE_OFF * noise), 0.6 * upper)
    edges = find_edges(row, low=rest + lower, high=rest + upper, level=rest + upper, progress=part(progress, 0.0, 0.5))
    if noise <= CALM * height or edges.at.size < 4:
        return edges, channel.step_s, channel.start_s
    usual = float(np.percentile(np.diff(edges.at), 75.0))
    coarser = min((noise / height / CALM) ** 2, usual / 48.0)
    if coarser < 2.0:
        return edges, channel.step_s, channel.start_s
    smooth = Averaged(channel, coarser * channel.step_s)
    upper, lower = ON_SHARE * height, OFF_SHARE * height
    level = rest + upper
    edges = find_edges(smooth, low=rest + lower, high=level, level=level, progress=part(progress, 0.5, 1.0))
    return edges, smooth.step_s, smooth.start_s


def _joined(starts: Times, stops: Times) -> tuple[Times, Row]:
    """Begins and lengths of pulses; noise about the threshold cuts none in two."""
    if starts.size < 2:
        return starts, stops - starts
    usual = float(np.percentile(stops - starts, 75.0))
    apart = starts[1:] - stops[:-1] > CHATTER * usual
    first, last = np.concatenate([[True], apart]), np.concatenate([apart, [True]])
    return starts[first], stops[last] - starts[first]


def _open_end(channel: Channel, edges: Edges, ups: Times, downs: Times) -> tuple[float, float] | None:
    """A last pulse that does not end within the capture, and lasts several times as long as the others."""
    if edges.starts_high is None or not edges.at.size:
        return None
    if not edges.rising[-1]:
        return None
    whole = downs[np.searchsorted(downs, ups[0]) :] if ups.size else downs
    count = min(ups.size, whole.size)
    usual = float(np.median(whole[:count] - ups[:count])) if count else 0.0
    last = float(ups[-1])
    return (last, channel.stop_s) if count and channel.stop_s - last > STUCK_TIMES * usual else None


def _too_long(starts: Times, on: Row) -> tuple[float, float] | None:
    if on.size < 4:
        return None
    place = int(np.argmax(on))
    if on[place] <= 2.0 * STUCK_TIMES * float(np.median(on)):
        return None
    return float(starts[place]), float(starts[place] + on[place])


def _peaks(channel: Channel, starts: Times, on: Row) -> Row:
    assert channel.step_s is not None
    peaks = np.full(starts.size, np.nan)
    first = np.clip((starts - channel.start_s) / channel.step_s, 0, channel.intervals - 1).astype(np.int64)
    last = np.clip((starts + on - channel.start_s) / channel.step_s + 1, first + 1, channel.intervals).astype(np.int64)
    place = 0
    while place < starts.size:
        stop = max(int(np.searchsorted(last, first[place] + BLOCK)), place + 1)
        low, high = int(first[place]), int(min(last[stop - 1], first[place] + 4 * BLOCK))
        values = instants(channel, low, high)
        padded = np.append(np.nan_to_num(values, nan=-np.inf), np.float32(-np.inf))
        bounds = np.minimum(np.column_stack([first[place:stop], last[place:stop]]).ravel() - low, values.size)
        peaks[place:stop] = np.maximum.reduceat(padded, bounds)[::2]
        place = stop
    return peaks


def _average(
    channel: Channel, starts: Times, on: Row, usual_on: float, rest: float, progress: Progress
) -> tuple[Row, Row]:
    """Mean over pulses of usual length, on a grid that begins a little before them."""
    alike = np.flatnonzero(np.abs(on / usual_on - 1.0) < ALIKE)
    if alike.size > MOST_PULSES:
        alike = alike[np.linspace(0, alike.size - 1, MOST_PULSES).astype(np.int64)]
    grid = np.linspace(-BEFORE, 1.0 + AFTER, POINTS) * usual_on
    total, count = np.zeros(POINTS), np.zeros(POINTS)
    for number, place in enumerate(alike.tolist()):
        progress(number / alike.size)
        values = values_at(channel, starts[place] + grid).astype(np.float64) - rest
        known = np.isfinite(values)
        total[known] += values[known]
        count += known
    return grid, total / np.maximum(count, 1.0)


def _shape(
    grid: Row, average: Row, on_s: float, noise: float, step_s: float
) -> tuple[CoilFit | None, float | None, float | None, float | None, float | None, float]:
    """Fit, knee, hold, decay and jump of the average pulse."""
    width = max(3, POINTS // 60) | 1
    step_ratio = width * (grid[1] - grid[0]) / step_s
    smooth = np.convolve(average, np.ones(width) / width, mode="same")
    inside = (grid > 0) & (grid < on_s)
    top = int(np.flatnonzero(inside)[np.argmax(smooth[inside])])
    peak = float(smooth[top])
    if not peak > 0:
        return None, None, None, None, None, 0.0
    quiet = np.flatnonzero((grid < 0.25 * on_s) & (average < max(0.03 * peak, 2.0 * noise / np.sqrt(8.0))))
    begin = int(quiet[-1]) + 1 if quiet.size else int(np.argmax(grid > 0))
    end = min(top, int(np.searchsorted(grid, 0.98 * on_s)))
    # Close to its end the current stands: what it does there in noise is no peak.
    settled = np.flatnonzero(smooth[begin:end] > 0.985 * peak)
    if settled.size and grid[top] > 0.8 * on_s:
        end = max(end, begin + int(settled[-1]))
    found = _knee(grid, smooth, begin, end, peak)
    cost = max(KNEE_LEAST, 6.0 * noise / np.sqrt(8.0 * max(step_ratio, 1.0)) / peak)
    knee = found[0] if found is not None and found[1] >= cost else None
    use = np.zeros(grid.size, bool)
    use[begin + 1 : end] = True
    if knee is not None:
        use &= np.abs(grid - grid[begin] - knee) > 0.5 * knee
    samples = max((grid[end] - grid[begin]) / step_s, 1.0)
    fit = fit_rise(grid[use], average[use], samples=samples) if use.sum() >= 8 else None
    last = smooth[(grid > 0.75 * on_s) & (grid < 0.97 * on_s)]
    level = float(np.median(last)) if last.size else peak
    hold = level if level < HOLDS * peak else None
    jump = fit.at(float(grid[begin])) if fit is not None else None
    size = found[1] if found is not None else 0.0
    return fit, knee, hold, _decay(grid, average, on_s, level), jump, size


def _knee(grid: Row, smooth: Row, begin: int, end: int, peak: float) -> tuple[float, float] | None:
    """Where the slope is least before it comes back, from the begin, and how much current that costs, share of the peak.

    An exponential's slope only falls. None where nothing comes back.
    """
    if end - begin < 20:
        return None
    slope = np.gradient(smooth, grid)
    width = max(5, (end - begin) // 16) | 1
    slope = np.convolve(slope, np.ones(width) / width, mode="same")[begin + width : end - width]
    if slope.size < 8 or slope.max() <= 0:
        return None
    later = np.maximum.accumulate(slope[::-1])[::-1]
    back = later - slope
    least = int(np.argmax(back))
    if back[least] < KNEE_SHARE * slope.max() or not 0.04 * slope.size < least < 0.9 * slope.size:
        return None
    deep = back > 0.5 * back[least]
    ends = np.flatnonzero(~deep)
    wide = int(ends[ends > least][0] if (ends > least).any() else slope.size) - int(
        ends[ends < least][-1] if (ends < least).any() else -1
    )
    size = float(back[least] * 0.7 * wide * (grid[1] - grid[0])) / peak
    return float(grid[begin + width + least] - grid[begin]), size


def _decay(grid: Row, average: Row, on_s: float, level: float) -> float | None:
    """From 90 % to 10 % of the last level, around the end of the pulse."""
    after = np.flatnonzero(grid > 0.8 * on_s)
    values = average[after]
    high = np.flatnonzero(values > 0.9 * level)
    low = np.flatnonzero(values < 0.1 * level)
    if not high.size:
        return None
    low = low[low > high[-1]]
    return float(grid[after[low[0]]] - grid[after[high[-1]]]) if low.size else None
