"""What one single-wire CAN channel shows by itself: levels by identifier, wake frames, edges, frames."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.can_decode import CanTraffic
from loomlight.signal.can_wire import (
    WireLevels,
    by_identifier,
    error_counts,
    frames_of,
    good_count,
    load_of,
    wire_levels,
)
from loomlight.signal.capture import Channel
from loomlight.signal.examination import BusReport, Conditions, Examination, TalkerLevel
from loomlight.signal.levels import StateLevels
from loomlight.signal.lin_examination import converter_step
from loomlight.signal.line_faults import line_levels, median, noise_above_steps, smoothed
from loomlight.signal.line_states import LineStates, read_states
from loomlight.signal.progress import Progress, part
from loomlight.signal.swcan_limits import NORMAL_RATES, RATE, WAKE_FROM_V
from loomlight.signal.track import Track

Floats = npt.NDArray[np.float64]

FEWEST_VOLTS, FEWEST_STEPS, FEWEST_SIGMAS = 0.2, 3.0, 6.0
"""What an amplitude has to be to be a signal and no noise."""
SHARES = ((0.28, 0.5), (0.5, 0.6))
"""Thresholds as shares of a normal frame's amplitude, from the lowest that the eye can follow on."""
NORMAL_V = 4.0
NOISY_SHARE, SMOOTH_PARTS = 0.03, 5.0


@dataclass(frozen=True, eq=False)
class SwReading:
    """Everything read off one channel, before any limit is held against it.

    Attributes
    ----------
    levels : StateLevels or None
        None where no sample is finite.
    noise_v, converter_v, step_s : float
        Standard deviation of the noise; smallest step between two values; sample spacing.
    states : LineStates or None
        None where nothing talks.
    traffic : CanTraffic or None
        None where no bit time could be found.
    wire : WireLevels or None
        Frame by frame; None without frames.
    """

    levels: StateLevels | None
    noise_v: float
    converter_v: float
    step_s: float
    states: LineStates | None = field(repr=False, default=None)
    traffic: CanTraffic | None = field(repr=False, default=None)
    wire: WireLevels | None = field(repr=False, default=None)

    @property
    def is_flat(self) -> bool:
        """Whether nothing talks on this line."""
        return self.states is None

    @property
    def rest_v(self) -> float:
        """Recessive level, volts."""
        if self.wire is not None and np.isfinite(self.wire.recessive_v):
            return self.wire.recessive_v
        return self.levels.low if self.levels is not None else float("nan")

    def normal(self) -> dict[int, Floats]:
        """Dominant level of each normal frame by identifier, volts."""
        if self.traffic is None or self.wire is None:
            return {}
        volts = np.where(self.wire.dominant_v < WAKE_FROM_V, self.wire.dominant_v, np.nan)
        return by_identifier(self.traffic, volts)

    def wake(self) -> dict[int, Floats]:
        """Dominant level of each wake frame by identifier, volts."""
        if self.traffic is None or self.wire is None:
            return {}
        volts = np.where(self.wire.dominant_v >= WAKE_FROM_V, self.wire.dominant_v, np.nan)
        return by_identifier(self.traffic, volts)

    def fall_tau_s(self) -> tuple[float, int]:
        """Time constant of the falls and how many: 80 % to 20 % take 1.386 of it."""
        if self.states is None:
            return float("nan"), 0
        took = self.states.edge_s[~self.states.high & np.isfinite(self.states.edge_s)]
        return median(took) / 1.386, int(took.size)

    def rates(self) -> dict[int, tuple[float, int]]:
        """Bit rate of each identifier's frames and how many, by their last falling bits."""
        if self.traffic is None:
            return {}
        return rates_by_identifier(self.traffic)


@dataclass(frozen=True, eq=False)
class SwExamination(Examination):
    """One single-wire CAN channel by itself: what was read off the line, beside findings and doubts."""

    line: SwReading


def rates_by_identifier(traffic: CanTraffic) -> dict[int, tuple[float, int]]:
    """Bit rate of each identifier's frames, from edge to dominant to edge to dominant.

    Between two such edges of one sender lie whole bits, whatever the slopes are; the acknowledging nodes are left out.
    """
    falls = traffic.line.falls_s
    found: dict[int, list[float]] = {}
    for frame, good in zip(traffic.frames, traffic.good.tolist(), strict=True):
        if not good or frame.identifier is None:
            continue
        # Acknowledge slot, its delimiter and the end of frame are the last nine bits and more.
        until_s = frame.stop_s - 9.5 * traffic.bit_s
        first, last = np.searchsorted(falls, [frame.start_s - 1e-9, until_s]).tolist()
        apart = falls[first + 1 : last] - falls[first]
        if apart.size < 4:
            continue
        # The clock is found step by step: over a whole frame it may run out by more than a bit.
        bit_s = traffic.bit_s
        for reach in (12.0, 40.0, np.inf):
            near = apart[apart < reach * bit_s]
            if near.size:
                bits = np.rint(near / bit_s)
                bit_s = float(near @ bits) / float(bits @ bits)
        found.setdefault(frame.identifier, []).append(1.0 / bit_s)
    return {identifier: (float(np.median(rates)), len(rates)) for identifier, rates in sorted(found.items())}


