"""A CAN controller's receiver, run over all frames of a capture at once: one bit of every frame in each step."""

from typing import Final

import numpy as np
import numpy.typing as npt

from loomlight.signal.can_line import CanLine
from loomlight.signal.can_received import (
    CUT,
    FORM_ERROR,
    RATE_UNKNOWN,
    STUFF_ERROR,
    WHOLE,
    Bits,
    Clock,
    Flags,
    Received,
    Whole,
)
from loomlight.signal.can_words import (
    ACKNOWLEDGE,
    ACKNOWLEDGE_DELIMITER,
    CHECK,
    CHECK_DELIMITER,
    CRC_15,
    CRC_17,
    CRC_21,
    DATA,
    DONE,
    END,
    ERROR_STATE,
    EXTENSION,
    FORMAT,
    IDENTIFIER,
    IDENTIFIER_REST,
    LENGTH,
    LENGTHS,
    MOST_BYTES_17,
    RATE_SWITCH,
    REMOTE,
    REMOTE_EXTENDED,
    RESERVED,
    STUFF_COUNT,
    WIDTHS,
    crc_step,
    stuff_count_bits,
)
from loomlight.signal.samples import Times

LONGEST = 900
"""Bits on the wire of the longest frame, stuff bits included, with room."""
SAMPLE_POINT, FAST_SAMPLE_POINT = 0.8, 0.7
"""Where within a bit its value is read (80 %: common practice, no source)."""
SWITCH_POINT = 0.6
"""BRS ends at the sender's sample point, wherever that is: it is read before."""


def receive(line: CanLine, starts_s: Times, clock: Clock) -> Received:
    """Read one frame from each start, synchronising on each edge to dominant as a controller does.

    Parameters
    ----------
    line : CanLine
        Edges of the pair.
    starts_s : ndarray of float64, shape (n,)
        Edges at which frames begin.
    clock : Clock
        Bit times.

    References
    ----------
    .. [1] ISO 11898-1:2015: bit stuffing, synchronisation, frame formats, CRC sequences (as told in public accounts).
    """
    lanes = _Lanes(line, starts_s, clock)
    for _ in range(LONGEST):
        if not lanes.step():
            break
    return lanes.received()


PER_LANE: Final = (
    "number", "ref", "place", "bit_s", "point", "last", "run", "field", "count", "need", "value", "identifier", "extended",
    "remote", "fd", "switched", "passive", "acknowledged", "code", "length", "size", "crc15", "crc17", "crc21", "stuffed",
    "fixed", "check", "wanted", "late",
)  # fmt: skip
RESULTS: Final = (
    "identifier", "extended", "remote", "fd", "switched", "passive", "acknowledged", "code", "length", "check", "wanted",
)  # fmt: skip

WIDE: Final = (LENGTH, DATA, STUFF_COUNT)
"""After these the next field's length depends on the frame."""


