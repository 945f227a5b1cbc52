"""What a report needs beside the job: business details, paper, kind of file; remembered for next time."""

from pathlib import Path

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.business import business_of
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.report import Form, Paper
from loomlight.viewer.report_blocks import Business
from loomlight.viewer.settings import Details, Settings

PAPERS: tuple[tuple[str, Paper], ...] = (("A4", "a4"), ("Letter", "letter"))
FORMS: tuple[tuple[str, Form], ...] = (("PDF, to print or send", "pdf"), ("HTML, for a browser", "html"))
PICTURES = "Pictures (*.png *.jpg *.jpeg)"


class ReportDialog(QDialog):
    """Asks, and keeps the answers in the settings."""

    def __init__(self, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._settings = settings
        self.setWindowTitle("Report")
        self.setMinimumWidth(620)
        details = settings.details
        self.name, self.contact = QLineEdit(details.name), QLineEdit(details.contact)
        self.tax_number, self.logo = QLineEdit(details.tax_number), QLineEdit(details.logo)
        self.address = QPlainTextEdit(details.address)
        self.address.setFixedHeight(92)
        self.address.setTabChangesFocus(True)
        self.paper, self.form = ChoiceBox(), ChoiceBox()
        self.paper.addItems([text for text, _ in PAPERS])
        self.paper.setCurrentIndex([paper for _, paper in PAPERS].index(settings.paper))
        self.form.addItems([text for text, _ in FORMS])
        self.business = Business()
        self._problem = QLabel()
        self._problem.setWordWrap(True)
        self._problem.hide()
        self._build()

    def _build(self) -> None:
        logo = QHBoxLayout()
        logo.addWidget(self.logo, 1)
        choose = QPushButton("Choose")
        choose.setToolTip("Choose a PNG or JPEG picture")
        choose.clicked.connect(self._choose_logo)
        logo.addWidget(choose)
        rows = QFormLayout()
        for label, widget in (
            ("Your business", self.name),
            ("Address", self.address),
            ("Telephone, mail", self.contact),
            ("Tax number", self.tax_number),
            ("Logo", logo),
            ("Paper", self.paper),
            ("File", self.form),
        ):
            if isinstance(widget, QWidget):
                widget.setAccessibleName(label)
            rows.addRow(QLabel(label), widget)
        self.logo.setAccessibleName("Logo")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        make = buttons.button(QDialogButtonBox.StandardButton.Ok)
        make.setText("Make the report")
        make.setObjectName("main")
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        note = QLabel("Printed at the head of your reports; may stay empty. Kept on this machine.")
        note.setWordWrap(True)
        column.addWidget(note)
        column.addLayout(rows)
        column.addWidget(self._problem)
        column.addWidget(buttons)

    def _choose_logo(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, "Logo", "", PICTURES)
        if name:
            self.logo.setText(str(Path(name)))

    def chosen(self) -> tuple[Paper, Form]:
        """Paper and kind of file."""
        return PAPERS[self.paper.currentIndex()][1], FORMS[self.form.currentIndex()][1]

    def accept(self) -> None:
        """Keep the answers; a logo that cannot be used is told here."""
        details = Details(
            self.name.text(),
            self.address.toPlainText(),
            self.contact.text(),
            self.tax_number.text(),
            self.logo.text().strip(),
        )
        try:
            self.business = business_of(details)
        except LoomlightError as error:
            self._problem.setText(f"✗  {error}")
            self._problem.show()
            return
        self._settings.details = details
        self._settings.paper = self.chosen()[0]
        super().accept()
