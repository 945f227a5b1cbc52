"""Records of several segments: the time starts anew in each, and each keeps its own times."""

import re

import numpy as np

from loomlight.signal.samples import Times
from loomlight.storage.long_columns import falls
from loomlight.storage.text_cells import number_in, quoted_away

MOST_CHANNELS = 64
LEAST_SAMPLES = 50
"""Fewer samples than this are not lined up."""
START_WITHIN = 0.05
LENGTH_WITHIN = 0.5
STEP_WITHIN = 0.02
Rows = tuple[int, int]


def segments_in(stamps: Times) -> tuple[Rows, ...]:
    """Half-open row ranges of the segments of a time column; one range where the time never starts anew.

    A time that goes backwards is a new segment only where each stretch starts about where the first one did, is about as
    long (the last may have been stopped), and has the same step; anything else is a spoilt time, left to be refused.
    """
    whole = ((0, stamps.size),)
    back = np.flatnonzero(falls(stamps)) + 1
    if not back.size or not np.isfinite(stamps).all():
        return whole
    edges = [0, *back.tolist(), stamps.size]
    ranges = tuple(zip(edges[:-1], edges[1:], strict=True))
    lengths = np.diff(edges)
    starts, stops = stamps[edges[:-1]], stamps[np.array(edges[1:]) - 1]
    span = float(stops[0] - starts[0])
    if lengths[0] < 2 or span <= 0 or (np.abs(starts - starts[0]) > START_WITHIN * span).any():
        return whole
    if (
        (lengths[1:-1] < (1 - LENGTH_WITHIN) * lengths[0]).any()
        or lengths[1:].max() > lengths[0] + 1
        or lengths[-1] < 2
    ):
        return whole
    steps = (stops - starts) / (lengths - 1)
    return ranges if (np.abs(steps - steps[0]) <= STEP_WITHIN * steps[0]).all() else whole


def offsets_in(head: tuple[tuple[str, ...], ...], *, comma: bool) -> tuple[float, ...]:
    """Seconds from the first segment to each, from a table of segments above the data; empty where there is none."""
    found: list[float] = []
    place = None
    for row in head:
        cells = [quoted_away(cell) for cell in row]
        columns = [index for index, cell in enumerate(cells) if re.match(r"time\s*since", cell, re.IGNORECASE)]
        if columns:
            place = columns[0]
        elif place is not None and re.fullmatch(r"#\d+", cells[0] if cells else "") and place < len(cells):
            number = number_in(cells[place], comma=comma)
            found.append(number if number is not None and np.isfinite(number) else float("nan"))
        elif found:
            break
    return tuple(found) if np.isfinite(found).all() else ()
