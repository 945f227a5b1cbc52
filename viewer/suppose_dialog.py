"""Suppose a fault: what would the wire look like with it?"""

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QLineEdit, QVBoxLayout, QWidget

from loomlight.signal.job_records import MeterReading
from loomlight.signal.quantity import in_words
from loomlight.signal.supposal import Supposal, SupposedFault, Supposer
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.form_rows import FormRows
from loomlight.viewer.looks import in_letters

EXPLAINED = (
    "What the known-good carries is sent once more through a model of the circuit with this fault; the result is drawn under the "
    "capture. It shows what kind of picture a fault makes, not this vehicle's last detail."
)
BEYOND_WORDS = Supposer.beyond_words
SIZES = {"Ω": "Resistance", "V": "Voltage", "s": "Time", "F": "Capacitance", "%": "Share"}


class SupposeDialog(QDialog):
    """Kind, size, and who sits behind it."""

    def __init__(
        self,
        faults: tuple[Supposal, ...],
        talkers: tuple[str, ...],
        ohm: float | None,
        parent: QWidget | None = None,
        beyond_words: tuple[str, str] = BEYOND_WORDS,
    ) -> None:
        super().__init__(parent)
        self._faults, self._ohm = faults, ohm
        self.setWindowTitle("Suppose a fault")
        self.setMinimumWidth(in_letters(520))
        self.kind = ChoiceBox()
        for one in faults:
            self.kind.addItem(one.name, one)
        self.size_box = QLineEdit()
        self.size_label = QLabel()
        self.beyond = ChoiceBox()
        self.beyond.addItem(beyond_words[1], "")
        for talker in talkers:
            self.beyond.addItem(talker, talker)
        self.problem = QLabel()
        self.problem.setWordWrap(True)
        explained = QLabel(EXPLAINED)
        explained.setWordWrap(True)
        self._form = form = FormRows()
        for label, field in (("Fault", self.kind), ("", self.size_box), (beyond_words[0], self.beyond)):
            field.setAccessibleName(label)
            form.addRow(QLabel(label) if label else self.size_label, field)
        form.setRowVisible(self.beyond, bool(talkers))
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        self.show_button = buttons.button(QDialogButtonBox.StandardButton.Ok)
        self.show_button.setText("Show it")
        self.show_button.setObjectName("main")
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(explained)
        column.addLayout(form)
        column.addWidget(self.problem)
        column.addWidget(buttons)
        self.kind.activated.connect(self._renew)
        self.size_box.textChanged.connect(self._check)
        self._renew()

    def fault(self) -> SupposedFault | None:
        """What was chosen; None while the size is no number above 0."""
        chosen: Supposal = self.kind.currentData()
        beyond = (str(self.beyond.currentData()),) if self.beyond.currentData() else ()
        if not chosen.unit:
            return SupposedFault(chosen.name, beyond=beyond)
        size = quantity_in(self.size_box.text(), chosen.unit)
        return SupposedFault(chosen.name, size, beyond, chosen.unit) if size is not None and size > 0 else None

    def _renew(self) -> None:
        """Another fault: its unit, and a size to begin with."""
        chosen: Supposal = self.kind.currentData()
        what = SIZES.get(chosen.unit, "Size")
        self.size_label.setText(f"{what}, {chosen.unit}" if chosen.unit else what)
        self._form.setRowVisible(self.size_box, bool(chosen.unit))
        self.size_box.setAccessibleName(what)
        self.size_box.setToolTip(f"{chosen.unit}; k and M are understood: 2.2 k")
        begin = self._ohm if chosen.name == "series resistance" and self._ohm else chosen.usual
        shown = in_words(begin, chosen.unit).removesuffix(chosen.unit).strip() if chosen.unit and begin else ""
        self.size_box.setText(shown)
        self._check()

    def _check(self) -> None:
        fault = self.fault()
        self.show_button.setEnabled(fault is not None)
        unit = self.kind.currentData().unit
        self.problem.setText("" if fault is not None else f"Give a number of {unit} above 0: 2200, or 2.2 k.")


def quantity_in(text: str, unit: str) -> float | None:
    """A quantity as typed, in the base unit: ``2200``, ``2,2 k``, ``1 MΩ``; None where it is no number."""
    plain = text.removesuffix(unit).strip()
    prefix = plain[-1:] if plain[-1:] in ("k", "M", "m", "µ", "n") else ""
    quantity = MeterReading("", plain.removesuffix(prefix), f"{prefix}{unit}").quantity
    return quantity[0] if quantity is not None else None
