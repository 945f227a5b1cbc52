"""Business details to fill in: the same in the settings and where a report is made."""

from pathlib import Path

from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QWidget,
)

from loomlight.viewer.form_rows import FormRows
from loomlight.viewer.settings import Details
from loomlight.viewer.style_sheet import TARGET_PIXELS

PICTURES = "Pictures (*.png *.jpg *.jpeg)"


class BusinessForm(QWidget):
    """Name, address, contact, tax number, logo."""

    def __init__(self, details: Details, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.name, self.contact = QLineEdit(details.name), QLineEdit(details.contact)
        self.tax_number, self.logo = QLineEdit(details.tax_number), QLineEdit(details.logo)
        self.address = QPlainTextEdit(details.address)
        lines = self.address.fontMetrics().lineSpacing()
        self.address.setFixedHeight(max(92, 4 * lines + 20))
        self.address.setTabChangesFocus(True)
        logo = QHBoxLayout()
        logo.addWidget(self.logo, 1)
        choose = QPushButton("Choose logo")
        choose.setToolTip("Choose a PNG or JPEG picture")
        choose.clicked.connect(self._choose_logo)
        logo.addWidget(choose)
        rows = FormRows(self)
        rows.setContentsMargins(0, 0, 0, 0)
        for label, widget in (
            ("Name", self.name),
            ("Address", self.address),
            ("Telephone, mail", self.contact),
            ("Tax number", self.tax_number),
        ):
            widget.setAccessibleName(label)
            words = QLabel(label)
            words.setMinimumHeight(TARGET_PIXELS)
            rows.addRow(words, widget)
        self.logo.setAccessibleName("Logo")
        rows.addRow(QLabel("Logo"), logo)

    def details(self) -> Details:
        """As filled in."""
        return Details(
            self.name.text(),
            self.address.toPlainText(),
            self.contact.text(),
            self.tax_number.text(),
            self.logo.text().strip(),
        )

    def _choose_logo(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, "Logo", "", PICTURES)
        if name:
            self.logo.setText(str(Path(name)))
