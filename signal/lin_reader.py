"""Breaks, sync fields and byte fields in the edges of a LIN line, and what the bytes of one frame say."""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.lin_words import BYTE_BITS, CLASSIC_ONLY, HEADER_BITS, SLACK, checksum, identifier_of

Times = npt.NDArray[np.float64]
FrameState = Literal[
    "good", "no response", "cut short", "header error", "framing error", "checksum error", "past the end"
]
ChecksumForm = Literal["classic", "enhanced", "both", "neither"]

LEAST_BREAK_BITS = 10.5
"""A break has at least 13 bits, seen by a clock up to 14 % off; a zero byte has 9 (LIN 2.2A, section 2.3.1.1)."""
SLOWEST_BIT_S, FASTEST_BIT_S = 1.2e-3, 42e-6
"""1 to 20 kbit/s (ISO 17987-4), with room for clocks that are off."""
SYNC_SPREAD = 0.12
"""How unequal the four double bits of a sync field may be, largest to smallest."""
MOST_BYTES = 9
HEADER_SLACK_BITS = (SLACK - 1.0) * HEADER_BITS
MOST_PAUSE_BITS = (SLACK - 1.0) * BYTE_BITS * MOST_BYTES
"""All pauses of the longest response together (LIN 2.2A, section 2.3.2): after a longer one another frame begins."""
LEAST_PAUSE_BITS = 4.0
"""A pause at which a frame whose checksum fits may end (common practice, no source)."""
SHORTEST_WAKE_S, LONGEST_WAKE_S, QUIET_S = 250e-6, 5e-3, 0.1
"""A wake-up pulse, and the least quiet before it (LIN 2.2A, section 2.6.2: repeated after 150 ms at the earliest)."""


@dataclass(frozen=True)
class ByteField:
    """One byte as it was read.

    Attributes
    ----------
    start_s : float
        Its start bit, seconds.
    value : int
        0 to 255.
    problem : str
        What was wrong; empty if nothing.
    is_whole : bool
        False where the capture stops inside it.
    """

    start_s: float
    value: int
    problem: str = ""
    is_whole: bool = True


@dataclass(frozen=True)
class Reading:
    """What the bytes after a sync field say; the members are those of `lin_decode.LinFrame`."""

    identifier: int | None
    data: bytes
    checksum: int | None
    checksum_form: ChecksumForm | None
    state: FrameState
    problem: str


class LineEdges:
    """Edges of one line, with the questions that reading frames asks of them.

    Parameters
    ----------
    times_s : ndarray, shape (n,)
        All edges, seconds.
    starts_recessive : bool
        State before the first.
    stop_s : float
        End of the capture.
    """

    def __init__(self, times_s: Times, *, starts_recessive: bool, stop_s: float) -> None:
        self.times_s, self._starts_recessive, self._stop_s = times_s, starts_recessive, stop_s
        # Bytes are read edge by edge: plain lists are several times faster there than arrays of ten.
        self._times, self._falls = times_s.tolist(), times_s[0 if starts_recessive else 1 :: 2].tolist()
        self.falls = times_s[0 if starts_recessive else 1 :: 2]
        # Without the end of a stretch that was under way at the start: its begin is not known.
        self.rises = times_s[1 if starts_recessive else 2 :: 2]

    @property
    def dominant(self) -> Times:
        """Whole dominant stretches, shape (n, 2), seconds."""
        return np.column_stack([self.falls[: self.rises.size], self.rises])

    def sync_fields(self) -> Times:
        """Five falling edges two bits apart: shape (n, 2): start and bit time. A data byte 0x55 looks the same."""
        count = max(self.falls.size - 4, 0)
        doubles = np.diff(self.falls)
        four = np.stack([doubles[place : place + count] for place in range(4)])
        bit_s = four.sum(axis=0) / 8.0
        even = four.max(axis=0) <= (1.0 + SYNC_SPREAD) * four.min(axis=0)
        fits = even & (bit_s >= FASTEST_BIT_S) & (bit_s <= SLOWEST_BIT_S)
        return np.column_stack([self.falls[:count][fits], bit_s[fits]])

    def headers(self) -> Times:
        """Breaks with a sync field: shape (n, 3): start of the break, bit time, start of the sync field."""
        syncs = self.sync_fields()
        place = np.searchsorted(self.falls, syncs[:, 0])
        syncs, place = syncs[place > 0], place[place > 0]
        start, stop = self.falls[place - 1], self.rises[place - 1]
        delimiter = syncs[:, 0] - stop
        fits = (
            (stop - start >= LEAST_BREAK_BITS * syncs[:, 1])
            & (delimiter >= 0.5 * syncs[:, 1])
            & (delimiter <= (1.0 + HEADER_SLACK_BITS) * syncs[:, 1])
        )
        return np.column_stack([start[fits], syncs[fits, 1], syncs[fits, 0]])

    def broken_breaks(self, headers: Times, bit_s: float) -> Times:
        """Starts of dominant stretches as long as a break that start no readable header; wake-up pulses left out."""
        stretches = self.dominant
        lengths = stretches[:, 1] - stretches[:, 0]
        before = np.diff(stretches[:, 0], prepend=-np.inf)
        after = np.append(self.falls, np.inf)[1 : lengths.size + 1] - stretches[:, 1]
        is_wake = (
            (lengths >= SHORTEST_WAKE_S)
            & (lengths <= LONGEST_WAKE_S)
            & (before >= QUIET_S)
            & (after > (1.0 + HEADER_SLACK_BITS) * bit_s)
        )
        broken = (lengths >= LEAST_BREAK_BITS * bit_s) & ~is_wake & ~np.isin(stretches[:, 0], headers[:, 0])
        starts: Times = stretches[broken, 0]
        return starts

    def byte_fields(self, from_s: float, until_s: float, bit_s: float) -> list[ByteField]:
        """Byte fields from the first falling edge after ``from_s`` on: an identifier and at most nine more."""
        fields: list[ByteField] = []
        dips = 0
        while len(fields) <= MOST_BYTES and dips <= MOST_BYTES:
            place = bisect_left(self._falls, from_s)
            if place >= len(self._falls) or self._falls[place] >= until_s:
                break
            start_s = self._falls[place]
            recessive = self._bits(start_s, bit_s)
            if recessive[0]:
                dips += 1
                from_s = start_s + 0.5 * bit_s
                continue
            number = len(fields) + 1
            found = [f"a dip shorter than a bit at byte {number}"] if dips else []
            found += [] if recessive[9] else [f"no stop bit at byte {number}"]
            value = sum(1 << bit for bit in range(8) if recessive[bit + 1])
            is_whole = start_s + 9.5 * bit_s <= self._stop_s
            fields.append(ByteField(start_s, value, "; ".join(found), is_whole))
            from_s, dips = start_s + 9.5 * bit_s, 0
        return fields

    def _bits(self, start_s: float, bit_s: float) -> list[bool]:
        """State in the middle of each of ten bits: whether it is recessive."""
        times, count = self._times, len(self._times)
        place = bisect_left(times, start_s)
        bits = []
        for number in range(BYTE_BITS):
            middle_s = start_s + (number + 0.5) * bit_s
            while place < count and times[place] <= middle_s:
                place += 1
            bits.append((place % 2 == 1) != self._starts_recessive)
        return bits


