"""Which talker stands apart from the others: by its level, by its common mode, against the known-good."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.can_case import CanCase
from loomlight.signal.can_examination import PairReading, Signature
from loomlight.signal.can_limits import DIFFERENCE_V, HIGH_DOMINANT_V, LOW_DOMINANT_V, METER_V, RECESSIVE_V

WEAK_SHARE = 0.87
"""Of its own level on the known-good: below, it lost some."""
OFTEN, ROOM_V = 0.01, 0.12
"""Share of the samples that are no ringing, and the room for an offset of the probe's own ground."""
ALIKE = 0.1
"""Levels that changed by shares no farther apart than this changed alike: that is the termination, or the supply."""
CONVERTER_V = 0.04
"""Two wires' converter steps, 8 bits over 5 V each."""
NEAR_THE_OTHERS = 0.85
"""Without a known-good: weak talkers within this share of the others are as weak as those, and it is no talker's own fault."""
SHIFTED_V = 0.4
"""Common mode away from the others' by more than drivers differ (data sheet: the sum of both wires 0.9 to 1.1 of 5 V)."""
HALF_SUPPLY_V = 2.5
ONE_LEG = 0.35
"""A resistance in one wire shifts the common mode by three quarters of what the difference loses; in both, by nothing."""
LEG_SHARES = (0.45, 1.1)
SAME_TALKER = 0.015
"""Identifiers whose levels agree within this share may come from one node."""
APART_SHARE = 0.88
"""Shown as standing apart without being called faulty."""


@dataclass(frozen=True)
class Odd:
    """Talkers that stand apart.

    Attributes
    ----------
    names : tuple of str
        Their identifiers.
    level_v, usual_v : float
        Their usual level, and what it is held against; of the difference.
    common_v : float
        Their common mode against the others' (their own on the known-good), volts; NaN where not known.
    talkers : int
        How many nodes they come from at least.
    others_share : float
        What the others reach of their level on the known-good; 1 without one.
    of : int
        How many identifiers were read.
    """

    names: tuple[str, ...]
    level_v: float
    usual_v: float
    common_v: float
    talkers: int
    others_share: float
    of: int

    @property
    def one_leg(self) -> str:
        """``"CAN-H"`` or ``"CAN-L"`` where the common mode says that only that wire lost; else empty."""
        lost = self.usual_v - self.level_v
        if not (math.isfinite(self.common_v) and lost > 0):
            return ""
        part = self.common_v / lost
        return "" if abs(part) < ONE_LEG else "CAN-H" if part < 0 else "CAN-L"


def weak_talkers(case: CanCase) -> Odd | None:
    """Those whose difference breaks the lower limit, or lost clearly against the known-good, while others keep theirs."""
    own = [one for one in case.pair.signatures if math.isfinite(one.difference_v)]
    if not own:
        return None
    share = {one.name: one.share for one in case.held}
    below = {one.name for one in own if one.difference_v < DIFFERENCE_V[0] - METER_V}
    usual_share = float(np.median([*share.values()])) if share else 1.0
    lost = {name for name, one in share.items() if one < WEAK_SHARE}
    if share and below <= share.keys() and np.ptp([*share.values()]) < ALIKE:
        return None
    names = below | lost | _by_one_leg(case, own)
    if not names or (len(names) == len(own) and not _one_of_few(own, share)):
        return None
    weak = [one for one in own if one.name in names]
    rest = [one for one in own if one.name not in names]
    if not weak or (not rest and not share):
        return None
    held = [one for one in case.held if one.name in names]
    if held and len(held) == len(weak):
        usual = float(np.median([one.difference_v / share[one.name] for one in weak]))
        common = float(np.median([one.common_v for one in held]))
    else:
        usual = float(np.median([one.difference_v for one in rest])) if rest else 2.0
        common = float(np.median([one.common_v for one in weak]) - np.median([one.common_v for one in rest or weak]))
    level = float(np.median([one.difference_v for one in weak]))
    top = max(one.difference_v for one in own)
    if level > 0.95 * usual or (not held and level > NEAR_THE_OTHERS * max(usual, 0.9 * top)):
        return None
    others = [share[one.name] for one in rest if one.name in share]
    return Odd(
        tuple(one.name for one in weak),
        level,
        usual,
        common,
        _talkers(weak),
        float(np.median(others)) if others else usual_share if not rest else 1.0,
        len(own),
    )


