"""CAN and CAN FD frames read from the edges of a pair, with what went wrong and where."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.can_line import CanLine
from loomlight.signal.can_rate import Rates, find_rates, read_line, with_fast
from loomlight.signal.can_received import CUT, FORM_ERROR, RATE_UNKNOWN, STUFF_ERROR, WHOLE, Clock, Received
from loomlight.signal.can_words import ACKNOWLEDGE_DELIMITER, DATA, FIELD_NAMES, RATE_SWITCH
from loomlight.signal.edges import find_edges
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import Samples, Times

FLAG_BITS = 5.4
"""A dominant stretch from here on is an error or overload flag: six bits, and no frame holds more than five."""
SHORTEST_STEPS = 3.0
"""Sample steps: no bit that could be read is shorter."""

FrameState = Literal[
    "good", "no acknowledge", "CRC error", "stuff error", "form error", "error flag", "past the end", "unreadable"
]


@dataclass(frozen=True)
class CanFrame:
    """One frame as it was read.

    Attributes
    ----------
    start_s, stop_s : float
        Edge of the start of frame; end of the end of frame, or of where reading stopped; seconds.
    identifier : int or None
        None where it could not be read.
    extended, remote, fd, switched, passive : bool
        29-bit identifier; remote frame; FD format; data phase at the higher rate; FD sender error passive.
    length_code : int or None
        As sent.
    data : bytes
        What was read.
    check : int or None
        CRC as received.
    acknowledged : bool
        Whether the slot was dominant.
    state : str
        One of `FrameState`.
    problem : str
        What was wrong and where; empty where good.
    field : str
        Where in the frame the trouble is; empty where good.
    """

    start_s: float
    stop_s: float
    identifier: int | None
    extended: bool
    remote: bool
    fd: bool
    switched: bool
    passive: bool
    length_code: int | None
    data: bytes
    check: int | None
    acknowledged: bool
    state: FrameState
    problem: str
    field: str

    @property
    def name(self) -> str:
        """Identifier in hex, as long as its form has it; empty where it could not be read."""
        if self.identifier is None:
            return ""
        return f"0x{self.identifier:08X}" if self.extended else f"0x{self.identifier:03X}"


@dataclass(frozen=True, eq=False)
class CanTraffic:
    """All frames of a pair, with the edges they were read from.

    Attributes
    ----------
    line : CanLine
        Edges without glitches.
    rates : Rates
        Bit times.
    bit_s, bit_low_s, bit_high_s : float
        Bit time of arbitration as measured over whole frames: median, least and greatest frame; seconds.
    frames : tuple of CanFrame
        In order.
    read : Received
        The same, with every bit.
    flags_s : ndarray, shape (n, 2)
        Error and overload flags: dominant stretches of six bits and more, seconds.
    overloads : int
        How many of them follow a whole frame.
    """

    line: CanLine = field(repr=False)
    rates: Rates
    bit_s: float
    bit_low_s: float
    bit_high_s: float
    frames: tuple[CanFrame, ...] = field(repr=False)
    read: Received = field(repr=False)
    flags_s: Times = field(repr=False)
    overloads: int

    @property
    def good(self) -> npt.NDArray[np.bool_]:
        """Which frames were read to the end with the right checksum, acknowledged or not."""
        return self.read.good


@dataclass(frozen=True, eq=False)
class Axis:
    """Where samples lie in time."""

    start_s: float
    step_s: float
    gaps_s: Times = field(default_factory=lambda: np.empty((0, 2)))


def find_line(samples: Samples, axis: Axis, *, below: float, above: float, progress: Progress = unwatched) -> CanLine:
    """Edges of a differential voltage: dominant above ``above``, recessive below ``below``."""
    edges = find_edges(samples, low=below, high=above, progress=progress)
    return CanLine(
        axis.start_s + edges.at * axis.step_s,
        starts_recessive=not edges.starts_high,
        start_s=axis.start_s,
        stop_s=axis.start_s + samples.size * axis.step_s,
    )


def decode(line: CanLine, axis: Axis, rates: Rates | None = None) -> CanTraffic | None:
    """Read all frames; each rest of the bus starts afresh, so a damaged frame costs only itself.

    Parameters
    ----------
    line : CanLine
        As from `find_line`.
    axis : Axis
        With the stretches that were not acquired.
    rates : Rates, optional
        Where they are known; else they are found.

    Returns
    -------
    CanTraffic or None
        None where too few edges tell a bit time.
    """
    rates = rates or find_rates(line, shortest_s=SHORTEST_STEPS * axis.step_s)
    if rates is None:
        return None
    clock = rates.clock
    reading = rates.reading or read_line(line, clock)
    if rates.is_sure and clock.fast_bit_s is None and np.any(reading.read.ended == RATE_UNKNOWN):
        # Few frames switch: those that the rate was tried on did not.
        fast = with_fast(line, clock.bit_s, reading)
        if fast is not None:
            rates = fast[0]
            clock, reading = rates.clock, rates.reading or read_line(line, rates.clock)
    clean, bursts, read = reading.line, reading.bursts, reading.read
    flags = _flags(clean, clock.bit_s)
    owner = np.searchsorted(bursts[:, 0], flags[:, 0], side="right") - 1
    frames, overloads = _frames(read, bursts, flags, owner, axis)
    bit = _bit_times(read, clock)
    return CanTraffic(clean, rates, *bit, frames=frames, read=read, flags_s=flags, overloads=overloads)


def _flags(line: CanLine, bit_s: float) -> Times:
    spans = line.dominant_spans()
    return spans[spans[:, 1] - spans[:, 0] >= FLAG_BITS * bit_s]


def _bit_times(read: Received, clock: Clock) -> tuple[float, float, float]:
    """Over each good frame from the start to its last edge to dominant at the slow rate."""
    bits = read.bits
    slow = bits.length_s == clock.bit_s
    if read.switched.any():
        # What follows the data phase stands on another edge: only the arbitration counts.
        slow &= ~read.switched[bits.frame] | (bits.part < RATE_SWITCH)
    begins = ~bits.recessive & slow & (bits.part < ACKNOWLEDGE_DELIMITER - 1)
    begins[1:] &= bits.recessive[:-1] & (bits.frame[1:] == bits.frame[:-1])
    at = np.flatnonzero(begins)
    whole = read.good[bits.frame[at]]
    at = at[whole]
    last = at[np.append(np.diff(bits.frame[at]) > 0, True)] if at.size else at
    if not last.size:
        return clock.bit_s, clock.bit_s, clock.bit_s
    first = bits.of_frame[bits.frame[last]]
    long = last - first >= 8
    last, first = last[long], first[long]
    if not last.size:
        return clock.bit_s, clock.bit_s, clock.bit_s
    lengths = (bits.start_s[last] - bits.start_s[first]) / (last - first)
    return float(np.median(lengths)), float(lengths.min()), float(lengths.max())


def _frames(
    read: Received, bursts: Times, flags: Times, owner: npt.NDArray[np.int64], axis: Axis
) -> tuple[tuple[CanFrame, ...], int]:
    first_flag = np.searchsorted(owner, np.arange(len(bursts) + 1))
    frames: list[CanFrame] = []
    overloads = 0
    columns = [
        one.tolist()
        for one in (
            read.start_s, read.stop_s, read.identifier, read.extended, read.remote, read.fd, read.switched, read.passive,
            read.length_code, read.length, read.check, read.check_wanted, read.acknowledged, read.ended, read.part,
        )
    ]  # fmt: skip
    data = read.data.tobytes()
    holes = _holes(read, axis)
    for number, row in enumerate(zip(*columns, strict=True)):
        start, stop, ident, extended, remote, fd, switched, passive, code, length, check, wanted, ack, ended, place = (
            row
        )
        own = flags[first_flag[number] : first_flag[number + 1]]
        state, problem, where = _state(ended, place, check, wanted, ack, length, len(own) > 0)
        if holes[number] and state != "good":
            state, problem, where = "past the end", "part of this frame was not acquired", ""
        elif ended == WHOLE:
            overloads += len(own)
        frames.append(
            CanFrame(
                start, stop, ident if ident >= 0 else None, extended, remote, fd, switched, passive,
                code if code >= 0 else None, data[64 * number : 64 * number + length], check if check >= 0 else None,
                ack, state, problem, where,
            )
        )  # fmt: skip
    return tuple(frames), overloads


def _holes(read: Received, axis: Axis) -> npt.NDArray[np.bool_]:
    if not len(axis.gaps_s):
        return np.zeros(read.start_s.size, dtype=bool)
    last = np.searchsorted(axis.gaps_s[:, 0], read.stop_s) - 1
    found: npt.NDArray[np.bool_] = (last >= 0) & (axis.gaps_s[np.maximum(last, 0), 1] > read.start_s)
    return found


def _state(
    ended: int, place: int, check: int, wanted: int, acknowledged: bool, length: int, flagged: bool
) -> tuple[FrameState, str, str]:
    where = f"{FIELD_NAMES[place]}, byte {length + 1}" if place == DATA else FIELD_NAMES[place]
    if ended == CUT:
        return "past the end", "the capture ends in this frame", ""
    if ended == RATE_UNKNOWN:
        return "unreadable", "the bit rate of the data phase could not be found", where
    if ended in (STUFF_ERROR, FORM_ERROR) and check >= 0 and check != wanted:
        return (
            "CRC error",
            f"CRC {check:X} where {wanted:X} belongs; broken off by an error flag"
            if flagged
            else (f"CRC {check:X} where {wanted:X} belongs"),
            FIELD_NAMES[13],
        )
    if ended in (STUFF_ERROR, FORM_ERROR) and flagged and place == ACKNOWLEDGE_DELIMITER and not acknowledged:
        return "no acknowledge", "nobody acknowledged; the sender breaks off by an error flag", FIELD_NAMES[15]
    if ended in (STUFF_ERROR, FORM_ERROR) and flagged:
        return "error flag", f"broken off by an error flag in: {where}", where
    if ended == STUFF_ERROR:
        return "stuff error", f"six equal bits in: {where}", where
    if ended == FORM_ERROR:
        return "form error", f"a dominant bit that must be recessive in: {where}", where
    if check != wanted:
        return "CRC error", f"CRC {check:X} where {max(wanted, 0):X} belongs", FIELD_NAMES[13]
    if not acknowledged:
        return "no acknowledge", "nobody acknowledged", FIELD_NAMES[15]
    return "good", "", ""
