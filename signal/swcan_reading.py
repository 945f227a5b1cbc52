"""What one single-wire CAN channel shows by itself: levels by identifier, wake frames, edges, frames."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.can_decode import CanTraffic
from loomlight.signal.can_wire import (
    WireLevels,
    by_identifier,
    frames_of,
    good_count,
    wire_levels,
)
from loomlight.signal.capture import Channel
from loomlight.signal.levels import StateLevels
from loomlight.signal.lin_examination import converter_step
from loomlight.signal.line_case import LineCase, LineExamination
from loomlight.signal.line_faults import line_levels, noise_above_steps, smoothed, stands_out
from loomlight.signal.line_states import LineStates, read_states
from loomlight.signal.progress import Progress, part
from loomlight.signal.swcan_limits import WAKE_FROM_V

Floats = npt.NDArray[np.float64]

FEWEST_VOLTS = 0.2
"""What an amplitude has to be to be a signal."""
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


class SwExamination(LineExamination[SwReading]):
    """One single-wire CAN channel by itself: what was read off the line, beside findings and doubts."""


SwCase = LineCase[SwReading]


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
    if levels is None or not stands_out(levels, least_v=FEWEST_VOLTS, converter_v=step_v, noise_v=noise_v):
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
