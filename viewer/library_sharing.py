"""Export, import and check from the Library page."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QLabel,
    QListWidget,
    QMenu,
    QPushButton,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.entry import Entry
from loomlight.signal.progress import Progress, part
from loomlight.storage.library_export import Exported, export
from loomlight.storage.library_import import Incoming, Taken, WithDifferent, arriving, take
from loomlight.storage.library_verify import Verification, verify
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk
from loomlight.viewer.entry_words import LABELS

CHOICES: tuple[tuple[WithDifferent, str], ...] = (
    ("keep", "keep this one here"),
    ("take", "take theirs; this one goes to the bin"),
    ("both", "have both"),
)
PRIVATE = "With personal data: VIN, owner, serials, who judged it, names of files, history"


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
        dialog = QDialog(self._page)
        dialog.setWindowTitle("Export")
        private = QCheckBox(PRIVATE)
        count = f"{len(entries)} {'entry' if len(entries) == 1 else 'entries'} in one zip file."
        if not _agreed(dialog, [QLabel(count), private], "Choose the place …"):
            return
        name, _ = QFileDialog.getSaveFileName(self._page, "Export to", "waveforms.zip", "Zip files (*.zip)")
        if name:
            path = Path(name if name.lower().endswith(".zip") else f"{name}.zip")
            self.export(entries, path, private=private.isChecked())

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
    dialog = QDialog(parent)
    dialog.setWindowTitle("Import")
    dialog.resize(760, 520)
    states = ("new", "different", "same", "refused")
    counts = ", ".join(f"{sum(one.state == state for one in incoming)} {state}" for state in states)
    listed = QListWidget()
    listed.setAccessibleName("What would come")
    for state in states:
        listed.addItems([incoming_line(one) for one in incoming if one.state == state])
    choices, group = [], QButtonGroup(dialog)
    if any(one.state == "different" for one in incoming):
        choices.append(QLabel("Where an entry stands here in another state:"))
        for number, (_key, text) in enumerate(CHOICES):
            choice = QRadioButton(text)
            group.addButton(choice, number)
            choices.append(choice)  # type: ignore[arg-type]
        group.button(0).setChecked(True)
    agreed = _agreed(dialog, [QLabel(f"Nothing was taken yet: {counts}."), listed, *choices], "Take them")
    return CHOICES[max(group.checkedId(), 0)][0] if agreed else None


def incoming_line(one: Incoming) -> str:
    """One entry that could be taken, in words."""
    title = one.entry.title if one.entry is not None else one.path.name
    fields = ", ".join(LABELS.get(name, name).lower() for name in one.fields)
    return f"{one.state}:  {title}{f'  ({fields})' if fields else ''}{f'  – {one.note}' if one.note else ''}"


def _agreed(dialog: QDialog, parts: Sequence[QWidget], agree: str) -> bool:
    column = QVBoxLayout(dialog)
    for one in parts:
        column.addWidget(one)
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
    buttons.button(QDialogButtonBox.StandardButton.Ok).setText(agree)
    buttons.button(QDialogButtonBox.StandardButton.Ok).setObjectName("main")
    buttons.accepted.connect(dialog.accept)
    buttons.rejected.connect(dialog.reject)
    column.addWidget(buttons)
    agreed = dialog.exec() == QDialog.DialogCode.Accepted
    dialog.deleteLater()
    return agreed
