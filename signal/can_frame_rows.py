"""CAN frames as rows of a table with their words for drawing, and as pieces for a line-up by frame."""

import zlib

import numpy as np

from loomlight.signal.bus_frames import BusFrame, Word
from loomlight.signal.can_decode import CanFrame, CanTraffic
from loomlight.signal.can_examination import PairReading
from loomlight.signal.can_words import (
    ACKNOWLEDGE,
    CHECK,
    CHECK_DELIMITER,
    DATA,
    END,
    IDENTIFIER,
    LENGTH,
    MOST_BYTES_17,
    START,
    STUFF_COUNT,
)
from loomlight.signal.frame_table import FrameRow, FrameWord

LEAST_WORD_BITS = 6
"""A piece of a frame that is laid by itself is at least this long."""
GROUPS = np.full(32, 2)
GROUPS[START : IDENTIFIER + 1] = 0
GROUPS[IDENTIFIER + 1 : LENGTH + 1] = 1
GROUPS[3:6] = 0  # both parts of an extended identifier are one word
GROUPS[[STUFF_COUNT, CHECK]] = 1000
GROUPS[CHECK_DELIMITER] = 1001
GROUPS[ACKNOWLEDGE] = 1002
GROUPS[ACKNOWLEDGE + 1 : END + 1] = 1003


def frame_rows(pair: PairReading) -> tuple[FrameRow, ...]:
    """All frames of one channel, in order."""
    traffic, levels = pair.traffic, pair.levels
    if traffic is None or not traffic.rates.is_sure:
        return ()
    words = _words(traffic)
    volts = _shown_levels(pair)
    name = "dominant difference, V" if pair.wires.form in ("both wires", "difference") else "dominant, V"
    assert levels is not None
    return tuple(
        FrameRow(
            start_s=frame.start_s,
            stop_s=frame.stop_s,
            identifier=frame.name,
            data=f"remote, {frame.length_code}" if frame.remote else frame.data.hex(" ").upper(),
            check=_check(frame),
            talker="the other nodes" if frame.acknowledged else "",
            state=frame.state,
            problem=frame.problem,
            words=words[number],
            figures=((name, volts[number]),),
        )
        for number, frame in enumerate(traffic.frames)
    )


def _shown_levels(pair: PairReading) -> list[float | None]:
    assert pair.levels is not None
    dominant = pair.levels.dominant
    values = dominant[:, 0] - dominant[:, 1] if dominant.shape[1] == 2 else dominant[:, 0]
    return [value if value == value else None for value in np.round(values, 4).tolist()]


def _check(frame: CanFrame) -> str:
    if frame.check is None:
        return ""
    kind = 15 if not frame.fd else 17 if len(frame.data) <= MOST_BYTES_17 else 21
    return f"{frame.check:0{4 if kind == 15 else 6}X} CRC-{kind}"


def _words(traffic: CanTraffic) -> list[tuple[FrameWord, ...]]:
    """Pieces of every frame: where the group of fields changes, or the byte."""
    bits, count = traffic.read.bits, len(traffic.frames)
    if not bits.frame.size:
        return [()] * count
    first = bits.of_frame
    group = GROUPS[bits.part]
    payload = ((bits.part == DATA) & ~bits.is_stuff).astype(np.int64)
    running = np.cumsum(payload)
    base = np.concatenate([[0], running])[first[:-1]]
    place = np.maximum(running - base[bits.frame] - payload, 0) // 8
    # A stuff bit after a byte's last bit belongs to that byte.
    group = np.where(
        bits.part == DATA, 10 + np.where(payload == 1, place, np.maximum(running - base[bits.frame] - 1, 0) // 8), group
    )
    change = np.flatnonzero((np.diff(group) != 0) | (np.diff(bits.frame) != 0)) + 1
    begins = np.concatenate([[0], change])
    ends = np.concatenate([change, [bits.frame.size]]) - 1
    starts = bits.start_s[begins].tolist()
    stops = (bits.start_s[ends] + bits.length_s[ends]).tolist()
    found: list[list[FrameWord]] = [[] for _ in range(count)]
    dominant = (~bits.recessive[begins]).tolist()
    rows = zip(bits.frame[begins].tolist(), group[begins].tolist(), starts, stops, dominant, strict=True)
    for frame, code, start, stop, is_dominant in rows:
        text = _text(traffic.frames[frame], code, is_dominant)
        if text:
            found[frame].append(FrameWord(start, stop, text))
    wrong = {number for number, one in enumerate(traffic.frames) if one.problem and one.state != "past the end"}
    for number in wrong:
        _mark(found[number], traffic.frames[number])
    return [tuple(one) for one in found]


def _text(frame: CanFrame, code: int, is_dominant: bool) -> str:
    if code == 0:
        return f"id {frame.name[2:]}" if frame.identifier is not None else "id ?"
    if code == 1:
        form = "remote " if frame.remote else "FD " if frame.fd else ""
        return f"{form}length {frame.length_code if frame.length_code is not None else '?'}"
    if code == 1000:
        return f"CRC {frame.check:X}" if frame.check is not None else "CRC ?"
    if code == 1002:
        return "ack" if is_dominant else "no ack"
    if code == 1003:
        return "end"
    if 10 <= code < 1000:
        byte = code - 10
        return f"{frame.data[byte]:02X}" if byte < len(frame.data) else "?"
    return ""


def _mark(words: list[FrameWord], frame: CanFrame) -> None:
    """What was wrong: the CRC, the acknowledge, else where reading stopped."""
    wanted = {"CRC error": "CRC", "no acknowledge": "no ack"}.get(frame.state)
    places = [place for place, one in enumerate(words) if wanted and one.text.startswith(wanted)] or [len(words) - 1]
    for place in places:
        if place >= 0:
            one = words[place]
            words[place] = FrameWord(one.start_s, one.stop_s, one.text, is_wrong=True)


def bus_frames(pair: PairReading) -> tuple[BusFrame, ...]:
    """Frames as a line-up by frame takes them: each cut at edges to dominant into pieces of at least `LEAST_WORD_BITS` bits."""
    traffic = pair.traffic
    if traffic is None or not traffic.rates.is_sure:
        return ()
    bits, bit_s = traffic.read.bits, traffic.bit_s
    begins = ~bits.recessive
    begins[1:] &= bits.recessive[:-1] | (bits.frame[1:] != bits.frame[:-1])
    places = np.flatnonzero(begins)
    first = bits.of_frame
    edges = np.searchsorted(places, first)
    starts, values = bits.start_s.tolist(), bits.recessive.astype(np.uint8).tobytes()
    lengths = bits.length_s.tolist()
    found = []
    for number, frame in enumerate(traffic.frames):
        if not traffic.good[number]:
            continue
        own = places[edges[number] : edges[number + 1]].tolist()
        last = int(first[number + 1])
        cuts: list[int] = []
        for at in own:
            if not cuts or at - cuts[-1] >= LEAST_WORD_BITS:
                cuts.append(at)
        words = []
        for begin, end in zip(cuts, [*cuts[1:], last], strict=True):
            stop = starts[end] if end < last else starts[last - 1] + lengths[last - 1]
            words.append(Word(starts[begin], stop, zlib.crc32(values[begin:end]), frame.name))
        key = None if frame.identifier is None else frame.identifier | (1 << 29 if frame.extended else 0)
        found.append(BusFrame(frame.start_s, frame.stop_s, key, bit_s, tuple(words)))
    return tuple(found)
