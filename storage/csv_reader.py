"""Read a text table of samples into a capture."""

import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Capture, Channel, IndexRange
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import FloatSamples
from loomlight.storage.text_bytes import blocks_of_lines, encoding_of, plain_lines, read_head, text_of
from loomlight.storage.text_cells import digit_of, quantity_in, unit_of
from loomlight.storage.text_header import Column, is_time_name
from loomlight.storage.text_layout import Layout, cells_of, recognise
from loomlight.storage.text_numbers import BadCells, Table, parse_block
from loomlight.storage.time_axis import TimeAxis, time_axis

INTERVAL_KEYS = ("sample interval", "sampling interval", "sampling period", "sample period", "delta t", "delta_x")
INTERVAL_WORDS = ("increment", "interval", "clock", "dt", "xincrement", "x increment")
RATE_KEYS = ("sample rate", "sampling rate", "samplerate")
LENGTH_KEYS = ("record length", "memory length", "samples", "size", "sample points")
PROBE_KEYS = ("probe attenuation", "probe atten", "probe ratio", "attenuation")
Values = npt.NDArray[np.float32]
DB, HZ = ("dB", 1.0), ("Hz", 1.0)
AGREES = 0.02
"""A column is the time where its steps agree this well with the interval that the preamble states."""


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
    is_frequency = first.unit == "Hz" or (first.name.lower().startswith("freq") and not first.written_unit)
    stated = [
        unit_of(value) for key in ("horizontal units", "vertical units") for value in layout.preamble.get(key, ())
    ]
    levels = any(column.unit == "dB" for column in layout.columns) or any(unit in (DB, HZ) for unit in stated)
    if is_frequency or levels or _beside_unit(layout):
        raise FileProblem(
            "this is a spectrum (levels over frequency), not a waveform",
            file=path,
            do="Export the waveform itself, volts over time",
        )


def _beside_unit(layout: Layout) -> bool:
    return any(unit_of(value) == HZ for key in INTERVAL_KEYS for value in layout.preamble.get(key, ())[1:2])


