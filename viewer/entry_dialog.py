"""All that can be known about an entry, to be changed."""

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QLabel,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.entry import CONDITIONS, Entry, Value
from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import KINDS
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.entry_words import FIELDS, kind_title, typed_value, value_text
from loomlight.viewer.form_rows import FormRows
from loomlight.viewer.looks import in_letters

HINTS = {
    "vehicle": "In your own words, where make, model and year do not say it",
    "conditions": ", ".join(CONDITIONS),
    "probe_factor": "1, 10 … already in the samples",
    "tags": "Words of your own, with commas",
    "date": "2026-05-01",
    "ground": "Why it is known to be good: after the repair, a vehicle without the fault …",
    "recipe": "What to mind when it is captured again",
    "vin": "Stays here: left out of exports unless asked for",
    "owner": "Stays here: left out of exports unless asked for",
    "judged_by": "Stays here: left out of exports unless asked for",
    "instrument_serial": "Stays here: left out of exports unless asked for",
}


class EntryDialog(QDialog):
    """One line a field; what is changed can be taken back afterwards."""

    def __init__(self, entry: Entry, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("What is known about this waveform")
        self.resize(in_letters(720), in_letters(640))
        self._entry = entry
        self.lines: dict[str, QLineEdit] = {}
        self.kind = ChoiceBox()
        self.kind.setAccessibleName("Signal kind")
        for one in KINDS:
            self.kind.addItem(one.title, one.key)
        if self.kind.findData(entry.kind) < 0:
            self.kind.addItem(kind_title(entry.kind), entry.kind)
        self.kind.setCurrentIndex(self.kind.findData(entry.kind))
        inside = QWidget()
        form = FormRows(inside)
        for name, label in FIELDS:
            if name == "kind":
                form.addRow(label, self.kind)
                continue
            line = QLineEdit(value_text(name, getattr(entry, name)))
            line.setAccessibleName(label)
            line.setPlaceholderText(HINTS.get(name, ""))
            self.lines[name] = line
            form.addRow(label, line)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(inside)
        self._wrong = QLabel()
        self._wrong.setWordWrap(True)
        self._wrong.hide()
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Save | QDialogButtonBox.StandardButton.Cancel)
        self._save = buttons.button(QDialogButtonBox.StandardButton.Save)
        self._save.setObjectName("main")
        self.lines["title"].textChanged.connect(lambda text: self._save.setEnabled(bool(text.strip())))
        buttons.accepted.connect(self._agree)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(area, 1)
        column.addWidget(self._wrong)
        column.addWidget(buttons)

    def _agree(self) -> None:
        try:
            self.values()
        except LoomlightError as error:
            self._wrong.setText(f"✗  {error}")
            self._wrong.show()
            return
        self.accept()

    def values(self) -> dict[str, Value]:
        """What was changed, by field.

        Raises
        ------
        LoomlightError
            If a number was mistyped.
        """
        typed = {name: typed_value(name, line.text()) for name, line in self.lines.items()}
        typed["kind"] = str(self.kind.currentData())
        return {name: value for name, value in typed.items() if value != getattr(self._entry, name)}
