"""Names for what disturbs a supply, after the pulses of ISO 7637-2 and the tests of ISO 16750-2."""

from collections.abc import Sequence
from dataclasses import dataclass

from loomlight.signal.excursion_shape import ExcursionShape

BURST_APART_S = 2e-3
"""Needles nearer to each other than this belong to one burst (ISO 7637-2: 90 ms between bursts of 10 ms)."""
FEWEST_IN_BURST = 5
NEEDLE_S = 20e-6
INDUCTIVE_S = (20e-6, 20e-3)
SHORT_S = 1.5e-3
LOAD_DUMP_S = (15e-3, 2.0)

STANDARD = "ISO 7637-2:2004, levels III and IV as printed in a data sheet"
ISO_LEVELS = {"1": (-75.0, -100.0), "2a": (37.0, 50.0), "3a": (-112.0, -150.0), "3b": (75.0, 100.0), "5b": (65.0, 87.0)}
"""Peak of the test pulse from the supply level, V, test levels III and IV, 12 V systems; 3a of level III from memory."""
CAUSES = {
    "1": "an inductive load was cut off beside it, and what should take its energy is missing or open",
    "2a": "a current in the loom stopped suddenly",
    "2b": "a motor ran on as a generator after the supply was cut",
    "3a": "contacts switching: arcing, bouncing",
    "3b": "contacts switching: arcing, bouncing",
    "5a": "load dump: the battery was cut off while the alternator charged",
    "5b": "load dump, held down by a clamp: the battery was cut off while the alternator charged",
}


@dataclass(frozen=True)
class Transient:
    """One disturbance with its name.

    Attributes
    ----------
    shape : ExcursionShape
        Its first, or its highest where it is a burst.
    pulse : str
        ``"1"``, ``"2a"``, ``"2b"``, ``"3a"``, ``"3b"``, ``"5a"``, ``"5b"``, or empty where it is none of them.
    count : int
        How many needles a burst has; 1 for the others.
    start_s, stop_s : float
        Seconds on the channel's axis.
    """

    shape: ExcursionShape
    pulse: str
    count: int
    start_s: float
    stop_s: float

    @property
    def cause(self) -> str:
        """What usually makes it, in the trade's words; empty where it has no name."""
        return CAUSES.get(self.pulse, "")


def named(shapes: Sequence[ExcursionShape]) -> tuple[Transient, ...]:
    """Give each excursion its name; needles that come in bursts are one.

    Parameters
    ----------
    shapes : sequence of ExcursionShape
        In any order.
    """
    found: list[Transient] = []
    for sign in (1.0, -1.0):
        needles = sorted(
            (one for one in shapes if one.sign == sign and (one.width_s <= NEEDLE_S or not one.is_resolved)),
            key=lambda one: one.start_s,
        )
        others = [one for one in shapes if one.sign == sign and one not in needles]
        for group in _groups(needles):
            worst = max(group, key=lambda one: abs(one.height_v))
            is_burst = len(group) >= FEWEST_IN_BURST
            name = ("3b" if sign > 0 else "3a") if is_burst else ""
            if is_burst:
                found.append(Transient(worst, name, len(group), group[0].start_s, group[-1].stop_s))
            else:
                others += group
        found += [Transient(one, _name(one), 1, one.start_s, one.stop_s) for one in others]
    return tuple(sorted(found, key=lambda one: one.start_s))


def _groups(needles: list[ExcursionShape]) -> list[list[ExcursionShape]]:
    groups: list[list[ExcursionShape]] = []
    for one in needles:
        if groups and one.start_s - groups[-1][-1].stop_s <= BURST_APART_S:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups


def _name(shape: ExcursionShape) -> str:
    if not shape.is_resolved:
        return ""
    dies_away = shape.tau_s is not None and shape.fall_s < shape.width_s
    if shape.sign < 0:
        return "1" if dies_away and INDUCTIVE_S[0] <= shape.width_s <= INDUCTIVE_S[1] else ""
    if shape.base_v < 3.0 and 0.05 <= shape.width_s <= 5.0:
        return "2b"
    if LOAD_DUMP_S[0] <= shape.width_s <= LOAD_DUMP_S[1] and shape.fall_s < 0.5 * shape.width_s:
        return "5b" if shape.top_share > 0.3 else "5a"
    return "2a" if dies_away and shape.width_s <= SHORT_S else ""
