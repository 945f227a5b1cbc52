"""What one CAN channel or pair shows by itself: frames, levels by identifier, edges, and what no sound pair shows."""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from loomlight.signal.can_bit_levels import FrameLevels, Volts, bit_volts, frame_levels
from loomlight.signal.can_decode import Axis, CanTraffic, decode, find_line
from loomlight.signal.can_edge_shapes import EdgeShapes, edge_shapes
from loomlight.signal.can_oddities import NONE, Oddities, oddities
from loomlight.signal.can_talker_edges import TalkerEdge, talker_edges
from loomlight.signal.can_wires import Mixed, Rest, Wires, wire_rest, wires_of
from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import BusReport, Examination, TalkerLevel
from loomlight.signal.progress import Progress
from loomlight.signal.samples import Samples

RECESSIVE_V, DOMINANT_V = 0.5, 0.9
"""What a receiver takes for recessive at or below, for dominant at or above (ISO 11898-2)."""
EYE_V, NOISE_ROOM = (0.32, 0.55), 7.0
"""The same, as far as the eye can follow a weak node; and how many times the noise it stays away from rest."""
BELOW_SHARE, ABOVE_SHARE = 0.2, 0.36
"""The same, as shares of the usual dominant level, where a single wire or a weak pair is followed."""
MOST_OFFSET_V = 0.3
USUAL_SWING_V = 1.5
"""Of an identifier, for its level to count."""


@dataclass(frozen=True)
class Signature:
    """Levels of one identifier's talker.

    Attributes
    ----------
    identifier : int
        11 or 29 bits.
    extended : bool
        29 bits.
    frames : int
        How many it comes from.
    difference_v, common_v : float
        CAN-H minus CAN-L, less what stands between them at rest, and half their sum, while it
        alone drives; NaN where one wire does not show it.
    high_v, low_v : float
        Each wire; NaN where not recorded.
    spread_v : float
        Of the difference (of the one wire) over its frames: 1.5 times the median deviation.
    """

    identifier: int
    extended: bool
    frames: int
    difference_v: float
    common_v: float
    high_v: float
    low_v: float
    spread_v: float

    @property
    def name(self) -> str:
        """In hex, as long as the form has it."""
        return f"0x{self.identifier:08X}" if self.extended else f"0x{self.identifier:03X}"


@dataclass(frozen=True, eq=False)
class PairReading:
    """What was read off the pair, before any limit is held against it.

    Attributes
    ----------
    wires : Wires
        Which wire is which.
    axis : Axis
        Of the samples.
    traffic : CanTraffic or None
        None where nothing talks.
    levels : FrameLevels or None
        Of each frame: columns CAN-H and CAN-L, or the one channel.
    signatures : tuple of Signature
        One for each identifier that was read often enough, in order.
    shapes : EdgeShapes or None
        Of the voltage that frames are read from.
    odd : Oddities
        What no sound pair shows.
    high_rest, low_rest : Rest or None
        Each wire by itself.
    edges : tuple of TalkerEdge
        One for each identifier that was sent often enough.
    """

    wires: Wires
    axis: Axis
    traffic: CanTraffic | None = field(repr=False)
    levels: FrameLevels | None = field(repr=False)
    signatures: tuple[Signature, ...]
    shapes: EdgeShapes | None = field(repr=False)
    odd: Oddities = field(repr=False)
    high_rest: Rest | None
    low_rest: Rest | None
    edges: tuple[TalkerEdge, ...] = field(default=(), kw_only=True, repr=False)

    @property
    def frames_read(self) -> int:
        """Frames whose checksum fits."""
        return int(self.traffic.good.sum()) if self.traffic is not None else 0

    @property
    def rest_v(self) -> float:
        """Recessive difference, or the one wire's recessive level, volts; NaN where not known."""
        if self.wires.rest is None:
            return float("nan")
        return -self.wires.rest.rest_v if self.wires.form == "CAN-L" else self.wires.rest.rest_v


@dataclass(frozen=True, eq=False)
class CanExamination(Examination):
    """One CAN channel, with the other wire where it was recorded."""

    pair: PairReading


def read_pair(channel: Channel, other: Channel | None, progress: Progress) -> PairReading:
    """Read frames and levels.

    Raises
    ------
    CannotUse
        If the samples are not evenly spaced, or the other wire does not belong to them.
    """
    if channel.form != "even" or channel.step_s is None:
        raise CannotUse(
            f"{channel.name!r} has {channel.form} samples; a CAN bus is judged from evenly spaced ones. "
            "Export the capture again with every sample."
        )
    step_s = channel.step_s
    gaps = [(channel.start_s + first * step_s, channel.start_s + stop * step_s) for first, stop in channel.gaps]
    axis = Axis(channel.start_s, step_s, np.array(gaps, dtype=np.float64).reshape(-1, 2))
    wires = wires_of(channel, other)
    progress(0.25)
    both = wires.form == "both wires"
    rests = tuple(wire_rest(one, wires) if one is not None and both else None for one in (wires.high, wires.low))
    common_v = 0.5 * (rests[0].rest_v + rests[1].rest_v) if rests[0] is not None and rests[1] is not None else None
    if wires.rest is None or not wires.rest.talks:
        odd = oddities(wires, None, axis, 10 * step_s, common_v) if both else NONE
        return PairReading(wires, axis, None, None, (), None, odd, *rests)
    below, above = thresholds(wires)
    line = find_line(wires.read, axis, below=below, above=above)
    progress(0.5)
    traffic = decode(line, axis)
    progress(0.7)
    bit_s = traffic.bit_s if traffic is not None else 10 * step_s
    odd = oddities(wires, traffic, axis, bit_s, common_v)
    if traffic is None:
        return PairReading(wires, axis, None, None, (), None, odd, *rests)
    rows = _rows(wires, channel)
    levels = frame_levels(traffic, tuple(bit_volts(traffic, one, axis.start_s, step_s) for one in rows))
    progress(0.9)
    shapes = edge_shapes(traffic, wires.read, axis.start_s, step_s)
    by_talker = talker_edges(traffic, wires.read, axis.start_s, step_s)
    signatures = _signatures(wires, traffic, levels)
    return PairReading(wires, axis, traffic, levels, signatures, shapes, odd, *rests, edges=by_talker)


