"""The bit rates of a CAN pair, found from its edges: candidates from the shortest distances, chosen by whose frames check out."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from loomlight.signal.can_line import GLITCH_BITS, CanLine, without_glitches
from loomlight.signal.can_received import RATE_UNKNOWN, Clock, Received
from loomlight.signal.can_receiver import receive
from loomlight.signal.can_words import USUAL_RATES
from loomlight.signal.samples import Times

TRIED = 48
"""Bursts that a candidate is tried on."""
SURE_SHARE = 0.5
"""Of the bursts that check out, from which on no other bit time is tried."""
LONGEST_BITS, LONGER_SHARE = 5.5, 0.3
"""Of the dominant stretches, how many may be longer than five bits: those are error flags."""
FEWEST = 8
"""Equal distances that make a cluster."""
CLUSTER = 0.07
RATIOS = (1.0, 2.0, 4.0, 5.0, 8.0, 10.0, 16.0)
"""Data phase to arbitration (common practice, no source); 1 first: most buses are classical."""


@dataclass(frozen=True, eq=False)
class Reading:
    """A line without its glitches, its bursts of traffic, and the frames read off them.

    Attributes
    ----------
    line : CanLine
        Without glitches.
    bursts : ndarray, shape (n, 2)
        As from `CanLine.bursts`.
    read : Received
        One frame each.
    """

    line: CanLine
    bursts: Times
    read: Received


@dataclass(frozen=True)
class Rates:
    """What was found.

    Attributes
    ----------
    clock : Clock
        Bit times, seconds.
    is_sure : bool
        Whether frames with right checksums were read with it.
    reading : Reading or None
        What was read with it, where that was the whole capture.
    """

    clock: Clock
    is_sure: bool
    reading: Reading | None = field(default=None, compare=False, repr=False)


def read_line(line: CanLine, clock: Clock, most: int | None = None) -> Reading:
    """Read all frames, or ``most`` of them, spread over the capture."""
    clean = without_glitches(line, GLITCH_BITS * (clock.fast_bit_s or clock.bit_s))
    bursts = clean.bursts(clock.bit_s)
    if most is not None and len(bursts) > most:
        bursts = bursts[np.unique(np.linspace(0, len(bursts) - 1, most).astype(int))]
    return Reading(clean, bursts, receive(clean, bursts[:, 0], clock))


def find_rates(line: CanLine, *, shortest_s: float) -> Rates | None:
    """Bit time of arbitration and, where FD frames switch, of the data phase.

    Parameters
    ----------
    line : CanLine
        All edges, glitches included.
    shortest_s : float
        No bit is shorter: a few sample steps.

    Returns
    -------
    Rates or None
        None with fewer than `FEWEST` edges.

    Notes
    -----
    From edge to dominant to edge to dominant the slopes' difference drops out; those distances are whole numbers of bits, the
    shortest being two. The candidate with which most bursts check out is taken.
    """
    falls = line.falls_s
    if falls.size < FEWEST:
        return None
    best: tuple[float, Rates] | None = None
    spans = line.dominant_spans()
    lengths = np.sort(spans[:, 1] - spans[:, 0])
    first_s = math.inf
    for bit_s in _candidates(np.diff(falls), shortest_s):
        first_s = min(first_s, bit_s)
        longer = 1.0 - np.searchsorted(lengths, LONGEST_BITS * bit_s) / max(lengths.size, 1)
        if longer > LONGER_SHARE and best is not None:
            continue
        if longer > LONGER_SHARE:
            best = 0.0, Rates(Clock(bit_s), is_sure=False)
            continue
        rates, share = _tried(line, bit_s)
        if best is None or share > best[0]:
            best = share, rates
        if share >= SURE_SHARE or (best[0] > 0 and bit_s > 2.5 * first_s):
            break
    return best[1] if best is not None else None


def _candidates(apart: Times, shortest_s: float) -> Iterator[float]:
    units = list(_units(apart, shortest_s))
    given: set[float] = set()
    for ratio in RATIOS:
        for unit in units if ratio == 1.0 else units[:1]:
            bit_s = _near_usual(unit * ratio)
            if not any(abs(bit_s / one - 1.0) < 0.02 for one in given):
                given.add(bit_s)
                yield bit_s


def _near_usual(bit_s: float) -> float:
    """The usual rate where the estimate is within 3 % of one: a receiver has that bit time."""
    for rate in USUAL_RATES:
        if abs(bit_s * rate - 1.0) < 0.03:
            return 1.0 / rate
    return bit_s


def _units(apart: Times, shortest_s: float) -> Iterator[float]:
    """Bit times that the shortest clusters of distances speak for: two bits each, or three or more where none is that short."""
    apart = np.sort(apart[apart >= 2.0 * shortest_s])
    found = 0
    while apart.size >= FEWEST and found < 3:
        # The first distance that has company; lone short ones are glitches.
        reach = np.searchsorted(apart, apart * (1.0 + CLUSTER), side="right") - np.arange(apart.size)
        dense = np.flatnonzero(reach >= max(FEWEST, 0.005 * apart.size))
        if not dense.size:
            return
        low = apart[dense[0]]
        middle = float(np.median(apart[(apart >= low) & (apart <= low * (1.0 + CLUSTER))]))
        middle = float(np.median(apart[np.abs(apart / middle - 1.0) <= CLUSTER]))
        yield 0.5 * middle
        if found == 0:
            yield middle / 3.0
        apart = apart[apart > middle * (1.0 + CLUSTER)]
        found += 1


def _tried(line: CanLine, bit_s: float) -> tuple[Rates, float]:
    """How good one candidate is: the share of the bursts that check out."""
    reading = read_line(line, Clock(bit_s), TRIED)
    if not len(reading.bursts):
        return Rates(Clock(bit_s), is_sure=False), 0.0
    share = _share(reading.read)
    found = Rates(Clock(bit_s), share > 0, _whole(reading))
    unknown = float(np.mean(reading.read.ended == RATE_UNKNOWN))
    if unknown > 0.25 or (unknown > 0 and share > 0.25):
        fast = with_fast(line, bit_s, reading)
        if fast is not None and fast[1] > share:
            return fast
    return found, share


def _whole(reading: Reading) -> Reading | None:
    return reading if len(reading.bursts) < TRIED else None


def _share(read: Received) -> float:
    return float(np.mean(read.good)) if read.good.size else 0.0


def with_fast(line: CanLine, bit_s: float, slow: Reading) -> tuple[Rates, float] | None:
    """The data phase's bit time as well, from the frames that switch to it; and the share of bursts that then check out.

    Parameters
    ----------
    line : CanLine
        All edges, glitches included.
    bit_s : float
        Of arbitration, seconds.
    slow : Reading
        Read with that alone.
    """
    switching = slow.read.start_s[slow.read.ended == RATE_UNKNOWN]
    after = np.searchsorted(line.falls_s, switching + 20 * bit_s)
    apart = np.concatenate([np.diff(line.falls_s[one : one + 40]) for one in after.tolist()])
    units = [unit for unit in _units(apart, 0.0) if unit < 0.9 * bit_s]
    ratios = [bit_s / ratio for ratio in RATIOS[1:]]
    best: tuple[Rates, float] | None = None
    for fast_s in dict.fromkeys([*(_near_ratio(unit, bit_s) for unit in units), *ratios]):
        reading = read_line(line, Clock(bit_s, fast_s), TRIED)
        share = _share(reading.read)
        if not np.any(reading.read.good & reading.read.switched):
            continue
        if best is None or share > best[1]:
            best = Rates(Clock(bit_s, fast_s), share > 0, _whole(reading)), share
        if share >= SURE_SHARE:
            break
    return best


def _near_ratio(fast_s: float, bit_s: float) -> float:
    ratio = bit_s / fast_s
    near = min(RATIOS, key=lambda one: abs(one / ratio - 1.0))
    return bit_s / near if abs(near / ratio - 1.0) < 0.03 else fast_s
