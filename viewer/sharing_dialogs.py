"""What is asked before entries leave the library, or others come in."""

from collections.abc import Sequence

from PySide6.QtWidgets import (
    QButtonGroup,
    QDialog,
    QDialogButtonBox,
    QLabel,
    QListWidget,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from loomlight.storage.library_import import Incoming, WithDifferent
from loomlight.viewer.entry_words import LABELS
from loomlight.viewer.looks import in_letters
from loomlight.viewer.tick_button import TickButton

CHOICES: tuple[tuple[WithDifferent, str], ...] = (
    ("keep", "keep this one here"),
    ("take", "take theirs; this one goes to the bin"),
    ("both", "have both"),
)
PRIVATE = (
    "With personal data",
    "VIN, owner, serials, who judged it, names of files, history: all that is left out unless this is ticked",
)
STATES = ("new", "different", "same", "refused")


class ExportDialog(QDialog):
    """Asks whether personal data are to go with so many entries.

    Parameters
    ----------
    count : int
        How many entries are to be exported.
    """

    def __init__(self, count: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Export")
        self.private = TickButton(*PRIVATE)
        left_out = QLabel("Personal data: VIN, owner, serials, who judged it, names of files, history.")
        left_out.setWordWrap(True)
        told = QLabel(f"{count} {'entry' if count == 1 else 'entries'} in one zip file.")
        _laid(self, (told, self.private, left_out), "Choose the place …")
        self.setMinimumWidth(in_letters(420))


class ImportDialog(QDialog):
    """Shows what would come, and asks what becomes of entries that stand here in another state.

    Parameters
    ----------
    incoming : sequence of Incoming
        What was found; nothing of it was taken yet.
    """

    def __init__(self, incoming: Sequence[Incoming], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Import")
        self.resize(in_letters(760), 520)
        counts = ", ".join(f"{sum(one.state == state for one in incoming)} {state}" for state in STATES)
        listed = QListWidget()
        listed.setAccessibleName("What would come")
        listed.setWordWrap(True)
        for state in STATES:
            listed.addItems([incoming_line(one) for one in incoming if one.state == state])
        parts: list[QWidget] = [QLabel(f"Nothing was taken yet: {counts}."), listed]
        self._group = QButtonGroup(self)
        if any(one.state == "different" for one in incoming):
            parts.append(QLabel("Where an entry stands here in another state:"))
            for number, (_key, text) in enumerate(CHOICES):
                choice = QRadioButton(text)
                self._group.addButton(choice, number)
                parts.append(choice)
            self._group.button(0).setChecked(True)
        _laid(self, parts, "Take them")

    def different(self) -> WithDifferent:
        """What becomes of those that stand here in another state."""
        return CHOICES[max(self._group.checkedId(), 0)][0]


def incoming_line(one: Incoming) -> str:
    """One entry that could be taken, in words."""
    title = one.entry.title if one.entry is not None else one.path.name
    fields = ", ".join(LABELS.get(name, name).lower() for name in one.fields)
    return f"{one.state}:  {title}{f'  ({fields})' if fields else ''}{f'  – {one.note}' if one.note else ''}"


def _laid(dialog: QDialog, parts: Sequence[QWidget], agree: str) -> None:
    """One under the other, with the button that agrees and the one that leaves."""
    column = QVBoxLayout(dialog)
    for one in parts:
        column.addWidget(one)
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
    buttons.button(QDialogButtonBox.StandardButton.Ok).setText(agree)
    buttons.button(QDialogButtonBox.StandardButton.Ok).setObjectName("main")
    buttons.accepted.connect(dialog.accept)
    buttons.rejected.connect(dialog.reject)
    column.addWidget(buttons)
