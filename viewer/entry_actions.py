"""What can be done to an entry of the library: edit, further captures, to the bin and back; each can be taken back."""

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QMenu, QPushButton, QWidget

from loomlight.signal.entry import Entry
from loomlight.signal.progress import Progress
from loomlight.storage.library_bin import Binned
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Choice
from loomlight.viewer.desk import Desk
from loomlight.viewer.entry_dialog import EntryDialog
from loomlight.viewer.library_list import Row


class EntryActions(QObject):
    """Asks, changes aside, tells what was done and offers to take it back."""

    failed = Signal(object)
    said = Signal(str)
    offered = Signal(str, str, object)

    def __init__(self, desk: Desk, page: QWidget) -> None:
        super().__init__(page)
        self._desk, self._page = desk, page
        self._changing = Aside(self)

    def _changed(
        self, work: Callable[[Progress], object], told: str, *, undo: Callable[[], None] | None = None
    ) -> None:
        """Change something aside, tell it, and have the library looked at again."""

        def done(_result: object) -> None:
            if undo is not None:
                self.offered.emit(told, "Undo", undo)
            else:
                self.said.emit(told)
            self._desk.library_changed.emit()

        self._changing.run(work, done, self.failed.emit)

    def edit(self, entry: Entry) -> None:
        """Ask what is to be changed, and change it."""
        library = self._desk.library
        dialog = EntryDialog(entry, self._page)
        values = dialog.values() if dialog.exec() == EntryDialog.DialogCode.Accepted else {}
        dialog.deleteLater()
        if values:
            told = f"“{entry.title}” was changed."
            back = partial(self._changed, lambda progress: library.undo(entry), f"“{entry.title}” is as it was.")
            self._changed(lambda progress: library.edit(entry, values), told, undo=back)

    def ask_capture(self, entry: Entry, button: QPushButton) -> None:
        """Offer the open channels as a further capture of an entry, under a button."""
        opened = [one for one in self._desk.choices() if not one.entry_id and one.capture is not None]
        if not opened:
            self.said.emit("Open the further capture on the Captures page first; then it can be chosen here.")
            return
        menu = QMenu(self._page)
        for choice in opened:
            menu.addAction(choice.label, partial(self.add_capture, entry, choice))
        menu.exec(button.mapToGlobal(button.rect().bottomLeft()))

    def add_capture(self, entry: Entry, choice: Choice) -> None:
        """Keep an open channel as a further capture of an entry."""
        library, capture = self._desk.library, choice.capture
        if capture is not None:
            told = f"“{entry.title}” has one more capture. It widens the envelope once you confirm it."
            self._changed(
                lambda progress: library.add_capture(entry, capture, choice.channel.name, progress=progress), told
            )

    def confirm(self, entry: Entry) -> None:
        """Say that an entry's newest capture may widen its envelope."""
        library, place = self._desk.library, len(entry.more) - 1
        if place >= 0:
            back = partial(
                self._changed,
                lambda progress: library.confirm(entry, place, confirmed=False),
                "The newest capture is no longer confirmed.",
            )
            told = "The newest capture is confirmed."
            self._changed(lambda progress: library.confirm(entry, place), told, undo=back)

    def delete(self, entry: Entry) -> None:
        """Move an entry to the bin."""
        library = self._desk.library

        def done(gone: Binned) -> None:
            back = partial(
                self._changed, lambda progress: library.restore(gone), f"“{entry.title}” is back in the library."
            )
            self.offered.emit(f"“{entry.title}” is in the bin, and kept there for 30 days.", "Undo", back)
            self._desk.library_changed.emit()

        self._changing.run(lambda progress: library.delete(entry), done, self.failed.emit)

    def restore(self, row: Row) -> None:
        """Bring an entry back from the bin."""
        library, one = self._desk.library, row.binned
        if one is not None:
            self._changed(lambda progress: library.restore(one), f"“{row.entry.title}” is back in the library.")

    def keep_copy(self, row: Row) -> None:
        """Put another state of an entry in its place."""
        library, listed = self._desk.library, row.listed
        if listed is not None:
            self._changed(lambda progress: library.keep_copy(listed), "Kept; the other state is in the bin.")

    def add_starter(self) -> None:
        """Add the simulated entries, because they were asked for."""
        library = self._desk.library
        told = "Simulated entries were added; each is marked so."

        def work(progress: Progress) -> object:
            from loomlight.sample_captures.starter import add_starter

            return add_starter(library, progress)

        self._changed(work, told)

    def close_work(self) -> None:
        """Wait for what is being changed."""
        self._changing.finish()
