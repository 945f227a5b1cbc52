"""Export, import and check from the Library page."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QDialog, QFileDialog, QMenu, QPushButton, QWidget

from loomlight.signal.entry import Entry
from loomlight.signal.progress import Progress, part
from loomlight.storage.library_export import Exported, export
from loomlight.storage.library_import import Incoming, Taken, WithDifferent, arriving, take
from loomlight.storage.library_verify import Verification, verify
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk
from loomlight.viewer.sharing_dialogs import ExportDialog, ImportDialog


class LibrarySharing(QObject):
    """Asks for places, works aside, tells what became of it."""

    failed = Signal(object)
    said = Signal(str)
    progressed = Signal(float)
    busy_changed = Signal(bool)

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk, self._page = desk, parent
        self._work = Aside(self)
        self._work.busy_changed.connect(self.busy_changed)
        self._work.progressed.connect(lambda _ticket, share: self.progressed.emit(share))

    def ask(self, button: QPushButton, entry: Entry | None, shown: Sequence[Entry]) -> None:
        """Offer what can be done, under a button."""
        menu = QMenu(self._page)
        if entry is not None:
            menu.addAction(f"Export “{entry.title}” …", partial(self.ask_export, (entry,)))
        if shown:
            menu.addAction(f"Export the {len(shown)} that are listed …", partial(self.ask_export, tuple(shown)))
        menu.addAction("Import a zip file …", self.ask_zip)
        menu.addAction("Import another library's folder …", self.ask_folder)
        menu.addAction("Check all entries", self.check)
        menu.exec(button.mapToGlobal(button.rect().topLeft()))

    # Export

    def ask_export(self, entries: tuple[Entry, ...]) -> None:
        """Ask where to and whether with personal data."""
        dialog = ExportDialog(len(entries), self._page)
        agreed = dialog.exec() == QDialog.DialogCode.Accepted
        dialog.deleteLater()
        if not agreed:
            return
        name, _ = QFileDialog.getSaveFileName(self._page, "Export to", "waveforms.zip", "Zip files (*.zip)")
        if name:
            path = Path(name if name.lower().endswith(".zip") else f"{name}.zip")
            self.export(entries, path, private=dialog.private.isChecked())

    def export(self, entries: tuple[Entry, ...], path: Path, *, private: bool) -> None:
        """Write the zip file, aside."""
        library = self._desk.library

        def done(made: Exported) -> None:
            self.said.emit(
                f"{len(made.entries)} exported to {made.path}.{'' if private else ' Personal data left out.'}"
            )

        self._work.run(
            lambda progress: export(library, entries, path, private=private, progress=progress), done, self.failed.emit
        )

    # Import

    def ask_zip(self) -> None:
        """Ask for a zip file, and show what it would bring."""
        name, _ = QFileDialog.getOpenFileName(self._page, "Import", "", "Zip files (*.zip)")
        if name:
            self.look(Path(name))

    def ask_folder(self) -> None:
        """Ask for another library's folder, and show what it would bring."""
        name = QFileDialog.getExistingDirectory(self._page, "Import another library's folder")
        if name:
            self.look(Path(name))

    def look(self, source: Path) -> None:
        """Look at what would come, aside; then ask."""
        library = self._desk.library

        def work(progress: Progress) -> tuple[Incoming, ...]:
            with arriving(library, source, progress) as incoming:
                return incoming

        self._work.run(work, partial(self._ask_take, source), self.failed.emit)

    def _ask_take(self, source: Path, incoming: tuple[Incoming, ...]) -> None:
        different = ask_take(self._page, incoming)
        if different is not None:
            self.take(source, different)

    def take(self, source: Path, different: WithDifferent) -> None:
        """Take what is new, and what is different as was said; aside."""
        library = self._desk.library

        def work(progress: Progress) -> Taken:
            with arriving(library, source, part(progress, 0.0, 0.5)) as incoming:
                return take(library, incoming, different=different, progress=part(progress, 0.5, 1.0))

        def done(taken: Taken) -> None:
            self.said.emit(
                f"{taken.new} new, {taken.replaced} replaced, {taken.beside} put beside, {taken.left} left as it was."
            )
            self._desk.library_changed.emit()

        self._work.run(work, done, self.failed.emit)

    # Checking

    def check(self) -> None:
        """Check every file, aside."""
        library = self._desk.library
        self._work.run(lambda progress: verify(library, progress), self._tell_check, self.failed.emit)

    def _tell_check(self, found: Verification) -> None:
        wrong = "; ".join(f"{one.title}: {one.state}, {one.note}" for one in found.wrong[:5])
        sound = len(found.files) - len(found.wrong)
        self.said.emit(f"{sound} of {len(found.files)} files can be relied on. {wrong}".strip())
        self._desk.library_changed.emit()

    def close_work(self) -> None:
        """Wait for what is being written."""
        self._work.finish()


def ask_take(parent: QWidget, incoming: Sequence[Incoming]) -> WithDifferent | None:
    """Show what is new, the same, different or refused; what to do with the different ones, or None."""
    dialog = ImportDialog(incoming, parent)
    agreed = dialog.exec() == QDialog.DialogCode.Accepted
    dialog.deleteLater()
    return dialog.different() if agreed else None
