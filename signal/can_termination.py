"""Resistance between the wires of a CAN pair, and in series with a talker, from its levels and edges."""

import math
from dataclasses import dataclass

import numpy as np

from loomlight.signal.can_examination import PairReading
from loomlight.signal.can_limits import DRIVER_OHM, SOUND_OHM, SOURCE_V

LIKE_EACH_OTHER = 0.05
"""Identifiers whose levels changed by the same share, within this."""
SLOPE_SHARE = 0.6
"""Of the tail of a sound bus, how much may be the driver's own slope and not the pair's time constant."""
LEVEL_DOUBT = 0.02
"""Gain of two captures against each other."""


@dataclass(frozen=True)
class Ohms:
    """A resistance with its interval and what it rests on."""

    best: float
    low: float
    high: float
    rests_on: str


@dataclass(frozen=True)
class Change:
    """One identifier here and on the known-good.

    Attributes
    ----------
    name : str
        The identifier in hex.
    share : float
        Dominant level here over that there: of the difference, or of the one wire's swing.
    common_v : float
        How far the common mode moved, volts; NaN where one channel does not show it.
    """

    name: str
    share: float
    common_v: float


def changes(pair: PairReading, good: PairReading) -> tuple[Change, ...]:
    """Identifiers that both carry, each held against itself."""
    there = {(one.identifier, one.extended): one for one in good.signatures}
    found = []
    for one in pair.signatures:
        other = there.get((one.identifier, one.extended))
        if other is None:
            continue
        if pair.wires.form in ("both wires", "difference"):
            mine, theirs = one.difference_v, other.difference_v
        else:
            mine = (one.high_v if pair.wires.form == "CAN-H" else one.low_v) - pair.rest_v
            theirs = (other.high_v if pair.wires.form == "CAN-H" else other.low_v) - good.rest_v
        if math.isfinite(mine) and math.isfinite(theirs) and abs(theirs) > 0.1:
            found.append(Change(one.name, mine / theirs, one.common_v - other.common_v))
    return tuple(found)


def usual_difference(pair: PairReading) -> float:
    """Median over the identifiers of the dominant difference, volts; NaN where it is not known."""
    volts = [one.difference_v for one in pair.signatures if math.isfinite(one.difference_v)]
    return float(np.median(volts)) if volts else math.nan


def from_levels(pair: PairReading) -> Ohms | None:
    """Without a known-good: what a usual driver needs to bring the pair to its level. Drivers differ, so it is wide."""
    volts = usual_difference(pair)
    if not volts > 0:
        return None
    source = [max(one, 1.02 * volts) for one in SOURCE_V]
    least = max(source[0], 0.98 * _together(pair, volts))
    best = DRIVER_OHM[1] * volts / (source[1] - volts)
    low = DRIVER_OHM[0] * volts / (max(source[2], least) - volts)
    high = DRIVER_OHM[2] * volts / (least - volts)
    return Ohms(min(max(best, low), high), low, high, "the dominant level and what drivers usually give")


def _together(pair: PairReading, least: float) -> float:
    """Where several drivers bring the pair together: no source is below that."""
    if pair.levels is None or pair.levels.acknowledge.shape[1] != 2:
        return least
    volts = pair.levels.acknowledge[:, 0] - pair.levels.acknowledge[:, 1]
    volts = volts[np.isfinite(volts)]
    return max(float(np.median(volts)), least) if volts.size else least


def against_good(pair: PairReading, good: PairReading, held: tuple[Change, ...]) -> Ohms | None:
    """From how all levels, and the tail after release, changed against a known-good with its two terminators.

    None where the identifiers did not change alike: then it is not the termination.
    """
    if not held:
        return None
    shares = np.array([one.share for one in held])
    share = float(np.median(shares))
    if np.mean(np.abs(shares - share) < LIKE_EACH_OTHER) < 0.75:
        return None
    ends = [_ohm(share * (1 + doubt), driver) for driver in DRIVER_OHM for doubt in (-LEVEL_DOUBT, LEVEL_DOUBT)]
    low, high, best = min(ends), max(ends), _ohm(share, DRIVER_OHM[1])
    rests_on = f"all levels at {share:.2f} of the known-good's"
    tail = _tail(pair, good)
    if tail is not None and max(low, tail[0]) <= min(high, tail[1]):
        low, high = max(low, tail[0]), min(high, tail[1])
        rests_on += f", and the tail after each release at {tail[2]:.2f} of its length"
    return Ohms(min(max(best, low), high), low, high, rests_on)


def _ohm(share: float, driver_ohm: float) -> float:
    """Across the pair, where the levels are at this share of those at 60 Ω."""
    part = share * SOUND_OHM / (SOUND_OHM + driver_ohm)
    return driver_ohm * part / (1.0 - part) if part < 0.999 else math.inf


def _tail(pair: PairReading, good: PairReading) -> tuple[float, float, float] | None:
    shapes = [one.shapes.to_recessive if one.shapes is not None else None for one in (pair, good)]
    if shapes[0] is None or shapes[1] is None:
        return None
    mine, theirs = shapes[0].lag_s, shapes[1].lag_s
    if (
        not (mine > 0 and theirs > 0.15 * max(pair.axis.step_s, good.axis.step_s))
        or min(shapes[0].edges, shapes[1].edges) < 20
    ):
        return None
    share = mine / theirs
    ends = sorted((share, max((share - SLOPE_SHARE) / (1 - SLOPE_SHARE), 0.1)))
    return 0.85 * SOUND_OHM * ends[0], 1.15 * SOUND_OHM * ends[1], share


def in_series(level: float, usual: float, pair_ohm: float = SOUND_OHM) -> Ohms:
    """Both wires' resistance between one talker and the probe, from its level against what it ought to be."""
    ends = [(pair_ohm + driver) * (usual / level - 1.0) for driver in DRIVER_OHM]
    return Ohms(ends[1], 0.9 * ends[0], 1.1 * ends[2], f"{level:.2f} V where {usual:.2f} V belong")
