"""Which talker stands apart from the others: by its level, by its common mode, against the known-good."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loomlight.signal.can_case import CanCase
from loomlight.signal.can_examination import PairReading, Signature
from loomlight.signal.can_limits import DIFFERENCE_V, HIGH_DOMINANT_V, LOW_DOMINANT_V, METER_V

WEAK_SHARE, STRONG_SHARE = 0.87, 1.06
"""Of its own level on the known-good: below, it lost some; above, it gained."""
SHIFTED_V = 0.4
"""Common mode away from the others' by more than drivers differ (data sheet: the sum of both wires 0.9 to 1.1 of 5 V)."""
ONE_LEG = 0.35
"""A resistance in one wire shifts the common mode by three quarters of what the difference loses; in both, by nothing."""
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
    share = {one.name: one.share for one in case.held}
    below = {one.name for one in own if one.difference_v < DIFFERENCE_V[0] - METER_V}
    usual_share = float(np.median([*share.values()])) if share else 1.0
    lost = {name for name, one in share.items() if one < WEAK_SHARE}
    names = (below | lost) if share else below
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
    if level > 0.95 * usual:
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
    moved = {one.name: one.common_v for one in case.held if math.isfinite(one.common_v)}
    if moved:
        shift = {name: volts - float(np.median([*moved.values()])) for name, volts in moved.items()}
    elif len(own) > 2:
        middle = _common_of_most(own)
        shift = {one.name: one.common_v - middle for one in own}
    else:
        # Two talkers tell that they differ, not which of them is right: the one farther from half of 5 V is it.
        middle = min((one.common_v for one in own), key=lambda volts: abs(volts - 2.5))
        shift = {one.name: one.common_v - middle for one in own}
    away = [one for one in own if abs(shift.get(one.name, 0.0)) > SHIFTED_V]
    rest = [one for one in own if one not in away]
    if not away or not rest:
        return None
    level, usual = (float(np.median([one.difference_v for one in group])) for group in (away, rest))
    common = float(np.median([shift[one.name] for one in away]))
    if level < DIFFERENCE_V[0] - METER_V:
        return None
    return Odd(tuple(one.name for one in away), level, usual, common, _talkers(away), 1.0, len(own))


def _common_of_most(own: Sequence[Signature]) -> float:
    """The level around which most identifiers stand; of equals the one nearest to half of 5 V."""
    volts = np.array([one.common_v for one in own])
    company = (np.abs(volts[:, None] - volts) < 0.5 * SHIFTED_V).sum(axis=1)
    best = volts[company == company.max()]
    return float(best[np.argmin(np.abs(best - 2.5))])


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
        room = SAME_TALKER * abs(volts) + 2.0 * max((one.spread_v / math.sqrt(one.frames) for one in weak), default=0.0)
        if volts - last[0] > room or abs(common - last[1]) > room + 0.01:
            count += 1
            last = volts, common
    return count
