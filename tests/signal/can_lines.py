"""CAN frames as edges or as volts, for tests: sent bit by bit, without a circuit."""

from collections.abc import Sequence

import numpy as np

from loomlight.sample_captures.makers.can_frames import ACK, Frame, SentBits, sent_bits
from loomlight.signal.can_line import CanLine

BIT_S, FAST_S = 2e-6, 0.5e-6


def acknowledged(bits: SentBits) -> SentBits:
    """With the acknowledge slot pulled dominant."""
    place = bits.areas.index(ACK)
    return SentBits((*bits.bits[:place], 0, *bits.bits[place + 1 :]), bits.areas, bits.first_fast, bits.last_fast)


def lengths_of(bits: SentBits, *, point: float = 0.8, fast_point: float = 0.7) -> np.ndarray:
    """Length of each bit, seconds; the rate changes at the sample points."""
    lengths = np.full(len(bits.bits), BIT_S)
    if bits.first_fast is not None and bits.last_fast is not None:
        lengths[bits.first_fast + 1 : bits.last_fast] = FAST_S
        lengths[bits.first_fast] = point * BIT_S + (1 - fast_point) * FAST_S
        lengths[bits.last_fast] = fast_point * FAST_S + (1 - point) * BIT_S
    return lengths


def line_of(rows: Sequence[tuple[Sequence[int], np.ndarray]], *, rest_bits: float = 15.0) -> CanLine:
    """Edges of rows of bits (0 dominant) with their lengths, each after a rest."""
    values, lengths = [1], [rest_bits * BIT_S]
    for bits, length in rows:
        values += [*bits, 1]
        lengths += [*length.tolist(), rest_bits * BIT_S]
    ends = np.cumsum(lengths)
    changes = np.flatnonzero(np.diff(values))
    return CanLine(ends[changes], starts_recessive=True, start_s=0.0, stop_s=float(ends[-1]))


def line_of_frames(frames: Sequence[Frame], *, answered: bool = True) -> CanLine:
    """Edges of whole frames."""
    sent = [sent_bits(one) for one in frames]
    rows = [acknowledged(one) if answered else one for one in sent]
    return line_of([(one.bits, lengths_of(one)) for one in rows])


def volts_of(line: CanLine, *, step_s: float, dominant_v: float = 2.0) -> np.ndarray:
    """The line as a differential voltage."""
    times = line.start_s + step_s * np.arange(int((line.stop_s - line.start_s) / step_s))
    dominant, _ = line.dominant_at(times)
    return np.where(dominant, dominant_v, 0.0)
