"""Series resistance in a LIN wire, from which talker's level is lifted on which side."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.levels import StateLevels
from loomlight.signal.lin_examination import DRIVER_LOW_SHARE, LineReading, LinExamination
from loomlight.signal.lin_parts import COMMANDER, settled_levels
from loomlight.signal.series_resistance import COMMANDER_SIDE, RESPONDER_SIDE, Ohms, agreed, behind_pull_up

OTHER_DAY_DOUBT_V = 0.2
"""One driver's level from day to day: temperature and supply (common practice, no source)."""
NEEDLE_V = 0.03
"""What remains of two channels' difference once their resting levels were made equal (common practice, no source)."""
GAIN_SHARE = 0.03
"""How far the gains of two channels may differ (common practice, no source)."""
MOST_OFFSET_V = 0.5
"""Two resting levels farther apart than this are no mere offset of the instrument (common practice, no source)."""
DRIVER_SHARE = 0.05
"""A driver's on-resistance beside the bus's pull-up: some 25 to 50 Ω against 1 kΩ (common practice, no source)."""
STRONGEST_DRIVER_V = 0.5
"""Where a strong driver puts the line (data sheets to LIN 2.x: 0.6 V and more, with room)."""
ALONE_DOUBT_V = 0.55
"""How far drivers differ from each other, where no known-good says which this one is (data sheets to LIN 2.x)."""


@dataclass(frozen=True)
class Lift:
    """How far one talker's dominant level stands above where the other side of the wire has it.

    Attributes
    ----------
    talker : str
        ``"commander"`` or ``"response 0x21"``.
    suspect_v, good_v : float
        Levels on the two channels, volts, after the known-good's offset was taken off.
    doubt_v : float
        How far their difference may be off.
    frames : int
        Parts that both levels come from, the fewer of the two.
    """

    talker: str
    suspect_v: float
    good_v: float
    doubt_v: float
    frames: int

    @property
    def volts(self) -> float:
        """Suspect above known-good, volts."""
        return self.suspect_v - self.good_v

    @property
    def is_lifted(self) -> bool:
        """Whether the suspect is surely the higher one."""
        return self.volts > self.doubt_v

    @property
    def is_lowered(self) -> bool:
        """Whether the known-good is surely the higher one."""
        return -self.volts > self.doubt_v


def lifts(suspect: LinExamination, good: LinExamination, *, same_moment: bool) -> tuple[Lift, ...]:
    """Level differences of every talker that both channels show; each talker is compared with itself only.

    Recorded together, the two channels' resting levels are one and the same wire's, so their difference is the
    instrument's. Whether that is an offset (it stands at every level) or a gain (it shrinks with the level) cannot be told
    from it: the middle of the two is taken off and the rest is doubt. A talker that only one of them shows is measured on
    the other at the same moments.
    """
    line, other_line = suspect.line, good.line
    if line.levels is None or other_line.levels is None:
        return ()
    rest = line.levels.high - other_line.levels.high
    offset, left_v = _taken_off(rest, other_line.levels) if same_moment else (0.0, 0.0)
    # A driver's own resistance lifts its level with the supply that drives the current through the pull-ups.
    base = NEEDLE_V + left_v if same_moment else OTHER_DAY_DOUBT_V + DRIVER_SHARE * abs(rest)
    step = max(line.converter_v, other_line.converter_v)
    found = []
    for talker in sorted({*line.talkers, *other_line.talkers}, key=lambda name: (name != COMMANDER, name)):
        own, other = line.levels_of(talker), other_line.levels_of(talker)
        if same_moment:
            own = own if own.size else _levels_at(suspect, other_line, talker)
            other = other if other.size else _levels_at(good, line, talker)
        if not own.size or not other.size:
            continue
        scatter = float(sum(1.5 * np.std(one) / np.sqrt(one.size) for one in (own, other)))
        found.append(
            Lift(
                talker,
                float(np.median(own)),
                float(np.median(other)) + offset,
                base + step + scatter,
                min(own.size, other.size),
            )
        )
    return _with_gain_doubt(found, line.levels.amplitude) if same_moment else tuple(found)


def _with_gain_doubt(found: list[Lift], amplitude_v: float) -> tuple[Lift, ...]:
    """Widen the doubt where every talker is off alike, by no more than two channels' gains may differ.

    A resistance between the probes lifts one channel or the other, as the talkers sit on this side of it or that; what is
    the same for all of them may be the instrument's.
    """
    volts = [one.volts for one in found]
    narrow = max((one.doubt_v for one in found), default=0.0)
    if len(found) < 2 or max(volts) - min(volts) > narrow:
        return tuple(found)
    shared_v = float(np.median(np.abs(volts)))
    if shared_v <= narrow or shared_v > GAIN_SHARE * amplitude_v + NEEDLE_V:
        return tuple(found)
    return tuple(replace(one, doubt_v=one.doubt_v + shared_v) for one in found)


def _taken_off(rest_v: float, levels: StateLevels) -> tuple[float, float]:
    """What two channels of one recording differ by near the dominant level, and how far that may be off, volts."""
    if abs(rest_v) >= MOST_OFFSET_V:
        return 0.0, 0.0
    by_gain = rest_v * float(np.clip(levels.low / levels.high, 0.0, 1.0)) if levels.high > 0 else 0.0
    return (rest_v + by_gain) / 2, abs(rest_v - by_gain) / 2


