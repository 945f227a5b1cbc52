"""Read a text table of samples into a capture."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Capture, Channel, IndexRange
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import FloatSamples
from loomlight.storage.text_bytes import blocks_of_lines, encoding_of, plain_lines, read_head, text_of
from loomlight.storage.text_cells import is_written, last_digit, quantity_in
from loomlight.storage.text_layout import Column, Layout, cells_of, recognise
from loomlight.storage.text_numbers import BadCells, Table, parse_block
from loomlight.storage.time_axis import TimeAxis, time_axis

TIME_NAMES = {"time", "t", "zeit", "x-axis", "x_value", "x", "seconds", "second", "in s", "tiempo", "temps", "in"}
INTERVAL_KEYS = ("sample interval", "sampling period", "delta t", "delta_x", "increment", "interval", "clock", "dt")
RATE_KEYS = ("sample rate", "sampling rate", "samplerate")
PROBE_KEYS = ("probe attenuation", "probe atten", "probe ratio", "attenuation")
Values = npt.NDArray[np.float32]


def read_text(path: Path, progress: Progress = unwatched) -> Capture:
    """Read a CSV or another delimited text, recognised by its structure.

    Raises
    ------
    FileProblem
        If it is no waveform, or no time axis can be made of it: what, where in the file, what to do.
    """
    raw = read_head(path)
    encoding = encoding_of(raw, path)
    is_whole = len(raw) == path.stat().st_size
    lines = [line for line in _lines(raw, encoding, path, is_whole) if line.strip()]
    layout = recognise(lines, path, is_whole=is_whole)
    _refuse_spectrum(layout, path)
    table, bad = _numbers(path, encoding, layout, progress)
    reading = _Reading(path, encoding, layout, lines, table, bad)
    return reading.capture()


def _lines(raw: bytes, encoding: str, path: Path, is_whole: bool) -> list[str]:
    if encoding.startswith("utf-16") and not is_whole:
        raw = path.read_bytes()
    return plain_lines(text_of(raw, encoding).encode("utf-8")).decode("utf-8").split("\n")


def _refuse_spectrum(layout: Layout, path: Path) -> None:
    first = layout.columns[0]
    is_frequency = first.unit == "Hz" or (first.name.lower().startswith("freq") and first.unit is None)
    if is_frequency or any(column.unit == "dB" for column in layout.columns):
        raise FileProblem(
            "this is a spectrum (levels over frequency), not a waveform",
            file=path,
            do="Export the waveform itself, volts over time",
        )


def _numbers(path: Path, encoding: str, layout: Layout, progress: Progress) -> tuple[Table, BadCells]:
    pieces: list[Table] = []
    bad = BadCells()
    skip, row = layout.first_row, 0
    for block in blocks_of_lines(path, encoding, progress):
        block = _without_blank_lines(block)
        while skip and block:
            _, _, block = block.partition(b"\n")
            skip -= 1
        if block:
            pieces.append(parse_block(block, layout, first_row=row, bad=bad))
            row += len(pieces[-1])
    if not pieces:
        raise FileProblem("there is no row of data", file=path, do="Export the capture again")
    return np.concatenate(pieces), bad


def _without_blank_lines(block: bytes) -> bytes:
    if block.startswith(b"\n"):
        block = block.lstrip(b"\n")
    if b"\n " in block or b"\n\t" in block or block.startswith((b" ", b"\t")):
        return b"".join(line for line in block.splitlines(keepends=True) if line.strip())
    return block


@dataclass(eq=False)
class _Reading:
    """One table on its way to a capture."""

    path: Path
    encoding: str
    layout: Layout
    lines: list[str]
    table: Table
    bad: BadCells

    def capture(self) -> Capture:
        notes: list[str] = []
        time, values = self._split()
        axis = self._axis(time, values, notes)
        channels = []
        for number, column in enumerate(values, start=1):
            channel = self._channel(column, number, axis, notes)
            if channel is not None:
                channels.append(channel)
        if not channels:
            raise FileProblem("there is a time column but no channel", file=self.path, do="Export at least one channel")
        self._note_bad(notes)
        self._note_probe(notes)
        return Capture(self.path.name, self.layout.in_words(), tuple(channels), (*axis.notes, *notes))

    def _place(self, column: Column) -> int:
        return self.layout.columns.index(column)

    def _split(self) -> tuple[Column | None, list[Column]]:
        """The time column, and those that hold values."""
        columns = list(self.layout.columns)
        by_unit = [column for column in columns if column.unit == "s"]
        by_name = [column for column in columns if column.name.lower() in TIME_NAMES and column.unit is None]
        time = by_unit[0] if by_unit else by_name[0] if by_name else None
        if time is None and len(columns) > 1 and self._is_steady(columns[0]) and not self._is_index(columns[0]):
            time = columns[0]
        others = [column for column in columns if column is not time and not self._is_same_time(column, time)]
        if time is None and len(others) > 1 and self._is_count(others[0]):
            others = others[1:]
        return time, others

    def _is_steady(self, column: Column) -> bool:
        stamps = self.table[:-1, self._place(column)] if len(self.table) > 3 else self.table[:, self._place(column)]
        if not np.isfinite(stamps).all() or stamps.size < 2 or column.unit is not None:
            return False
        steps = np.diff(stamps)
        return bool((steps >= 0).all() and stamps[-1] > stamps[0])

    def _is_index(self, column: Column) -> bool:
        """Whether the column only counts the rows, while the preamble states the real interval."""
        stated_s = self._interval()
        return stated_s is not None and self._is_count(column) and not 0.98 < stated_s < 1.02

    def _is_count(self, column: Column) -> bool:
        stamps = self.table[:, self._place(column)]
        return stamps.size > 1 and bool(np.array_equal(stamps, stamps[0] + np.arange(stamps.size)))

    def _is_same_time(self, column: Column, time: Column | None) -> bool:
        if time is None or column.unit != "s":
            return False
        own, other = self.table[:, self._place(column)], self.table[:, self._place(time)]
        if np.array_equal(own, other):
            return True
        raise FileProblem(
            f"it has two different time columns (columns {time.index + 1} and {column.index + 1})",
            file=self.path,
            do="Export each channel into a file of its own",
        )

    def _axis(self, time: Column | None, values: list[Column], notes: list[str]) -> TimeAxis:
        stated_s = self._interval()
        if time is None:
            if stated_s is None:
                raise FileProblem(
                    "it has values but neither a time column nor a sample interval",
                    file=self.path,
                    do="Export with the time column",
                )
            start_s = self._start()
            rows = len(self.table)
            if rows < 2:
                raise FileProblem("there is one row of data", file=self.path, do="Export a capture with more samples")
            notes.append("The step comes from the preamble; there is no time column.")
            return TimeAxis("even", start_s, stated_s, rows, None, ())
        place = self._place(time)
        if time.unit is None:
            notes.append(f"Column {time.index + 1} is taken for the time in seconds; the file does not say so.")
        elif time.factor != 1.0:
            notes.append(f"The time is in {time.written_unit} in the file.")
        stamps = self.table[:, place] * time.factor
        flat = self.table[:, [self._place(column) for column in values]] if values else np.zeros((1, 1))
        two_levels = bool(np.isin(flat, (0.0, 1.0)).all())
        return time_axis(
            stamps,
            digit_s=self._digit(time) * time.factor,
            stated_s=stated_s,
            two_levels=two_levels,
            path=self.path,
            where=self._where,
        )

    def _digit(self, time: Column) -> float:
        rows = self.lines[self.layout.first_row :]
        cells = [cells_of(line, self.layout.delimiter) for line in (*rows[:50], *rows[-51:-1])]
        digits = [
            last_digit(row[time.index], comma=self.layout.comma)
            for row in cells
            if time.index < len(row) and is_written(row[time.index], comma=self.layout.comma)
        ]
        # Exponents grow towards the end of long records, beyond the lines at hand: allow for the largest stamp.
        return max(digits, default=0.0)

    def _interval(self) -> float | None:
        for keys, is_rate in ((INTERVAL_KEYS, False), (RATE_KEYS, True)):
            for key, found in self.layout.preamble.items():
                if any(key == one or key.startswith(one) for one in keys) and found:
                    value = quantity_in(found[0].replace(",", ".") if self.layout.comma else found[0])
                    if value is not None and value > 0:
                        return 1.0 / value if is_rate else value
        return None

    def _start(self) -> float:
        for key in ("start", "t0", "x0"):
            found = self.layout.preamble.get(key)
            value = quantity_in(found[0]) if found else None
            if value is not None:
                return value
        return 0.0

    def _channel(self, column: Column, number: int, axis: TimeAxis, notes: list[str]) -> Channel | None:
        raw = self.table[: axis.rows, self._place(column)]
        if not np.isfinite(raw).any():
            notes.append(f"Column {column.index + 1} holds no number and was left out.")
            return None
        values = (raw * column.factor).astype(np.float32)
        gaps, clipped = _ranges(np.isnan(values)), _ranges(np.isinf(values))
        name = column.name or f"column {column.index + 1}"
        if clipped:
            finite = values[np.isfinite(values)]
            values = np.clip(values, finite.min(), finite.max())
            notes.append(
                f"{name}: {sum(b - a for a, b in clipped)} samples are beyond the range; they are at least the rail."
            )
        if gaps:
            notes.append(f"{name}: {sum(b - a for a, b in gaps)} samples were not acquired.")
        if column.factor != 1.0:
            notes.append(f"{name} is in {column.written_unit} in the file.")
        if column.unit is None:
            notes.append(f"{name}: the file gives no unit.")
        if axis.form == "pairs":
            values = np.sort(values.reshape(-1, 2), axis=1).reshape(-1)
        return Channel(
            name=name,
            unit=column.unit or None,
            samples=FloatSamples(values),
            start_s=axis.start_s,
            step_s=axis.step_s,
            form=axis.form,
            gaps=gaps,
            clipped=clipped,
            history=(f"read from {self.path.name}, column {column.index + 1}",),
            times_s=axis.times_s,
        )

    def _note_bad(self, notes: list[str]) -> None:
        if not self.bad.count:
            return
        row, column, text = self.bad.first[0]
        cells = "cell is no number" if self.bad.count == 1 else "cells are no numbers"
        notes.append(
            f"{self.bad.count} {cells} and count as not acquired, the first: {text[:20]!r} in {self._where(row)}, "
            f"column {column + 1}."
        )

    def _note_probe(self, notes: list[str]) -> None:
        for key in PROBE_KEYS:
            found = self.layout.preamble.get(key)
            if found:
                notes.append(f"Probe factor in the file: {', '.join(found)}; it was already applied to volts.")
                return

    def _where(self, row: int) -> str:
        """Line of a data row, counted in the file as it stands, blank lines included."""
        wanted, seen = self.layout.first_row + row + 1, 0
        text = (
            text_of(self.path.read_bytes(), self.encoding)
            .replace("\r\r\n", "\n")
            .replace("\r\n", "\n")
            .replace("\r", "\n")
        )
        for number, line in enumerate(text.split("\n"), start=1):
            seen += bool(line.strip())
            if seen == wanted:
                return f"line {number}"
        return f"data row {row + 1}"


def _ranges(marked: npt.NDArray[np.bool_]) -> tuple[IndexRange, ...]:
    changes = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]])))
    return tuple(zip(changes[::2].tolist(), changes[1::2].tolist(), strict=True))
