"""SENT frames as rows of a table with their words, and as a line-up by frame takes them."""

from loomlight.signal.bus_frames import BusFrame, Word
from loomlight.signal.frame_table import FrameRow, FrameWord
from loomlight.signal.sent_decode import SentFrame, SentTraffic
from loomlight.signal.sent_reading import SentReading
from loomlight.signal.sent_words import FORM_WORDS

SYNC_WORD = 0x100
SENSOR = "sensor"


def bus_frames(line: SentReading) -> tuple[BusFrame, ...]:
    """Frames for a line-up by frame: all alike but for what they say, so they carry no identifier of their own."""
    found = []
    for one in line.frames:
        words = [Word(one.edges_s[0], one.edges_s[1], SYNC_WORD, SENSOR)] if len(one.edges_s) > 1 else []
        pieces = zip(one.edges_s[1:], one.edges_s[2:], one.nibbles, strict=False)
        words += [Word(start_s, stop_s, value, SENSOR) for start_s, stop_s, value in pieces]
        if len(words) > 1:
            found.append(BusFrame(one.start_s, one.stop_s, 0, one.tick_s, tuple(words)))
    return tuple(found)


def frame_rows(line: SentReading) -> tuple[FrameRow, ...]:
    """Frames, and the slow channel's messages that they carry, in order of time."""
    traffic = line.traffic
    if traffic is None:
        return ()
    rows = [_row(one, traffic) for one in traffic.frames]
    rows += [
        FrameRow(
            one.start_s,
            one.stop_s,
            f"slow {one.identifier:X}",
            f"{one.value:0{2 if one.form == 'short' else 3}X}",
            f"{one.form} form",
            SENSOR,
            "good" if one.is_right else "checksum error",
            "" if one.is_right else "the message's own check does not fit",
        )
        for one in traffic.slow
    ]
    return tuple(sorted(rows, key=lambda row: (row.start_s, row.stop_s)))


def _row(one: SentFrame, traffic: SentTraffic) -> FrameRow:
    whole = one.state in ("good", "checksum error", "nibble unclear")
    check = ""
    if whole:
        check = f"{one.nibbles[-1]:X} {'fits none' if one.state == 'checksum error' else traffic.form or ''}".strip()
    data = one.data if whole else one.nibbles[1:]
    return FrameRow(
        start_s=one.start_s,
        stop_s=one.stop_s,
        identifier=f"status {one.nibbles[0]:X}" if one.nibbles else "",
        data=" ".join(f"{nibble:X}" for nibble in data),
        check=check,
        talker=SENSOR,
        state=one.state,
        problem=one.problem,
        words=_words(one, traffic),
    )


def _words(one: SentFrame, traffic: SentTraffic) -> tuple[FrameWord, ...]:
    if len(one.edges_s) < 2:
        return ()
    found = [FrameWord(one.edges_s[0], one.edges_s[1], "sync")]
    last = traffic.data_nibbles + 1
    pulses = list(zip(one.edges_s[1:], one.edges_s[2:], strict=False))
    for number, (start_s, stop_s) in enumerate(pulses):
        if number >= len(one.nibbles):
            found.append(FrameWord(start_s, stop_s, "?", True))
            continue
        value = f"{one.nibbles[number]:X}"
        text = f"status {value}" if number == 0 else f"check {value}" if number == last else value
        found.append(FrameWord(start_s, stop_s, text, number == last and one.state == "checksum error"))
    if one.pause_s is not None:
        found.append(FrameWord(one.stop_s, one.stop_s + one.pause_s, "pause"))
    return tuple(found)


def check_in_words(traffic: SentTraffic) -> str:
    """Which form of the check was found, as a phrase."""
    if traffic.form is None:
        return "no form of the check fits"
    fits = dict(traffic.forms)
    others = [FORM_WORDS[form] for form, count in traffic.forms if form != traffic.form and count == fits[traffic.form]]
    # With a status of 0 in every frame two of the forms are one and the same.
    return FORM_WORDS[traffic.form] + (f" (the {' and the '.join(others)} fits as well)" if others else "")