class _Lanes:
    """The frames that are still being read, one lane each."""

    number: Whole
    ref: Times
    bit_s: Times
    place: Times
    point: Times
    last: Whole
    run: Whole
    field: Whole
    count: Whole
    need: Whole
    value: Whole
    identifier: Whole
    extended: Flags
    remote: Flags
    fd: Flags
    switched: Flags
    passive: Flags
    acknowledged: Flags
    code: Whole
    length: Whole
    size: Whole
    crc15: Whole
    crc17: Whole
    crc21: Whole
    stuffed: Whole
    fixed: Whole
    check: Whole
    wanted: Whole
    late: Flags

    def __init__(self, line: CanLine, starts_s: Times, clock: Clock) -> None:
        self._line, self._clock, self._starts = line, clock, starts_s
        count = starts_s.size
        self.number = np.arange(count)
        self.ref, self.bit_s = starts_s.astype(np.float64), np.full(count, clock.bit_s)
        self.place, self.point = np.zeros(count), np.full(count, SAMPLE_POINT)
        for name in ("last", "run", "field", "count", "value", "length", "size", "crc15", "stuffed", "fixed", "wanted"):
            setattr(self, name, np.zeros(count, dtype=np.int64))
        self.last += 1
        self.need = np.ones(count, dtype=np.int64)
        self.crc17, self.crc21 = np.full(count, 1 << 16), np.full(count, 1 << 20)
        self.identifier, self.code, self.check = (np.full(count, -1) for _ in range(3))
        for name in ("extended", "remote", "fd", "switched", "passive", "acknowledged", "late"):
            setattr(self, name, np.zeros(count, dtype=bool))
        self.data = np.zeros((count, 64), dtype=np.uint8)
        self._out: dict[str, Whole] = {}
        self._ended, self._field = np.full(count, CUT), np.zeros(count, dtype=np.int64)
        self._stop = starts_s.astype(np.float64)
        self._rows: list[tuple[npt.NDArray[np.generic], ...]] = []
        self._has_fd = False

    def step(self) -> bool:
        """Read the next bit of each lane; whether any is left."""
        if not self.number.size:
            return False
        at_s = self.ref + (self.place + self.point) * self.bit_s
        dominant, before = self._line.dominant_at(at_s)
        over = at_s >= self._line.stop_s
        if over.any():
            self._close(over, CUT)
            self._keep(~over)
            at_s, dominant, before = at_s[~over], dominant[~over], before[~over]
            if not self.number.size:
                return False
        synced = dominant & (self.last == 1) & (before > 0)
        self.ref = np.where(synced, self._line.edges_s[np.maximum(before - 1, 0)], self.ref)
        self.place[synced] = 0.0
        bit = (~dominant).astype(np.int64)
        same = bit == self.last
        dynamic = (self.field <= DATA) | (~self.fd & (self.field <= CHECK_DELIMITER))
        stuff = dynamic & (self.run == 5)
        in_check = self.fd & ((self.field == STUFF_COUNT) | (self.field == CHECK))
        fixed = in_check & (self.fixed % 5 == 0)
        self.fixed += in_check
        self._rows.append(
            (
                self.number,
                self.ref + self.place * self.bit_s,
                self.bit_s.copy(),  # changed in place where a frame switches
                ~dominant,
                stuff | fixed,
                self.field.astype(np.int8),
            )
        )
        self.run = np.where(same, self.run + 1, 1)
        self.last = bit
        payload = ~(stuff | fixed)
        self._checksums(bit, payload, stuff)
        ended = np.full(bit.size, -1)
        ended[stuff & same] = STUFF_ERROR
        ended[fixed & same] = FORM_ERROR
        self._take(np.flatnonzero(payload), bit, at_s, ended)
        self.place += 1.0
        done = ended >= 0
        if done.any():
            for reason in np.flatnonzero(np.bincount(ended[done])).tolist():
                self._close(ended == reason, reason)
            self._keep(~done)
        return bool(self.number.size)

    def _checksums(self, bit: Whole, payload: Flags, stuff: Flags) -> None:
        body = self.field <= DATA
        take = body & payload
        self.crc15 = np.where(take, crc_step(self.crc15, bit, *CRC_15), self.crc15)
        self.stuffed += body & stuff
        if self._has_fd or bool((self.field <= FORMAT).any()):
            # FD checksums run over the stuff bits too, and over the stuff count.
            take = body | (payload & (self.field == STUFF_COUNT))
            self.crc17 = np.where(take, crc_step(self.crc17, bit, *CRC_17), self.crc17)
            self.crc21 = np.where(take, crc_step(self.crc21, bit, *CRC_21), self.crc21)

    def _take(self, lanes: Whole, bit: Whole, at_s: Times, ended: Whole) -> None:
        """Hand each lane's bit to its field, and go on to the next field where that one is full."""
        self.value[lanes] = (self.value[lanes] << 1) | bit[lanes]
        self.count[lanes] += 1
        full = lanes[(self.field[lanes] == DATA) & (self.count[lanes] % 8 == 0)]
        if full.size:
            self.data[self.number[full], self.count[full] // 8 - 1] = self.value[full]
            self.length[full] += 1
            self.value[full] = 0
        ends = lanes[(self.field[lanes] >= CHECK_DELIMITER) & (bit[lanes] == 0)]
        ends = ends[self.field[ends] != ACKNOWLEDGE]
        if ends.size:
            ends = self._late_acknowledge(ends)
            # The last bit of the end of frame belongs to the next: dominant there is an overload flag.
            wrong = ends[(self.field[ends] != END) | (self.count[ends] < WIDTHS[END])]
            ended[wrong] = FORM_ERROR
        ready = lanes[(self.count[lanes] >= self.need[lanes]) & (ended[lanes] < 0)]
        if ready.size:
            fields = self.field[ready]
            for one in np.flatnonzero(np.bincount(fields)).tolist():
                self._next(one, ready[fields == one], at_s, ended)

    def _late_acknowledge(self, ends: Whole) -> Whole:
        """In FD frames the acknowledge may come a bit late or last two bits (ISO 11898-1:2015)."""
        late = ends[self.fd[ends] & (self.field[ends] == ACKNOWLEDGE_DELIMITER) & ~self.late[ends]]
        self.late[late] = self.acknowledged[late] = True
        self.count[late] -= 1
        return np.setdiff1d(ends, late)

    def _next(self, field: int, lanes: Whole, at_s: Times, ended: Whole) -> None:
        value = self.value[lanes]
        after: Whole | int = field + 1
        if field == IDENTIFIER:
            self.identifier[lanes] = value
        elif field == REMOTE:
            self.remote[lanes] = value == 1
        elif field == EXTENSION:
            self.extended[lanes] = value == 1
            after = np.where(value == 1, IDENTIFIER_REST, FORMAT)
            self.identifier[lanes[value == 1]] <<= 18
        elif field == IDENTIFIER_REST:
            self.identifier[lanes] |= value
        elif field == REMOTE_EXTENDED:
            self.remote[lanes] = value == 1
        elif field == FORMAT:
            self.fd[lanes] = value == 1
            self._has_fd |= bool((value == 1).any())
            after = np.where((value == 1) | self.extended[lanes], RESERVED, LENGTH)
        elif field == RESERVED:
            after = np.where(self.fd[lanes], RATE_SWITCH, LENGTH)
            self.point[lanes[self.fd[lanes]]] = SWITCH_POINT
            ended[lanes[self.fd[lanes] & (value == 1)]] = FORM_ERROR
        elif field == RATE_SWITCH:
            self.point[lanes] = SAMPLE_POINT
            self._faster(lanes[value == 1], at_s, ended)
        elif field == ERROR_STATE:
            self.passive[lanes] = value == 1
        elif field == LENGTH:
            after = self._length(lanes, value)
        elif field == DATA:
            after = np.where(self.fd[lanes], STUFF_COUNT, CHECK)
        elif field == STUFF_COUNT:
            wrong = value != stuff_count_bits(self.stuffed[lanes])
            self.wanted[lanes[wrong]] = -2  # no checksum fits a wrong stuff count
        elif field == CHECK:
            self._check(lanes, value)
        elif field == CHECK_DELIMITER:
            self._slower(lanes[self.switched[lanes]], at_s)
        elif field == ACKNOWLEDGE:
            self.acknowledged[lanes] = value == 0
        elif field == END:
            ended[lanes] = WHOLE
        self.field[lanes] = np.where(ended[lanes] < 0, after, self.field[lanes])
        self.count[lanes] = self.value[lanes] = 0
        if field in WIDE:
            self.need[lanes] = self._width(lanes)
        else:
            self.need[lanes] = WIDTHS[self.field[lanes]]

    def _width(self, lanes: Whole) -> Whole:
        """Bits of the field that begins, where that depends on the frame."""
        own, size, fd = self.field[lanes], self.size[lanes], self.fd[lanes]
        check = np.where(size > MOST_BYTES_17, CRC_21[1], CRC_17[1])
        width = np.where(own == DATA, 8 * size, WIDTHS[own])
        return np.where((own == CHECK) & fd, check, width)

    def _length(self, lanes: Whole, value: Whole) -> Whole:
        """By the length code; a classical frame holds 8 bytes at most, a remote one none."""
        self.code[lanes] = value
        self.remote[lanes] &= ~self.fd[lanes]
        classical = np.where(self.remote[lanes], 0, np.minimum(value, 8))
        self.size[lanes] = np.where(self.fd[lanes], LENGTHS[value], classical)
        check = np.where(self.fd[lanes], STUFF_COUNT, CHECK)
        return np.where(self.size[lanes] > 0, DATA, check)

    def _check(self, lanes: Whole, value: Whole) -> None:
        self.check[lanes] = value
        long = self.size[lanes] > MOST_BYTES_17
        fd = np.where(long, self.crc21[lanes], self.crc17[lanes])
        wanted = np.where(self.fd[lanes], fd, self.crc15[lanes])
        self.wanted[lanes] = np.where(self.wanted[lanes] == -2, -2, wanted)

    def _faster(self, lanes: Whole, at_s: Times, ended: Whole) -> None:
        """The rate changes at the sender's sample point within BRS: the edge to the next bit, dominant as a rule, tells where."""
        if not lanes.size:
            return
        self.switched[lanes] = True
        fast_s = self._clock.fast_bit_s
        if fast_s is None:
            ended[lanes] = RATE_UNKNOWN
            return
        self.bit_s[lanes], self.point[lanes], self.place[lanes] = fast_s, FAST_SAMPLE_POINT, 0.0
        begun_s = at_s[lanes] - SWITCH_POINT * self._clock.bit_s
        falls = self._line.falls_s
        place = np.searchsorted(falls, at_s[lanes])
        edge_s = falls[np.minimum(place, falls.size - 1)]
        near = (place < falls.size) & (edge_s - begun_s < self._clock.bit_s + fast_s)
        assumed_s = begun_s + SAMPLE_POINT * self._clock.bit_s + (1.0 - FAST_SAMPLE_POINT) * fast_s
        self.ref[lanes] = np.where(near, edge_s, assumed_s) - fast_s

    def _slower(self, lanes: Whole, at_s: Times) -> None:
        if not lanes.size:
            return
        self.bit_s[lanes], self.point[lanes], self.place[lanes] = self._clock.bit_s, SAMPLE_POINT, 0.0
        self.ref[lanes] = at_s[lanes] - SAMPLE_POINT * self._clock.bit_s

    def _close(self, which: Flags, reason: int) -> None:
        lanes = np.flatnonzero(which)
        numbers = self.number[lanes]
        self._ended[numbers] = reason
        self._field[numbers] = DONE if reason == WHOLE else self.field[lanes]
        self._stop[numbers] = self.ref[lanes] + self.place[lanes] * self.bit_s[lanes]
        for name in RESULTS:
            values = getattr(self, name)
            row = self._out.setdefault(name, np.zeros(self._starts.size, dtype=values.dtype))
            row[numbers] = values[lanes]
        half = lanes[(self.field[lanes] == IDENTIFIER_REST)]
        self._out["identifier"][self.number[half]] = -1

    def _keep(self, which: Flags) -> None:
        for name in PER_LANE:
            setattr(self, name, getattr(self, name)[which])

    def received(self) -> Received:
        """What was read, in the order of the starts."""
        if self.number.size:
            self._close(np.ones(self.number.size, dtype=bool), CUT)
        empty = np.zeros(self._starts.size, dtype=np.int64)

        def out(name: str) -> Whole:
            return self._out.get(name, empty)

        def flag(name: str) -> Flags:
            return out(name).astype(bool)

        check = out("check")
        return Received(
            start_s=self._starts,
            stop_s=self._stop,
            identifier=out("identifier"),
            extended=flag("extended"),
            remote=flag("remote"),
            fd=flag("fd"),
            switched=flag("switched"),
            passive=flag("passive"),
            acknowledged=flag("acknowledged"),
            length_code=out("code"),
            length=out("length"),
            data=self.data,
            check=check,
            check_wanted=np.where(check < 0, -1, out("wanted")),
            ended=self._ended,
            part=self._field,
            bits=self._table(),
        )

    def _table(self) -> Bits:
        if not self._rows:
            none = np.empty(0)
            return Bits(none.astype(np.int64), none, none, none.astype(bool), none.astype(bool), none.astype(np.int8))
        columns = [np.concatenate([row[place] for row in self._rows]) for place in range(6)]
        order = np.argsort(columns[0], kind="stable")
        frame, start, length, recessive, stuff, fields = (one[order] for one in columns)
        return Bits(frame, start, length, recessive, stuff, fields)
