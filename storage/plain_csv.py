"""Write a capture as a plain CSV by RFC 4180: commas, decimal points, one header row with names and units.

Channels with one time axis share a time column; each further axis has a time column of its own, and rows that it has
no sample for stay empty. Every number is written with as many digits as give the same number back.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import Times, Wave, evenly
from loomlight.storage.safe_write import written_whole

ROWS = 65_536
LINE_END = "\r\n"
FEWEST_DIGITS, MOST_DIGITS = 6, 9
"""Nine significant digits give every single-precision number back (IEEE 754, 5.12.2)."""
GLANCE = 256
FINER = 6
"""Decimal places below the step where start and step are no short decimal numbers."""
FORMULA_SIGNS = ("=", "+", "-", "@", "\t")


@dataclass(eq=False)
class _Axis:
    """Channels on one time axis."""

    of: Channel
    channels: list[Channel] = field(default_factory=list)

    @property
    def rows(self) -> int:
        return self.of.intervals

    def holds(self, other: Channel) -> bool:
        own = self.of
        if (own.intervals, own.step_s, own.start_s) != (other.intervals, other.step_s, other.start_s):
            return False
        if own.times_s is None or other.times_s is None:
            return own.times_s is None and other.times_s is None
        return np.array_equal(own.times_s, other.times_s)

    def times(self, start: int, stop: int) -> Times:
        if self.of.step_s is not None:
            return evenly(self.of.start_s, self.of.step_s, start, stop)
        assert self.of.times_s is not None
        return self.of.times_s[start:stop]


def write_csv(path: Path, capture: Capture, progress: Progress = unwatched) -> None:
    """Write all channels, whole or not at all.

    Parameters
    ----------
    path : Path
        Ends in ``.csv`` by custom.
    capture : Capture
        Any forms; of minimum and maximum pairs each is a column. What stands at the rail is written as the rail.
    progress : Progress
        0 to 1 over the rows.

    Raises
    ------
    FileProblem
        As `written_whole`.
    """
    axes: list[_Axis] = []
    for channel in capture.channels:
        axis = next((one for one in axes if one.holds(channel)), None)
        if axis is None:
            axis = _Axis(channel)
            axes.append(axis)
        axis.channels.append(channel)
    header = ",".join(name for axis in axes for name in _names(axis))
    rows = max(axis.rows for axis in axes)
    # A spreadsheet takes letters beyond ASCII for what they are only behind this mark.
    encoding = "utf-8" if header.isascii() else "utf-8-sig"
    with written_whole(path) as partial, partial.open("w", encoding=encoding, newline="") as file:
        file.write(header + LINE_END)
        for start in range(0, rows, ROWS):
            progress(start / rows)
            columns = [texts for axis in axes for texts in _columns(axis, start, min(start + ROWS, rows))]
            file.write("".join([",".join(cells) + LINE_END for cells in zip(*columns, strict=True)]))


def _names(axis: _Axis) -> Iterator[str]:
    yield "Time (s)"
    for channel in axis.channels:
        unit = f" ({channel.unit})" if channel.unit else ""
        for end in (" (min)", " (max)") if channel.form == "pairs" else ("",):
            yield _quoted(_harmless(" ".join(channel.name.split())) + end + unit)


def _harmless(name: str) -> str:
    """A spreadsheet must not take a channel's name for a formula."""
    return f"'{name}" if name.startswith(FORMULA_SIGNS) else name


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"' if any(sign in text for sign in ',"\r\n') else text


def _columns(axis: _Axis, start: int, stop: int) -> Iterator[list[str]]:
    """The cells of one axis: its time, then its channels; empty where the axis has ended."""
    last = min(stop, axis.rows)
    missing = [""] * (stop - max(last, start))
    if last <= start:
        for _ in _names(axis):
            yield missing
        return
    yield _times(axis, start, last) + missing
    for channel in axis.channels:
        if channel.form != "pairs":
            yield _values(channel.samples.block(start, last)) + missing
            continue
        both = channel.samples.block(2 * start, 2 * last)
        yield _values(both[::2]) + missing
        yield _values(both[1::2]) + missing


def _times(axis: _Axis, start: int, stop: int) -> list[str]:
    places = _decimals(axis.of)
    times = axis.times(start, stop).tolist()
    if places is None:
        return [repr(time) for time in times]
    return [f"{time:.{places}f}" for time in times]


def _decimals(channel: Channel) -> int | None:
    """Decimal places that give an even axis back; None where each time must be written in full."""
    if channel.step_s is None:
        return None
    below = math.ceil(-math.log10(channel.step_s)) if channel.step_s < 1 else 0
    for places in range(max(below, 0) + FINER):
        if round(channel.step_s, places) == channel.step_s and round(channel.start_s, places) == channel.start_s:
            return places
    return max(below, 0) + FINER


def _values(values: Wave) -> list[str]:
    """The fewest significant digits that give all of a block's samples back; nothing for what was not acquired."""
    digits = FEWEST_DIGITS
    for sample in (values[:GLANCE], values):  # a glance first: most blocks need as many digits as their begin
        texts = _written(sample, digits)
        while digits < MOST_DIGITS and not _gives_back(texts, sample):
            digits += 1
            texts = _written(sample, digits)
    if np.isnan(values).any():
        texts = ["" if text == "nan" else text for text in texts]
    return texts


def _written(values: Wave, digits: int) -> list[str]:
    return [f"{number:.{digits}g}" for number in values.tolist()]


def _gives_back(texts: list[str], values: Wave) -> bool:
    with np.errstate(over="ignore"):  # the greatest single-precision number, rounded up
        return np.array_equal(np.array(texts, dtype=np.float64).astype(np.float32), values, equal_nan=True)
