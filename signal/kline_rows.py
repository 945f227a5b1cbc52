"""K-line messages as rows of a table with their words, and as a line-up by frame takes them."""

from loomlight.signal.bus_frames import BusFrame, Word
from loomlight.signal.frame_table import FrameRow, FrameWord
from loomlight.signal.kline_decode import Message
from loomlight.signal.kline_line import Opening
from loomlight.signal.kline_reading import KReading
from loomlight.signal.kline_words import BYTE_BITS, NEGATIVE, asked_of, checksum


def bus_frames(line: KReading) -> tuple[BusFrame, ...]:
    """Messages for a line-up by frame; the identifier is what is asked and of whom, so that a request and its answer differ."""
    found = []
    for one in line.messages:
        bit_s = line.bit_s or one.bit_s
        words = tuple(
            Word(field.start_s, field.start_s + BYTE_BITS * bit_s, field.value, one.talker)
            for field in one.fields
            if field.is_whole
        )
        if words:
            found.append(BusFrame(one.start_s, one.stop_s, _identifier(one), bit_s, words))
    return tuple(found)


def _identifier(message: Message) -> int | None:
    """Header and first data byte as one number; None where they could not be read."""
    header = message.header
    if message.state != "good" or header is None or len(message.values) <= header.size:
        return None
    return int.from_bytes(message.values[: header.size + 1])


def frame_rows(line: KReading) -> tuple[FrameRow, ...]:
    """Openings and messages in order of time."""
    if line.traffic is None:
        return ()
    bit_s = line.bit_s or 0.0
    rows = [_opening(one) for one in line.traffic.openings] + [_row(one, bit_s) for one in line.messages]
    return tuple(sorted(rows, key=lambda row: row.start_s))


def _opening(one: Opening) -> FrameRow:
    if one.pattern == "fast":
        middle_s = one.start_s + one.low_s
        words = (
            FrameWord(one.start_s, middle_s, f"low {one.low_s * 1e3:.1f} ms"),
            FrameWord(middle_s, one.stop_s, f"high {(one.whole_s - one.low_s) * 1e3:.1f} ms"),
        )
        return FrameRow(one.start_s, one.stop_s, "", "", "", "tester", "fast opening", "", words)
    call = FrameWord(one.start_s, one.stop_s, f"call {one.address:02X} at 5 baud")
    return FrameRow(one.start_s, one.stop_s, f"0x{one.address:02X}", "", "", "tester", "call at 5 baud", "", (call,))


def _row(one: Message, bit_s: float) -> FrameRow:
    header, values = one.header, one.values
    known = header is not None and len(values) > header.size and not one.note
    data = values[header.size : -1] if known and header is not None else values
    sum_known = known and one.state in ("good", "checksum error")
    check = f"{values[-1]:02X} {'sum' if checksum(values[:-1]) == values[-1] else 'fits no sum'}" if sum_known else ""
    return FrameRow(
        start_s=one.start_s,
        stop_s=one.stop_s,
        identifier=_header_in_words(one) if known else "",
        data=(data if sum_known else values).hex(" ").upper(),
        check=check,
        talker=one.talker,
        state=one.note or one.state,
        problem=one.problem,
        words=_words(one, bit_s),
    )


def _header_in_words(one: Message) -> str:
    header = one.header
    assert header is not None
    service = asked_of(one.values, header)
    refused = " refused" if one.values[header.size] == NEGATIVE else ""
    asked = f"service {service:02X}{refused}" if service is not None else ""
    if header.target is None or header.source is None:
        return asked
    return f"{header.source:02X} to {header.target:02X}, {asked}"


def _words(one: Message, bit_s: float) -> tuple[FrameWord, ...]:
    header_size = one.header.size if one.header is not None and not one.note else 0
    found = []
    for number, field in enumerate(one.fields):
        text = f"{field.value:02X}"
        is_last = number == len(one.fields) - 1
        if number < header_size:
            text = f"{('format', 'to', 'from', 'length')[number] if header_size > 1 else 'format'} {text}"
            if header_size == 2 and number == 1:
                text = f"length {field.value:02X}"
        elif is_last and one.state in ("good", "checksum error") and not one.note:
            text = f"sum {text}"
        wrong = not field.has_stop or (is_last and one.state == "checksum error")
        found.append(FrameWord(field.start_s, field.start_s + BYTE_BITS * bit_s, text, wrong))
    return tuple(found)
