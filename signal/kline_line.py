"""Edges of a K-line: the bit time that fits them, and bytes read one after the other."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.kline_words import BYTE_BITS, checksum, header_of
from loomlight.signal.line_states import LineStates

Floats = npt.NDArray[np.float64]
Pattern = Literal["fast", "5 baud"]
SLOWEST_BIT_S, FASTEST_BIT_S = 1.0 / 900.0, 1.0 / 130_000.0
"""1.2 to 115.2 kbit/s, with room for clocks that are off (common practice, no source)."""
FEWEST_STRETCHES = 12
MESSAGE_GAP_S = 21e-3
"""Bytes of one message stand at most 20 ms apart (ISO 14230-2, P1 and P4, from memory)."""
USUAL_BIT_RATES = (10_400.0, 9_600.0, 4_800.0, 19_200.0, 38_400.0, 57_600.0, 115_200.0, 1_200.0, 2_400.0)
"""10.4 kbit/s (ISO 14230-2); the others are in use as well (from memory)."""


@dataclass(frozen=True)
class KByte:
    """One byte: its start bit's begin, seconds; its value; whether its stop bit was there; whether the capture held all of it."""

    start_s: float
    value: int
    has_stop: bool = True
    is_whole: bool = True


@dataclass(frozen=True)
class Opening:
    """A pattern that opens a conversation.

    Attributes
    ----------
    pattern : {"fast", "5 baud"}
        25 ms low and 25 ms high, or an address at 5 baud.
    start_s, stop_s : float
        Seconds.
    low_s, whole_s : float
        For ``fast``: the low part, and low and high together, seconds. For ``5 baud``: a bit, and the whole.
    address : int or None
        What was called at 5 baud.
    """

    pattern: Pattern
    start_s: float
    stop_s: float
    low_s: float
    whole_s: float
    address: int | None = None


def bit_time(states: LineStates) -> tuple[float | None, float]:
    """Bit time from falling edge to falling edge, which no slow rise moves; and by how much lows are longer than highs."""
    inside = states.is_whole & (states.length_s <= (BYTE_BITS - 0.5) * SLOWEST_BIT_S)
    inside &= states.length_s >= 0.3 * FASTEST_BIT_S
    lengths, high = states.length_s[inside], states.high[inside]
    lows, highs = lengths[~high], lengths[high]
    if lows.size < 4 or highs.size < 4 or lows.size + highs.size < FEWEST_STRETCHES:
        return None, 0.0
    # One low bit and one high bit together are two bit times, whatever the skew.
    least = _common_shortest(lows) + _common_shortest(highs)
    guess_s = 0.5 * least
    # Where a contact bounces the shortest stretches are no bits: the usual rates are tried as well.
    guesses = [guess_s / parts for parts in (1.0, 2.0, 1.5, 3.0)] + [1.0 / one for one in USUAL_BIT_RATES[:2]]
    best: tuple[tuple[int, float], float, float] | None = None
    for guess in guesses:
        found = _refined(states, guess)
        if found is None or (best is not None and abs(found[0] / best[1] - 1.0) < 0.01):
            continue
        bit_s, skew_s = found
        line = KLine(states, bit_s, skew_s, float(states.stop_s[-1]))
        whole, share = line.worth()
        if best is None or (whole, share) > (best[0][0], best[0][1] + 0.15):
            best = ((whole, share), bit_s, skew_s)
    return (best[1], best[2]) if best is not None else (None, 0.0)


def _common_shortest(lengths: Floats) -> float:
    """Shortest length that is not a rare one: glitches are rare."""
    ordered = np.sort(lengths)
    return float(ordered[min(int(0.08 * ordered.size) + 1, ordered.size - 1)])


def _refined(states: LineStates, bit_s: float) -> tuple[float, float] | None:
    """Bit time and skew from the bytes that a first guess gives; None where they do not fit together."""
    falls = states.start_s[1:][~states.high[1:]]
    apart = np.diff(falls)
    for _ in range(2):
        bits = np.rint(apart / bit_s)
        near = (bits >= 2) & (bits <= 9) & (np.abs(apart - bits * bit_s) < 0.25 * bit_s)
        if np.count_nonzero(near) < FEWEST_STRETCHES // 2:
            return None
        bit_s = float(bits[near] @ apart[near]) / float(bits[near] @ bits[near])
    if not FASTEST_BIT_S <= bit_s <= SLOWEST_BIT_S:
        return None
    whole = states.is_whole & ~states.high & (states.length_s < 9.5 * bit_s)
    lows = states.length_s[whole]
    skew_s = _common_shortest(lows) - bit_s
    skew_s = float(np.clip(skew_s, -0.6 * bit_s, 0.8 * bit_s))
    left = lows - np.maximum(np.rint((lows - skew_s) / bit_s), 1.0) * bit_s
    skew_s = float(np.median(left)) if left.size else 0.0
    line = KLine(states, bit_s, skew_s, float(states.stop_s[-1]))
    fields = tuple(line.bytes_from(first_quiet(states, bit_s, float(states.start_s[0]))))
    fitted = line.bit_of(fields)
    return (fitted if np.isfinite(fitted) else bit_s), skew_s