def _numbers(path: Path, encoding: str, layout: Layout, progress: Progress) -> tuple[Table, BadCells]:
    pieces: list[Table] = []
    bad = BadCells()
    skip, row = layout.first_row, 0
    for block in blocks_of_lines(path, encoding, progress):
        block = _without_blank_lines(block)
        start = 0
        while skip and start < len(block):
            start = block.index(b"\n", start) + 1
            skip -= 1
        block = block[start:]
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
        channels: list[Channel] = []
        first_notes: tuple[str, ...] = ()
        for time, values in self._groups(notes):
            axis, rows = self._axis(time, values, notes)
            first_notes = (*first_notes, *(note for note in axis.notes if note not in first_notes))
            made = [self._channel(column, axis, rows, notes) for column in values]
            channels += _joined_extremes([channel for channel in made if channel is not None], notes)
        if not channels:
            raise FileProblem("there is a time column but no channel", file=self.path, do="Export at least one channel")
        self._note_bad(notes)
        self._note_preamble(notes, channels[0].intervals)
        return Capture(self.path.name, self.layout.in_words(), tuple(channels), (*first_notes, *notes))

    def _stamps(self, column: Column) -> npt.NDArray[np.float64]:
        return self.table[:, self.layout.columns.index(column)]

    def _groups(self, notes: list[str]) -> list[tuple[Column | None, list[Column]]]:
        """Time columns, each with the value columns that belong to it."""
        columns = [column for column in self.layout.columns if not column.is_clock]
        clock = next((column for column in self.layout.columns if column.is_clock), None)
        times = [column for column in columns if column.unit == "s" and self._rises(column)]
        if not times:
            times = [one for one in columns if is_time_name(one.name) and not one.written_unit and self._rises(one)]
        index = self._index_column(columns, bool(times or clock))
        if index is not None:
            notes.append(f"Column {index.index + 1} only counts the rows.")
            columns = [column for column in columns if column is not index]
            times = [column for column in times if column is not index]
        if not times and clock is not None:
            times = [clock]
        elif not times:
            times = self._unnamed_time(columns)
        values = [column for column in columns if column not in times]
        if not times:
            return [(None, values)]
        first = self._stamps(times[0])
        others = [time for time in times[1:] if not np.array_equal(self._stamps(time), first, equal_nan=True)]
        if not others:
            values = [one for one in values if not self._repeats(one, times[0])]
            return [(times[0], values)]
        edges = [time.index for time in (times[0], *others)]
        groups = []
        for time, stop in zip((times[0], *others), (*edges[1:], 1 << 30), strict=True):
            own = [column for column in values if time.index < column.index < stop]
            if not own:
                raise FileProblem(
                    f"it has several time columns, and none of the values belongs to column {time.index + 1}",
                    file=self.path,
                    do="Export each channel into a file of its own",
                )
            groups.append((time, own))
        notes.append("Each channel has a time column of its own.")
        return groups

    def _repeats(self, column: Column, time: Column) -> bool:
        """Whether an unnamed column is the same time once more."""
        return not column.name and np.array_equal(self._stamps(column), self._stamps(time), equal_nan=True)

    def _rises(self, column: Column) -> bool:
        """Whether a column could be a time at all: it never falls, but for a stray last row or a new segment."""
        stamps = self._stamps(column)
        finite = stamps[np.isfinite(stamps)]
        return finite.size < 2 or float(np.mean(np.diff(finite) >= 0)) >= 0.5

    def _index_column(self, columns: list[Column], has_time: bool) -> Column | None:
        """The first column where it counts the rows and the time comes from elsewhere."""
        first = columns[0]
        named_time = is_time_name(first.name) and first.name.strip().lower() not in ("x", "x-axis", "x_value")
        if len(columns) < 2 or first.unit is not None or not self._counts(first):
            return None
        stated_s = self._interval()
        if named_time and (stated_s is None or abs(stated_s - 1.0) < AGREES):
            return None
        elsewhere = stated_s is not None or (has_time and not is_time_name(first.name))
        if elsewhere or first.name.strip().lower() in ("index", "sample", "n", "no", "no.", "#", "nr", "row"):
            return first
        return None

    def _counts(self, column: Column) -> bool:
        stamps = self._stamps(column)
        return stamps.size > 1 and bool(np.array_equal(stamps, stamps[0] + np.arange(stamps.size)))

    def _unnamed_time(self, columns: list[Column]) -> list[Column]:
        """The column that is the time by its steady increase, the first one first."""
        stated_s = self._interval()
        for column in columns if len(columns) > 1 else []:
            stamps = self._stamps(column)
            stamps = stamps[:-1] if stamps.size > 4 else stamps
            if column.written_unit or not np.isfinite(stamps).all() or stamps.size < 2 or stamps[-1] <= stamps[0]:
                continue
            steps = np.diff(stamps)
            spanned = (stamps[-1] - stamps[0]) / steps.size
            straight = np.abs(stamps - stamps[0] - np.arange(stamps.size) * spanned).max() <= 0.01 * steps.sum()
            if (steps < 0).any() or not (straight or (column is columns[0] and stated_s is None)):
                continue
            if stated_s is None or abs(spanned - stated_s) <= AGREES * stated_s:
                return [column]
            if column is columns[0] and straight:
                raise FileProblem(
                    f"column {column.index + 1} rises like a time, but does not agree with the stated interval",
                    file=self.path,
                    where=self._where(0),
                    do="Export with a header that names the columns and their units",
                )
        return []

    def _axis(self, time: Column | None, values: list[Column], notes: list[str]) -> tuple[TimeAxis, int]:
        """The axis of one group, and how many rows of the table belong to it."""
        stated_s = self._interval()
        if time is None:
            return self._stated_axis(stated_s, notes), len(self.table)
        if time.unit is None:
            notes.append(f"Column {time.index + 1} is taken for the time in seconds; the file does not say so.")
            if self._counts(time) and not is_time_name(time.name):
                raise FileProblem(
                    "its first column only counts the rows, and the sample interval is not stated",
                    file=self.path,
                    where=self._where(0),
                    do="Export with the time column",
                )
        elif time.factor != 1.0 or time.is_clock:
            notes.append(f"The time is in {time.written_unit} in the file.")
        stamps = self._stamps(time) * time.factor
        filled = np.flatnonzero(np.isfinite(stamps))
        rows = int(filled[-1]) + 1 if filled.size else 0
        flat = self.table[:rows, [self.layout.columns.index(column) for column in values]]
        two_levels = bool(values) and bool(np.isin(flat, (0.0, 1.0)).all())
        axis = time_axis(
            stamps[:rows],
            digit_s=self._digit(time) * time.factor,
            stated_s=stated_s,
            two_levels=two_levels,
            path=self.path,
            where=self._where,
        )
        return axis, axis.rows

    def _stated_axis(self, stated_s: float | None, notes: list[str]) -> TimeAxis:
        if stated_s is None:
            raise FileProblem(
                "it has values but neither a time column nor a sample interval",
                file=self.path,
                do="Export with the time column",
            )
        rows = len(self.table)
        if rows < 2:
            raise FileProblem("there is one row of data", file=self.path, do="Export a capture with more samples")
        notes.append(f"Step {in_words(stated_s, 's', digits=6)} from the preamble; there is no time column.")
        start_s = self._start()
        if start_s is None:
            notes.append("The file does not say when the record starts: counted from 0.")
        return TimeAxis("even", start_s or 0.0, stated_s, rows, None, ())

    def _digit(self, time: Column) -> float:
        rows = self.lines[self.layout.first_row :]
        cells = [cells_of(line, self.layout.delimiter) for line in (*rows[:50], *rows[-51:-1])]
        texts = [row[time.index] for row in cells if time.index < len(row)]
        if time.is_clock:
            return min((10.0 ** -len(text.strip('" ').rpartition(":")[2][3:]) for text in texts), default=1.0)
        stamps = self._stamps(time)
        finite = stamps[np.isfinite(stamps)]
        return digit_of(texts, float(np.abs(finite).max()) if finite.size else 0.0, comma=self.layout.comma)

    def _interval(self) -> float | None:
        for is_rate in (False, True):
            for key, found in self.layout.preamble.items():
                if not found or not (_is_key(key, RATE_KEYS) if is_rate else _is_interval_key(key)):
                    continue
                value = quantity_in(found[0].replace(",", ".") if self.layout.comma else found[0])
                unit = unit_of(found[1]) if len(found) > 1 else None
                if value is not None and value > 0:
                    value *= unit[1] if unit and unit[0] in ("s", "Hz") else 1.0
                    return 1.0 / value if is_rate else value
        return None

    def _start(self) -> float | None:
        for key in ("start", "t0", "x0", "xorigin", "x origin"):
            found = self.layout.preamble.get(key)
            value = quantity_in(found[0].replace(",", ".") if self.layout.comma else found[0]) if found else None
            if value is not None:
                return value
        return None

    def _channel(self, column: Column, axis: TimeAxis, rows: int, notes: list[str]) -> Channel | None:
        raw = self._stamps(column)[:rows]
        name = column.name or f"column {column.index + 1}"
        if not np.isfinite(raw).any():
            notes.append(f"Column {column.index + 1} holds no number and was left out.")
            return None
        values = (raw * column.factor).astype(np.float32)
        gaps, clipped = _ranges(np.isnan(values)), _ranges(np.isinf(values))
        if clipped:
            finite = values[np.isfinite(values)]
            values = np.clip(values, finite.min(), finite.max())
            notes.append(f"{name}: {_samples(clipped)} beyond the range; at least the rail there.")
        if gaps:
            notes.append(f"{name}: {_samples(gaps)} not acquired.")
        if axis.form == "pairs":
            values = np.sort(values.reshape(-1, 2), axis=1).reshape(-1)
        return Channel(
            name=name,
            unit=self._unit(column, name, notes),
            samples=FloatSamples(values),
            start_s=axis.start_s,
            step_s=axis.step_s,
            form=axis.form,
            gaps=gaps,
            clipped=clipped,
            history=(f"read from {self.path.name}, column {column.index + 1}",),
            times_s=axis.times_s,
        )

    def _unit(self, column: Column, name: str, notes: list[str]) -> str | None:
        stated = any(key in self.layout.preamble for key in ("vertical units", "vertical unit"))
        if stated and len(self.layout.columns) == 1 and self._is_whole(column):
            notes.append(f"{name}: whole numbers without a time are converter counts, not {column.written_unit}.")
            return "counts"
        if column.unit is None and column.written_unit:
            notes.append(f"{name}: the unit {column.written_unit!r} is not known.")
        elif column.unit is None:
            notes.append(f"{name}: the file gives no unit.")
        elif column.factor != 1.0:
            notes.append(f"{name} is in {column.written_unit} in the file.")
        return column.unit or None

    def _is_whole(self, column: Column) -> bool:
        rows = self.lines[self.layout.first_row :][:200]
        cells = [cells_of(line, self.layout.delimiter)[column.index : column.index + 1] for line in rows]
        return all(cell[0].strip().lstrip("+-").isdecimal() for cell in cells if cell and cell[0].strip())

    def _note_bad(self, notes: list[str]) -> None:
        if not self.bad.count:
            return
        row, column, text = self.bad.first[0]
        if text.startswith("#"):
            raise FileProblem(
                f"a second block of data begins ({text[:30]!r})",
                file=self.path,
                where=self._where(row),
                do="Export one channel or segment a file; several blocks under each other are not read",
            )
        cells = "cell is no number" if self.bad.count == 1 else "cells are no numbers"
        notes.append(
            f"{self.bad.count} {cells} and count as not acquired, the first: {text[:20]!r} in {self._where(row)}, "
            f"column {column + 1}."
        )

    def _note_preamble(self, notes: list[str], intervals: int) -> None:
        for key in PROBE_KEYS:
            found = self.layout.preamble.get(key)
            if found:
                notes.append(f"Probe factor in the file: {', '.join(found)}; it was already applied to volts.")
                break
        for key in LENGTH_KEYS:
            found = self.layout.preamble.get(key)
            stated = quantity_in(found[0]) if found else None
            if stated is not None and stated > 1 and round(stated) not in (intervals, 2 * intervals):
                notes.append(f"The file states {stated:.0f} samples and holds {intervals}.")
                break

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


