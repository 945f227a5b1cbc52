"""Whose vehicle it is, and what is wrong with it; its identification number is checked while it is typed."""

from PySide6.QtWidgets import QLabel, QWidget

from loomlight.signal.vin import check_vin
from loomlight.viewer.job_forms.form import TextForm

LINES = (
    ("title", "Title"),
    ("customer", "Customer reference"),
    ("vehicle", "Vehicle"),
    ("vin", "Identification number (VIN)"),
    ("odometer", "Odometer"),
    ("technician", "Technician"),
    ("time_spent", "Time on the job"),
)
TEXTS = (("complaint", "Complaint, in the customer's words"), ("symptoms", "Symptoms seen"))
VIN_SIGNS = {"right": "✓", "wrong": "✗", "not checked": "○", "empty": ""}


class VehicleForm(TextForm):
    """The first part of a job's notes."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(LINES, TEXTS, parent=parent)
        self.vin_checked = QLabel()
        self.vin_checked.setWordWrap(True)
        self.vin_checked.setAccessibleName("Identification number checked")
        line = self.lines["vin"]
        self.form.insertRow(self.form.getWidgetPosition(line)[0] + 1, self.vin_checked)
        line.textChanged.connect(self._check_vin)
        self._check_vin("")

    def _check_vin(self, written: str) -> None:
        found = check_vin(written)
        self.vin_checked.setText(f"{VIN_SIGNS[found.state]}  {found.text}".strip())
        self.vin_checked.setVisible(bool(found.text))
