"""The data that follow each speed pulse of a wheel speed sensor with three levels: nine bits, the last one a parity.

A rotational speed sensor's data sheet: a speed pulse of 28 mA, then nine bits in Manchester code between 7 and 14 mA; at speed
the next pulse cuts them short. From memory: a bit is as long as the speed pulse, half a bit of 7 mA lies between, a rising
middle is a 1, the parity is even, and what each bit means. The part's own sheet decides.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.frame_table import FrameRow, FrameWord
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.resample import values_at

Row = npt.NDArray[np.float64]
Bits = npt.NDArray[np.int8]

BITS = 9
PAUSE = 0.5
"""Of a bit: between speed pulse and data."""
LEAST_SAMPLES = 4.0
"""Samples a bit, below which its halves are not told apart."""
CLOCKS = tuple(1.0 + 0.01 * one for one in range(-10, 11))
"""A bit over the speed pulse as it was measured: one clock makes both, but edges and samples shift the pulse's ends."""
IN_HALF = (0.15, 0.25, 0.35)
"""Of a bit: where its first half is looked at; the second half as far behind the middle."""
CLEAR = 0.5
"""Of the step between both levels: how far the halves of a bit lie apart at least."""
FRAMES_AT_ONCE = 4096
NAMES = (
    "air gap's reserve used up",
    "mode",
    "mode",
    "direction is known",
    "direction of rotation",
    "field strength",
    "field strength",
    "field strength",
)
"""What bits 0 to 7 mean, from memory."""


@dataclass(frozen=True, eq=False)
class SpeedData:
    """Data behind the speed pulses.

    Attributes
    ----------
    starts_s : ndarray, shape (n,)
        Begin of each speed pulse, seconds.
    bits : ndarray of int8, shape (n, 9)
        0 or 1; -1 from where the data end.
    bit_s : float
        Length of a bit.
    samples_a_bit : float
        Fewer than `LEAST_SAMPLES`: nothing was read.
    """

    starts_s: Row
    bits: Bits
    bit_s: float
    samples_a_bit: float

    @property
    def whole(self) -> npt.NDArray[np.bool_]:
        """Frames with all nine bits."""
        return np.asarray((self.bits >= 0).all(axis=1), dtype=bool)

    @property
    def odd(self) -> npt.NDArray[np.bool_]:
        """Whole frames whose ones, parity included, are odd in number."""
        return np.asarray(self.whole & (np.where(self.bits > 0, 1, 0).sum(axis=1) % 2 == 1), dtype=bool)

    @property
    def parity_is_odd(self) -> bool:
        """Which of the two parities more frames keep."""
        return int(self.odd.sum()) > 0.5 * int(self.whole.sum())

    @property
    def wrong(self) -> npt.NDArray[np.bool_]:
        """Whole frames that do not keep the parity that most keep."""
        return np.asarray(self.whole & (self.odd != self.parity_is_odd), dtype=bool)

    @property
    def kept(self) -> float | None:
        """Share of the whole frames that keep it; None without any."""
        count = int(self.whole.sum())
        return 1.0 - int(self.wrong.sum()) / count if count else None


def read_data(
    channel: Channel,
    starts_s: Row,
    pulse_s: float,
    levels: tuple[float, float],
    progress: Progress = unwatched,
) -> SpeedData:
    """Read the bits behind each speed pulse.

    Parameters
    ----------
    channel : Channel
        Evenly spaced.
    starts_s : ndarray, shape (n,)
        Rising edges of the speed pulses, seconds.
    pulse_s : float
        Length of a speed pulse.
    levels : (float, float)
        Lower and upper level of the data, in the channel's unit.
    progress : Progress
        0 to 1.
    """
    assert channel.step_s is not None
    samples = pulse_s / channel.step_s
    none = np.full((starts_s.size, BITS), -1, dtype=np.int8)
    if samples < LEAST_SAMPLES or not starts_s.size:
        return SpeedData(starts_s, none, pulse_s, samples)
    ends_s = np.append(starts_s[1:], channel.stop_s)
    few = slice(0, min(starts_s.size, 64))
    best_s = max(
        (clock * pulse_s for clock in CLOCKS),
        key=lambda bit_s: _likeness(channel, starts_s[few], ends_s[few], bit_s, levels),
    )
    rows = []
    for first in range(0, starts_s.size, FRAMES_AT_ONCE):
        progress(first / starts_s.size)
        part = slice(first, first + FRAMES_AT_ONCE)
        rows.append(_bits(channel, starts_s[part], ends_s[part], best_s, levels))
    return SpeedData(starts_s, np.concatenate(rows), best_s, samples)