def thresholds(wires: Wires) -> tuple[float, float]:
    """Below what the line is taken for recessive, and above what for dominant, volts.

    As far as the eye can follow it: lower than a receiver's 0.5 and 0.9 V where noise allows, so that a weak node's frames are
    read too.
    """
    rest = wires.rest
    assert rest is not None
    swing = rest.above_v - rest.rest_v
    if wires.form in ("both wires", "difference") and swing >= USUAL_SWING_V and abs(rest.rest_v) < 0.3:
        room = NOISE_ROOM * rest.noise_v
        # A pair that is held at battery swings wider, and is noisier with it.
        below = min(max(EYE_V[0], 0.5 * room), max(RECESSIVE_V, 0.25 * swing))
        return below, min(max(EYE_V[1], room), max(DOMINANT_V, 0.45 * swing))
    return rest.rest_v + BELOW_SHARE * swing, rest.rest_v + ABOVE_SHARE * swing


def _rows(wires: Wires, channel: Channel) -> tuple[Samples, ...]:
    if wires.high is not None and wires.low is not None:
        return wires.high, wires.low
    if wires.is_upside_down:
        return (Mixed(channel.samples, None, -1.0),)
    return (channel.samples,)


def _signatures(wires: Wires, traffic: CanTraffic, levels: FrameLevels) -> tuple[Signature, ...]:
    read = traffic.read
    usable = np.flatnonzero(read.good & np.isfinite(levels.dominant).all(axis=1))
    keys = read.identifier[usable] * 2 + read.extended[usable]
    found = []
    for key in np.unique(keys).tolist():
        own = levels.dominant[usable[keys == key]]
        found.append(_signature(wires, int(key), own))
    return tuple(found)


def _offset(wires: Wires) -> float:
    """The recessive difference is 0 V but for the instrument's offset (data sheet: ±50 mV): it is nulled on it."""
    rest_v = wires.rest.rest_v if wires.rest is not None else 0.0
    return rest_v if abs(rest_v) < MOST_OFFSET_V else 0.0


def _signature(wires: Wires, key: int, own: Volts) -> Signature:
    nan = float("nan")
    middle = np.median(own, axis=0)
    if own.shape[1] == 2:
        apart = own[:, 0] - own[:, 1] - _offset(wires)
        high, low = float(middle[0]), float(middle[1])
        difference, common = float(np.median(apart)), float(np.median(own.mean(axis=1)))
    else:
        apart = own[:, 0] - (_offset(wires) if wires.form == "difference" else 0.0)
        level = float(middle[0])
        high, low = (level if wires.form == "CAN-H" else nan), (level if wires.form == "CAN-L" else nan)
        difference, common = (float(np.median(apart)) if wires.form == "difference" else nan), nan
    spread = 1.4826 * float(np.median(np.abs(apart - np.median(apart))))
    return Signature(key >> 1, bool(key & 1), own.shape[0], difference, common, high, low, spread)


def bus_report(pair: PairReading) -> BusReport | None:
    """What the bus carried, in figures; None where nothing talks."""
    traffic = pair.traffic
    if traffic is None:
        return None
    counts: Counter[str] = Counter()
    for frame in traffic.frames:
        if frame.state not in ("good", "past the end"):
            counts[f"{frame.state}: {frame.field}" if frame.field else frame.state] += 1
    if traffic.overloads:
        counts["overload flag"] = traffic.overloads
    errors = sum(frame.state not in ("good", "past the end", "no acknowledge") for frame in traffic.frames)
    busy_s = float((traffic.read.stop_s - traffic.read.start_s).sum())
    length_s = traffic.line.stop_s - traffic.line.start_s
    known = traffic.good
    return BusReport(
        bit_rate=1.0 / traffic.bit_s if traffic.rates.is_sure else None,
        frames=len(traffic.frames),
        no_response=sum(frame.state == "no acknowledge" for frame in traffic.frames),
        errors=errors,
        identifiers=tuple(sorted(set(traffic.read.identifier[known].tolist()))),
        supply_v=None,
        supply_from="unknown",
        talkers=tuple(
            TalkerLevel(
                one.name,
                _shown(one),
                pair.rest_v,
                one.spread_v,
                one.frames,
            )
            for one in pair.signatures
        ),
        load=min(busy_s / length_s, 1.0) if length_s > 0 else None,
        error_counts=tuple(counts.most_common()),
    )


def _shown(one: Signature) -> float:
    """The difference where it is known, else the one wire's level."""
    return next((value for value in (one.difference_v, one.high_v, one.low_v) if np.isfinite(value)), float("nan"))
