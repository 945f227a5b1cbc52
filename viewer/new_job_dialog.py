"""A new job in two entries; the rest when there is time."""

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QLineEdit, QVBoxLayout, QWidget

from loomlight.viewer.form_rows import FormRows
from loomlight.viewer.looks import in_letters


class NewJobDialog(QDialog):
    """Complaint in short, and the vehicle."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("New job")
        self.setMinimumWidth(in_letters(560))
        self.title, self.vehicle = QLineEdit(), QLineEdit()
        self.title.setPlaceholderText("What is wrong, in a few words")
        self.vehicle.setPlaceholderText("Model, year, engine")
        form = FormRows()
        for label, line in (("Title", self.title), ("Vehicle", self.vehicle)):
            line.setAccessibleName(label)
            form.addRow(QLabel(label), line)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        make = buttons.button(QDialogButtonBox.StandardButton.Ok)
        make.setText("Make the job")
        make.setObjectName("main")
        make.setEnabled(False)
        self.title.textChanged.connect(lambda text: make.setEnabled(bool(text.strip())))
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addLayout(form)
        column.addWidget(buttons)
