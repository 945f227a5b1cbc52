"""Asks for the two ends of a lane's value axis."""

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QLineEdit, QVBoxLayout, QWidget

from loomlight.viewer.form_rows import FormRows
from loomlight.viewer.lanes.ticks import CHOSEN_PREFIXES
from loomlight.viewer.looks import in_letters


class BoundsDialog(QDialog):
    """Takes two numbers, decimal comma or point; says at once what is wrong with them."""

    def __init__(self, name: str, unit: str, bounds: tuple[float, float], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(f"Scale of {name}")
        self._unit = unit
        self.high, self.low = QLineEdit(f"{bounds[1]:.4g}"), QLineEdit(f"{bounds[0]:.4g}")
        form = FormRows()
        for text, field in ((f"Upper end ({unit})", self.high), (f"Lower end ({unit})", self.low)):
            field.setAccessibleName(text)
            field.textChanged.connect(self._check)
            form.addRow(text, field)
        self._trouble = QLabel()
        self._trouble.setWordWrap(True)
        self._buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        self._buttons.button(QDialogButtonBox.StandardButton.Ok).setText("Use")
        self._buttons.button(QDialogButtonBox.StandardButton.Ok).setObjectName("main")
        self._buttons.accepted.connect(self.accept)
        self._buttons.rejected.connect(self.reject)
        page = QVBoxLayout(self)
        page.addLayout(form)
        page.addWidget(self._trouble)
        page.addWidget(self._buttons)
        self.setMinimumWidth(in_letters(380))
        self._check()

    def bounds(self) -> tuple[float, float] | None:
        """Lower and upper end in the base unit; None where they are no range."""
        low, high = _number(self.low.text(), self._unit), _number(self.high.text(), self._unit)
        return (low, high) if low is not None and high is not None and low < high else None

    def _check(self) -> None:
        fits = self.bounds() is not None
        self._buttons.button(QDialogButtonBox.StandardButton.Ok).setEnabled(fits)
        self._trouble.setText(
            "" if fits else "Type two numbers, such as -1 and 16; the upper end must be the greater one."
        )


def _number(text: str, unit: str) -> float | None:
    """A number with or without the unit, its prefix included."""
    text = text.strip().replace(",", ".")
    factor = 1.0
    if unit and text.endswith(unit):
        text = text.removesuffix(unit).strip()
        if text and text[-1] in CHOSEN_PREFIXES:
            factor, text = CHOSEN_PREFIXES[text[-1]], text[:-1]
    try:
        value = float(text) * factor
    except ValueError:
        return None
    return value if abs(value) < 1e12 else None
