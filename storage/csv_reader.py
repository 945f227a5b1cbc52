"""Read a text table of samples into a capture."""

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Capture, Channel, IndexRange
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import FloatSamples
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.reading_questions import Account, counts_question, unit_question
from loomlight.storage.text_cells import quantity_in, unit_of
from loomlight.storage.text_extremes import joined_extremes
from loomlight.storage.text_head import head_of
from loomlight.storage.text_header import Column
from loomlight.storage.text_layout import Layout, recognise
from loomlight.storage.text_signs import cells_of
from loomlight.storage.text_table import INTERVAL_KEYS, TextTable, read_table
from loomlight.storage.time_axis import TimeAxis
from loomlight.storage.time_column import axis_of, time_groups

LENGTH_KEYS = ("record length", "memory length", "samples", "size", "sample points")
PROBE_KEYS = ("probe attenuation", "probe atten", "probe ratio", "attenuation")
DB, HZ = ("dB", 1.0), ("Hz", 1.0)


def read_text(path: Path, progress: Progress = unwatched, *, reading: Reading = NOTHING_SAID) -> Capture:
    """Read a CSV or another delimited text, recognised by its structure.

    Parameters
    ----------
    path : Path
        The file.
    progress : Progress
        0 to 1 over the bytes.
    reading : Reading
        What the user said; the structure tells the rest.

    Raises
    ------
    FileProblem
        If it is no waveform, or no time axis can be made of it: what, where in the file, what to do.
    OpenQuestion
        If an answer would make it readable.
    """
    head = head_of(path)
    layout = recognise(head.lines, path, is_whole=head.is_whole, reading=reading)
    refuse_spectrum(layout, path)
    return capture_of(read_table(path, head.encoding, layout, head.lines, progress), Account(reading))


def capture_of(table: TextTable, account: Account) -> Capture:
    """Channels of a table of numbers; notes and questions go into the account as well."""
    return _Reading(table, account).capture()


def refuse_spectrum(layout: Layout, path: Path) -> None:
    """Raise FileProblem where the columns are levels over frequency."""
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


