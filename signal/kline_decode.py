"""Bytes, messages and opening patterns in the edges of a K-line; the bit time is found by itself."""

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from loomlight.signal.kline_line import MESSAGE_GAP_S, KByte, KLine, Opening, bit_time, first_quiet, grouped
from loomlight.signal.kline_words import BYTE_BITS, TESTER, Header, checksum, header_of, talker_of
from loomlight.signal.line_states import LineStates
from loomlight.signal.spans import Spans

State = Literal["good", "checksum error", "framing error", "cut short", "past the end", "before the start"]
FAST_S = (15e-3, 40e-3)
"""What is taken for a half of the fast pattern of 25 ms low and 25 ms high (ISO 14230-2, from memory)."""
SLOW_BIT_S, SLOW_SLACK = 0.2, 0.08
"""A bit at 5 baud, and how far off it is still taken for one."""


@dataclass(frozen=True)
class Message:
    """One message.

    Attributes
    ----------
    start_s, stop_s : float
        First start bit, last stop bit's end, seconds.
    fields : tuple of KByte
        Its bytes, checksum included.
    header : Header or None
        None where it is no message but what answers a call at 5 baud, or too short.
    talker : str
        ``"tester"``, ``"unit 0x11"``; empty where that is not known.
    state : str
        ``"good"``…
    problem : str
        What was wrong and where; empty if nothing.
    bit_s : float
        Bit time measured in this message alone, seconds; NaN where it holds too little.
    note : str
        What it is, where it is no ordinary message: ``"key bytes"``.
    """

    start_s: float
    stop_s: float
    fields: tuple[KByte, ...]
    header: Header | None
    talker: str
    state: State
    problem: str
    bit_s: float
    note: str = ""

    @property
    def values(self) -> bytes:
        """All bytes."""
        return bytes(one.value for one in self.fields)


@dataclass(frozen=True, eq=False)
class KTraffic:
    """What a K-line carried.

    Attributes
    ----------
    bit_s : float or None
        None where no bit time could be found.
    messages : tuple of Message
        In order.
    openings : tuple of Opening
        In order.
    low : ndarray, shape (n, 2)
        All whole low stretches, seconds.
    skew_s : float
        By how much low bits are longer than high ones, seconds.
    """

    bit_s: float | None
    messages: tuple[Message, ...]
    openings: tuple[Opening, ...]
    low: Spans = field(repr=False)
    skew_s: float = 0.0


def decode(states: LineStates, *, start_s: float, stop_s: float) -> KTraffic:
    """Read everything off one line.

    Parameters
    ----------
    states : LineStates
        Of the channel.
    start_s, stop_s : float
        The channel's ends, seconds.
    """
    whole_low = ~states.high & states.is_whole
    low = np.column_stack([states.start_s[whole_low], states.stop_s[whole_low]])
    openings = _openings(states)
    bit_s, skew_s = bit_time(states)
    if bit_s is None:
        return KTraffic(None, (), openings, low)
    line = KLine(states, bit_s, skew_s, stop_s)
    begin_s = first_quiet(states, bit_s, start_s)
    fields = line.bytes_from(begin_s, openings)
    messages = [_message(group, line, stop_s) for group in grouped(fields, openings)]
    return KTraffic(bit_s, _after_calls(messages, openings), openings, low, skew_s)


def _message(fields: tuple[KByte, ...], line: KLine, stop_s: float) -> Message:
    values = bytes(one.value for one in fields)
    header = header_of(values)
    state, problem = _state(fields, values, header, line, stop_s)
    if state == "cut short" and _began_before(line, fields):
        state, problem = "before the start", "the capture begins inside this message"
    end_s = min(fields[-1].start_s + BYTE_BITS * line.bit_s, stop_s)
    return Message(
        fields[0].start_s, end_s, fields, header, talker_of(values, header), state, problem, line.bit_of(fields)
    )


def _began_before(line: KLine, fields: tuple[KByte, ...]) -> bool:
    return fields[0].start_s - float(line.states.start_s[0]) < MESSAGE_GAP_S


