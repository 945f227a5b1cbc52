"""CAN on wires that are judged one by one: frames from one wire's edges, and what a wire stands at in each bit of them."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.bus_frames import BusFrame, Word
from loomlight.signal.can_decode import Axis, CanFrame, CanTraffic, decode
from loomlight.signal.can_line import CanLine
from loomlight.signal.can_words import ACKNOWLEDGE, CHECK, DATA, FIELD_NAMES
from loomlight.signal.capture import Channel
from loomlight.signal.frame_table import FrameRow, FrameWord
from loomlight.signal.line_states import LineStates, settled_levels
from loomlight.signal.spans import Spans, spans_of

Floats = npt.NDArray[np.float64]

FEWEST_BITS = 4
"""Dominant bits of a frame whose median is its level."""
LOST_SHARE = 0.2
"""A weak level gets further than this share of the way; a wire that is cut off does not (common practice, no source)."""
SHORTEST_TORN = 0.12
"""Shorter than this share of a bit is noise on a slow edge and no contact (common practice, no source)."""
OFF_GRID = 0.27
"""A stretch that many bits from a whole number of bits was made by no clock (common practice, no source)."""


def frames_of(channel: Channel, states: LineStates, *, dominant_high: bool) -> CanTraffic | None:
    """Frames in the edges of one wire; None where too little moves.

    Parameters
    ----------
    channel : Channel
        Evenly spaced.
    states : LineStates
        Of that channel.
    dominant_high : bool
        Whether the high state is the dominant one.
    """
    if states.start_s.size < 4 or channel.step_s is None:
        return None
    line = CanLine(
        states.start_s[1:],
        starts_recessive=bool(states.high[0]) != dominant_high,
        start_s=channel.start_s,
        stop_s=channel.stop_s,
    )
    return decode(line, Axis(channel.start_s, channel.step_s))


def good_count(traffic: CanTraffic | None) -> int:
    """Frames whose checksum is right."""
    return int(np.count_nonzero(traffic.good)) if traffic is not None else 0


@dataclass(frozen=True, eq=False)
class WireLevels:
    """What one wire stands at, frame by frame.

    Attributes
    ----------
    dominant_v : ndarray of float64, shape (n,)
        Median over the dominant bits that the sender alone drives, volts; NaN where a frame has too few.
    recessive_v : float
        Median over all recessive bits, volts; NaN without any.
    lost : ndarray of int64, shape (n,)
        Dominant bits of each frame in which the wire stays near its recessive level.
    lost_s : ndarray of float64, shape (m, 2)
        Those bits, seconds.
    """

    dominant_v: Floats = field(repr=False)
    recessive_v: float
    lost: npt.NDArray[np.int64] = field(repr=False)
    lost_s: Spans = field(repr=False)


def wire_levels(channel: Channel, traffic: CanTraffic, *, dominant_v: float, recessive_v: float) -> WireLevels:
    """Read a wire bit by bit, by the frames of its own edges or of another wire recorded at the same moment.

    Parameters
    ----------
    channel : Channel
        The wire.
    traffic : CanTraffic
        Whose bits say when the line is dominant.
    dominant_v, recessive_v : float
        Where a healthy wire stands: a bit counts as lost where it gets less than a fifth of the way.
    """
    bits, good = traffic.read.bits, traffic.good
    count = len(traffic.frames)
    volts = settled_levels(channel, bits.start_s, bits.start_s + bits.length_s)
    sent = ~bits.recessive & (bits.part < ACKNOWLEDGE)
    limit_v = recessive_v + LOST_SHARE * (dominant_v - recessive_v)
    is_lost = sent & good[bits.frame] & ((volts < limit_v) if dominant_v > recessive_v else (volts > limit_v))
    first = bits.of_frame
    dominant = np.full(count, np.nan)
    for frame in range(min(count, first.size - 1)):
        inside = slice(int(first[frame]), int(first[frame + 1]))
        of_sender = volts[inside][sent[inside]]
        if of_sender.size >= FEWEST_BITS:
            dominant[frame] = np.nanmedian(of_sender)
    resting = volts[bits.recessive & (bits.part < ACKNOWLEDGE)]
    lost = np.bincount(bits.frame[is_lost], minlength=count)
    spans = np.column_stack([bits.start_s, bits.start_s + bits.length_s])[is_lost]
    return WireLevels(dominant, float(np.nanmedian(resting)) if resting.size else float("nan"), lost, spans)


def by_identifier(traffic: CanTraffic, values: Floats) -> dict[int, Floats]:
    """Known values of the good frames, by identifier, in order."""
    found: dict[int, list[float]] = {}
    for frame, good, value in zip(traffic.frames, traffic.good.tolist(), values.tolist(), strict=True):
        if good and frame.identifier is not None and np.isfinite(value):
            found.setdefault(frame.identifier, []).append(value)
    return {identifier: np.array(found[identifier]) for identifier in sorted(found)}


def torn_stretches(states: LineStates, traffic: CanTraffic, *, dominant_high: bool) -> Spans:
    """Stretches inside traffic that last no whole number of bits: what a contact makes that opens and closes.

    Dominant stretches are as a rule longer or shorter than whole bits by the edges' difference, which is taken off.
    """
    bit_s = traffic.bit_s
    whole = states.is_whole & (states.length_s < 6.5 * bit_s)
    bursts = traffic.line.bursts(bit_s)
    if not len(bursts):
        return np.empty((0, 2))
    place = np.searchsorted(bursts[:, 0], states.start_s + 1e-9, side="right") - 1
    inside = whole & (place >= 0) & (states.stop_s <= bursts[np.maximum(place, 0), 1] + 1e-9)
    dominant = states.high == dominant_high
    if not np.any(inside & dominant):
        return np.empty((0, 2))
    bits = states.length_s / bit_s
    # Each frame has a skew of its own: a high wake level takes longer to fall than a normal one.
    left = bits - np.maximum(np.rint(bits), 1.0)
    skew = np.full(bits.size, float(np.median(left[inside & dominant])))
    mine = np.flatnonzero(inside & dominant)
    cuts = np.flatnonzero(np.diff(place[mine])) + 1
    for group in np.split(mine, cuts):
        if group.size >= FEWEST_BITS:
            first, last = np.searchsorted(place, [place[group[0]], place[group[0]] + 1])
            skew[first:last] = np.median(left[group])
    own = bits - np.where(dominant, skew, -skew)
    lasting = states.length_s > SHORTEST_TORN * bit_s
    off = inside & lasting & ((np.abs(own - np.rint(own)) > OFF_GRID) | (own < 1.0 - OFF_GRID))
    # Where a dominant stretch is torn, the recessive one beside it is what the contact made.
    return spans_of(np.column_stack([states.start_s, states.stop_s])[off])


def frame_rows(traffic: CanTraffic | None, levels: WireLevels | None = None) -> tuple[FrameRow, ...]:
    """All frames of one wire as rows, with their fields as words.

    Parameters
    ----------
    traffic : CanTraffic or None
        None gives no row.
    levels : WireLevels or None
        Adds each frame's dominant level.
    """
    if traffic is None or not traffic.rates.is_sure:
        return ()
    words = _words(traffic)
    rows = []
    for number, frame in enumerate(traffic.frames):
        volts = levels.dominant_v[number] if levels is not None else float("nan")
        shown = round(float(volts), 4) if np.isfinite(volts) else None
        rows.append(
            FrameRow(
                start_s=frame.start_s,
                stop_s=frame.stop_s,
                identifier=frame.name,
                data=f"remote, {frame.length_code}" if frame.remote else frame.data.hex(" ").upper(),
                check=f"{frame.check:04X} CRC-15" if frame.check is not None else "",
                talker="the other nodes" if frame.acknowledged else "",
                state=frame.state,
                problem=frame.problem,
                words=words[number],
                figures=(("dominant, V", shown),) if levels is not None else (),
            )
        )
    return tuple(rows)


def _words(traffic: CanTraffic) -> list[tuple[FrameWord, ...]]:
    """Fields of every frame; data byte by byte."""
    bits = traffic.read.bits
    found: list[list[FrameWord]] = [[] for _ in traffic.frames]
    if not bits.frame.size:
        return [() for _ in traffic.frames]
    first = bits.of_frame
    for number, frame in enumerate(traffic.frames):
        if number + 1 >= first.size:
            break
        inside = np.arange(first[number], first[number + 1])
        part = bits.part[inside].astype(np.int64)
        payload = np.cumsum((part == DATA) & ~bits.is_stuff[inside]) - 1
        code = np.where(part == DATA, 100 + np.maximum(payload, 0) // 8, part)
        starts = (
            np.concatenate([[0], np.flatnonzero(np.diff(code)) + 1, [inside.size]]) if inside.size else np.empty(0, int)
        )
        for begin, end in zip(starts[:-1].tolist(), starts[1:].tolist(), strict=True):
            start_s = float(bits.start_s[inside[begin]])
            stop_s = float(bits.start_s[inside[end - 1]] + bits.length_s[inside[end - 1]])
            text = _text(frame, int(code[begin]))
            field_name = "data" if code[begin] >= 100 else FIELD_NAMES[int(code[begin])]
            wrong = bool(frame.field) and frame.state != "no acknowledge" and frame.field.startswith(field_name)
            found[number].append(FrameWord(start_s, stop_s, text, wrong))
    return [tuple(one) for one in found]


def _text(frame: CanFrame, code: int) -> str:
    if code >= 100:
        place = code - 100
        return f"{frame.data[place]:02X}" if place < len(frame.data) else "?"
    name = FIELD_NAMES[code]
    if name == "identifier":
        return f"id {frame.name[2:]}" if frame.identifier is not None else "id ?"
    if code == CHECK:
        return f"CRC {frame.check:04X}" if frame.check is not None else "CRC ?"
    short = {
        "start of frame": "start",
        "identifier extension bit": "base",
        "length code": f"length {frame.length_code}",
    }
    return short.get(name, name)


def bus_frames(traffic: CanTraffic | None) -> tuple[BusFrame, ...]:
    """Frames for a line-up by frame: each bytewise where it says something."""
    if traffic is None or not traffic.rates.is_sure:
        return ()
    found = []
    for frame, words in zip(traffic.frames, _words(traffic), strict=True):
        pieces: list[Word] = []
        for one in words:
            if one.text.startswith(("id ", "CRC ")) or len(one.text) == 2:
                says = hash_free(one.text)
                pieces.append(Word(one.start_s, one.stop_s, says, frame.name))
        if pieces:
            found.append(BusFrame(frame.start_s, frame.stop_s, frame.identifier, traffic.bit_s, tuple(pieces)))
    return tuple(found)


def hash_free(text: str) -> int:
    """A number for a word's text, the same in every run."""
    return int.from_bytes(text.encode("ascii", "replace"))