def _by_one_leg(case: CanCase, own: Sequence[Signature]) -> set[str]:
    """Those whose common mode moved as a resistance in one wire moves it, with a difference that is still above its limit."""
    if case.held:
        by_name = {one.name: one for one in own}
        usual = {one.name: by_name[one.name].difference_v / one.share for one in case.held if one.name in by_name}
        pairs = [
            (one.name, usual[one.name] * (1.0 - one.share), one.common_v) for one in case.held if one.name in usual
        ]
        return {name for name, lost, common in pairs if is_one_leg(lost, common, 0.07 * usual[name])}
    middle = float(np.median([one.difference_v for one in own]))
    usual_v = float(np.median([one.difference_v for one in own if one.difference_v >= middle]))
    shifts = [one.common_v for one in own if math.isfinite(one.common_v)]
    if not shifts:
        return set()
    common_v = _most(np.array(shifts), HALF_SUPPLY_V)
    return {one.name for one in own if is_one_leg(usual_v - one.difference_v, one.common_v - common_v, 0.2 * usual_v)}


def is_one_leg(lost_v: float, common_v: float, least_v: float) -> bool:
    """Whether the difference lost ``least_v`` at least, and the common mode moved by about three quarters of what it lost."""
    return lost_v > least_v and abs(common_v) > 0.12 and LEG_SHARES[0] < abs(common_v) / lost_v < LEG_SHARES[1]


def _one_of_few(own: Sequence[Signature], share: dict[str, float]) -> bool:
    """All weak, and not alike: several joints, or one talker that is weaker than the rest of a weak bus."""
    values = [share.get(one.name, one.difference_v) for one in own]
    return len(values) > 1 and float(np.ptp(values)) > 0.12 * float(np.median(values))


def strong_talkers(case: CanCase) -> Odd | None:
    """Those that stand above the upper limit while others do not: they sit on the probe's side of a resistance."""
    own = [one for one in case.pair.signatures if math.isfinite(one.difference_v)]
    above = [one for one in own if one.difference_v > DIFFERENCE_V[1] + METER_V]
    rest = [one for one in own if one.difference_v <= DIFFERENCE_V[1]]
    if not above or not rest:
        return None
    level, usual = (float(np.median([one.difference_v for one in group])) for group in (above, rest))
    return Odd(tuple(one.name for one in above), level, usual, math.nan, _talkers(above), 1.0, len(own))


def shifted_talkers(case: CanCase) -> Odd | None:
    """Those whose two wires stand higher or lower than the others' alike, with a sound difference."""
    own = [one for one in case.pair.signatures if math.isfinite(one.common_v)]
    if not own:
        return None
    sound = {one.name for one in own if one.difference_v >= DIFFERENCE_V[0] - METER_V} or {one.name for one in own}
    moved = {one.name: one.common_v for one in case.held if math.isfinite(one.common_v)}
    if any(name in sound for name in moved):
        middle = _most(np.array([volts for name, volts in moved.items() if name in sound]), 0.0)
        shift = {name: volts - middle for name, volts in moved.items()}
        # Talkers that the known-good does not have stand against where the others would be without their shift.
        unmoved = [one.common_v - shift[one.name] for one in own if one.name in shift]
        if unmoved:
            here = float(np.median(unmoved))
            shift |= {one.name: one.common_v - here for one in own if one.name not in shift}
    else:
        middle = _most(np.array([one.common_v for one in own if one.name in sound]), HALF_SUPPLY_V)
        shift = {one.name: one.common_v - middle for one in own}
    away = [one for one in own if abs(shift.get(one.name, 0.0)) > SHIFTED_V]
    rest = [one for one in own if one not in away]
    if not away or not rest:
        return _away_from_rest(case, own)
    level, usual = (float(np.median([one.difference_v for one in group])) for group in (away, rest))
    common = float(np.median([shift[one.name] for one in away]))
    if level < DIFFERENCE_V[0] - METER_V or is_one_leg(usual - level, common, 0.1 * usual):
        return None
    return Odd(tuple(one.name for one in away), level, usual, common, _talkers(away), 1.0, len(own))


