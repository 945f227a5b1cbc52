"""Job: whose vehicle, what is wrong, what was recorded, found and mended."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, QTimer, Signal
from PySide6.QtWidgets import (
    QLabel,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import kind_named
from loomlight.viewer.empty_page import empty_page
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.icon import set_icon
from loomlight.viewer.job_forms.caution_strip import CautionStrip
from loomlight.viewer.job_output import JobOutput
from loomlight.viewer.job_past import JobPast
from loomlight.viewer.pages.job_parts import JobParts
from loomlight.viewer.pages.job_records import JobRecords
from loomlight.viewer.pages.next_step import next_step
from loomlight.viewer.push_button import push_button
from loomlight.viewer.recent_menu import RecentButton
from loomlight.viewer.settings import Settings

if TYPE_CHECKING:
    from loomlight.signal.job import Job
    from loomlight.storage.job_folder import JobFolder
    from loomlight.viewer.desk import Desk
    from loomlight.viewer.theme import Theme

SAVE_AFTER_MS = 800
TITLE_LETTERS = 26
WELCOME = (
    "A job keeps one visit together – vehicle, complaint, captures, verdicts, pictures and the proof of the repair – in a "
    "folder that can be read without Loomlight.\n\nMake a job, or open a capture at once: a verdict needs no job.\n\n"
    "To look around first, open the sample job: a minibus whose heater blower runs at full speed only."
)


class _Title(QLabel):
    """A job's title: it is given a few words' width before it goes on in the next line."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.setObjectName("pageTitle")
        self.setWordWrap(True)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def minimumSizeHint(self) -> QSize:
        metrics = self.fontMetrics()
        return QSize(min(metrics.horizontalAdvance(self.text()) + 4, TITLE_LETTERS * metrics.averageCharWidth()), 44)


