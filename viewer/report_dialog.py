"""What a report needs beside the job: business details, paper, kind of file; remembered for next time."""

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.business import business_of
from loomlight.viewer.business_form import BusinessForm
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.form_rows import FormRows
from loomlight.viewer.looks import in_letters
from loomlight.viewer.report import Form, Paper
from loomlight.viewer.report_blocks import Business
from loomlight.viewer.settings import Settings

PAPERS: tuple[tuple[str, Paper], ...] = (("A4", "a4"), ("Letter", "letter"))
FORMS: tuple[tuple[str, Form], ...] = (("PDF, to print or send", "pdf"), ("HTML, for a browser", "html"))


class ReportDialog(QDialog):
    """Asks, and keeps the answers in the settings."""

    def __init__(self, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._settings = settings
        self.setWindowTitle("Report")
        self.setMinimumWidth(in_letters(620))
        self.details = BusinessForm(settings.details)
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
        rows = FormRows()
        for label, widget in (("Paper", self.paper), ("File", self.form)):
            widget.setAccessibleName(label)
            rows.addRow(QLabel(label), widget)
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
        column.addWidget(self.details)
        column.addLayout(rows)
        column.addWidget(self._problem)
        column.addWidget(buttons)

    def chosen(self) -> tuple[Paper, Form]:
        """Paper and kind of file."""
        return PAPERS[self.paper.currentIndex()][1], FORMS[self.form.currentIndex()][1]

    def accept(self) -> None:
        """Keep the answers; a logo that cannot be used is told here."""
        details = self.details.details()
        try:
            self.business = business_of(details)
        except LoomlightError as error:
            self._problem.setText(f"✗  {error}")
            self._problem.show()
            return
        self._settings.details = details
        self._settings.paper = self.chosen()[0]
        super().accept()
