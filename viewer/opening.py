"""Captures are opened one after the other, aside; with a job open each is copied into it first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from loomlight.viewer.aside import Aside

if TYPE_CHECKING:
    from loomlight.signal.capture import Capture
    from loomlight.signal.job import Stage
    from loomlight.signal.progress import Progress
    from loomlight.storage.job_folder import JobFolder
    from loomlight.storage.reading import Reading
    from loomlight.viewer.choice import Opened
    from loomlight.viewer.desk import Desk


@dataclass(frozen=True, eq=False)
class _Waiting:
    path: Path
    stage: Stage
    each: Callable[[Opened], None] | None
    reading: Reading | None


class Opening(QObject):
    """The files that wait to be opened, and the one that is being opened.

    `opened` tells which file the user named and whether it was opened on its own (not as a part of a job);
    `opened_together` which captures of the desk the user opened at one go; `asked` which file cannot be read until the user
    says how; `first_picture` a long file's coarse picture while it is read, with the ticket that `is_now` knows.
    """

    opened = Signal(object, bool)
    opened_together = Signal(list)
    asked = Signal(object, str)
    first_picture = Signal(int, object, object)
    failed = Signal(object)
    progressed = Signal(float)
    busy_changed = Signal(bool)

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._aside = Aside(self)
        self._waiting: list[_Waiting] = []
        self._together: list[Opened] = []
        self._then: Callable[[], None] | None = None
        self._aside.progressed.connect(lambda _, share: self.progressed.emit(share))
        self._aside.busy_changed.connect(self.busy_changed)

    @property
    def is_busy(self) -> bool:
        """Whether a file is being opened."""
        return self._aside.is_busy

    def is_now(self, ticket: int) -> bool:
        """Whether the file that this ticket belongs to is still being read."""
        return self._aside.is_busy and ticket == self._aside.ticket

    def add(
        self,
        files: list[tuple[Path, Stage]],
        *,
        then: Callable[[], None] | None = None,
        each: Callable[[Opened], None] | None = None,
        reading: Reading | None = None,
    ) -> None:
        """Open files; ``then`` is called after the last, whether or not each could be read, ``each`` after each that was.

        What is opened with ``each`` is the business of its caller alone: no page is turned for it. ``reading`` is a new
        answer about how the files are to be read.
        """
        self._waiting += [_Waiting(path, stage, each, reading) for path, stage in files]
        self._then = then or self._then
        if not self._aside.is_busy:
            self._next(self._desk.folder)

    def give_up(self) -> None:
        """Open no more of what waits: the desk was given another job."""
        self._waiting.clear()
        self._together.clear()
        self._then = None
        self._aside.cancel()

    def close(self) -> None:
        """Give up, and wait for the worker to stop."""
        self.give_up()
        self._aside.close()

    def _next(self, folder: JobFolder | None) -> None:
        if not self._waiting:
            self._end()
            return
        waiting = self._waiting.pop(0)
        path, stage = waiting.path, waiting.stage

        def done(opened: Opened) -> None:
            self._desk.take_opened(opened)
            if waiting.each is not None:
                waiting.each(opened)
            else:
                self._together.append(opened)
                self.opened.emit(path, self._then is None)
            self._next(self._desk.folder)

        def failed(error: Exception) -> None:
            from loomlight.storage.reading_questions import OpenQuestion

            if isinstance(error, OpenQuestion) and waiting.each is None:
                self.asked.emit(path, stage)
            else:
                self.failed.emit(error)
            self._next(self._desk.folder)

        def show(coarse: Capture) -> None:
            self.first_picture.emit(ticket, path, coarse)

        def work(progress: Progress) -> Opened:
            from loomlight.storage.first_picture import unseen
            from loomlight.viewer.opened_file import opened_file

            return opened_file(
                folder, path, progress, stage=stage, reading=waiting.reading, first_picture=show if shown else unseen
            )

        shown = waiting.each is None and self._then is None
        ticket = self._aside.ticket + 1  # of the work that begins now
        self._aside.run(work, done, failed)

    def _end(self) -> None:
        then, self._then = self._then, None
        together, self._together = self._together, []
        if then is not None:
            then()
        elif len(together) > 1:
            self.opened_together.emit(together)
