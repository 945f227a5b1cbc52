"""What one SENT channel shows by itself: levels, edges, frames."""

import math
from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.examination import BusReport
from loomlight.signal.levels import StateLevels
from loomlight.signal.lin_examination import converter_step
from loomlight.signal.line_case import LineCase, LineExamination
from loomlight.signal.line_faults import (
    line_levels,
    median,
    noise_above_steps,
    stands_out,
    thresholds,
    weighted_median,
    with_reached_low,
)
from loomlight.signal.line_states import LEVEL_FROM, LEVEL_TO, LineStates, picked, read_states
from loomlight.signal.progress import Progress, part
from loomlight.signal.sent_decode import SentFrame, SentTraffic, decode
from loomlight.signal.sent_limits import EDGE_HIGH_V, EDGE_LOW_V
from loomlight.signal.track import Track

FEWEST_VOLTS = 0.1
"""What an amplitude has to be to be a signal."""
FEWEST_EDGES = 8
REST_V = 0.1
"""Where a low goes that is given time (a sensor's output at small load, common practice, no source)."""
STILL_FALLING_V, STILL_FALLING_SIGMAS = 0.2, 2.0
"""A low that falls by more than this after its first third has not settled (common practice, no source)."""
LAST_SHARE = 0.06
PROFILE = (0.3, 0.4, 0.45, 0.5, 0.55, 0.6, 0.7)
USUAL_V = 4.8
"""Amplitude of a healthy line: what stands at the edges' levels of 1.1 V and 3.8 V is scaled to it."""


@dataclass(frozen=True, eq=False)
class SentReading:
    """Everything read off one channel, before any limit is held against it.

    Attributes
    ----------
    levels : StateLevels or None
        None where no sample is finite.
    low_v, high_v : float
        Settled levels of the pulses, volts; of a flat line both its level, NaN where nothing is known.
    noise_v, converter_v, step_s : float
        Standard deviation of the noise; smallest step between two values; sample spacing.
    states : LineStates or None
        None where nothing is sent.
    never_low : bool
        Whether lows still fall when they end, so that their level is not the one they fall to.
    traffic : SentTraffic or None
        None where nothing is sent.
    """

    levels: StateLevels | None
    low_v: float
    high_v: float
    noise_v: float
    converter_v: float
    step_s: float
    states: LineStates | None = field(repr=False, default=None)
    never_low: bool = False
    traffic: SentTraffic | None = field(repr=False, default=None)

    @property
    def is_flat(self) -> bool:
        """Whether nothing is sent on this line."""
        return self.states is None

    @property
    def frames(self) -> tuple[SentFrame, ...]:
        """All frames."""
        return self.traffic.frames if self.traffic is not None else ()

    @property
    def tick_s(self) -> float | None:
        """Median tick, seconds."""
        return self.traffic.tick_s if self.traffic is not None else None

    @property
    def amplitude_v(self) -> float:
        """High less low, volts."""
        return self.high_v - self.low_v

    def edge_s(self, *, rising: bool) -> tuple[float, int]:
        """Median time of an edge between 1.1 V and 3.8 V of a whole swing, seconds, and how many edges."""
        assert self.states is not None
        took = self.states.edge_s[(self.states.high == rising) & np.isfinite(self.states.edge_s)]
        if not rising and self.never_low and self.levels is not None:
            # By the time constant: down to 0.1 V, of which only the part down to the level reached is seen.
            rest_v = min(REST_V, self.levels.low - 0.02 * self.levels.amplitude)
            upper, lower = (
                self.levels.low + share * self.levels.amplitude - rest_v for share in (LEVEL_TO, LEVEL_FROM)
            )
            tau_s = median(took) / math.log(upper / lower)
            return tau_s * math.log(EDGE_HIGH_V / EDGE_LOW_V), int(took.size)
        scale = (EDGE_HIGH_V - EDGE_LOW_V) / ((LEVEL_TO - LEVEL_FROM) * USUAL_V)
        return median(took) * scale, int(took.size)


class SentExamination(LineExamination[SentReading]):
    """One SENT channel by itself: what was read off the line, beside findings and doubts."""


SentCase = LineCase[SentReading]


