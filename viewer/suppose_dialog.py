"""Suppose a fault: what would the wire look like with it?"""

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QFormLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from loomlight.signal.job_records import MeterReading
from loomlight.signal.quantity import in_words
from loomlight.signal.supposed import KINDS, FaultKind, SupposedFault
from loomlight.viewer.choice_box import ChoiceBox

EXPLAINED = (
    "The known-good's frames are sent once more through a model of the bus with this fault; the result is drawn under the "
    "capture. It shows what kind of picture a fault makes, not this vehicle's last detail."
)
NONE_BEYOND = "none: everyone on the known-good's side"
USUAL_OHM = 2200.0


class SupposeDialog(QDialog):
    """Kind, resistance, and who sits behind it."""

    def __init__(self, talkers: tuple[str, ...], ohm: float | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Suppose a fault")
        self.setMinimumWidth(520)
        self.kind = ChoiceBox()
        for kind in KINDS:
            self.kind.addItem(kind, kind)
        self.ohm = QLineEdit(in_words(ohm or USUAL_OHM, "Ω").removesuffix("Ω").strip())
        self.ohm.setAccessibleName("Resistance")
        self.ohm.setToolTip("Ω; k and M are understood: 2.2 k")
        self.beyond = ChoiceBox()
        self.beyond.addItem(NONE_BEYOND, "")
        for talker in talkers:
            self.beyond.addItem(talker, talker)
        self.problem = QLabel()
        self.problem.setWordWrap(True)
        explained = QLabel(EXPLAINED)
        explained.setWordWrap(True)
        form = QFormLayout()
        for label, field in (("Fault", self.kind), ("Resistance, Ω", self.ohm), ("Behind the fault", self.beyond)):
            field.setAccessibleName(label)
            form.addRow(QLabel(label), field)
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
        self.kind.activated.connect(self._check)
        self.ohm.textChanged.connect(self._check)
        self._check()

    def fault(self) -> SupposedFault | None:
        """What was chosen; None while the resistance is no number above 0."""
        kind: FaultKind = next(one for one in KINDS if one == self.kind.currentData())
        beyond = (str(self.beyond.currentData()),) if self.beyond.currentData() else ()
        if kind == "open":
            return SupposedFault(kind, beyond=beyond)
        ohm = ohms_in(self.ohm.text())
        return SupposedFault(kind, ohm, beyond) if ohm is not None and ohm > 0 else None

    def _check(self) -> None:
        self.ohm.setEnabled(self.kind.currentData() != "open")
        fault = self.fault()
        self.show_button.setEnabled(fault is not None)
        self.problem.setText("" if fault is not None else "Give a resistance above 0 Ω: 2200, or 2.2 k.")


def ohms_in(text: str) -> float | None:
    """Ohms as typed: ``2200``, ``2,2 k``, ``1 MΩ``; None where it is no number."""
    plain = text.replace("Ω", "").strip()
    prefix = plain[-1:] if plain[-1:] in ("k", "M") else ""
    quantity = MeterReading("", plain.removesuffix(prefix), f"{prefix}Ω").quantity
    return quantity[0] if quantity is not None else None
