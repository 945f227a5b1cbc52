"""A channel kept in the library, once the user has said what it was taken from."""

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Choice
from loomlight.viewer.desk import Desk
from loomlight.viewer.settings import Settings


class LibraryKeeping(QObject):
    """Asks, and writes aside."""

    said = Signal(str)
    failed = Signal(object)

    def __init__(self, desk: Desk, settings: Settings, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk, self._settings, self._window = desk, settings, parent
        self._keeping = Aside(self)

    def ask(self, choice: Choice | None) -> None:
        """Ask for what is not known, and keep one channel as a known-good."""
        if choice is None:
            return
        from loomlight.viewer.keep_dialog import KeepDialog
        from loomlight.viewer.keeping import known_before, to_remember

        if self._keeping.is_busy:
            self.said.emit("The waveform before is still being kept. Press again in a moment.")
            return
        opened, library = self._desk.opened_of(choice), self._desk.library
        if opened is None:
            self.said.emit(f"“{choice.file}” is in the library already.")
            return
        known = known_before(self._desk.chosen.ask.kind, self._desk.job, self._settings.kept_last)
        dialog = KeepDialog(choice, known, self._window)
        is_agreed = dialog.exec() == KeepDialog.DialogCode.Accepted
        entry = dialog.entry() if is_agreed else known
        dialog.deleteLater()
        if not is_agreed:
            return
        self._settings.kept_last = to_remember(entry)

        def done(_kept: object) -> None:
            self._desk.library_changed.emit()
            self.said.emit(f"“{entry.title}” is in the library now.")

        self._keeping.run(
            lambda progress: library.add(opened.capture, choice.channel.name, entry, progress=progress),
            done,
            self.failed.emit,
        )

    def close_work(self) -> None:
        """Wait for what is being kept: it must not be lost."""
        self._keeping.finish()
