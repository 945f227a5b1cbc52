"""Series resistance in a LIN wire, from which talker's level is lifted on which side."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from loomlight.signal.lin_examination import COMMANDER, LineReading
from loomlight.signal.series_resistance import COMMANDER_SIDE, RESPONDER_SIDE, Ohms, agreed, behind_pull_up

OTHER_DAY_DOUBT_V = 0.2
"""One driver's level from day to day: temperature and supply (common practice, no source)."""
NEEDLE_V = 0.03
"""What remains of two channels' difference once their resting levels were made equal (common practice, no source)."""
HALF_SUPPLY = 0.5


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


def lifts(suspect: LineReading, good: LineReading, *, same_moment: bool) -> tuple[Lift, ...]:
    """Level differences of every talker that both channels show; each talker is compared with itself only.

    Recorded together, the two channels' offset is taken off by making their resting levels equal.
    """
    if suspect.levels is None or good.levels is None:
        return ()
    rest = suspect.levels.high - good.levels.high
    offset = rest if same_moment and abs(rest) < 0.5 else 0.0
    base = NEEDLE_V if same_moment else OTHER_DAY_DOUBT_V
    found = []
    for talker in suspect.talkers:
        own, other = suspect.levels_of(talker), good.levels_of(talker)
        if not own.size or not other.size:
            continue
        step = max(suspect.converter_v, good.converter_v)
        scatter = sum(1.5 * float(np.std(one)) / np.sqrt(one.size) for one in (own, other))
        found.append(
            Lift(
                talker,
                float(np.median(own)),
                float(np.median(other)) + offset,
                base + step + scatter,
                min(own.size, other.size),
            )
        )
    return tuple(found)


Place = Literal["away from the commander", "on the commander's side", "unknown"]


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
    commander = next((one for one in measured if one.talker == COMMANDER), None)
    if commander is not None and commander.is_lifted:
        place: Place = "away from the commander"
    elif commander is not None and commander.is_lowered:
        place = "on the commander's side"
    elif lowered and not lifted:
        place = "away from the commander"
    elif lifted and not lowered:
        place = "on the commander's side"
    else:
        place = "unknown"
    if place == "unknown":
        return None
    suspect_pull = RESPONDER_SIDE if place == "away from the commander" else COMMANDER_SIDE
    good_pull = COMMANDER_SIDE if place == "away from the commander" else RESPONDER_SIDE
    evidence = [(one, _ohms(one.suspect_v, one.good_v, top_v, suspect_pull, one.doubt_v)) for one in lifted]
    evidence += [(one, _ohms(one.good_v, one.suspect_v, top_v, good_pull, one.doubt_v)) for one in lowered]
    ohms = agreed([ohms for _, ohms in evidence])
    assert ohms is not None
    return SeriesResistance(ohms, place, tuple(evidence))


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


def floor_ohm(suspect: LineReading, good: LineReading | None) -> float:
    """Smallest resistance that the levels can show on the sharper of the two sides (the commander's), ohms."""
    assert suspect.levels is not None
    step = max(suspect.converter_v, good.converter_v if good is not None else 0.0)
    doubt_v = step + (NEEDLE_V if good is not None else OTHER_DAY_DOUBT_V)
    return COMMANDER_SIDE.high * doubt_v / max(suspect.levels.amplitude, 0.1)
