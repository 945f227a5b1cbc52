"""One switched wire, read pulse by pulse."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.pulse_train import Train, read_train
from loomlight.signal.resample import Instants, instants
from loomlight.signal.samples import BLOCK, Times

Row = npt.NDArray[np.float64]

NEIGHBOURS = 9
FEWEST_EDGES, FEWEST_STARTS = 8, 4
SPLIT_SUM = 0.25
"""Two intervals that make one period together, to this share: an edge too many between."""
LONG, MOST_LONG, SCATTERS = 1.5, 1.85, 1.5
LOST_PERIODS = 4.5
RUNT_LEAST, RUNT_MOST = 0.2, 0.62
"""Of the amplitude: an excursion between them is a runt (IEEE Std 181-2011: it leaves its state and does not reach the other)."""
LEAST_STEPS = 2.0
LEAST_KNOWN = 0.9
SPIKE_LEAST = 0.25
"""Of the amplitude above the high level: less is overshoot and no flyback."""


@dataclass(frozen=True)
class Pause:
    """A stretch without pulses.

    Attributes
    ----------
    start_s, stop_s : float
        Seconds on the channel's axis.
    level : float
        Median of the samples in it.
    reach : float
        How far the samples in it are from the state that they are nearer to, share of the amplitude.
    periods : float
        How many usual periods it lasts.
    at_begin, at_end : bool
        It touches an end of the capture.
    """

    start_s: float
    stop_s: float
    level: float
    reach: float
    periods: float
    at_begin: bool = False
    at_end: bool = False


@dataclass(frozen=True, eq=False)
class PwmReading:
    """What one channel shows.

    Attributes
    ----------
    train : Train
        Its edges.
    starts_s : ndarray, shape (n,)
        Clock edges, those too many left out.
    period_s, usual_s : ndarray, shape (n - 1,)
        Each period, and the usual one about it.
    duty : ndarray, shape (n - 1,)
        Share of each period for which the wire is high.
    extra_s : ndarray
        Clock edges too many.
    pauses : tuple of Pause
        Periods that lack one or more pulses, and longer stretches.
    rise_s, fall_s : float or None
        Median transition durations, 10 % to 90 % of the amplitude; None where they take less than two samples.
    transition_doubt_s : float
        Below it nothing is known of a transition: two sample steps.
    peaks : ndarray, shape (m,)
        Highest sample within each high pulse; empty where the wire does not fly back.
    peak_times_s : ndarray, shape (m,)
        When each high pulse began.
    spike_s : float or None
        Median time that the flyback stays above the middle between high level and peak.
    jitter : float or None
        Standard deviation of the whole periods from the usual one by their median deviation, share of a period.
    """

    train: Train
    starts_s: Times = field(repr=False)
    period_s: Row = field(repr=False)
    usual_s: Row = field(repr=False)
    duty: Row = field(repr=False)
    extra_s: Times = field(repr=False)
    pauses: tuple[Pause, ...]
    rise_s: float | None
    fall_s: float | None
    transition_doubt_s: float
    peaks: Row = field(repr=False)
    peak_times_s: Times = field(repr=False)
    spike_s: float | None
    jitter: float | None

    @property
    def rate_hz(self) -> float | None:
        """Usual frequency, hertz."""
        return 1.0 / float(np.median(self.usual_s)) if self.usual_s.size else None

    @property
    def flies_back(self) -> bool:
        """Whether the wire goes well above its high level at each opening of the switch."""
        return self.peaks.size > 0

    @property
    def peak(self) -> float | None:
        """Flyback peak that one in ten exceeds (a short one can fall between two samples), in the channel's unit."""
        return float(np.percentile(self.peaks, 90.0)) if self.peaks.size else None