def read_line(channel: Channel, progress: Progress) -> SentReading:
    """Read levels, edges and frames off one channel.

    Parameters
    ----------
    channel : Channel
        Evenly spaced, volts.
    progress : Progress
        0 to 1.
    """
    assert channel.step_s is not None
    levels = line_levels(channel.samples, part(progress, 0.0, 0.3))
    step_v = converter_step(channel.samples)
    noise_v = noise_above_steps(channel, step_v)
    if levels is None:
        return SentReading(None, float("nan"), float("nan"), noise_v, step_v, channel.step_s)
    levels = with_reached_low(channel.samples, levels)
    flat = SentReading(levels, levels.low, levels.high, noise_v, step_v, channel.step_s)
    if not stands_out(levels, least_v=FEWEST_VOLTS, converter_v=step_v, noise_v=noise_v):
        return flat
    low, high = thresholds(levels, noise_v, 0.35, 0.65)
    ends = (levels.low, levels.high)
    states = read_states(channel, low=low, high=high, levels=ends, progress=part(progress, 0.3, 0.9))
    if states.start_s.size < FEWEST_EDGES:
        return flat
    never_low = _never_low(channel, states, noise_v)
    traffic = decode(states.start_s[1:][~states.high[1:]])
    low_v = weighted_median(states, high=False, otherwise=levels.low)
    # Short high parts may not have settled: by their length the long ones count most.
    high_v = weighted_median(states, high=True, otherwise=levels.high)
    return SentReading(levels, low_v, high_v, noise_v, step_v, channel.step_s, states, never_low, traffic)


def _never_low(channel: Channel, states: LineStates, noise_v: float) -> bool:
    """Whether lows fall all the way until they end: over most of it, and just before the end too."""
    assert channel.step_s is not None
    lows = ~states.high & states.is_whole
    start_s, length_s = states.start_s[lows], states.length_s[lows]
    if start_s.size < FEWEST_EDGES:
        return False
    profile = []
    for share in PROFILE:
        places = np.rint((start_s + share * length_s - channel.start_s) / channel.step_s).astype(np.int64)
        profile.append(float(np.nanmedian(picked(channel.samples, np.clip(places, 0, channel.samples.size - 1)))))
    # The driver lets go at the lowest place; what comes after that is the rise.
    lowest = int(np.argmin(profile))
    doubt_v = STILL_FALLING_SIGMAS * noise_v / math.sqrt(start_s.size / 4.0)
    falls_v = profile[0] - profile[lowest]
    last_v = profile[max(lowest - 1, 0)] - profile[lowest]
    return falls_v > STILL_FALLING_V + doubt_v and last_v > LAST_SHARE * falls_v


def bus_report(line: SentReading) -> BusReport:
    """What the line carried, in figures; a tick is no bit, so no bit rate is given."""
    states = [one.state for one in line.frames]
    wrong = [state for state in states if state not in ("good", "past the end")]
    slow = line.traffic.slow if line.traffic is not None else ()
    return BusReport(
        bit_rate=None,
        frames=len(states),
        no_response=0,
        errors=len(wrong),
        identifiers=tuple(sorted({one.identifier for one in slow if one.is_right})),
        supply_v=None,
        supply_from="unknown",
        error_counts=tuple(Counter(wrong).items()),
    )


def tracks(line: SentReading) -> tuple[Track, ...]:
    """What the sensor says over time, and its tick."""
    frames = [one for one in line.frames if one.nibbles and one.state != "past the end"]
    if not frames or line.traffic is None or not line.traffic.data_nibbles:
        return ()
    times_s = np.array([one.start_s for one in frames])
    count = line.traffic.data_nibbles
    groups = [(0, 3), (3, 6)] if count == 6 else [(0, count)]
    found = []
    for first, last in groups:
        values = [_value(one, first, last, count) for one in frames]
        name = f"data nibbles {first + 1} to {last}" if count > 1 else "data nibble"
        note = (
            "the first nibble counts most; what it means is in the sensor's data sheet; gaps are frames with an error"
        )
        found.append(Track(name, "", times_s, np.array(values), note))
    ticks = np.array([one.tick_s for one in frames])
    found.append(Track("tick", "s", times_s, ticks, "a 56th of each frame's sync pulse"))
    return tuple(found)


def _value(frame: SentFrame, first: int, last: int, count: int) -> float:
    if frame.state != "good" or len(frame.data) != count:
        return float("nan")
    value = 0
    for nibble in frame.data[first:last]:
        value = value << 4 | nibble
    return float(value)


Floats = npt.NDArray[np.float64]


def sync_jumps(line: SentReading) -> Floats:
    """How much each sync pulse differs from the one of the frame before, as a share; gaps are left out."""
    frames = [one for one in line.frames if one.state in ("good", "checksum error", "nibble unclear")]
    ticks = np.array([one.tick_s for one in frames])
    if ticks.size < 2:
        return np.empty(0)
    jumps: Floats = np.abs(np.diff(ticks)) / ticks[:-1]
    return jumps
