"""What one LIN channel shows by itself: supply, levels by talker, frames, and what breaks a limit."""

from bisect import bisect_right
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import BusReport, Conditions, Examination, TalkerLevel
from loomlight.signal.levels import StateLevels, state_levels
from loomlight.signal.lin_decode import LinTraffic, decode
from loomlight.signal.lin_parts import COMMANDER, FramePart, frame_parts
from loomlight.signal.progress import Progress, part
from loomlight.signal.samples import Samples
from loomlight.signal.spans import Spans, spans_of

DOMINANT_SHARE, RECESSIVE_SHARE = 0.40, 0.60
"""Receiver thresholds as shares of the node's supply (LIN 2.2, parameters 17 and 18; ISO 17987-4)."""
DRIVER_LOW_SHARE, DRIVER_HIGH_SHARE = 0.20, 0.80
"""What a transmitter has to reach, as shares of the node's supply (LIN 2.x; ISO 17987-4)."""
SUPPLY_DIODE_V, DIODE_DOUBT_V = 0.7, 0.3
"""Reverse-polarity diode, and each pull-up's: 0.4 to 1.0 V (LIN 2.2, parameter 21)."""


@dataclass(frozen=True)
class Supply:
    """The node's own supply, that the limits are shares of.

    Attributes
    ----------
    volts, low_v, high_v : float
        Best value and interval, volts.
    source : {"given", "recessive level"}
        Where it comes from.
    """

    volts: float
    low_v: float
    high_v: float
    source: Literal["given", "recessive level"]


@dataclass(frozen=True, eq=False)
class LineReading:
    """Levels, frames and parts of one channel, before any limit is held against them.

    Attributes
    ----------
    levels : StateLevels or None
        None where no sample is finite.
    supply : Supply or None
        None where neither given nor to be read off.
    seen : LinTraffic or None
        Frames as far as the eye can follow the line, weak levels included; None where nothing talks.
    received : LinTraffic or None
        Frames as a receiver within the limits takes them.
    parts : tuple of FramePart
        Of the frames in `seen`.
    high : ndarray, shape (n, 2)
        Where the line stands above what a receiver must take for dominant, seconds.
    converter_v : float
        Smallest step between two values, volts.
    step_s : float
        Sample spacing, seconds.
    """

    levels: StateLevels | None
    supply: Supply | None
    seen: LinTraffic | None = field(repr=False)
    received: LinTraffic | None = field(repr=False)
    parts: tuple[FramePart, ...] = field(repr=False)
    high: Spans = field(repr=False)
    converter_v: float
    step_s: float

    @property
    def is_flat(self) -> bool:
        """Whether nothing talks on this line."""
        return self.seen is None

    @property
    def recessive_v(self) -> float | None:
        """Level of the resting line, volts."""
        return self.levels.high if self.levels is not None else None

    @property
    def talkers(self) -> tuple[str, ...]:
        """All talkers seen, the commander first."""
        return tuple(sorted({one.talker for one in self.parts}, key=lambda name: (name != COMMANDER, name)))

    def levels_of(self, talker: str) -> npt.NDArray[np.float64]:
        """Dominant level of each part that one talker drove, volts; empty where it was not seen."""
        return np.array([one.dominant_v for one in self.parts if one.talker == talker])

    def part_at(self, at_s: float) -> FramePart | None:
        """The part of a frame that a moment falls into, seconds on the channel's axis."""
        place = bisect_right(self.parts, at_s, key=lambda one: one.start_s) - 1
        return self.parts[place] if place >= 0 and at_s <= self.parts[place].stop_s else None

    def recessive_of(self, talker: str) -> npt.NDArray[np.float64]:
        """Recessive level in each part that one talker drove, volts, where it settled."""
        volts = [one.recessive_v for one in self.parts if one.talker == talker]
        return np.array([one for one in volts if one is not None])

    def level_of(self, talker: str) -> float | None:
        """Median dominant level of one talker, volts, or None where it was not seen."""
        volts = self.levels_of(talker)
        return float(np.median(volts)) if volts.size else None


@dataclass(frozen=True, eq=False)
class LinExamination(Examination):
    """One LIN channel by itself: what was read off the line, beside findings and doubts."""

    line: LineReading


