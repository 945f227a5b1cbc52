"""Read a text table of samples into a capture."""

import re
from dataclasses import dataclass
from pathlib import Path

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.first_picture import FirstPicture, unseen
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.reading_questions import Account
from loomlight.storage.text_cells import quantity_in, unit_of
from loomlight.storage.text_channels import ChannelMaker
from loomlight.storage.text_extremes import joined_extremes
from loomlight.storage.text_glance import glance
from loomlight.storage.text_head import head_of
from loomlight.storage.text_layout import Layout
from loomlight.storage.text_source import sources_of
from loomlight.storage.text_table import INTERVAL_KEYS, TextTable
from loomlight.storage.time_column import time_groups
from loomlight.storage.time_stretches import stretches_of

LENGTH_KEYS = ("record length", "memory length", "samples", "size", "sample points")
PROBE_KEYS = ("probe attenuation", "probe atten", "probe ratio", "attenuation")
MOST_STATED = 1e15
DB, HZ = ("dB", 1.0), ("Hz", 1.0)


def read_text(
    path: Path,
    progress: Progress = unwatched,
    *,
    reading: Reading = NOTHING_SAID,
    first_picture: FirstPicture = unseen,
) -> Capture:
    """Read a CSV or another delimited text, recognised by its structure.

    Parameters
    ----------
    path : Path
        The file.
    progress : Progress
        0 to 1 over the bytes.
    reading : Reading
        What the user said; the structure tells the rest.
    first_picture : callable
        Takes a coarse capture of a long file before it is read.

    Raises
    ------
    FileProblem
        If it is no waveform, or no time axis can be made of it: what, where in the file, what to do.
    OpenQuestion
        If an answer would make it readable.
    """
    account = Account(reading)
    sources = sources_of(head_of(path), account)
    for source in sources:
        refuse_spectrum(source.layout, path)
    if first_picture is not unseen and len(sources) == 1:
        coarse = glance(sources[0], reading)
        if coarse is not None:
            first_picture(coarse)
    return capture_of([source.table(progress) for source in sources], account)


def capture_of(tables: list[TextTable], account: Account) -> Capture:
    """Channels of a file's tables of numbers; notes and questions go into the account as well.

    Raises
    ------
    FileProblem
        If no time axis can be made, or there is no channel.
    """
    channels = [channel for table in tables for channel in _TableReader(table, account).channels()]
    if not channels:
        texts = ", ".join(name for table in tables for name in table.layout.texts)
        raise FileProblem(
            f"there is a time column but no channel{f'; {texts} holds text' if texts else ''}",
            file=tables[0].path,
            do="Export at least one channel of plain numbers",
        )
    return Capture(
        tables[0].path.name,
        tables[0].layout.in_words(),
        tuple(channels),
        tuple(account.notes),
        tuple(question.text for question in account.questions),
    )


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
class _TableReader:
    """One table on its way to channels."""

    table: TextTable
    account: Account

    def channels(self) -> list[Channel]:
        own = Account(self.account.reading, questions=self.account.questions)
        maker = ChannelMaker(self.table, own)
        found: list[Channel] = []
        for time, values in time_groups(self.table, own):
            stretches = stretches_of(self.table, time, values, own)
            for stretch in stretches:
                self.account.say(*stretch.axis.notes)
            made = [[maker.make(column, one, values) for column in values] for one in stretches]
            if self.account.reading.pairs is None and stretches[0].axis.form == "even":
                maker.ask_about_pairs(values, stretches[0])
            for place in range(len(values)):
                found += [one for row in made if (one := row[place]) is not None]
        found = joined_extremes(found, own.notes)
        self.account.say(*own.notes)
        unexplained = self.table.layout.unexplained
        if unexplained:
            self.account.say(
                f"{unexplained} leading lines hold whole numbers that nothing explains; they were left out."
            )
        for name in self.table.layout.texts:
            self.account.say(f"{name} holds text and was left out.")
        self._note_bad()
        if found:
            self._note_preamble(found[0].intervals, found[0].segments)
        return found

    def _note_bad(self) -> None:
        bad = self.table.bad
        if bad.crowded:
            self.account.say(
                f"{_rows(bad.crowded)} more numbers than there are columns, taken as not acquired, the first: "
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
                f"a line of text stands among the data ({text[:30]!r})",
                file=self.table.path,
                where=self.table.where(row),
                do="Delete that line; where a second table begins there, export one table a file",
            )
        cells = "cell is no number" if self.table.bad.count == 1 else "cells are no numbers"
        self.account.say(
            f"{self.table.bad.count} {cells} and count as not acquired, the first: {text[:20]!r} in {self.table.where(row)}, "
            f"column {column + 1}."
        )

    def _note_preamble(self, intervals: int, segments: int) -> None:
        for key in PROBE_KEYS:
            found = self.table.layout.preamble.get(key)
            if found:
                self.account.say(f"Probe factor in the file: {', '.join(found)}; it was already applied to volts.")
                break
        for key in LENGTH_KEYS:
            found = self.table.layout.preamble.get(key)
            stated = quantity_in(found[0]) if found else None
            if (
                stated is not None
                and 1 < stated < MOST_STATED
                and round(stated) not in (intervals, 2 * intervals, segments * intervals)
            ):
                self.account.say(f"The file states {stated:.0f} samples and holds {segments * intervals}.")
                break


def _rows(count: int) -> str:
    return "1 row has" if count == 1 else f"{count} rows have"
