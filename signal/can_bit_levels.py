"""Volts of both wires in every bit of every frame, and the levels that each frame's talker reached once settled."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.can_decode import CanTraffic
from loomlight.signal.can_received import Flags, Whole
from loomlight.signal.can_words import ACKNOWLEDGE, CHECK, END, FORMAT, IDENTIFIER, IDENTIFIER_REST
from loomlight.signal.samples import BLOCK, Samples

AT_SHARE = 0.72
"""Of a bit, where its level is read: ringing has decayed, the next edge is still away."""
Volts = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class FrameLevels:
    """One element a frame; NaN where the frame has no such bit.

    Attributes
    ----------
    dominant, recessive, acknowledge, arbitration : ndarray of float64, shape (n, k)
        Volts while the talker alone drives, at the end of frame, in the acknowledge slot, and the highest while several may
        drive. k rows of samples: two wires, or the one that was recorded.
    """

    dominant: Volts = field(repr=False)
    recessive: Volts = field(repr=False)
    acknowledge: Volts = field(repr=False)
    arbitration: Volts = field(repr=False)


def read_at(samples: Samples, places: Whole, reach: int) -> Volts:
    """Mean over ``2 reach + 1`` samples around each place; ``places`` ascending; NaN outside the samples.

    Parameters
    ----------
    samples : Samples
        Walked in blocks.
    places : ndarray of int64, shape (n,)
        Indices.
    reach : int
        Samples either side.
    """
    found = np.full(places.size, np.nan)
    inside = (places >= reach) & (places < samples.size - reach)
    low, high = np.searchsorted(places, [reach, samples.size - reach])
    at = int(low)
    while at < high:
        first = int(places[at]) - reach
        stop = min(first + BLOCK, samples.size)
        last = int(np.searchsorted(places, stop - reach))
        last = min(max(last, at + 1), int(high))
        values = samples.block(first, stop)
        own = places[at:last] - first
        total = np.zeros(own.size)
        for shift in range(-reach, reach + 1):
            total += values[own + shift]
        found[at:last] = total / (2 * reach + 1)
        at = last
    found[~inside] = np.nan
    return found


def bit_volts(traffic: CanTraffic, samples: Samples, start_s: float, step_s: float) -> Volts:
    """Level of each bit of ``traffic.read.bits``, volts."""
    bits = traffic.read.bits
    a_bit = float(bits.length_s.min()) / step_s if bits.length_s.size else 0.0
    places = np.rint((bits.start_s + AT_SHARE * bits.length_s - start_s) / step_s).astype(np.int64)
    order = np.argsort(places, kind="stable")
    found = np.empty(places.size)
    found[order] = read_at(samples, places[order], int(np.clip(0.1 * a_bit, 0, 8)))
    return found


def frame_levels(traffic: CanTraffic, volts: tuple[Volts, ...]) -> FrameLevels:
    """Median levels of each frame, from the bits in which its talker alone drives.

    Parameters
    ----------
    traffic : CanTraffic
        What was read.
    volts : tuple of ndarray
        As from `bit_volts`, one for each wire.
    """
    bits, count = traffic.read.bits, traffic.read.start_s.size
    dominant = ~bits.recessive
    body = (bits.part >= FORMAT) & (bits.part <= CHECK)
    second = np.zeros(dominant.size, dtype=bool)
    second[1:] = (dominant[1:] == dominant[:-1]) & (bits.frame[1:] == bits.frame[:-1])
    settled = _enough(body & dominant & second, body & dominant, bits.frame, count)
    third = np.zeros(dominant.size, dtype=bool)
    third[1:] = second[1:] & second[:-1]
    rest = bits.recessive & third & (bits.part == END)
    several = dominant & ((bits.part == IDENTIFIER) | (bits.part == IDENTIFIER_REST))
    slot = dominant & (bits.part == ACKNOWLEDGE)
    return FrameLevels(
        *(
            np.column_stack([_medians(one, which, bits.frame, count, share) for one in volts])
            for which, share in ((settled, 0.5), (rest, 0.5), (slot, 0.5), (several, 0.9))
        )
    )


def _enough(best: Flags, any_of: Flags, frame: Whole, count: int) -> Flags:
    """The best bits, and for frames with fewer than three of those any."""
    few = np.bincount(frame[best], minlength=count) < 3
    return best | (any_of & few[frame])


def _medians(volts: Volts, which: Flags, frame: Whole, count: int, share: float) -> Volts:
    """Of each frame the value below which ``share`` of the chosen bits lie."""
    chosen = which & np.isfinite(volts)
    own, values = frame[chosen], volts[chosen]
    order = np.lexsort((values, own))
    own, values = own[order], values[order]
    first = np.searchsorted(own, np.arange(count + 1))
    sizes = np.diff(first)
    found = np.full(count, np.nan)
    some = sizes > 0
    place = first[:-1] + np.minimum((share * sizes).astype(np.int64), np.maximum(sizes - 1, 0))
    found[some] = values[place[some]]
    even = some & (sizes % 2 == 0) & (share == 0.5)
    found[even] = 0.5 * (values[place[even]] + values[place[even] - 1])
    return found