def _levels_at(examination: LinExamination, other: LineReading, talker: str) -> npt.NDArray[np.float64]:
    """Levels of one channel while the other shows a talker that this one does not."""
    traffic = other.seen
    if traffic is None or traffic.bit_s is None:
        return np.empty(0)
    found = [
        settled_levels(examination.channel, traffic, one.start_s, one.stop_s, traffic.bit_s)[0]
        for one in other.parts
        if one.talker == talker
    ]
    return np.array([volts for volts in found if volts is not None])


Place = Literal["away from the commander", "on the commander's side"]


@dataclass(frozen=True)
class SeriesResistance:
    """The resistance between the two probes (or between a probe and a talker), and on which side the suspect probe is."""

    ohms: Ohms
    suspect_is: Place
    evidence: tuple[tuple[Lift, Ohms], ...]


def between_probes(measured: tuple[Lift, ...], top_v: float) -> SeriesResistance | None:
    """Resistance between two probes that recorded together.

    While a driver on one side holds the line, the other side is lifted against its own pull-up; so either channel may be
    the lifted one, depending on who talks.

    Returns
    -------
    SeriesResistance or None
        None where no talker's level differs beyond doubt.
    """
    lifted = [one for one in measured if one.is_lifted]
    lowered = [one for one in measured if one.is_lowered]
    if not lifted and not lowered:
        return None
    place = _side_of_suspect(measured)
    suspect_pull = RESPONDER_SIDE if place == "away from the commander" else COMMANDER_SIDE
    good_pull = COMMANDER_SIDE if place == "away from the commander" else RESPONDER_SIDE
    evidence = [(one, _ohms(one.suspect_v, one.good_v, top_v, suspect_pull, one.doubt_v)) for one in lifted]
    evidence += [(one, _ohms(one.good_v, one.suspect_v, top_v, good_pull, one.doubt_v)) for one in lowered]
    ohms = agreed([ohms for _, ohms in evidence])
    assert ohms is not None
    return SeriesResistance(ohms, place, tuple(evidence))


def _side_of_suspect(measured: tuple[Lift, ...]) -> Place:
    """On which side of the joint the suspect's probe sits.

    The commander itself tells where its level differs beyond doubt. Else the channel that is lifted most is on its side:
    there the pull-up is some thirty times stronger.
    """
    commander = next((one for one in measured if one.talker == COMMANDER), None)
    if commander is not None and commander.is_lifted:
        return "away from the commander"
    if commander is not None and commander.is_lowered:
        return "on the commander's side"
    most = max(measured, key=lambda one: abs(one.volts))
    return "on the commander's side" if most.is_lifted else "away from the commander"


def against_itself(measured: tuple[Lift, ...], top_v: float) -> SeriesResistance | None:
    """Resistance between the probe and the talkers that are lifted, against the known-good of another day.

    Returns
    -------
    SeriesResistance or None
        None where nothing is lifted, or everything is (that is no wire: see `all_lifted`).
    """
    lifted = [one for one in measured if one.is_lifted]
    if not lifted or all_lifted(measured):
        return None
    from_commander = any(one.talker == COMMANDER for one in lifted)
    place: Place = "away from the commander" if from_commander else "on the commander's side"
    pull = RESPONDER_SIDE if from_commander else COMMANDER_SIDE
    evidence = [(one, _ohms(one.suspect_v, one.good_v, top_v, pull, one.doubt_v)) for one in lifted]
    ohms = agreed([ohms for _, ohms in evidence])
    assert ohms is not None
    return SeriesResistance(ohms, place, tuple(evidence))


def all_lifted(measured: tuple[Lift, ...]) -> bool:
    """Whether every talker is lifted by about the same: a ground offset or the instrument, not one wire."""
    if len(measured) < 2 or not all(one.is_lifted for one in measured):
        return False
    volts = [one.volts for one in measured]
    return max(volts) - min(volts) <= max(0.3 * max(volts), max(one.doubt_v for one in measured))


def _ohms(lifted_v: float, source_v: float, top_v: float, pull: Ohms, doubt_v: float) -> Ohms:
    return behind_pull_up(lifted_v, source_v=source_v, top_v=top_v, pull=pull, doubt_v=doubt_v)


def floor_ohm(line: LineReading, good: LineReading | None, *, same_moment: bool, pull: Ohms = RESPONDER_SIDE) -> float:
    """Smallest resistance that the levels can show against a pull-up, ohms.

    On the commander's side (1 kΩ) far less can be seen than behind it, but only while a node beyond the joint talks.
    """
    step = max(line.converter_v, good.converter_v if good is not None else 0.0)
    if good is not None:
        return hidden_ohm(line, step + (NEEDLE_V if same_moment else OTHER_DAY_DOUBT_V), pull)
    # Alone, a level only tells once it is above what a driver has to reach; a strong driver leaves much room below.
    supply_v = line.supply.high_v if line.supply is not None else 0.0
    room_v = DRIVER_LOW_SHARE * supply_v - STRONGEST_DRIVER_V
    return hidden_ohm(line, step + max(ALONE_DOUBT_V, room_v), pull)


def hidden_ohm(line: LineReading, doubt_v: float, pull: Ohms) -> float:
    """Series resistance that lifts a level by no more than ``doubt_v``, ohms."""
    amplitude = max(line.levels.amplitude, 0.1) if line.levels is not None else 0.1
    return pull.high * doubt_v / max(amplitude - doubt_v, 0.1)
