"""Files that are chosen, dropped on the window or named: captures, jobs, and snapshots that tell what they show."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QUrl, Signal
from PySide6.QtGui import QDesktopServices, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QFileDialog, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.window_pages import CAPTURES, PROOF

if TYPE_CHECKING:
    from loomlight.viewer.desk import Desk
    from loomlight.viewer.opening import Opening
    from loomlight.viewer.settings import Settings


class FileActions(QObject):
    """Has files opened, and says which page shows them.

    `snapshot_read` comes with what a snapshot shows, once the desk holds its channels.
    """

    said = Signal(str)
    failed = Signal(object)
    page_wanted = Signal(int)
    job_wanted = Signal(object)
    snapshot_read = Signal(object)

    def __init__(self, desk: Desk, opening: Opening, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._desk, self._opening, self._settings, self._window = desk, opening, settings, window
        opening.opened.connect(self._show_opened)
        opening.failed.connect(self.failed)

    # Choosing

    def ask(self) -> None:
        """Let the user choose captures."""
        from loomlight.viewer.capture_files import FILTER

        names, _ = QFileDialog.getOpenFileNames(self._window, "Open captures", "", FILTER)
        self.open([Path(name) for name in names])

    def ask_after(self) -> None:
        """Let the user choose the capture after the repair."""
        from loomlight.viewer.capture_files import FILTER

        name, _ = QFileDialog.getOpenFileName(self._window, "Open the capture after the repair", "", FILTER)
        if name:
            self._opening.add([(Path(name), "after repair")], then=lambda: self.page_wanted.emit(PROOF))

    # Opening

    def open(self, paths: Sequence[Path], *, then: Callable[[], None] | None = None) -> None:
        """Open captures one after the other, aside."""
        self._opening.add([(path, "other") for path in paths], then=then)

    def stop(self) -> None:
        """Open no more of what waits to be read."""
        self._opening.give_up()
        self.said.emit("Reading was given up; what was open already is still there.")

    def open_snapshot(self, path: Path) -> None:
        """Bring back what a snapshot shows; a picture that does not tell is opened as a picture."""
        from loomlight.viewer.snapshot_view import choose_as_seen, seen_view

        try:
            seen = seen_view(path)
            if seen is None:
                QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))
                return
            choose_as_seen(self._desk, seen)
        except LoomlightError as error:
            self.failed.emit(error)
            return
        self.snapshot_read.emit(seen)

    def _show_opened(self, path: Path, on_its_own: bool) -> None:
        if on_its_own:
            self._settings.remember(path)
            self.page_wanted.emit(CAPTURES)

    # Dropping

    def drag(self, event: QDragEnterEvent) -> None:
        """Something is held over the window: it takes files."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def drop(self, event: QDropEvent) -> None:
        """Something was let go over the window."""
        event.acceptProposedAction()
        self.take_dropped([Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()])

    def take_dropped(self, paths: list[Path]) -> None:
        """Open a job, captures (single files, or all of a folder's), or bring back what a snapshot shows."""
        from loomlight.viewer.capture_files import dropped
        from loomlight.viewer.snapshot_view import seen_view

        snapshots = [one for one in paths if one.suffix.lower() == ".png" and one.is_file() and seen_view(one)]
        if snapshots:
            self.open_snapshot(snapshots[-1])
            return
        found = dropped(paths)
        if found.job is not None:
            self.job_wanted.emit(found.job)
        self.open(list(found.captures))
        if found.empty and not found.captures and found.job is None:
            self.said.emit(
                f"{found.empty[0].name} holds no captures. Drop the files themselves, or the folder they are in."
            )
        elif not paths:
            self.said.emit("What was dropped is no file on this computer. Save it first, then open it.")
