"""Captures are opened one after the other, aside; with a job open each is copied into it first."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from loomlight.signal.job import Stage
from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk, Opened, opened_file


class Opening(QObject):
    """The files that wait to be opened, and the one that is being opened.

    `opened` tells which file the user named and whether it was opened on its own (not as a part of a job).
    """

    opened = Signal(object, bool)
    failed = Signal(object)
    progressed = Signal(float)
    busy_changed = Signal(bool)

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._aside = Aside(self)
        self._waiting: list[tuple[Path, Stage]] = []
        self._then: Callable[[], None] | None = None
        self._aside.progressed.connect(lambda _, share: self.progressed.emit(share))
        self._aside.busy_changed.connect(self.busy_changed)

    @property
    def is_busy(self) -> bool:
        """Whether a file is being opened."""
        return self._aside.is_busy

    def add(self, files: list[tuple[Path, Stage]], *, then: Callable[[], None] | None = None) -> None:
        """Open files; ``then`` is called after the last, whether or not each could be read."""
        self._waiting += files
        self._then = then or self._then
        if not self._aside.is_busy:
            self._next(self._desk.folder)

    def give_up(self) -> None:
        """Open no more of what waits: the desk was given another job."""
        self._waiting.clear()
        self._then = None
        self._aside.cancel()

    def close(self) -> None:
        """Give up, and wait for the worker to stop."""
        self.give_up()
        self._aside.close()

    def _next(self, folder: JobFolder | None) -> None:
        if not self._waiting:
            then, self._then = self._then, None
            if then is not None:
                then()
            return
        path, stage = self._waiting.pop(0)

        def done(opened: Opened) -> None:
            self._desk.take_opened(opened)
            self.opened.emit(path, self._then is None)
            self._next(self._desk.folder)

        def failed(error: Exception) -> None:
            self.failed.emit(error)
            self._next(self._desk.folder)

        self._aside.run(lambda progress: opened_file(folder, path, progress, stage=stage), done, failed)