def supply_of(levels: StateLevels | None, conditions: Conditions) -> Supply | None:
    """The node's supply: given at its pin, less the reverse-polarity diode; else two diode drops above the resting line."""
    if conditions.supply_v is not None:
        volts = conditions.supply_v - SUPPLY_DIODE_V
        return Supply(volts, volts - DIODE_DOUBT_V, volts + DIODE_DOUBT_V, "given")
    if levels is None or not levels.two_states:
        return None
    volts = levels.high + SUPPLY_DIODE_V
    if volts <= DIODE_DOUBT_V:
        return None  # at or below ground: whatever this is, it does not rest at a supply
    return Supply(volts, volts - DIODE_DOUBT_V, volts + DIODE_DOUBT_V, "recessive level")


def read_line(channel: Channel, conditions: Conditions, progress: Progress) -> LineReading:
    """Read levels and frames off one channel.

    Raises
    ------
    CannotUse
        If the samples are not evenly spaced.
    """
    if channel.form != "even" or channel.step_s is None:
        raise CannotUse(
            f"{channel.name!r} has {channel.form} samples; a LIN bus is judged from evenly spaced ones. "
            "Export the capture again with every sample."
        )
    levels = state_levels(channel.samples, part(progress, 0.0, 0.3))
    supply = supply_of(levels, conditions)
    step_v = converter_step(channel.samples)
    talks = levels is not None and levels.two_states and levels.amplitude > 6 * step_v
    if not talks or levels is None or supply is None:
        return LineReading(levels, supply, None, None, (), np.empty((0, 2)), step_v, channel.step_s)
    # What the eye follows: anything that leaves the resting line clearly, however weak.
    seen = decode(
        channel,
        dominant_below=levels.high - 0.25 * levels.amplitude,
        recessive_above=levels.high - 0.15 * levels.amplitude,
        progress=part(progress, 0.3, 0.5),
    )
    received = decode(
        channel,
        dominant_below=DOMINANT_SHARE * supply.volts,
        recessive_above=RECESSIVE_SHARE * supply.volts,
        progress=part(progress, 0.5, 0.7),
    )
    talking = seen if len(seen.frames) >= len(received.frames) else received
    parts = frame_parts(channel, talking, part(progress, 0.7, 0.8))
    high = _high_spans(channel, supply, part(progress, 0.8, 1.0))
    return LineReading(levels, supply, seen, received, parts, high, step_v, channel.step_s)


def converter_step(samples: Samples) -> float:
    """Smallest step between two values in the first stretch of samples, volts; 0 where there is but one value."""
    values = samples.block(0, min(samples.size, 65_536))
    different = np.diff(np.unique(np.round(values[np.isfinite(values)].astype(np.float64), 5)))
    return float(different.min()) if different.size else 0.0


def _high_spans(channel: Channel, supply: Supply, progress: Progress) -> Spans:
    """Where the line is above the limit for dominant; it counts as back only once clearly below."""
    assert channel.step_s is not None
    limit = DOMINANT_SHARE * supply.volts
    edges = find_edges(channel.samples, low=0.9 * limit, high=limit, level=limit, progress=progress)
    times = channel.start_s + edges.at * channel.step_s
    rises, falls = times[edges.rising], times[~edges.rising]
    if edges.starts_high:
        rises = np.concatenate([[channel.start_s], rises])
    if rises.size > falls.size:
        falls = np.concatenate([falls, [channel.stop_s]])
    return spans_of(np.column_stack([rises, falls[: rises.size]]))


def bus_report(reading: LineReading) -> BusReport:
    """What the bus carried, in figures."""
    received, seen = reading.received, reading.seen
    frames = received.frames if received is not None else ()
    states = [frame.state for frame in frames]
    bit_s = (received.bit_s if received else None) or (seen.bit_s if seen else None)
    supply = reading.supply
    return BusReport(
        bit_rate=1.0 / bit_s if bit_s else None,
        frames=len(frames),
        no_response=states.count("no response"),
        errors=sum(state not in ("good", "no response", "past the end") for state in states)
        + (len(received.broken_breaks) if received else 0),
        identifiers=tuple(sorted({frame.identifier for frame in frames if frame.identifier is not None})),
        supply_v=supply.volts if supply else None,
        supply_from=supply.source if supply else "unknown",
        talkers=_talker_levels(reading),
    )


def _talker_levels(reading: LineReading) -> tuple[TalkerLevel, ...]:
    found = []
    for talker in reading.talkers:
        volts, resting = reading.levels_of(talker), reading.recessive_of(talker)
        recessive_v = float(np.median(resting)) if resting.size else reading.recessive_v
        found.append(
            TalkerLevel(
                talker,
                float(np.median(volts)),
                recessive_v if recessive_v is not None else float("nan"),
                float(np.ptp(volts)),
                volts.size,
            )
        )
    return tuple(found)