def _samples(ranges: tuple[IndexRange, ...]) -> str:
    count = sum(stop - start for start, stop in ranges)
    return "1 sample is" if count == 1 else f"{count} samples are"


def _is_key(key: str, wanted: tuple[str, ...]) -> bool:
    return any(key == one or key.startswith(f"{one} ") for one in wanted)


def _is_interval_key(key: str) -> bool:
    return _is_key(key, INTERVAL_KEYS) or key in INTERVAL_WORDS


def _joined_extremes(channels: list[Channel], notes: list[str]) -> list[Channel]:
    """Two columns that are the extremes of one channel (``CH1``, ``CH1 Peak Detect``; ``CH1(Max)``, ``CH1(Min)``) as one."""
    answer: list[Channel] = []
    for channel in channels:
        before = answer[-1] if answer else None
        if before is None or channel.form != "even" or _extremes_name(before.name, channel.name) is None:
            answer.append(channel)
            continue
        both = np.stack([one.samples.block(0, one.samples.size) for one in (before, channel)], axis=1)
        name = _extremes_name(before.name, channel.name) or before.name
        doubled = tuple((2 * start, 2 * stop) for start, stop in (*before.gaps, *channel.gaps))
        clipped = tuple((2 * start, 2 * stop) for start, stop in (*before.clipped, *channel.clipped))
        answer[-1] = replace(
            before,
            name=name,
            samples=FloatSamples(np.sort(both, axis=1).reshape(-1)),
            form="pairs",
            gaps=tuple(sorted(set(doubled))),
            clipped=tuple(sorted(set(clipped))),
        )
        notes.append(f"{name}: two columns hold the extremes of each interval.")
    return answer


def _extremes_name(first: str, second: str) -> str | None:
    if second.lower() == f"{first.lower()} peak detect":
        return first
    ends = [re.fullmatch(r"(.+?)\s*\((max|min)\)", name, re.IGNORECASE) for name in (first, second)]
    if ends[0] and ends[1] and ends[0][1] == ends[1][1] and ends[0][2].lower() != ends[1][2].lower():
        return ends[0][1]
    return None
