"""LIN frames as a line-up by frame takes them."""

import numpy as np

from loomlight.signal.bus_frames import BusFrame, Word
from loomlight.signal.lin_decode import LinFrame, LinTraffic
from loomlight.signal.lin_examination import LineReading
from loomlight.signal.lin_parts import COMMANDER
from loomlight.signal.lin_words import BYTE_BITS, SYNC, protected_identifier

BREAK = 0x1000
"""A break says its length in bits, apart from all bytes."""
HEADER_BYTES = 2


def bus_frames(reading: LineReading) -> tuple[BusFrame, ...]:
    """Frames of one LIN channel: as far as the eye can follow the line, weak levels included.

    Parameters
    ----------
    reading : LineReading
        What was read off the channel.
    """
    traffic = chosen_traffic(reading)
    return tuple(map(bus_frame, traffic.frames, break_stops(traffic))) if traffic is not None else ()


def chosen_traffic(reading: LineReading) -> LinTraffic | None:
    """What the eye can follow, unless a receiver reads more; None where nothing talks."""
    seen, received = reading.seen, reading.received
    if seen is None or received is None:
        return None
    return seen if len(seen.frames) >= len(received.frames) else received


def break_stops(traffic: LinTraffic) -> list[float]:
    """Where each frame's break ends, seconds; its begin where no dominant stretch was seen."""
    starts = np.array([one.start_s for one in traffic.frames], dtype=np.float64)
    place = np.searchsorted(traffic.dominant[:, 0], starts - 1e-9)
    seen = place < len(traffic.dominant)
    starts[seen] = traffic.dominant[place[seen], 1]
    stops: list[float] = starts.tolist()
    return stops


def bus_frame(frame: LinFrame, break_stop_s: float) -> BusFrame:
    """One frame with its words: break, sync field, identifier, bytes."""
    bits = round((break_stop_s - frame.start_s) / frame.bit_s)
    words = [Word(frame.start_s, break_stop_s, BREAK + bits, COMMANDER)]
    said = _bytes(frame)
    talker = f"response {frame.identifier:#04x}" if frame.identifier is not None else "response"
    for number, (start_s, value) in enumerate(zip(frame.byte_starts_s, said, strict=False)):
        who = COMMANDER if number < HEADER_BYTES else talker
        words.append(Word(start_s, start_s + BYTE_BITS * frame.bit_s, value, who))
    return BusFrame(frame.start_s, frame.stop_s, frame.identifier, frame.bit_s, tuple(words))


def _bytes(frame: LinFrame) -> list[int]:
    """Sync, identifier, data, checksum: those that were read."""
    said = [SYNC]
    if frame.identifier is None or frame.state == "header error":
        return said
    said.append(protected_identifier(frame.identifier))
    said += list(frame.data)
    return said + ([frame.checksum] if frame.checksum is not None else [])
