"""What a wire of a low-speed CAN pair shows by itself, and beside the other wire where that was recorded too."""

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
from loomlight.signal.can_words import ACKNOWLEDGE
from loomlight.signal.capture import Channel
from loomlight.signal.levels import StateLevels
from loomlight.signal.lin_examination import converter_step
from loomlight.signal.line_case import LineCase, LineExamination
from loomlight.signal.line_faults import line_levels, noise_above_steps, smoothed, stands_out, thresholds
from loomlight.signal.line_states import LineStates, read_states
from loomlight.signal.lscan_limits import HIGH, LOW
from loomlight.signal.progress import Progress, part

Floats = npt.NDArray[np.float64]

FEWEST_VOLTS = 0.5
"""What an amplitude has to be to be talk: less is what a shorted wire lets through."""
NOISY_SHARE, SMOOTH_PARTS = 0.04, 5.0
FEWEST_FRAMES = 2
FRAME_LOST_SHARE = 0.8
"""A frame of which this share of the dominant bits is missing on a wire is missing altogether."""


@dataclass(frozen=True, eq=False)
class OneWire:
    """One wire by itself.

    Attributes
    ----------
    channel : Channel
        The wire.
    levels : StateLevels or None
        None where no sample is finite.
    noise_v, converter_v : float
        Standard deviation of the noise; smallest step between two values.
    states : LineStates or None
        None where nothing talks on it.
    traffic : CanTraffic or None
        Frames read from its own edges.
    dominant_high : bool or None
        Whether its frames are right with the high state as the dominant one: then it moves as CANH does.
    """

    channel: Channel = field(repr=False)
    levels: StateLevels | None
    noise_v: float
    converter_v: float
    states: LineStates | None = field(repr=False, default=None)
    traffic: CanTraffic | None = field(repr=False, default=None)
    dominant_high: bool | None = None

    @property
    def frames(self) -> int:
        """Frames whose checksum is right."""
        return good_count(self.traffic)

    @property
    def resting_v(self) -> float:
        """Where it stands most of the time, volts."""
        if self.levels is None:
            return float("nan")
        if self.states is None:
            return 0.5 * (self.levels.low + self.levels.high)
        return self.levels.low if self.dominant_high else self.levels.high


@dataclass(frozen=True, eq=False)
class LsReading:
    """The suspect wire, the other one, and the frames that both are held against.

    Attributes
    ----------
    own : OneWire
        The suspect.
    other : OneWire or None
        None where it was not recorded.
    name, other_name : str
        ``"CANH"`` or ``"CANL"``; empty where it cannot be told.
    reference : CanTraffic or None
        Frames of the wire on which more could be read.
    wire, other_wire : WireLevels or None
        Levels of the wires in the bits of those frames.
    """

    own: OneWire
    other: OneWire | None
    name: str
    other_name: str
    reference: CanTraffic | None = field(repr=False, default=None)
    wire: WireLevels | None = field(repr=False, default=None)
    other_wire: WireLevels | None = field(repr=False, default=None)

    @property
    def bit_s(self) -> float | None:
        """Bit time, seconds."""
        return self.reference.bit_s if self.reference is not None else None

    @property
    def traffic(self) -> CanTraffic | None:
        """The reference, else what little the suspect's own edges gave."""
        return self.reference if self.reference is not None else self.own.traffic

    @property
    def is_silent(self) -> bool:
        """Whether nothing talks on the suspect."""
        return self.own.states is None

    def lost_share(self) -> Floats:
        """Share of the dominant bits of each good frame that the suspect does not follow."""
        if self.reference is None or self.wire is None:
            return np.empty(0)
        counts = sent_bits(self.reference)
        good = self.reference.good & (counts > 0)
        shares: Floats = self.wire.lost[good] / counts[good]
        return shares

    def by_identifier(self) -> dict[int, Floats]:
        """Dominant level on the suspect of each good frame, by identifier, volts."""
        if self.reference is None or self.wire is None:
            return {}
        return by_identifier(self.reference, self.wire.dominant_v)

    def other_by_identifier(self) -> dict[int, Floats]:
        """The same on the other wire."""
        if self.reference is None or self.other_wire is None:
            return {}
        return by_identifier(self.reference, self.other_wire.dominant_v)