def own_fields(fields: list[ByteField], bit_s: float) -> list[ByteField]:
    """Fields of this frame alone: what follows may be the remains of one whose break could not be read.

    The frame ends with all fields where its checksum then fits; else at the first pause where it does; else at the
    first pause that no frame may have.
    """
    if _fits(fields):
        return fields
    starts = np.array([field.start_s for field in fields])
    pauses = np.diff(starts) / bit_s - BYTE_BITS
    for count in (int(place) + 1 for place in np.flatnonzero(pauses >= LEAST_PAUSE_BITS)):
        if _fits(fields[:count]):
            return fields[:count]
    too_long = np.flatnonzero(pauses > MOST_PAUSE_BITS)
    return fields[: int(too_long[0]) + 1] if too_long.size else fields


def _fits(fields: Sequence[ByteField]) -> bool:
    if len(fields) < 3 or any(field.problem or not field.is_whole for field in fields):
        return False
    values = [field.value for field in fields]
    return identifier_of(values[0])[1] and _form(values[0], values[1:-1], values[-1]) != "neither"


def read_fields(fields: Sequence[ByteField], *, is_cut: bool) -> Reading:
    """What the byte fields after a sync field say.

    Parameters
    ----------
    fields : sequence of ByteField
        Identifier first.
    is_cut : bool
        The capture stops while the frame may still be under way: what is missing is then not the bus's fault.
    """
    if fields and not fields[-1].is_whole:
        return _past_the_end(read_fields(fields[:-1], is_cut=True))
    if not fields:
        state: FrameState = "past the end" if is_cut else "header error"
        return Reading(None, b"", None, None, state, "no identifier after the sync field")
    protected, *response = (field.value for field in fields)
    identifier, parity_ok = identifier_of(protected)
    data, received = bytes(response[:-1]), response[-1] if response else None
    broken = [field.problem for field in fields if field.problem]
    if fields[0].problem or not parity_ok:
        problem = fields[0].problem or f"identifier {protected:#04x} has wrong parity"
        return Reading(identifier, data, received, None, "header error", problem)
    form = _form(protected, list(data), received) if len(response) > 1 and received is not None else None
    if form not in (None, "neither") and not broken:
        return Reading(identifier, data, received, form, "good", "")
    if is_cut:
        return _past_the_end(Reading(identifier, data, received, form, "past the end", ""))
    if broken:
        return Reading(identifier, data, received, form, "framing error", "; ".join(broken[:3]))
    if not response:
        return Reading(identifier, b"", None, None, "no response", "no byte followed the header")
    if len(response) == 1:
        what = "one byte followed the header, then nothing"
        return Reading(identifier, bytes(response), None, None, "cut short", what)
    what = f"checksum {received:#04x} fits neither form"
    return Reading(identifier, data, received, "neither", "checksum error", what)


def _past_the_end(reading: Reading) -> Reading:
    return replace(reading, state="past the end", problem="the capture ends inside this frame")


def _form(protected: int, data: list[int], received: int) -> ChecksumForm:
    classic = checksum(data) == received
    enhanced = checksum(data, protected=protected) == received and protected & 0x3F not in CLASSIC_ONLY
    if classic and enhanced:
        return "both"
    return "classic" if classic else "enhanced" if enhanced else "neither"