def _state(
    fields: tuple[KByte, ...], values: bytes, header: Header | None, line: KLine, stop_s: float
) -> tuple[State, str]:
    broken = [number for number, one in enumerate(fields, start=1) if not one.has_stop and one.is_whole]
    is_cut = not fields[-1].is_whole or stop_s - fields[-1].start_s < MESSAGE_GAP_S
    if broken:
        if _began_before(line, fields) and broken[0] == 1:
            return "before the start", "the capture begins inside this message"
        return "framing error", f"no stop bit at byte {broken[0]}" + (
            f" and {len(broken) - 1} more" if len(broken) > 1 else ""
        )
    if not fields[-1].is_whole:
        return "past the end", "the capture ends inside this message"
    enough = header is not None and len(values) > header.size + 1
    if enough and header is not None:
        wanted = None if header.length is None else header.size + header.length + 1
        if wanted == len(values) or wanted is None:
            if checksum(values[:-1]) == values[-1]:
                return "good", ""
            if not (wanted is None and is_cut) and not _began_before(line, fields):
                return "checksum error", f"checksum {values[-1]:#04x}, the bytes add up to {checksum(values[:-1]):#04x}"
    if is_cut:
        return "past the end", "the capture ends inside this message"
    return "cut short", _missing(values, header)


def _missing(values: bytes, header: Header | None) -> str:
    if header is None or header.length is None:
        return f"{len(values)} byte{'s' if len(values) != 1 else ''} and no more"
    return f"{len(values)} bytes where the header states {header.size + header.length + 1}"


def _after_calls(messages: list[Message], openings: tuple[Opening, ...]) -> tuple[Message, ...]:
    """After a call at 5 baud no messages come first but key bytes: 0x55 and two, one back, one more."""
    calls = [one for one in openings if one.pattern == "5 baud"]
    if not calls:
        return tuple(messages)
    found: list[Message] = []
    at_s = -np.inf
    for one in messages:
        call = next((call for call in reversed(calls) if call.stop_s <= one.start_s + 1e-9), None)
        fresh = call is not None and one.start_s - call.stop_s < 0.6 and call.stop_s > at_s
        is_key = fresh and one.values[:1] == b"\x55"
        echoed = fresh and found and found[-1].note and one.state != "good" and len(one.fields) <= 2
        if is_key or echoed:
            talker = "unit" if is_key or (found and found[-1].talker == TESTER) else TESTER
            found.append(replace(one, header=None, talker=talker, state="good", problem="", note="key bytes"))
        else:
            at_s = one.start_s if call is not None else at_s
            found.append(one)
    return tuple(found)


def _openings(states: LineStates) -> tuple[Opening, ...]:
    """Fast patterns, and addresses at 5 baud."""
    length, whole = states.length_s, states.is_whole
    found = []
    for place in np.flatnonzero(~states.high & whole & (length >= FAST_S[0]) & (length <= FAST_S[1])).tolist():
        after = place + 1
        if after < length.size - 1 and FAST_S[0] <= length[after] <= FAST_S[1]:
            low_s, high_s = float(length[place]), float(length[after])
            start_s = float(states.start_s[place])
            found.append(Opening("fast", start_s, start_s + low_s + high_s, low_s, low_s + high_s))
    found += _slow_calls(states)
    return tuple(sorted(found, key=lambda one: one.start_s))


def _slow_calls(states: LineStates) -> list[Opening]:
    """Ten bits of 200 ms from a falling edge on."""
    found: list[Opening] = []
    long_low = np.flatnonzero(~states.high & states.is_whole & (states.length_s >= (1 - SLOW_SLACK) * SLOW_BIT_S))
    edges = states.start_s[1:]
    first_high = bool(states.high[0]) if states.high.size else True
    for place in long_low.tolist():
        start_s = float(states.start_s[place])
        if found and start_s < found[-1].stop_s:
            continue
        until_s = start_s + 9 * SLOW_BIT_S
        if until_s > states.stop_s[-1]:
            break
        inside = edges[(edges > start_s + 1e-9) & (edges < start_s + 9.4 * SLOW_BIT_S)]
        bits = np.rint((inside - start_s) / SLOW_BIT_S)
        if inside.size and np.any(np.abs(inside - start_s - bits * SLOW_BIT_S) > 0.5 * SLOW_SLACK * 9 * SLOW_BIT_S):
            continue
        middles = start_s + (np.arange(BYTE_BITS) + 0.5) * SLOW_BIT_S
        middles[-1] = start_s + 9.1 * SLOW_BIT_S
        high = (np.searchsorted(edges, middles, side="right") % 2 == 0) == first_high
        if high[0] or not high[9] or not inside.size:
            continue
        bit_s = float((inside - start_s) @ bits / (bits @ bits)) if bits.any() else SLOW_BIT_S
        address = int(high[1:9] @ (1 << np.arange(8)))
        found.append(Opening("5 baud", start_s, start_s + 9.05 * bit_s, bit_s, 10 * bit_s, address))
    return found
