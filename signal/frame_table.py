"""Frames of a bus as rows of a table, whichever bus it is."""

from dataclasses import dataclass


@dataclass(frozen=True)
class FrameWord:
    """A piece of a frame with what it says, for drawing over the waveform.

    Attributes
    ----------
    start_s, stop_s : float
        Seconds on the channel's axis.
    text : str
        What it says: ``"break"``, ``"id 21"``, ``"3F"``.
    is_wrong : bool
        Whether it is what was wrong with the frame.
    """

    start_s: float
    stop_s: float
    text: str
    is_wrong: bool = False


@dataclass(frozen=True)
class FrameRow:
    """One frame as a row.

    Attributes
    ----------
    start_s, stop_s : float
        Seconds on the channel's axis.
    identifier : str
        In hex: ``"0x21"``; empty where it could not be read.
    data : str
        Bytes in hex, apart: ``"3F 00 12"``.
    check : str
        The checksum and its form.
    talker : str
        Who answered; empty where nobody did.
    state : str
        ``"good"``, ``"no response"``…
    problem : str
        What was wrong and where; empty where good.
    words : tuple of FrameWord
        Its pieces, in order.
    """

    start_s: float
    stop_s: float
    identifier: str
    data: str
    check: str
    talker: str
    state: str
    problem: str
    words: tuple[FrameWord, ...] = ()


COLUMNS = ("start, s", "duration, s", "identifier", "data", "checksum", "talker", "state", "problem")
"""Head of the table as a file."""


def cells_of(row: FrameRow) -> tuple[str, ...]:
    """A row as cells, in the order of `COLUMNS`; times to the nanosecond."""
    return (
        f"{row.start_s:.9f}",
        f"{row.stop_s - row.start_s:.9f}",
        row.identifier,
        row.data,
        row.check,
        row.talker,
        row.state,
        row.problem,
    )