@dataclass(eq=False)
class _Reading:
    """One table on its way to a capture."""

    table: TextTable
    account: Account

    def capture(self) -> Capture:
        channels: list[Channel] = []
        of_axes = Account(self.account.reading)
        for time, values in time_groups(self.table, self.account):
            axis, rows = axis_of(self.table, time, values, self.account)
            of_axes.say(*axis.notes)
            made = [self._channel(column, axis, rows) for column in values]
            channels += joined_extremes([channel for channel in made if channel is not None], self.account.notes)
        if not channels:
            raise FileProblem(
                "there is a time column but no channel", file=self.table.path, do="Export at least one channel"
            )
        self._note_bad()
        self._note_preamble(channels[0].intervals)
        self.account.notes[:0] = of_axes.notes
        return Capture(
            self.table.path.name,
            self.table.layout.in_words(),
            tuple(channels),
            tuple(self.account.notes),
            tuple(question.text for question in self.account.questions),
        )

    def _channel(self, column: Column, axis: TimeAxis, rows: int) -> Channel | None:
        raw = self.table.values(column)[:rows]
        name = column.name or f"column {column.index + 1}"
        if not np.isfinite(raw).any():
            self.account.say(f"Column {column.index + 1} holds no number and was left out.")
            return None
        with np.errstate(over="ignore"):  # what is too large for single precision is beyond any range
            values = raw.astype(np.float32)
        gaps, clipped = _ranges(np.isnan(values)), _ranges(np.isinf(values))
        if clipped:
            finite = values[np.isfinite(values)]
            values = np.clip(values, finite.min(), finite.max())
            self.account.say(f"{name}: {_samples(clipped)} beyond the range; at least the rail there.")
        if gaps:
            self.account.say(f"{name}: {_samples(gaps)} not acquired.")
        unit = self._unit(column, name)
        scale = self.account.reading.scale_of(column.index + 1)
        if scale is not None:
            values = (values.astype(np.float64) * scale[0] + scale[1]).astype(np.float32)
            unit = column.unit if self.account.reading.unit_of(column.index + 1) else column.unit or unit
            self.account.say(
                f"{name}: each number times {scale[0]:g}{f' and {scale[1]:+g}' if scale[1] else ''}, as you said."
            )
        if axis.form == "pairs":
            values = np.sort(values.reshape(-1, 2), axis=1).reshape(-1)
        return Channel(
            name=name,
            unit=unit,
            samples=FloatSamples(values),
            start_s=axis.start_s,
            step_s=axis.step_s,
            form=axis.form,
            gaps=gaps,
            clipped=clipped,
            history=(f"read from {self.table.path.name}, column {column.index + 1}",),
            times_s=axis.times_s,
        )

    def _unit(self, column: Column, name: str) -> str | None:
        number = column.index + 1
        said = self.account.reading.unit_of(number)
        if said is not None:
            self.account.say(f"{name} is in {said}, as you said.")
            return column.unit or None
        if self.account.reading.scale_of(number) is None and self._holds_counts(column):
            self.account.say(f"{name}: whole numbers without a time are converter counts, not {column.written_unit}.")
            a_division = self._a_division()
            self.account.ask(
                counts_question(self.account, number, name, unit=column.unit or "V", a_division=a_division)
            )
            return "counts"
        if column.unit is None and column.written_unit:
            self.account.say(f"{name}: the unit {column.written_unit!r} is not known.")
        elif column.unit is None:
            self.account.say(f"{name}: the file gives no unit.")
            self.account.ask(unit_question(self.account, number, name, guess="unknown"))
        elif column.factor != 1.0:
            self.account.say(f"{name} is in {column.written_unit} in the file.")
        return column.unit or None

    def _holds_counts(self, column: Column) -> bool:
        stated = any(key in self.table.layout.preamble for key in ("vertical units", "vertical unit"))
        return stated and len(self.table.layout.columns) == 1 and self._is_whole(column)

    def _a_division(self) -> float | None:
        found = self.table.layout.preamble.get("vertical scale")
        return quantity_in(found[0]) if found else None

    def _is_whole(self, column: Column) -> bool:
        rows = self.table.lines[self.table.layout.first_row :][:200]
        cells = [cells_of(line, self.table.layout.delimiter)[column.index : column.index + 1] for line in rows]
        return all(cell[0].strip().lstrip("+-").isdecimal() for cell in cells if cell and cell[0].strip())

    def _note_bad(self) -> None:
        bad = self.table.bad
        if bad.crowded:
            self.account.say(
                f"{_rows(bad.crowded)} more numbers than there are columns and count as not acquired, the first: "
                f"{self.table.where(bad.first_crowded)}."
            )
        if bad.short:
            self.account.say(
                f"{_rows(bad.short)} fewer cells than the others, the first: {self.table.where(bad.first_short)}; "
                "what is missing is taken to be at the end."
            )
        if not bad.count:
            return
        row, column, text = self.table.bad.first[0]
        if re.match(r"#+\s*\w", text):
            raise FileProblem(
                f"a second block of data begins ({text[:30]!r})",
                file=self.table.path,
                where=self.table.where(row),
                do="Export one channel or segment a file; several blocks under each other are not read",
            )
        cells = "cell is no number" if self.table.bad.count == 1 else "cells are no numbers"
        self.account.say(
            f"{self.table.bad.count} {cells} and count as not acquired, the first: {text[:20]!r} in {self.table.where(row)}, "
            f"column {column + 1}."
        )

    def _note_preamble(self, intervals: int) -> None:
        for key in PROBE_KEYS:
            found = self.table.layout.preamble.get(key)
            if found:
                self.account.say(f"Probe factor in the file: {', '.join(found)}; it was already applied to volts.")
                break
        for key in LENGTH_KEYS:
            found = self.table.layout.preamble.get(key)
            stated = quantity_in(found[0]) if found else None
            if stated is not None and stated > 1 and round(stated) not in (intervals, 2 * intervals):
                self.account.say(f"The file states {stated:.0f} samples and holds {intervals}.")
                break


def _ranges(marked: npt.NDArray[np.bool_]) -> tuple[IndexRange, ...]:
    changes = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]])))
    return tuple(zip(changes[::2].tolist(), changes[1::2].tolist(), strict=True))


def _rows(count: int) -> str:
    return "1 row has" if count == 1 else f"{count} rows have"


def _samples(ranges: tuple[IndexRange, ...]) -> str:
    count = sum(stop - start for start, stop in ranges)
    return "1 sample is" if count == 1 else f"{count} samples are"
