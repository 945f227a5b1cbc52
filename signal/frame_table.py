"""Frames of a bus as rows of a table, whichever bus it is."""

from collections.abc import Sequence
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
    figures : tuple of (str, float or None)
        What was measured on it, each with its unit in the name: ``("answer dominant, V", 1.05)``; the same names in every row
        of a table that has them.
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
    figures: tuple[tuple[str, float | None], ...] = ()


COLUMNS = ("start, s", "duration, s", "identifier", "data", "checksum", "talker", "state", "problem")
"""Head of the table as a file, before what was measured on each frame."""


def columns_of(rows: Sequence[FrameRow]) -> tuple[str, ...]:
    """Head of these rows' table: `COLUMNS`, then the figures that any of them has."""
    names = dict.fromkeys(name for row in rows for name, _ in row.figures)
    return (*COLUMNS, *names)


def cells_of(row: FrameRow, columns: Sequence[str] = COLUMNS) -> tuple[str, ...]:
    """A row as cells, in the order of `columns_of`; times to the nanosecond, figures to the millivolt."""
    figures = dict(row.figures)
    measured = (figures.get(name) for name in columns[len(COLUMNS) :])
    return (
        f"{row.start_s:.9f}",
        f"{row.stop_s - row.start_s:.9f}",
        row.identifier,
        row.data,
        row.check,
        row.talker,
        row.state,
        row.problem,
        *("" if value is None else f"{value:.3f}" for value in measured),
    )
