"""What can be done with the chosen entry: a button each, shown where it can be done."""

from PySide6.QtWidgets import QPushButton

from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.library_list import Row


class EntryButtons(FlowRow):
    """The row of buttons under an entry."""

    def __init__(self) -> None:
        super().__init__()
        self.use_button = self._add("Use as ● known-good", "Lay the suspect over this entry on the Compare page")
        self.use_button.setObjectName("main")
        self.beside_button = self._add("Compare …", "Lay another entry over this one: choose it in the list")
        self.beside_button.setCheckable(True)
        self.like_button = self._add("What is like …", "Find the entries that are most like a waveform")
        self.edit_button = self._add("Edit", "Change what is known about this entry")
        self.add_button = self._add("Add capture", "Keep a channel that is open as a further capture of it")
        self.confirm_button = self._add("Confirm", "Say that its newest capture may widen the envelope")
        self.keep_button = self._add("Keep this one", "Put this state in the place of the entry")
        self.restore_button = self._add("Bring back", "Take this entry out of the bin")
        self.delete_button = self._add("Delete", "Move this entry to the bin, where it is kept for 30 days")

    def _add(self, text: str, tip: str) -> QPushButton:
        button = QPushButton(text)
        button.setToolTip(tip)
        self.addWidget(button)
        return button

    def show_row(self, row: Row | None) -> None:
        """Show what can be done with an entry, or with none."""
        usable, deleted = row is not None and row.is_usable, row is not None and row.binned is not None
        copy = row is not None and row.listed is not None and bool(row.listed.copy_of)
        more = row.entry.more if row is not None and usable else ()
        self.use_button.setVisible(not deleted)
        self.use_button.setEnabled(usable)
        for one in (self.beside_button, self.like_button, self.edit_button, self.add_button):
            one.setVisible(usable)
        self.like_button.setVisible(not deleted)
        self.confirm_button.setVisible(bool(more) and not more[-1].confirmed)
        self.keep_button.setVisible(usable and copy)
        self.restore_button.setVisible(deleted)
        self.delete_button.setVisible(not deleted)
        self.delete_button.setEnabled(row is not None)
