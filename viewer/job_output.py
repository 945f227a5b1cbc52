"""What goes out of a job: its report, and one zip file to send. Both are made aside."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from loomlight.viewer.aside import Aside
from loomlight.viewer.icon import set_icon
from loomlight.viewer.looks import in_letters
from loomlight.viewer.tick_button import TickButton

if TYPE_CHECKING:
    from loomlight.signal.progress import Progress
    from loomlight.storage.job_folder import JobFolder
    from loomlight.storage.job_pack import Packed
    from loomlight.viewer.settings import Settings

PRIVATE = (
    "With customer, VIN, technician and costs",
    "Also the reports, which name them; for the customer, not for others",
)


class JobOutput(QWidget):
    """Two buttons; while one's work runs, progress and a way to give up stand in their place.

    `asked` comes before either begins, so that what is typed can be kept first.
    """

    said = Signal(str)
    failed = Signal(object)
    made = Signal(object)
    asked = Signal()

    def __init__(self, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._settings = settings
        self._folder: JobFolder | None = None
        self.aside = Aside(self)
        self.report_button = QPushButton("Report")
        self.report_button.setToolTip("Make the report for the customer: PDF or HTML, into the job's folder")
        self.pack_button = QPushButton("Pack to send")
        self.pack_button.setToolTip("Make one zip file of the job, beside its folder")
        set_icon(self.report_button, "report")
        set_icon(self.pack_button, "pack")
        self._progress = QProgressBar()
        self._progress.setRange(0, 100)
        self._progress.setAccessibleName("How far it is")
        self.give_up_button = QPushButton("Give up")
        self._stack = QStackedLayout(self)
        for parts in ((self.report_button, self.pack_button), (self._progress, self.give_up_button)):
            row_widget = QWidget()
            row = QHBoxLayout(row_widget)
            row.setContentsMargins(0, 0, 0, 0)
            for part in parts:
                row.addWidget(part, 1)
            self._stack.addWidget(row_widget)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.report_button.clicked.connect(self.ask_report)
        self.pack_button.clicked.connect(self.ask_pack)
        self.give_up_button.clicked.connect(self._give_up)
        self.aside.progressed.connect(lambda _, share: self._progress.setValue(round(100 * share)))
        self.aside.busy_changed.connect(self._show_busy)

    def show_folder(self, folder: JobFolder | None) -> None:
        """Work on this job from now on."""
        if folder is not self._folder:
            self.aside.cancel()
        self._folder = folder

    def ask_report(self) -> None:
        """Ask for paper and details, then make the report."""
        from loomlight.viewer.report_dialog import ReportDialog

        self.asked.emit()
        dialog = ReportDialog(self._settings, self)
        if self._folder is None or self.aside.is_busy or dialog.exec() != QDialog.DialogCode.Accepted:
            return
        folder, business = self._folder, dialog.business
        paper, form = dialog.chosen()

        def work(progress: Progress) -> Path:
            from loomlight.viewer.report import save_report

            return save_report(folder, business, paper=paper, form=form, progress=progress)

        self.aside.run(work, self._show_report, self.failed.emit)

    def _show_report(self, path: Path) -> None:
        self.said.emit(f"The report is in the job's folder: {path}.")
        self.made.emit(path)

    def ask_pack(self) -> None:
        """Ask what goes in, then pack."""
        self.asked.emit()
        dialog = PackDialog(self)
        if self._folder is None or self.aside.is_busy or dialog.exec() != QDialog.DialogCode.Accepted:
            return
        folder, private = self._folder, dialog.private.isChecked()

        def work(progress: Progress) -> Packed:
            from loomlight.storage.job_pack import pack_job
            from loomlight.viewer.commands.job_pack import default_place

            return pack_job(folder, default_place(folder), private=private, progress=progress)

        self.aside.run(work, self._show_packed, self.failed.emit)

    def _show_packed(self, packed: Packed) -> None:
        self.said.emit(" ".join([f"Packed: {packed.path}.", *packed.notes]))

    def _give_up(self) -> None:
        self.aside.cancel()
        self.said.emit("Given up; nothing was written.")

    def _show_busy(self, busy: bool) -> None:
        if busy:
            self._progress.setValue(0)
        self._stack.setCurrentIndex(1 if busy else 0)

    def close_work(self) -> None:
        """Let what is being written be finished."""
        self.aside.finish()


class PackDialog(QDialog):
    """What goes into the zip file."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Pack to send")
        self.setMinimumWidth(in_letters(560))
        note = QLabel("One zip file beside the job's folder: the record, captures, photos and snapshots.")
        note.setWordWrap(True)
        self.private = TickButton(*PRIVATE)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        make = buttons.button(QDialogButtonBox.StandardButton.Ok)
        make.setText("Make the zip file")
        make.setObjectName("main")
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        for part in (note, self.private, buttons):
            column.addWidget(part)
