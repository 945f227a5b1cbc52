"""Who drives a LIN bus when: a schedule of frames turned into dominant stretches of each talker."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from loomlight.signal.lin_words import (
    CLASSIC_ONLY,
    Stretch,
    header_stretches,
    protected_identifier,
    response_stretches,
)

COMMANDER = "commander"
Span = tuple[float, float]


@dataclass(frozen=True)
class Slot:
    """One place in the schedule: the frame, who answers it, and what it says the n-th time.

    Attributes
    ----------
    frame_id : int
        0 to 0x3F.
    talker : str
        Name of the node that answers; ``"commander"`` where it answers itself; empty where nobody does.
    payload : callable
        ``payload(n)`` gives the data of the n-th round, 1 to 8 bytes.
    """

    frame_id: int
    talker: str
    payload: Callable[[int], bytes]


@dataclass(frozen=True)
class SentFrame:
    """What was put on the bus, and when; the truth that a reader of the capture is held against.

    Attributes
    ----------
    start_s, header_stop_s, stop_s : float
        Begin of the break; end of the identifier's stop bit; end of the response (of the header without one).
    frame_id : int
        0 to 0x3F.
    talker : str
        Who answered; empty where nobody did.
    data : bytes
        Empty without a response.
    """

    start_s: float
    header_stop_s: float
    stop_s: float
    frame_id: int
    talker: str
    data: bytes


@dataclass(frozen=True)
class Traffic:
    """Dominant stretches by talker, and the frames that they spell."""

    bit_s: float
    spans: dict[str, list[Span]] = field(repr=False)
    frames: tuple[SentFrame, ...] = field(repr=False)


def traffic(
    schedule: Sequence[Slot],
    *,
    bit_rate: float,
    slot_s: float,
    stop_s: float,
    start_s: float = 0.0,
    first_round: int = 0,
    response_space_bits: float = 2.0,
    hears: Callable[[str, float, float], bool] = lambda talker, start_s, stop_s: True,
) -> Traffic:
    """Lay a schedule out over time.

    Parameters
    ----------
    schedule : sequence of Slot
        Repeated for as long as whole frames fit.
    bit_rate : float
        Bits a second.
    slot_s : float
        Time from one frame's start to the next.
    start_s, stop_s : float
        First break, and the end that no frame passes.
    first_round : int
        Number of the first round, handed to each payload.
    response_space_bits : float
        Pause between header and response.
    hears : callable
        ``hears(talker, start_s, stop_s)``: whether that node could read the header between these times.
    """
    bit_s = 1.0 / bit_rate
    spans: dict[str, list[Span]] = {COMMANDER: []}
    frames: list[SentFrame] = []
    at_s, number = start_s, 0
    while at_s + slot_s <= stop_s:
        slot = schedule[number % len(schedule)]
        header, header_stop_s = _lay(header_stretches(slot.frame_id), at_s, bit_s)
        spans[COMMANDER] += header
        frame_stop_s, data, talker = header_stop_s, b"", ""
        if slot.talker and (slot.talker == COMMANDER or hears(slot.talker, at_s, header_stop_s)):
            talker, data = slot.talker, slot.payload(first_round + number // len(schedule))
            protected = None if slot.frame_id in CLASSIC_ONLY else protected_identifier(slot.frame_id)
            answer = response_stretches(data, protected=protected)
            response, frame_stop_s = _lay(answer, header_stop_s + response_space_bits * bit_s, bit_s)
            spans.setdefault(talker, []).extend(response)
        frames.append(SentFrame(at_s, header_stop_s, frame_stop_s, slot.frame_id, talker, data))
        at_s, number = at_s + slot_s, number + 1
    return Traffic(bit_s, spans, tuple(frames))


def _lay(stretches: list[Stretch], at_s: float, bit_s: float) -> tuple[list[Span], float]:
    """Dominant spans of stretches that start at ``at_s``, neighbours joined; and the end of the last stretch."""
    spans: list[Span] = []
    for dominant, bits in stretches:
        stop_s = at_s + bits * bit_s
        if dominant and spans and spans[-1][1] == at_s:
            spans[-1] = (spans[-1][0], stop_s)
        elif dominant:
            spans.append((at_s, stop_s))
        at_s = stop_s
    return spans, at_s