def nominal_rate(line: SwReading, conditions: Conditions) -> float | None:
    """The bit rate meant: given, else the usual one that is near; None where none is."""
    given = conditions.figure(RATE)
    if given is not None:
        return given
    if line.traffic is None:
        return None
    rate = 1.0 / line.traffic.bit_s
    near = min(NORMAL_RATES, key=lambda one: abs(one / rate - 1.0))
    return near if abs(near / rate - 1.0) < 0.06 else None


def read_line(channel: Channel, progress: Progress) -> SwReading:
    """Read levels, edges and frames off one channel.

    Parameters
    ----------
    channel : Channel
        Evenly spaced, volts.
    progress : Progress
        0 to 1.
    """
    assert channel.step_s is not None
    levels = line_levels(channel.samples, part(progress, 0.0, 0.2))
    step_v = converter_step(channel.samples)
    noise_v = noise_above_steps(channel, step_v)
    flat = SwReading(levels, noise_v, step_v, channel.step_s)
    if levels is None or not levels.two_states:
        return flat
    if levels.amplitude <= max(FEWEST_VOLTS, FEWEST_STEPS * step_v, FEWEST_SIGMAS * noise_v):
        return flat
    # Wake frames stand three times as high as normal ones: thresholds go by the lower of them.
    reach = min(levels.amplitude, NORMAL_V)
    best: tuple[LineStates, CanTraffic | None] | None = None
    for number, (low_share, high_share) in enumerate(SHARES):
        low = levels.low + max(low_share * reach, min(5.0 * noise_v, 0.4 * reach))
        high = max(levels.low + high_share * reach, low)
        walk = part(progress, 0.2 + 0.35 * number, 0.55 + 0.35 * number)
        states = read_states(channel, low=low, high=high, levels=(levels.low, levels.high), progress=walk)
        traffic = frames_of(channel, states, dominant_high=True)
        if best is None or good_count(traffic) > good_count(best[1]):
            best = states, traffic
    assert best is not None
    states, traffic = best
    if traffic is not None and noise_v > NOISY_SHARE * reach:
        # Normal frames beside wake frames may stand low in the noise of those: means over a part of a bit bring them out.
        width = int(traffic.bit_s / channel.step_s / SMOOTH_PARTS) // 2 * 2 + 1
        low, high = levels.low + 0.32 * reach, levels.low + 0.55 * reach
        calm = read_states(smoothed(channel, width), low=low, high=high, levels=(levels.low, levels.high))
        again = frames_of(channel, calm, dominant_high=True)
        if good_count(again) >= good_count(traffic):
            states, traffic = calm, again
    if states.start_s.size < 4:
        return flat
    wire = None
    if traffic is not None and traffic.frames:
        wire = wire_levels(channel, traffic, dominant_v=levels.low + reach, recessive_v=levels.low)
    return SwReading(levels, noise_v, step_v, channel.step_s, states, traffic, wire)


def bus_report(line: SwReading, channel: Channel) -> BusReport:
    """What the bus carried, in figures."""
    traffic = line.traffic
    if traffic is None:
        return BusReport(None, 0, 0, 0, (), None, "unknown")
    wrong = error_counts(traffic)
    return BusReport(
        bit_rate=1.0 / traffic.bit_s,
        frames=len(traffic.frames),
        no_response=0,
        errors=sum(count for _, count in wrong),
        identifiers=tuple(
            sorted({one.identifier for one in traffic.frames if one.identifier is not None and one.state == "good"})
        ),
        supply_v=None,
        supply_from="unknown",
        talkers=tuple(
            TalkerLevel(f"0x{identifier:X}", median(volts), line.rest_v, float(np.ptp(volts)), int(volts.size))
            for identifier, volts in line.normal().items()
        ),
        load=load_of(traffic, channel),
        error_counts=wrong,
    )


def tracks(line: SwReading) -> tuple[Track, ...]:
    """Dominant level of each frame over time."""
    if line.traffic is None or line.wire is None:
        return ()
    times_s = np.array([one.start_s for one in line.traffic.frames])
    if not times_s.size:
        return ()
    return (Track("dominant level", "V", times_s, line.wire.dominant_v, "each frame's own, acknowledge slot left out"),)