class LsExamination(LineExamination[LsReading]):
    """One wire of a low-speed CAN pair: what was read off it, beside findings and doubts."""


LsCase = LineCase[LsReading]


def sent_bits(traffic: CanTraffic) -> npt.NDArray[np.int64]:
    """Dominant bits of each frame up to its acknowledge slot."""
    from_sender = ~traffic.read.bits.recessive & (traffic.read.bits.part < ACKNOWLEDGE)
    return np.bincount(traffic.read.bits.frame[from_sender], minlength=len(traffic.frames))


def read_wire(channel: Channel, progress: Progress) -> OneWire:
    """Read levels, edges and frames off one wire; which way round it moves is told by the checksums.

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
    flat = OneWire(channel, levels, noise_v, step_v)
    if levels is None or not stands_out(levels, least_v=FEWEST_VOLTS, converter_v=step_v, noise_v=noise_v):
        return flat
    states = _states(channel, levels, noise_v, part(progress, 0.3, 0.9))
    if states.start_s.size < 4:
        return flat
    best = max(
        ((frames_of(channel, states, dominant_high=high), high) for high in (True, False)),
        key=lambda one: good_count(one[0]),
    )
    if best[0] is not None and noise_v > NOISY_SHARE * levels.amplitude:
        width = int(best[0].bit_s / channel.step_s / SMOOTH_PARTS) // 2 * 2 + 1
        calm = _states(smoothed(channel, width), levels, noise_v / np.sqrt(width), part(progress, 0.9, 1.0))
        again = frames_of(channel, calm, dominant_high=best[1])
        if good_count(again) >= good_count(best[0]):
            states, best = calm, (again, best[1])
    sure = good_count(best[0]) >= FEWEST_FRAMES
    return OneWire(channel, levels, noise_v, step_v, states, best[0], best[1] if sure else None)


def _states(channel: Channel, levels: StateLevels, noise_v: float, progress: Progress) -> LineStates:
    low, high = thresholds(levels, noise_v, 0.35, 0.65)
    return read_states(channel, low=low, high=high, levels=(levels.low, levels.high), progress=progress)


def read_pair(channel: Channel, other: Channel | None, progress: Progress) -> LsReading:
    """Read the suspect and, where it was recorded, the other wire."""
    own = read_wire(channel, part(progress, 0.0, 0.5))
    beside = read_wire(other, part(progress, 0.5, 0.9)) if other is not None else None
    name = _name(own.dominant_high)
    other_name = _name(beside.dominant_high) if beside is not None else ""
    if not name and other_name:
        name = LOW if other_name == HIGH else HIGH
    if not other_name and name and beside is not None:
        other_name = LOW if name == HIGH else HIGH
    reference = own.traffic
    if beside is not None and beside.frames > own.frames:
        reference = beside.traffic
    if good_count(reference) < FEWEST_FRAMES or reference is None:
        return LsReading(own, beside, name, other_name)
    wire = _held(channel, reference, name)
    other_wire = _held(other, reference, other_name) if other is not None else None
    return LsReading(own, beside, name, other_name, reference, wire, other_wire)


def _name(dominant_high: bool | None) -> str:
    return "" if dominant_high is None else HIGH if dominant_high else LOW


def _held(channel: Channel, reference: CanTraffic, name: str) -> WireLevels:
    dominant_v, recessive_v = (4.0, 0.0) if name == HIGH else (1.0, 5.0)
    return wire_levels(channel, reference, dominant_v=dominant_v, recessive_v=recessive_v)
