"""Where the bits and frames of a CAN wire begin, for a folded view of one channel."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.signal.can_examination import PairReading, read_pair
from loomlight.signal.can_words import CHECK, FORMAT
from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import Times


@dataclass(frozen=True, eq=False)
class CanStarts:
    """Begins of whole frames, of the bits in which one talker drives, and the bit time; seconds."""

    frames_s: Times = field(repr=False)
    bits_s: Times = field(repr=False)
    bit_s: float
    longest_s: float


def can_starts(channel: Channel, progress: Progress = unwatched) -> CanStarts:
    """Read one channel by itself.

    Raises
    ------
    CannotUse
        If no CAN frame can be read on it.
    """
    pair = read_pair(channel, None, progress)
    if not pair.frames_read:
        raise CannotUse(
            f"No CAN frame can be read on {channel.name!r}. Fold by edges instead, or choose a channel that carries a CAN bus."
        )
    return _starts(pair)


def _starts(pair: PairReading) -> CanStarts:
    traffic = pair.traffic
    assert traffic is not None
    bits, good = traffic.read.bits, traffic.good
    body = (bits.part >= FORMAT) & (bits.part <= CHECK) & good[bits.frame]
    body &= bits.length_s == traffic.rates.clock.bit_s
    longest_s = float((traffic.read.stop_s - traffic.read.start_s)[good].max())
    return CanStarts(traffic.read.start_s[good], np.sort(bits.start_s[body]), traffic.bit_s, longest_s)
