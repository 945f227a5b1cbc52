"""What lies between two cursors, as pulses: state levels, edges, duty, slew; from the captured samples."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.edges import Edges, find_edges
from loomlight.signal.levels import StateLevels, state_levels
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.readings import samples_between
from loomlight.signal.runs import runs_above_zero
from loomlight.signal.samples import PartOf, Samples, Times, blocks

LEAST_HYSTERESIS, MOST_HYSTERESIS = 0.1, 0.4
"""Half width of the band around the middle that noise must not count in, as a share of the amplitude."""
NOISE_TIMES = 3.0
MOST_GAPS = 10_000

NO_STATES = "no two levels stand out between the cursors"
IN_PAIRS = "which of an interval's minimum and maximum came first is not known"
NO_SLOPES = "only changes were recorded, no slopes"
NO_PERIOD = "no whole period lies between the cursors"
NO_TRANSITION = "no whole edge lies between the cursors"
TOO_FAST = "the edges take less than two samples"
ONE_TOO_FAST = "the edges in one direction take less than two samples"
LEAST_STEPS = 2.0
"""A transition of fewer steps is the line between two samples, not the signal's own slope."""


@dataclass(frozen=True)
class Pulses:
    """Pulses between two cursors; None for what cannot be told.

    Attributes
    ----------
    low, high : float or None
        State levels, in the channel's unit.
    edges : int or None
        Crossings of the middle of both levels that go on to the other state.
    is_least : bool
        Not everything was acquired between the cursors: there may have been more edges.
    duty : float or None
        Share of the time above the middle, 0 to 1, over the whole periods.
    rate_hz : float or None
        Whole periods a second.
    rise_s, fall_s : float or None
        Median time from 10 % to 90 % of the amplitude, and back, seconds.
    rise_slew, fall_slew : float or None
        80 % of the amplitude over that time, unit a second; ``fall_slew`` is negative.
    why : tuple of str
        Why something cannot be told.
    """

    low: float | None = None
    high: float | None = None
    edges: int | None = None
    is_least: bool = False
    duty: float | None = None
    rate_hz: float | None = None
    rise_s: float | None = None
    fall_s: float | None = None
    rise_slew: float | None = None
    fall_slew: float | None = None
    why: tuple[str, ...] = ()


def pulses(channel: Channel, first_s: float, second_s: float, progress: Progress = unwatched) -> Pulses:
    """Measure the pulses between two times.

    Parameters
    ----------
    channel : Channel
        Any form. Of ``pairs`` only the levels can be told, of ``changes`` no slopes.
    first_s, second_s : float
        Seconds on the channel's own axis, in any order.
    progress : Progress
        0 to 1 over several walks of the samples between.

    References
    ----------
    .. [1] IEEE Std 181-2011, "Transitions, Pulses, and Related Waveforms": state levels by histogram modes, the 10 %,
       50 % and 90 % reference levels, transition duration, duty factor.
    """
    first, last = samples_between(channel, min(first_s, second_s), max(first_s, second_s))
    samples = PartOf(channel.samples, first, last)
    levels = state_levels(samples, part(progress, 0.0, 0.3))
    if levels is None or not levels.two_states:
        return Pulses(why=(NO_STATES,))
    found = Pulses(low=levels.low, high=levels.high)
    if channel.form == "pairs":
        return replace(found, why=(IN_PAIRS,))
    holes = _holes(samples, part(progress, 0.3, 0.4))
    times = _Clock(channel, first)
    found = _periods(found, samples, levels, holes, times, part(progress, 0.4, 0.6))
    if channel.form == "changes":
        return replace(found, why=(*found.why, NO_SLOPES))
    return _slopes(found, samples, levels, holes, times, part(progress, 0.6, 1.0))


class _Clock:
    """Seconds of places between samples, counted from the part's first sample."""

    def __init__(self, channel: Channel, first: int) -> None:
        self._channel, self._first = channel, first

    def of(self, edges: Edges) -> Times:
        """Time of each edge; of ``changes`` the change itself, for nothing is known between two of them."""
        own, step_s = self._channel.times_s, self._channel.step_s
        if own is None:
            assert step_s is not None
            even: Times = self._channel.start_s + (self._first + edges.at) * step_s
            return even
        if self._channel.form == "changes":
            changes: Times = own[self._first + edges.decided]
            return changes
        places = np.clip(self._first + edges.at, 0, own.size - 1)
        low = np.minimum(np.floor(places).astype(np.int64), max(own.size - 2, 0))
        between: Times = own[low] + (places - low) * (own[np.minimum(low + 1, own.size - 1)] - own[low])
        return between


