"""Ask what is not known yet about a waveform that is to be kept as a known-good."""

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QFormLayout, QLineEdit, QVBoxLayout, QWidget

from loomlight.signal.entry import Entry
from loomlight.signal.kinds.listing import KINDS
from loomlight.viewer.choice import Choice
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.looks import in_letters

FIELDS = (
    ("title", "Title", "What the waveform is, in a few words"),
    ("vehicle", "Vehicle", "Model, year, engine"),
    ("component", "Component", "The node or part that was probed"),
    ("connector", "Connector", ""),
    ("pin", "Pin", ""),
    ("note", "Note", "Conditions: ignition on, idle, warm, load"),
)


class KeepDialog(QDialog):
    """Title and kind; the rest where it is known."""

    def __init__(self, choice: Choice, kind: str, vehicle: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keep as a known-good waveform")
        self.setMinimumWidth(in_letters(560))
        self._fields = {name: QLineEdit() for name, _, _ in FIELDS}
        self._fields["title"].setText(choice.channel.name)
        self._fields["vehicle"].setText(vehicle)
        self._kind = ChoiceBox()
        self._kind.setAccessibleName("Signal kind")
        for one in KINDS:
            self._kind.addItem(one.title, one.key)
        self._kind.setCurrentIndex(max(self._kind.findData(kind), 0))
        form = QFormLayout()
        for name, label, hint in FIELDS:
            self._fields[name].setPlaceholderText(hint)
            self._fields[name].setAccessibleName(label)
            form.addRow(label, self._fields[name])
            if name == "title":
                form.addRow("Signal kind", self._kind)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Save | QDialogButtonBox.StandardButton.Cancel)
        save = buttons.button(QDialogButtonBox.StandardButton.Save)
        save.setText("Keep")
        save.setObjectName("main")
        self._fields["title"].textChanged.connect(lambda text: save.setEnabled(bool(text.strip())))
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addLayout(form)
        column.addWidget(buttons)
        self._fields["title"].selectAll()

    def entry(self) -> Entry:
        """What was typed."""
        values = {name: field.text().strip() for name, field in self._fields.items()}
        return Entry(id="", kind=str(self._kind.currentData()), channel="", **values)
