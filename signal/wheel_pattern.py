"""Toothed wheels: how many positions a turn has, and which of them have no tooth."""

from dataclasses import dataclass
from functools import cache

import numpy as np

COMMON = ((60, (2,)), (36, (1,)), (36, (2,)), (24, (1,)), (24, (2,)), (12, (1,)), (30, (1,)), (60, (2, 2)), (48, (3,)))
"""Positions a turn, and teeth left out at each gap, evenly apart (listed by open engine controllers; common practice)."""
UNEVEN = ((36, (13, 14, 16, 17, 34, 35), "36-2-2-2"),)


@dataclass(frozen=True)
class Wheel:
    """What stands on a wheel.

    Attributes
    ----------
    positions : int
        Teeth that a turn would have without gaps.
    absent : tuple of int
        Positions without a tooth, counted from the first tooth after the longest gap.
    """

    positions: int
    absent: tuple[int, ...]

    @property
    def name(self) -> str:
        """``60-2``; gaps in their order."""
        gaps = gaps_of(self.positions, self.absent)
        return "-".join(str(one) for one in (self.positions, *(length for _, length in gaps)))

    @property
    def gaps(self) -> tuple[int, ...]:
        """Teeth left out at each gap."""
        return tuple(length for _, length in gaps_of(self.positions, self.absent))


def turned_home(wheel: Wheel) -> Wheel:
    """The same wheel counted from behind its longest gap; of several, behind the one after the longest row of teeth."""
    gaps = gaps_of(wheel.positions, wheel.absent)
    if not gaps:
        return wheel
    ends = [(begin + length) % wheel.positions for begin, length in gaps]

    def row_before(place: int) -> int:
        begin, previous = gaps[place][0], ends[place - 1]
        return int((begin - previous) % wheel.positions)

    best = max(range(len(gaps)), key=lambda place: (gaps[place][1], row_before(place), -place))
    home = ends[best]
    return Wheel(wheel.positions, tuple(sorted((one - home) % wheel.positions for one in wheel.absent)))


def common_wheel(positions: int, absent: tuple[int, ...]) -> tuple[Wheel, tuple[int, ...], tuple[int, ...]] | None:
    """The common wheel that this one comes nearest to, with at most two teeth too few or too many.

    Returns
    -------
    Wheel, missing, extra
        Positions count as on the common wheel; None where none comes near.
    """
    own = set(absent)
    best: tuple[int, Wheel, tuple[int, ...], tuple[int, ...]] | None = None
    for wheel in common_wheels():
        if wheel.positions != positions:
            continue
        for turn in range(positions):
            there = {(one + turn) % positions for one in wheel.absent}
            missing, extra = own - there, there - own
            wrong = len(missing) + len(extra)
            if wrong <= 2 and (best is None or wrong < best[0]) and len(extra) < len(there):
                best = (
                    wrong,
                    wheel,
                    tuple(sorted((one - turn) % positions for one in missing)),
                    tuple(sorted((one - turn) % positions for one in extra)),
                )
    return best[1:] if best is not None else None


@cache
def common_wheels() -> tuple[Wheel, ...]:
    """Wheels in common use."""
    found = []
    for positions, gaps in COMMON:
        row = positions // len(gaps)
        absent = [place * row + row - length + away for place, length in enumerate(gaps) for away in range(length)]
        found.append(turned_home(Wheel(positions, tuple(absent))))
    found += [turned_home(Wheel(positions, absent)) for positions, absent, _ in UNEVEN]
    return tuple(found)


def gaps_of(positions: int, absent: tuple[int, ...]) -> list[tuple[int, int]]:
    """Begin and length of each run of absent positions, round the wheel."""
    gone = np.zeros(positions, bool)
    gone[list(absent)] = True
    if gone.all() or not gone.any():
        return []
    begins = np.flatnonzero(gone & ~np.roll(gone, 1)).tolist()
    found = []
    for begin in begins:
        length = 1
        while gone[(begin + length) % positions]:
            length += 1
        found.append((begin, length))
    return found