def _holes(samples: Samples, progress: Progress) -> npt.NDArray[np.int64]:
    """Half-open ranges of samples that were not acquired, shape (n, 2)."""
    rows = ((start, np.isnan(values).astype(np.float32)) for start, values in blocks(samples, progress))
    found = runs_above_zero(rows, most=MOST_GAPS)
    return np.column_stack([found.first, found.last])


def _whole(begin: Times, end: Times, holes: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Which stretches, in samples, hold no hole."""
    # Also where it ends just at the begin: an edge that happened inside a hole is put on the first sample after it.
    before_begin = np.searchsorted(holes[:, 1], begin, side="left")
    before_end = np.searchsorted(holes[:, 0], end, side="left")
    whole: npt.NDArray[np.bool_] = before_begin >= before_end
    return whole


def _periods(
    found: Pulses,
    samples: Samples,
    levels: StateLevels,
    holes: npt.NDArray[np.int64],
    times: _Clock,
    progress: Progress,
) -> Pulses:
    """Edges, and what whole periods between like edges give."""
    middle = 0.5 * (levels.low + levels.high)
    noise = NOISE_TIMES * max(levels.low_spread, levels.high_spread) / levels.amplitude
    half = levels.amplitude * min(max(noise, LEAST_HYSTERESIS), MOST_HYSTERESIS)
    edges = find_edges(samples, low=middle - half, high=middle + half, level=middle, progress=progress)
    found = replace(found, edges=edges.at.size, is_least=bool(len(holes)))
    at_s = times.of(edges)
    # From edge 0 to 2 is a period, from 2 to 4 the next; an odd edge at the end is left out.
    begins, halves, ends = at_s[:-2:2], at_s[1:-1:2], at_s[2::2]
    whole = _whole(edges.at[:-2:2], edges.at[2::2], holes)
    begins, halves, ends = begins[whole], halves[whole], ends[whole]
    length_s = float((ends - begins).sum())
    if not begins.size or length_s <= 0:
        return replace(found, why=(*found.why, NO_PERIOD))
    first_half = float((halves - begins).sum()) / length_s
    duty = first_half if edges.rising[0] else 1.0 - first_half
    return replace(found, duty=duty, rate_hz=begins.size / length_s)


def _slopes(
    found: Pulses,
    samples: Samples,
    levels: StateLevels,
    holes: npt.NDArray[np.int64],
    times: _Clock,
    progress: Progress,
) -> Pulses:
    """Transition durations between the 10 % and the 90 % reference level, and the slew that follows."""
    low, high = (levels.low + share * levels.amplitude for share in (0.1, 0.9))
    # The same thresholds give the same edges; only the level that is timed differs.
    at_low = find_edges(samples, low=low, high=high, level=low, progress=part(progress, 0.0, 0.5))
    at_high = find_edges(samples, low=low, high=high, level=high, progress=part(progress, 0.5, 1.0))
    places = np.sort(np.column_stack([at_low.at, at_high.at]), axis=1)
    kept = _whole(places[:, 0], places[:, 1], holes) & (places[:, 0] >= 0)
    durations = np.abs(times.of(at_high) - times.of(at_low))
    if not kept.any():
        return replace(found, why=(*found.why, NO_TRANSITION))
    slow = np.abs(at_high.at - at_low.at) >= LEAST_STEPS
    chosen = [kept & (at_low.rising == up) for up in (True, False)]
    rise, fall = (_median(durations[one], slow[one]) for one in chosen)
    too_fast = [bool(one.any()) and found_s is None for one, found_s in zip(chosen, (rise, fall), strict=True)]
    why = (TOO_FAST if rise is None and fall is None else ONE_TOO_FAST,) if any(too_fast) else ()
    step = high - low
    return replace(
        found,
        rise_s=rise,
        fall_s=fall,
        rise_slew=step / rise if rise else None,
        fall_slew=-step / fall if fall else None,
        why=(*found.why, *why),
    )


def _median(durations: Times, slow: npt.NDArray[np.bool_]) -> float | None:
    """None where there is none, or where most are over within the sample spacing."""
    return float(np.median(durations)) if slow.sum() > 0.5 * slow.size else None