def _away_from_rest(case: CanCase, own: Sequence[Signature]) -> Odd | None:
    """Where all talkers that are seen stand off alike: off from where the pair rests between their frames, then."""
    rests = [one.rest_v for one in (case.pair.high_rest, case.pair.low_rest) if one is not None]
    if len(rests) < 2 or not all(RECESSIVE_V[0] - SHIFTED_V < volts < RECESSIVE_V[1] + SHIFTED_V for volts in rests):
        return None
    middle = 0.5 * sum(rests)
    shifts = np.array([one.common_v - middle for one in own])
    level = float(np.median([one.difference_v for one in own]))
    if np.abs(shifts).min() <= 1.25 * SHIFTED_V or abs(np.sign(shifts).sum()) < len(own):
        return None
    if not DIFFERENCE_V[0] - METER_V <= level <= DIFFERENCE_V[1] + METER_V:
        return None
    names = tuple(one.name for one in own)
    return Odd(names, level, level, float(np.median(shifts)), _talkers(own), 1.0, len(own))


def _most(volts: npt.NDArray[np.float64], usual: float) -> float:
    """The level around which most stand; of equals the one nearest to where a sound one would: two tell only that they differ."""
    company = (np.abs(volts[:, None] - volts) < 0.5 * SHIFTED_V).sum(axis=1)
    best = volts[company == company.max()]
    return float(best[np.argmin(np.abs(best - usual))])


def beyond_one_wire(pair: PairReading) -> list[tuple[str, float, float]]:
    """With one wire alone: identifiers whose dominant level leaves that wire's limits, with level and limit."""
    if pair.wires.form not in ("CAN-H", "CAN-L"):
        return []
    least, most = HIGH_DOMINANT_V if pair.wires.form == "CAN-H" else LOW_DOMINANT_V
    found = []
    for one in pair.signatures:
        volts = one.high_v if pair.wires.form == "CAN-H" else one.low_v
        if volts < least - METER_V:
            found.append((one.name, volts, least))
        elif volts > most + METER_V:
            found.append((one.name, volts, most))
    return found


def never_driven(pair: PairReading) -> tuple[float, float] | None:
    """With one wire alone: a level that it holds often and no sound node brings it to, and the limit passed."""
    rest, form = pair.wires.rest, pair.wires.form
    if rest is None or form not in ("CAN-H", "CAN-L"):
        return None
    least, most = (RECESSIVE_V[0], HIGH_DOMINANT_V[1]) if form == "CAN-H" else (LOW_DOMINANT_V[0], RECESSIVE_V[1])
    sign = -1.0 if form == "CAN-L" else 1.0
    for volts, share in ((rest.above_v, rest.above_share), (rest.below_v, rest.below_share)):
        if share > OFTEN and not least - ROOM_V <= sign * volts <= most + ROOM_V:
            return sign * volts, least if sign * volts < least else most
    room = ROOM_V + 2.5 * rest.noise_v
    for volts in (rest.top_v, rest.foot_v):
        if math.isfinite(volts) and not least - room <= sign * volts <= most + room:
            return sign * volts, least if sign * volts < least else most
    return None


def apart(pair: PairReading) -> tuple[str, float, float] | None:
    """The identifier that stands lowest, if clearly apart from the rest: its name, its level, the usual one."""
    own = [(one.name, _swing(pair, one)) for one in pair.signatures]
    own = [one for one in own if math.isfinite(one[1])]
    if len(own) < 3:
        return None
    usual = float(np.median([volts for _, volts in own]))
    name, least = min(own, key=lambda one: one[1])
    return (name, least, usual) if least < APART_SHARE * usual else None


def _swing(pair: PairReading, one: Signature) -> float:
    if math.isfinite(one.difference_v):
        return one.difference_v
    return abs((one.high_v if math.isfinite(one.high_v) else one.low_v) - pair.rest_v)


def _talkers(weak: Sequence[Signature]) -> int:
    """Levels that no single node gives: each further one is another node."""
    points = sorted((one.difference_v, one.common_v if math.isfinite(one.common_v) else 0.0) for one in weak)
    count, last = 0, (-math.inf, -math.inf)
    for volts, common in points:
        room = max(SAME_TALKER * abs(volts), CONVERTER_V) + 2.0 * max(
            (one.spread_v / math.sqrt(one.frames) for one in weak), default=0.0
        )
        if volts - last[0] > room or abs(common - last[1]) > room + 0.01:
            count += 1
            last = volts, common
    return count