def _halves(channel: Channel, starts_s: Row, ends_s: Row, bit_s: float) -> tuple[Row, Row]:
    """Level of each bit's first and second half; not-a-number where the next pulse has begun."""
    begins = starts_s[:, None] + (1.0 + PAUSE + np.arange(BITS)) * bit_s
    begins = np.where(begins + bit_s < ends_s[:, None], begins, np.nan)
    first, second = (
        np.mean([_at(channel, begins + (half + place) * bit_s) for place in IN_HALF], axis=0) for half in (0.0, 0.5)
    )
    return first, second


def _likeness(channel: Channel, starts_s: Row, ends_s: Row, bit_s: float, levels: tuple[float, float]) -> float:
    """How far apart both halves of all bits lie, with this length of a bit."""
    first, second = _halves(channel, starts_s, ends_s, bit_s)
    return float(np.nansum(np.minimum(np.abs(second - first), levels[1] - levels[0])))


def _bits(channel: Channel, starts_s: Row, ends_s: Row, bit_s: float, levels: tuple[float, float]) -> Bits:
    low, high = levels
    first, second = _halves(channel, starts_s, ends_s, bit_s)
    rises = second - first
    there = (np.abs(rises) > CLEAR * (high - low)) & (np.maximum(first, second) < high + CLEAR * (high - low))
    there = np.logical_and.accumulate(there, axis=1)
    return np.where(there, (rises > 0).astype(np.int8), np.int8(-1))


def _at(channel: Channel, times_s: Row) -> Row:
    flat = times_s.ravel()
    order = np.argsort(flat, kind="stable")
    order = order[np.isfinite(flat[order])]
    found = np.full(flat.size, np.nan)
    found[order] = values_at(channel, flat[order])
    return found.reshape(times_s.shape)


def frame_rows(data: SpeedData) -> tuple[FrameRow, ...]:
    """One row for each speed pulse that data follow."""
    wrong, whole = data.wrong, data.whole
    return tuple(
        _row(data, place, is_whole=bool(whole[place]), is_wrong=bool(wrong[place]))
        for place in np.flatnonzero(data.bits[:, 0] >= 0).tolist()
    )


def _row(data: SpeedData, place: int, *, is_whole: bool, is_wrong: bool) -> FrameRow:
    start_s = float(data.starts_s[place])
    bits: Sequence[int] = [one for one in data.bits[place].tolist() if one >= 0]
    begin_s = start_s + data.bit_s * (1.0 + PAUSE)
    words = [
        FrameWord(
            begin_s + at * data.bit_s,
            begin_s + (at + 1) * data.bit_s,
            f"{'parity ' if at == BITS - 1 else ''}{bit}",
            is_wrong and at == BITS - 1,
        )
        for at, bit in enumerate(bits)
    ]
    called = "odd" if data.parity_is_odd else "even"
    return FrameRow(
        start_s,
        begin_s + len(bits) * data.bit_s,
        "",
        " ".join(str(one) for one in bits[: BITS - 1]),
        f"{bits[-1]}, {called}" if is_whole else "",
        "sensor",
        "parity error" if is_wrong else "good" if is_whole else "cut short",
        f"the nine bits do not make an {called} number of ones" if is_wrong else "",
        tuple(words),
    )