def first_quiet(states: LineStates, bit_s: float, start_s: float) -> float:
    """Where reading may begin: a capture may start inside a byte, and a high stretch of ten bits ends any byte."""
    quiet = states.high & (states.length_s >= (BYTE_BITS - 0.5) * bit_s)
    if not quiet.any():
        return start_s
    first = int(np.argmax(quiet))
    return float(states.start_s[first])


class KLine:
    """Edges of one line, with the questions that reading bytes asks of them."""

    def __init__(self, states: LineStates, bit_s: float, skew_s: float, stop_s: float) -> None:
        self.bit_s, self.skew_s, self.stop_s = bit_s, skew_s, stop_s
        self.states = states
        falls = ~states.high
        falls[:1] = False
        self.falls = states.start_s[falls]
        self._edges = states.start_s[1:]
        self._first_high = bool(states.high[0]) if states.high.size else True

    def bytes_from(self, begin_s: float, openings: tuple[Opening, ...] = ()) -> list[KByte]:
        """Bytes one after the other; low stretches longer than a byte are none."""
        found: list[KByte] = []
        at_s = begin_s
        opened = [(one.start_s, one.stop_s) for one in openings]
        while True:
            place = int(np.searchsorted(self.falls, at_s))
            if place >= self.falls.size:
                return found
            start_s = float(self.falls[place])
            inside = next((stop for start, stop in opened if start - 1e-9 <= start_s < stop - 1e-9), None)
            if inside is not None:
                at_s = inside - 1e-9
                continue
            one = self.byte_at(start_s)
            if one is None:
                at_s = start_s + 0.5 * self.bit_s
                continue
            found.append(one)
            at_s = start_s + 9.5 * self.bit_s if one.has_stop else self._next_high(start_s + 9.5 * self.bit_s)

    def _next_high(self, at_s: float) -> float:
        """Where the line is high again: a stretch without stop bit goes on into nothing."""
        place = int(np.searchsorted(self._edges, at_s, side="right"))
        is_high = (place % 2 == 0) == self._first_high
        return at_s if is_high or place >= self._edges.size else float(self._edges[place])

    def byte_at(self, start_s: float) -> KByte | None:
        """The byte whose start bit begins here; None where that is shorter than half a bit."""
        # Rises are late by the skew, falls are not: the middle between them is late by half of it.
        middles = start_s + (np.arange(BYTE_BITS) + 0.5) * self.bit_s + 0.5 * self.skew_s
        high = (np.searchsorted(self._edges, middles, side="right") % 2 == 0) == self._first_high
        if high[0]:
            return None
        value = int(high[1:9] @ (1 << np.arange(8)))
        return KByte(start_s, value, bool(high[9]), start_s + 9.5 * self.bit_s <= self.stop_s)

    def worth(self) -> tuple[int, float]:
        """How well this bit time reads the line: messages whose stated length and checksum fit; share of bytes with "
        "a stop bit."""
        fields = self.bytes_from(first_quiet(self.states, self.bit_s, float(self.states.start_s[0])))
        whole = sum(_is_complete(list(group)) for group in grouped(fields, ()))
        return whole, sum(one.has_stop for one in fields) / len(fields) if fields else 0.0

    def bit_of(self, fields: tuple[KByte, ...]) -> float:
        """Bit time from the falling edges inside some bytes alone, seconds; NaN where they hold too few."""
        bits, took = [], []
        for one in fields:
            first = int(np.searchsorted(self.falls, one.start_s + 0.5 * self.bit_s))
            last = int(np.searchsorted(self.falls, one.start_s + 9.2 * self.bit_s))
            apart = self.falls[first:last] - one.start_s
            bits.append(np.rint(apart / self.bit_s))
            took.append(apart)
        if not bits:
            return float("nan")
        count, length = np.concatenate(bits), np.concatenate(took)
        # A clock that is off by a twentieth is off by half a bit at the byte's end: those are left out.
        near = np.abs(length - count * self.bit_s) < 0.4 * self.bit_s
        count, length = count[near], length[near]
        weight = float(count @ count)
        return float(count @ length) / weight if weight >= 30.0 else float("nan")


def grouped(fields: list[KByte], openings: tuple[Opening, ...]) -> list[tuple[KByte, ...]]:
    """Bytes that belong together: a message ends where its stated length and checksum are complete, or at a pause."""
    found: list[tuple[KByte, ...]] = []
    group: list[KByte] = []
    opened = sorted(one.start_s for one in openings)
    for one in fields:
        if group:
            apart_s = one.start_s - group[-1].start_s
            crossed = any(group[-1].start_s < at_s < one.start_s for at_s in opened)
            if apart_s > MESSAGE_GAP_S + 1.1e-3 or crossed or _is_complete(group):
                found.append(tuple(group))
                group = []
        group.append(one)
    return [*found, tuple(group)] if group else found


def _is_complete(group: list[KByte]) -> bool:
    """Whether the stated length is there, with a checksum that fits."""
    values = bytes(one.value for one in group)
    header = header_of(values)
    if header is None or header.length is None or header.length == 0:
        return False
    return len(values) == header.size + header.length + 1 and checksum(values[:-1]) == values[-1]
