"""A coarse picture of a long text table before it is read: a few rows from some hundred places all over the file."""

from pathlib import Path

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.errors import LoomlightError
from loomlight.storage.first_picture import coarse_capture, uneven_extremes
from loomlight.storage.long_columns import Numbers
from loomlight.storage.reading import Reading
from loomlight.storage.reading_questions import Account
from loomlight.storage.text_numbers import BadCells, parse_block
from loomlight.storage.text_source import Source
from loomlight.storage.text_table import TextTable, cells_in
from loomlight.storage.time_axis import EPOCH_S
from loomlight.storage.time_column import time_groups

LEAST_BYTES = 1 << 23
"""A shorter file is whole before a picture of it is drawn."""
PLACES, PLACE_BYTES = 512, 1 << 13


def glance(source: Source, reading: Reading) -> Capture | None:
    """Extremes of some hundred stretches of a file, each at its own time; None where that would not be told rightly.

    Parameters
    ----------
    source : Source
        A table that is the whole file.
    reading : Reading
        What the user said.
    """
    head, layout = source.head, source.layout
    moves_time = (reading.step_s, reading.start_s, reading.time_unit, reading.pairs) != (None,) * 4
    if source.lines is not None or head.encoding.startswith("utf-16") or moves_time or reading.scales:
        return None
    if head.path.stat().st_size < LEAST_BYTES:
        return None
    windows = _windows(head.path)
    bad = BadCells()
    numbers = parse_block(b"".join(windows), layout, cells=cells_in(head.lines, layout), first_row=0, bad=bad)
    rows = [window.count(b"\n") for window in windows]
    if len(numbers) != sum(rows) or bad.crowded:
        return None
    columns: dict[int, Numbers] = {
        column.index: numbers[:, place] * column.factor for place, column in enumerate(layout.columns)
    }
    table = TextTable(head.path, head.encoding, layout, head.lines, columns, len(numbers), bad)
    channels = _channels(table, np.cumsum([0, *rows[:-1]]), reading)
    return coarse_capture(head.path.name, layout.in_words(), channels) if channels else None


def _windows(path: Path) -> list[bytes]:
    """Whole lines from evenly spaced places, those of the header left out."""
    windows = []
    size = path.stat().st_size
    with path.open("rb") as file:
        for place in range(1, PLACES):
            file.seek(place * size // PLACES)
            raw = file.read(PLACE_BYTES)
            lines = raw[raw.find(b"\n") + 1 : raw.rfind(b"\n") + 1]
            if lines:
                windows.append(lines)
    return windows


def _channels(table: TextTable, starts: npt.NDArray[np.int64], reading: Reading) -> tuple[Channel, ...]:
    try:
        groups = time_groups(table, Account(reading))
    except LoomlightError:
        return ()  # whatever it is, reading the whole file tells it better
    time, values = groups[0]
    if len(groups) != 1 or time is None or time.is_clock:
        return ()
    stamps = np.asarray(table.values(time), dtype=np.float64)
    if stamps[0] > EPOCH_S:
        stamps = stamps - stamps[0]
    found = (
        uneven_extremes(
            stamps,
            np.asarray(table.values(column), dtype=np.float32),
            starts,
            name=column.name or f"column {column.index + 1}",
            unit=column.unit or None,
        )
        for column in values
    )
    return tuple(channel for channel in found if channel is not None)
