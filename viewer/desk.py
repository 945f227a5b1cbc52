"""What lies on the technician's desk: the job, opened captures, what was chosen for comparing, and the answers.

It knows nothing of widgets; the pages show it and ask it for changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from loomlight.signal.channel_setup import stored_of
from loomlight.signal.errors import LoomlightError
from loomlight.viewer.ask import Ask
from loomlight.viewer.choice import Choice

if TYPE_CHECKING:
    from loomlight.signal.entry import Entry
    from loomlight.signal.job import Job, JobCapture, Note, Stage
    from loomlight.storage.job_folder import JobFolder
    from loomlight.storage.library import Library
    from loomlight.viewer.choice import Opened
    from loomlight.viewer.judging import ProofDrawn
    from loomlight.viewer.lanes_of import Drawn


@dataclass(eq=False)
class _Chosen:
    suspect: Choice | None = None
    good: Choice | None = None
    after: Choice | None = None
    ask: Ask = field(default_factory=Ask)


USES = ("suspect", "good", "after")


class Desk(QObject):
    """Holds what was opened and chosen; says when it changed."""

    captures_changed = Signal()
    choice_changed = Signal()
    job_changed = Signal()
    compared = Signal()
    proved = Signal()
    library_changed = Signal()

    def __init__(self, library: Library | Path, parent: QObject | None = None) -> None:
        """``library`` is the person's own, or its folder: it is then opened when it is first asked for."""
        super().__init__(parent)
        self._own_library = self._library = library
        self.folder: JobFolder | None = None
        self.opened: list[Opened] = []
        self.entries: list[Choice] = []
        self.chosen = _Chosen()
        self._loose_notes: dict[Path | str, tuple[Note, ...]] = {}
        self.drawn: Drawn | None = None
        self.drawn_from: tuple[Choice, Choice | None] | None = None
        self.proof: ProofDrawn | None = None
        self.proof_from: tuple[Choice, Choice] | None = None

    # Library

    @property
    def library(self) -> Library:
        """The library that is worked with."""
        if isinstance(self._library, Path):
            from loomlight.storage.library import Library

            self._own_library = self._library = Library(self._library)
        return self._library

    @property
    def library_folder(self) -> Path:
        """Where it lies; the library is not opened for that."""
        return self._library if isinstance(self._library, Path) else self._library.folder

    def use_library(self, library: Library | None) -> None:
        """Work with another library: the sample job brings one. None for the person's own."""
        wanted = library or self._own_library
        if wanted is not self._library:
            self._library = wanted
            self.library_changed.emit()

    # Job

    @property
    def job(self) -> Job | None:
        """The open job's content."""
        return self.folder.job if self.folder is not None else None

    def take_job(self, folder: JobFolder) -> None:
        """Open a job."""
        self.folder = folder
        self.job_changed.emit()

    def clear(self) -> None:
        """Take all captures, choices and answers off the desk; the job stays."""
        self.opened, self.entries = [], []
        self.chosen = _Chosen(ask=self.chosen.ask)
        self._loose_notes = {}
        self.drawn, self.drawn_from, self.proof, self.proof_from = None, None, None, None
        self.captures_changed.emit()
        self.choice_changed.emit()
        self.compared.emit()
        self.proved.emit()

    def save_job(self, job: Job) -> None:
        """Keep a changed job.

        Raises
        ------
        LoomlightError
            If there is none, or it cannot be written.
        """
        if self.folder is None:
            raise LoomlightError("No job is open. Make one on the Job page first.")
        if job != self.folder.job:
            self.folder.save(job)
            self.job_changed.emit()

    def job_capture(self, source: Path | str) -> JobCapture | None:
        """The job's own record of a file, where it is one of the job's."""
        return self.folder.capture_of(source) if self.folder is not None and isinstance(source, Path) else None

    def notes_of(self, source: Path | str) -> tuple[Note, ...]:
        """Notes that were placed on a capture."""
        kept = self.job_capture(source)
        return kept.notes if kept is not None else self._loose_notes.get(source, ())

    def keep_notes(self, source: Path | str, notes: tuple[Note, ...]) -> None:
        """Keep notes with the job's capture; without a job for as long as the capture lies on the desk.

        Raises
        ------
        LoomlightError
            If the job cannot be written.
        """
        kept = self.job_capture(source)
        if self.folder is not None and kept is not None:
            self.folder.set_notes(kept.file, notes)
        else:
            self._loose_notes[source] = notes

    # Captures

    def take_opened(self, opened: Opened) -> None:
        """Put a capture on the desk; what is not chosen yet is chosen from it."""
        if any(one.path == opened.path for one in self.opened):
            self.replace_opened(opened)
        else:
            self.opened = [*self.opened, opened]
        kept = self.job_capture(opened.path)
        stage = kept.stage if kept is not None else opened.stage
        choices = opened.choices()
        if stage == "after repair":
            self.chosen.after = choices[0]
        elif stage == "known-good":
            self.chosen.good = choices[0]
        elif self.chosen.suspect is None:
            self.chosen.suspect = choices[0]
            if self.chosen.good is None and len(choices) > 1:
                self.chosen.good = choices[1]
        self.captures_changed.emit()
        self.choice_changed.emit()
        self.job_changed.emit()

    def replace_opened(self, changed: Opened) -> None:
        """Put another reading of a capture in the place of the one that lies there.

        What was chosen from it stays chosen: the channel of that name, else the one in that place.
        """
        place = next(number for number, one in enumerate(self.opened) if one.path == changed.path)
        old, new = self.opened[place].choices(), changed.choices()
        self.opened[place] = changed
        for use in USES:
            choice: Choice | None = getattr(self.chosen, use)
            if choice is not None and choice.source == changed.path:
                at = next((number for number, one in enumerate(old) if one.channel is choice.channel), 0)
                in_place = new[min(at, len(new) - 1)]
                setattr(self.chosen, use, next((one for one in new if one.is_same(choice)), in_place))
        self.captures_changed.emit()
        self.choice_changed.emit()

    def take_away(self, paths: Sequence[Path]) -> None:
        """Take captures off the desk; their files stay."""
        self.opened = [one for one in self.opened if one.path not in paths]
        for use in USES:
            choice: Choice | None = getattr(self.chosen, use)
            if choice is not None and choice.source in paths:
                setattr(self.chosen, use, None)
        self.captures_changed.emit()
        self.choice_changed.emit()

    def choose(self, *, suspect: Choice | None = None, good: Choice | None = None, after: Choice | None = None) -> None:
        """Choose channels; what is not given stays."""
        self.chosen.suspect = suspect or self.chosen.suspect
        self.chosen.good = good or self.chosen.good
        self.chosen.after = after or self.chosen.after
        if good is not None and good.kind:
            ask = self.chosen.ask
            if good.kind != ask.kind:
                ask = replace(ask, kind=good.kind, settings=(), besides=(), good_besides=())
            self.chosen.ask = ask
        self.choice_changed.emit()

    def note_stage(self, choice: Choice, use: str) -> None:
        """Keep in the job what a capture is for."""
        kept = self.job_capture(choice.source)
        stages: dict[str, Stage] = {"suspect": "suspect", "good": "known-good", "after": "after repair"}
        beside = use == "good" and self.chosen.suspect is not None and choice.is_beside(self.chosen.suspect)
        if self.folder is not None and kept is not None and not beside:
            self.folder.set_stage(kept.file, stages[use])
            self.job_changed.emit()

    def without_good(self) -> None:
        """Judge against the limits alone."""
        self.chosen.good = None
        self.choice_changed.emit()

    def choices(self) -> list[Choice]:
        """All channels that can be chosen, captures first."""
        found = [choice for opened in self.opened for choice in opened.choices()]
        return found + self.entries

    def opened_of(self, choice: Choice) -> Opened | None:
        """The capture that a choice belongs to."""
        return next((one for one in self.opened if one.path == choice.source), None)

    def entry_choice(self, entry: Entry) -> Choice:
        """A library entry as a choice. Reads the file's head: for aside where the library is far away.

        Raises
        ------
        LoomlightError
            If its file is gone or damaged.
        """
        from loomlight.storage.library_files import confirmed_channels

        captures = self.library.captures(entry)
        first, *further = confirmed_channels(entry, captures)
        return Choice(first, entry.id, entry.title, entry.kind, capture=captures[0], further=tuple(further))

    def use_entry(self, choice: Choice) -> None:
        """Take a library entry as the known-good."""
        self.entries = [one for one in self.entries if one.source != choice.source] + [choice]
        self.captures_changed.emit()
        self.choose(good=choice)

    # Answers

    def take_drawn(self, found: Drawn, suspect: Choice, good: Choice | None) -> None:
        """Show a new comparison, made from these two."""
        self.drawn, self.drawn_from = found, (suspect, good)
        self.compared.emit()

    def take_proof(self, found: ProofDrawn, before: Choice, after: Choice) -> None:
        """Show a new proof, made from these two."""
        self.proof, self.proof_from = found, (before, after)
        self.proved.emit()

    def is_comparison_old(self) -> bool:
        """Whether other channels or another signal kind were chosen since the comparison that is shown."""
        if self.drawn is None or self.drawn_from is None:
            return False
        chosen = self.chosen
        return self.drawn.comparison.kind != chosen.ask.kind or not _are_same(
            self.drawn_from, (chosen.suspect, chosen.good)
        )

    def is_proof_old(self) -> bool:
        """Whether other channels were chosen since the proof that is shown."""
        return self.proof_from is not None and not _are_same(self.proof_from, (self.chosen.suspect, self.chosen.after))


def _are_same(first: Sequence[Choice | None], second: Sequence[Choice | None]) -> bool:
    return all(
        one is other or (one is not None and other is not None and one.is_same(other) and _read_alike(one, other))
        for one, other in zip(first, second, strict=True)
    )


def _read_alike(one: Choice, other: Choice) -> bool:
    """Whether both show their stored samples read and set up in the same way."""
    first, second = stored_of(one.channel)[1], stored_of(other.channel)[1]
    return one.reading == other.reading and replace(first, channel="") == replace(second, channel="")