def read_pwm(channel: Channel, progress: Progress = unwatched) -> PwmReading | None:
    """Read a channel; None where no sample is a number.

    Notes
    -----
    IEEE Std 181-2011 terms: period and duty factor at the 50 % reference level, transition duration from 10 % to 90 %,
    runts; state levels by histogram modes.
    """
    train = read_train(channel, part(progress, 0.0, 0.4), switching=True)
    if train is None:
        return None
    none = np.empty(0)
    assert channel.step_s is not None
    nothing = PwmReading(
        train, none, none, none, none, none, (), None, None, 2 * channel.step_s, none, none, None, None
    )
    if train.at_s.size < FEWEST_EDGES or train.manner == "flat":
        return nothing
    rising, starts, extra = _clock(train)
    if starts.size < FEWEST_STARTS:
        return nothing
    period = np.diff(starts)
    usual = usual_of(period)
    whole = (period < LONG * usual) & (period > 0.5 * usual)
    # By the median: pulses that are lost or too many are no jitter of the clock.
    off = np.abs(period[whole] / usual[whole] - 1.0)
    jitter = 1.4826 * float(np.median(off)) if whole.sum() >= 8 else None
    rise, fall = _transitions(channel, train, part(progress, 0.4, 0.8))
    peaks, peak_times, spike = _flyback(channel, train, part(progress, 0.8, 1.0))
    return PwmReading(
        train=train,
        starts_s=starts,
        period_s=period,
        usual_s=usual,
        duty=_duty(train, starts, rising=rising),
        extra_s=extra,
        pauses=_pauses(channel, train, starts, usual),
        rise_s=rise,
        fall_s=fall,
        transition_doubt_s=LEAST_STEPS * channel.step_s,
        peaks=peaks,
        peak_times_s=peak_times,
        spike_s=spike,
        jitter=jitter,
    )


