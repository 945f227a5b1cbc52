"""Jobs made, chosen and opened: each begins on an empty desk."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.storage.places import file_name, jobs_folder, unused
from loomlight.viewer.aside import Aside
from loomlight.viewer.tidying import tidy

if TYPE_CHECKING:
    from loomlight.signal.progress import Progress
    from loomlight.storage.job_folder import JobFolder
    from loomlight.storage.library import Library
    from loomlight.viewer.desk import Desk
    from loomlight.viewer.opening import Opening


class JobActions(QObject):
    """Puts jobs on the desk. `leaving` is sent while the job before still lies there."""

    said = Signal(str)
    failed = Signal(object)
    leaving = Signal()
    taken = Signal(str)
    page_wanted = Signal()
    compare_wanted = Signal()

    def __init__(self, desk: Desk, opening: Opening, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk, self._opening, self._window = desk, opening, parent
        self._copying = Aside(self)

    def new_job(self) -> None:
        """Make a job from its title and vehicle; the rest when there is time."""
        from loomlight.viewer.new_job_dialog import NewJobDialog

        dialog = NewJobDialog(self._window)
        if dialog.exec() == NewJobDialog.DialogCode.Accepted:
            title = dialog.title.text()
            self.make_job(unused(jobs_folder() / file_name(title)), title, vehicle=dialog.vehicle.text())

    def make_job(self, path: Path, title: str, *, vehicle: str = "") -> None:
        """Make a job in a new folder; captures that were opened without a job are copied into it."""
        from loomlight.storage.job_folder import JobFolder
        from loomlight.viewer.loose_captures import loose_of

        loose = loose_of(self._desk) if self._desk.folder is None else None
        try:
            folder = JobFolder.create(path, title=title, vehicle=vehicle)
        except LoomlightError as error:
            self.failed.emit(error)
            return
        self._take_job(folder)
        self.page_wanted.emit()
        if loose is None:
            return

        def again() -> None:
            try:
                loose.choose_again(self._desk)
            except LoomlightError as error:
                self.failed.emit(error)
            if loose.was_compared:
                self.compare_wanted.emit()

        self._opening.add(list(loose.files), then=again)

    def ask_job(self) -> None:
        """Let the user choose from all jobs."""
        from loomlight.viewer.jobs_dialog import JobsDialog

        own = self._desk.folder.path.parent if self._desk.folder is not None else jobs_folder()
        dialog = JobsDialog(tuple(dict.fromkeys((jobs_folder(), own))), self._window)
        if dialog.exec() == JobsDialog.DialogCode.Accepted and dialog.chosen is not None:
            self.open_job(dialog.chosen)

    def open_job(self, path: Path, *, library: Library | None = None, then: Callable[[], None] | None = None) -> None:
        """Open a job with its captures; the sample job brings a library of its own."""
        from loomlight.storage.job_folder import JobFolder

        try:
            folder = JobFolder.open(path)
        except LoomlightError as error:
            self.failed.emit(error)
            return
        self._take_job(folder, library)
        paths = [folder.capture_path(one) for one in folder.job.captures if not one.part_of]
        self._opening.add([(one, "other") for one in paths], then=then or self.page_wanted.emit)

    def open_sample(self, *, then: Callable[[], None]) -> None:
        """Open a fresh copy of the sample job, with the library that it brings."""

        def work(_progress: Progress) -> tuple[Path, Library]:
            from loomlight.storage.library import Library
            from loomlight.viewer.demo import make_demo

            job, library = make_demo()
            return job, Library(library)

        def done(made: tuple[Path, Library]) -> None:
            self.open_job(made[0], library=made[1], then=then)

        self._copying.run(work, done, self.failed.emit)

    def close_work(self) -> None:
        """Leave a copy that is being made."""
        self._copying.close()

    def _take_job(self, folder: JobFolder, library: Library | None = None) -> None:
        """Put a job on an empty desk; what belongs to the job before stays with that."""
        self._copying.cancel()
        self._desk.use_library(library)
        self.leaving.emit()
        self._opening.give_up()
        self._desk.clear()
        tidy()
        self._desk.take_job(folder)
        self.taken.emit(folder.job.title)
        self.said.emit(f"The job is kept in {folder.path}. It is saved by itself.")
        if folder.problem:
            self.failed.emit(LoomlightError(folder.problem))
