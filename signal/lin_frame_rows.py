"""LIN frames as rows of a table, with their words for drawing."""

import re
from collections.abc import Mapping

from loomlight.signal.frame_table import FrameRow, FrameWord
from loomlight.signal.lin_bus_frames import BREAK, break_stops, bus_frame, chosen_traffic
from loomlight.signal.lin_decode import LinFrame
from loomlight.signal.lin_examination import LineReading
from loomlight.signal.lin_parts import COMMANDER, FramePart, talks_of

BYTE = re.compile(r"at byte (\d+)")
FIRST_DATA_WORD = 3
"""Break, sync field and identifier stand before it."""


def frame_rows(reading: LineReading) -> tuple[FrameRow, ...]:
    """Frames of one LIN channel as far as the eye can follow the line, and headers that could not be read."""
    traffic = chosen_traffic(reading)
    if traffic is None:
        return ()
    parts = {(one.talker, one.start_s): one for one in reading.parts}
    rows = [_row(*one, parts) for one in zip(traffic.frames, break_stops(traffic), strict=True)]
    bit_s = traffic.bit_s or 0.0
    rows += [_torn(start_s, bit_s) for start_s in traffic.broken_breaks]
    return tuple(sorted(rows, key=lambda row: row.start_s))


def _row(frame: LinFrame, break_stop_s: float, parts: Mapping[tuple[str, float], FramePart]) -> FrameRow:
    form = {"both": "classic or enhanced", "neither": "fits neither form"}.get(
        frame.checksum_form or "", frame.checksum_form
    )
    identifier = f"{frame.identifier:#04x}" if frame.identifier is not None else ""
    return FrameRow(
        start_s=frame.start_s,
        stop_s=frame.stop_s,
        identifier=identifier,
        data=frame.data.hex(" ").upper(),
        check=f"{frame.checksum:02X} {form or ''}".strip() if frame.checksum is not None else "",
        talker=f"response {identifier}" if frame.data or frame.checksum is not None else "",
        state=frame.state,
        problem=frame.problem,
        words=_words(frame, break_stop_s),
        figures=_levels(frame, parts),
    )


def _levels(frame: LinFrame, parts: Mapping[tuple[str, float], FramePart]) -> tuple[tuple[str, float | None], ...]:
    """Where the line stood while the commander and while the answering node drove it."""
    found: list[tuple[str, float | None]] = []
    driven = {
        "header" if talker == COMMANDER else "answer": parts.get((talker, at)) for talker, at, _ in talks_of(frame)
    }
    for name in ("header", "answer"):
        one = driven.get(name)
        found.append((f"{name} dominant, V", one.dominant_v if one is not None else None))
        found.append((f"{name} recessive, V", one.recessive_v if one is not None else None))
    return tuple(found)


def _words(frame: LinFrame, break_stop_s: float) -> tuple[FrameWord, ...]:
    words = bus_frame(frame, break_stop_s).words
    # "no stop bit at byte 3": bytes are counted from the identifier on.
    wrong = {int(number) + 1 for number in BYTE.findall(frame.problem)} if frame.problem else set()
    if frame.state == "header error":
        wrong.add(FIRST_DATA_WORD - 1)
    if frame.state == "checksum error":
        wrong.add(len(words) - 1)
    found = []
    for number, word in enumerate(words):
        if number == 0:
            text = f"break {word.says - BREAK}"
        elif number == 1:
            text = "sync"
        elif number == FIRST_DATA_WORD - 1:
            text = f"id {frame.identifier:02X}" if frame.identifier is not None else "id ?"
        else:
            is_check = frame.checksum is not None and number == len(words) - 1
            text = f"check {word.says:02X}" if is_check else f"{word.says:02X}"
        found.append(FrameWord(word.start_s, word.stop_s, text, number in wrong))
    return tuple(found)


def _torn(start_s: float, bit_s: float) -> FrameRow:
    problem = "a header whose break or sync field could not be read"
    stop_s = start_s + 14 * bit_s
    return FrameRow(start_s, stop_s, "", "", "", "", "header error", problem, (FrameWord(start_s, stop_s, "?", True),))