def usual_of(apart: Row) -> Row:
    """Median of each interval's neighbourhood of nine, mirrored at the ends."""
    if apart.size < NEIGHBOURS:
        return np.full(apart.size, float(np.median(apart))) if apart.size else apart
    padded = np.pad(apart, NEIGHBOURS // 2, mode="reflect")
    usual: Row = np.median(np.lib.stride_tricks.sliding_window_view(padded, NEIGHBOURS), axis=1)
    return usual


def _clock(train: Train) -> tuple[bool, Times, Times]:
    """The direction whose edges come the more regularly, without those too many, and those."""
    found = []
    for rising in (True, False):
        edges = train.like(rising=rising)
        apart = np.diff(edges)
        usual = usual_of(apart)
        share = apart / usual
        spread = float(np.median(np.abs(share - 1.0)))
        extra = np.zeros(edges.size, bool)
        both = share[:-1] + share[1:]
        extra[np.flatnonzero(np.abs(both - 1.0) < SPLIT_SUM) + 1] = True
        # The clearer of two neighbours that both seem too many is kept.
        twice = np.flatnonzero(extra[1:] & extra[:-1])
        extra[twice + 1] = False
        found.append((round(spread, 3), not rising, edges, extra))
    _, falling, edges, extra = min(found, key=lambda one: one[:2])
    return not falling, edges[~extra], edges[extra]


def _duty(train: Train, starts: Times, *, rising: bool) -> Row:
    """High share of each period by the time spent high between its two clock edges."""
    at, up = train.at_s, train.rising
    sign = np.where(up, -1.0, 1.0)
    running = np.cumsum(sign * at)
    # Time high up to t: sum of the falls minus sum of the rises before it, and t where it is high just then.
    place = np.searchsorted(at, starts, side="left")
    high_before = np.concatenate([[0.0], running])[place]
    total = high_before if rising else high_before + starts
    duty: Row = np.clip(np.diff(total) / np.diff(starts), 0.0, 1.0)
    return duty


def _pauses(channel: Channel, train: Train, starts: Times, usual: Row) -> tuple[Pause, ...]:
    period = np.diff(starts)
    found = []
    # A clock that scatters makes long periods that lack no pulse.
    scatter = 1.4826 * float(np.median(np.abs(period / usual - 1.0)))
    bar = min(LONG + SCATTERS * scatter, MOST_LONG)
    for place in np.flatnonzero(period >= bar * usual)[:5000].tolist():
        found.append(_pause(channel, train, float(starts[place]), float(starts[place + 1]), float(usual[place])))
    first, last = float(train.at_s[0]), float(train.at_s[-1])
    if first - channel.start_s > LOST_PERIODS * usual[0]:
        found.insert(0, _pause(channel, train, channel.start_s, first, float(usual[0]), at_begin=True))
    if channel.stop_s - last > LOST_PERIODS * usual[-1]:
        found.append(_pause(channel, train, last, channel.stop_s, float(usual[-1]), at_end=True))
    return tuple(one for one in found if one is not None)


def _pause(
    channel: Channel,
    train: Train,
    start_s: float,
    stop_s: float,
    usual_s: float,
    *,
    at_begin: bool = False,
    at_end: bool = False,
) -> Pause | None:
    """None where it was not acquired; within it, from the last edge before to the first after."""
    first, last = np.searchsorted(train.at_s, [start_s, stop_s]).tolist()
    inner = train.at_s[first : last + 1]
    if inner.size >= 2 and not (at_begin or at_end):
        widest = int(np.argmax(np.diff(inner)))
        low_s, high_s = float(inner[widest]), float(inner[widest + 1])
    else:
        low_s, high_s = start_s, stop_s
    assert channel.step_s is not None
    slack = min(0.15 * usual_s, 0.3 * (high_s - low_s))
    begin = int(np.clip((low_s + slack - channel.start_s) / channel.step_s, 0, channel.intervals - 1))
    end = int(np.clip((high_s - slack - channel.start_s) / channel.step_s, begin + 1, channel.intervals))
    values = instants(channel, begin, min(end, begin + BLOCK))
    known = np.isfinite(values)
    if not known.size or known.mean() < LEAST_KNOWN:
        return None
    values = values[known]
    level = float(np.median(values))
    below, above = np.percentile(values, [10.0, 90.0]).tolist()
    away = above - train.low if level < train.middle else train.high - below
    reach = float(away / train.amplitude)
    return Pause(start_s, stop_s, level, reach, (stop_s - start_s) / usual_s, at_begin, at_end)


def _transitions(channel: Channel, train: Train, progress: Progress) -> tuple[float | None, float | None]:
    """Median time from 10 % to 90 %, and back."""
    if train.manner != "two levels":
        return None, None
    low, high = train.low + 0.1 * train.amplitude, train.low + 0.9 * train.amplitude
    # With noise of more than a share of that the 10 % and 90 % instants of single edges jump; the median still holds.
    row = Instants(channel)
    at_low = find_edges(row, low=low, high=high, level=low, progress=part(progress, 0.0, 0.5))
    at_high = find_edges(row, low=low, high=high, level=high, progress=part(progress, 0.5, 1.0))
    assert channel.step_s is not None
    found: list[float | None] = []
    for up in (True, False):
        chosen = at_low.rising == up
        steps = np.abs(at_high.at[chosen] - at_low.at[chosen])
        usual = float(np.median(steps)) if steps.size >= 3 else 0.0
        found.append(usual * channel.step_s if usual >= LEAST_STEPS else None)
    return found[0], found[1]


def _flyback(channel: Channel, train: Train, progress: Progress) -> tuple[Row, Times, float | None]:
    """Highest sample of each high pulse; nothing where that is no more than overshoot and noise."""
    ups, downs = train.like(rising=True), train.like(rising=False)
    if train.manner != "two levels" or not ups.size or not downs.size:
        return np.empty(0), np.empty(0), None
    downs = downs[np.searchsorted(downs, ups[0]) :]
    count = min(ups.size, downs.size)
    ups, downs = ups[:count], downs[:count]
    if not count:
        return np.empty(0), np.empty(0), None
    assert channel.step_s is not None
    first = np.clip(np.ceil((ups - channel.start_s) / channel.step_s), 0, channel.intervals - 1).astype(np.int64)
    last = np.clip(np.floor((downs - channel.start_s) / channel.step_s) + 1, first + 1, channel.intervals).astype(
        np.int64
    )
    peaks = np.empty(count)
    above = np.zeros(count)
    place = 0
    while place < count:
        progress(place / count)
        stop = max(int(np.searchsorted(last, first[place] + BLOCK)), place + 1)
        low, high = int(first[place]), int(last[stop - 1])
        values = instants(channel, low, min(high, low + 4 * BLOCK))
        padded = np.append(np.nan_to_num(values, nan=train.low), np.float32(train.low))
        bounds = np.minimum(np.column_stack([first[place:stop], last[place:stop]]).ravel() - low, values.size)
        here = np.maximum.reduceat(padded, bounds)[::2]
        peaks[place:stop] = here
        usual = float(np.median(here))
        middle = np.float32(0.5 * (usual + train.high))
        above[place:stop] = np.add.reduceat((padded > middle).astype(np.float64), bounds)[::2]
        place = stop
    usual_peak = float(np.median(peaks))
    if usual_peak - train.high < max(SPIKE_LEAST * train.amplitude, 6.0 * train.noise):
        return np.empty(0), np.empty(0), None
    return peaks, ups, float(np.median(above)) * channel.step_s