class JobPage(QWidget):
    """Shows the open job and keeps what is typed."""

    failed = Signal(object)
    new_wanted = Signal()
    open_wanted = Signal()
    sample_wanted = Signal()
    captures_wanted = Signal()
    place_wanted = Signal(str)
    snapshot_wanted = Signal(object)
    job_wanted = Signal(object)
    file_wanted = Signal(object)

    def __init__(self, desk: Desk, settings: Settings | None = None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._shown: JobFolder | None = None
        self._settings = settings or Settings()
        self.output = JobOutput(self._settings)
        self.parts = JobParts(desk)
        self.records = JobRecords()
        self.cautions = CautionStrip()
        self.past = JobPast()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SAVE_AFTER_MS)
        self._timer.timeout.connect(self.save)
        self._pages = QStackedWidget()
        self._pages.addWidget(self._welcome())
        self._pages.addWidget(self._halves())
        page = QVBoxLayout(self)
        page.setContentsMargins(8, 6, 8, 8)
        page.addLayout(self._buttons())
        page.addWidget(self.cautions)
        page.addWidget(self._pages, 1)
        self.parts.changed.connect(self._timer.start)
        self.parts.left.connect(self._left)
        self.parts.turning.connect(self.save)
        self.cautions.read.connect(self._cautions_seen)
        self.records.snapshot_wanted.connect(self.snapshot_wanted)
        self.records.job_wanted.connect(self.job_wanted)
        for failing in (self.records, self.parts.photos_form, self.output):
            failing.failed.connect(self.failed)
        self.output.asked.connect(self.save)
        desk.job_changed.connect(self.show_job)
        self.show_job()

    def _buttons(self) -> FlowRow:
        row = FlowRow(gap=6, fills=True)
        self._title = _Title("No job is open")
        row.addWidget(self._title)
        self.undo_button = push_button("Undo", "Take back the last change of this job's notes", self.undo)
        self.redo_button = push_button("Redo", "Make again what was taken back", self.redo)
        for button in (self.undo_button, self.redo_button):
            button.hide()
            set_icon(button, "undo" if button is self.undo_button else "redo")
            button.setProperty("action", False)  # the list of actions has one for all pages
            row.addWidget(button)
        for text, tip, signal in (
            ("New job", "Make a job folder", self.new_wanted),
            ("Open job", "Find a job by any word", self.open_wanted),
        ):
            button = push_button(text, tip, signal.emit)
            set_icon(button, "new" if text == "New job" else "find")
            row.addWidget(button)
        self.recent_button = RecentButton(self._settings)
        self.recent_button.file_wanted.connect(self.file_wanted)
        self.recent_button.job_wanted.connect(self.job_wanted)
        self.recent_button.setProperty("action", False)  # a list to choose from, and on the Captures page as well
        row.addWidget(self.recent_button)
        self.next_button = push_button("", "The next step of this job", self.go_on)
        self.next_button.setObjectName("main")
        row.addWidget(self.next_button)
        return row

    def go_on(self) -> None:
        """Take the next step of the job."""
        job = self._desk.job
        if job is None:
            return
        if not job.captures:
            self.captures_wanted.emit()
        elif next_step(job).place == "Report":
            self.output.ask_report()
        else:
            self.place_wanted.emit(next_step(job).place)

    def _welcome(self) -> QWidget:
        return empty_page(
            WELCOME,
            (
                ("New job", "Make a job folder", self.new_wanted.emit),
                ("Open a capture", "Open CSV or HDF5 files", self.captures_wanted.emit),
                ("Open the sample job", "A fresh copy; nothing of yours is touched", self.sample_wanted.emit),
            ),
        )

    def _halves(self) -> QWidget:
        kept = Part()
        right = QVBoxLayout(kept)
        right.setContentsMargins(6, 0, 0, 0)
        right.addWidget(self.records, 1)
        right.addWidget(self.output)
        return Halves(self.parts, kept, sizes=(690, 550))

    # What is shown

    def show_job(self) -> None:
        """Show the desk's job; what was typed a moment ago is kept first, whatever else changed the job."""
        if self._timer.isActive() and self._shown is not None and self._shown is self._desk.folder:
            self.save()
        job = self._desk.job
        self.output.show_folder(self._desk.folder)
        self._pages.setCurrentIndex(0 if job is None else 1)
        self.cautions.setVisible(job is not None and not job.cautions_seen)
        step = next_step(job) if job is not None else None
        self.next_button.setVisible(step is not None and bool(step.button))
        if job is None or step is None:
            return
        self.next_button.setText(step.button)
        self._title.setText(job.title)
        self.cautions.show_cautions(kind_named(self._desk.chosen.ask.kind).cautions)
        folder = self._desk.folder
        assert folder is not None
        if self._shown is not folder:
            self.past.begin(job)
        else:
            self.past.see(job)
        self._show_past()
        self.parts.show_job(job, anew=self._shown is not folder)
        self._shown = folder
        self.records.show_job(folder, step)

    # What is kept

    def save(self) -> None:
        """Keep what was typed; called after a short pause, on leaving a field, and on closing."""
        self._timer.stop()
        job = self._desk.job
        if job is None:
            return
        try:
            self._desk.save_job(self.parts.taken(job))
        except LoomlightError as error:
            self.failed.emit(error)

    # Taking back

    def undo(self) -> None:
        """Take the last change of the notes back; what was typed a moment ago is a change too."""
        self.save()
        if self._desk.job is not None and self.past.to_undo is not None:
            self._show_again(self.past.undone(self._desk.job))

    def redo(self) -> None:
        """Make again what was taken back."""
        self.save()
        if self._desk.job is not None and self.past.to_redo is not None:
            self._show_again(self.past.redone(self._desk.job))

    def _show_again(self, job: Job) -> None:
        self.parts.show_notes(job, anew=True)
        try:
            self._desk.save_job(job)
        except LoomlightError as error:
            self.failed.emit(error)
        self._show_past()

    def _show_past(self) -> None:
        for button, step, does in (
            (self.undo_button, self.past.to_undo, "Take back"),
            (self.redo_button, self.past.to_redo, "Make again"),
        ):
            button.setVisible(step is not None)
            if step is not None:
                button.setToolTip(f"{does}: {step.words}")

    def _left(self) -> None:
        self.save()
        self.past.close()

    def _cautions_seen(self) -> None:
        job = self._desk.job
        if job is not None:
            try:
                self._desk.save_job(replace(job, cautions_seen=True))
            except LoomlightError as error:
                self.failed.emit(error)

    def set_theme(self, theme: Theme) -> None:
        """Draw the wire in another theme."""
        self.parts.wire_form.set_theme(theme)

    def close_work(self) -> None:
        """Keep what was typed, and stop what runs aside."""
        self.save()
        self.output.close_work()
        self.parts.photos_form.close_work()
        self.records.close_work()
