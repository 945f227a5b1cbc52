"""Where snapshots go: into the job at once, or to a file of the user's choice; painted beside the window."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QDialog, QFileDialog, QWidget

from loomlight.storage.places import file_name
from loomlight.viewer.aside import Aside

if TYPE_CHECKING:
    from loomlight.viewer.desk import Desk
    from loomlight.viewer.snapshot import PictureSize, Snapshot

FILTERS = "Pictures (*.png);;Drawings (*.svg)"
ENDINGS = (".png", ".svg")


class SnapshotKeeping(QObject):
    """Paints and writes one snapshot after the other."""

    said = Signal(str)
    failed = Signal(object)
    kept = Signal(str)

    def __init__(self, desk: Desk, window: QWidget) -> None:
        super().__init__(window)
        self._desk, self._window = desk, window
        self._painting = Aside(self)

    def keep(self, name: str, snapshot: Snapshot) -> None:
        """Into the job, at print resolution; to a file where no job is open."""
        from loomlight.viewer.snapshot import PRINT, as_png

        folder = self._desk.folder
        if self._is_busy():
            return
        if folder is None:
            self._to_file(name, snapshot, PRINT)
            return

        def done(saved: str) -> None:
            self._desk.job_changed.emit()
            self.kept.emit(saved)

        self._painting.run(lambda _progress: folder.add_snapshot(name, as_png(snapshot, PRINT)), done, self.failed.emit)

    def export(self, name: str, snapshot: Snapshot) -> None:
        """To a file, in a size of the user's choice."""
        from loomlight.viewer.picture_dialog import PictureDialog

        if self._is_busy():
            return
        dialog = PictureDialog(self._window)
        size = dialog.size_wanted() if dialog.exec() == QDialog.DialogCode.Accepted else None
        if size is not None:
            self._to_file(name, snapshot, size)

    def _to_file(self, name: str, snapshot: Snapshot, size: PictureSize) -> None:
        start = str(Path.home() / f"{file_name(name)}.png")
        chosen, kind = QFileDialog.getSaveFileName(self._window, "Save picture", start, FILTERS)
        if not chosen:
            return
        path = Path(chosen)
        if path.suffix.lower() not in ENDINGS:
            path = path.with_name(path.name + (".svg" if "svg" in kind else ".png"))
        from loomlight.viewer.snapshot import save_picture

        self._painting.run(
            lambda _progress: save_picture(path, snapshot, size),
            lambda _none: self.said.emit(f"Saved as {path}."),
            self.failed.emit,
        )

    def _is_busy(self) -> bool:
        if self._painting.is_busy:
            self.said.emit("The picture before is still being drawn. Press again in a moment.")
        return self._painting.is_busy

    def close_work(self) -> None:
        """Let the picture at hand be finished: nothing that was taken is lost."""
        self._painting.finish()
