"""Job: whose vehicle, what is wrong, what was recorded, found and mended."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, QTimer, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import kind_named
from loomlight.signal.vin import check_vin
from loomlight.storage.places import jobs_folder
from loomlight.viewer.aside import Aside
from loomlight.viewer.empty_page import empty_page
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.icon import set_icon
from loomlight.viewer.job_forms.codes_form import CodesForm
from loomlight.viewer.job_forms.costs_form import CostsForm
from loomlight.viewer.job_forms.form import JobForm, TextForm
from loomlight.viewer.job_forms.measured_form import MeasuredForm
from loomlight.viewer.job_forms.photos_form import PhotosForm
from loomlight.viewer.job_forms.wire_form import WireForm
from loomlight.viewer.job_output import JobOutput
from loomlight.viewer.job_past import JobPast
from loomlight.viewer.pages.job_records import JobRecords
from loomlight.viewer.pages.next_step import next_step
from loomlight.viewer.push_button import push_button
from loomlight.viewer.recent_menu import fill_recent
from loomlight.viewer.settings import Settings

if TYPE_CHECKING:
    from loomlight.signal.job import Job
    from loomlight.signal.progress import Progress
    from loomlight.storage.job_folder import JobFolder
    from loomlight.viewer.desk import Desk
    from loomlight.viewer.job_list import Seen
    from loomlight.viewer.theme import Theme

SAVE_AFTER_MS = 800
TITLE_LETTERS = 26
VIN_SIGNS = {"right": "✓", "wrong": "✗", "not checked": "○", "empty": ""}
PARTS = ("Vehicle", "Codes", "Measured", "Wire", "Repair", "Costs")
VEHICLE_LINES = (
    ("title", "Title"),
    ("customer", "Customer reference"),
    ("vehicle", "Vehicle"),
    ("vin", "Identification number (VIN)"),
    ("odometer", "Odometer"),
    ("technician", "Technician"),
    ("time_spent", "Time on the job"),
)
VEHICLE_TEXTS = (("complaint", "Complaint, in the customer's words"), ("symptoms", "Symptoms seen"))
REPAIR_LINES = (("place", "Place of the fault along the loom"),)
REPAIR_TEXTS = (("cause", "Cause found"), ("repair", "Repair"), ("after_check", "After-check"))
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
        self.vehicle_form = TextForm(VEHICLE_LINES, VEHICLE_TEXTS)
        self.repair_form = TextForm(REPAIR_LINES, REPAIR_TEXTS)
        self.codes_form, self.measured_form = CodesForm(), MeasuredForm()
        self.wire_form, self.costs_form = WireForm(), CostsForm()
        self.photos_form = PhotosForm(desk)
        self.records = JobRecords()
        self._looking = Aside(self)
        self.past = JobPast()
        self._alike: object = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SAVE_AFTER_MS)
        self._timer.timeout.connect(self.save)
        self._pages = QStackedWidget()
        self._pages.addWidget(self._welcome())
        self._pages.addWidget(self._form())
        page = QVBoxLayout(self)
        page.setContentsMargins(8, 6, 8, 8)
        page.addLayout(self._buttons())
        page.addWidget(self._cautions())
        page.addWidget(self._pages, 1)
        for part in self._forms():
            part.changed.connect(self._timer.start)
            part.left.connect(self._left)
        self.records.snapshot_wanted.connect(self.snapshot_wanted)
        self.records.job_wanted.connect(self.job_wanted)
        for failing in (self.records, self.photos_form, self.output):
            failing.failed.connect(self.failed)
        self.output.asked.connect(self.save)
        desk.job_changed.connect(self.show_job)
        self.show_job()

    def _forms(self) -> tuple[JobForm, ...]:
        # The wire comes last: it renumbers the stops that meter readings name.
        return (
            self.vehicle_form,
            self.codes_form,
            self.measured_form,
            self.repair_form,
            self.costs_form,
            self.wire_form,
        )

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
        self.recent_button = QPushButton("Recent")
        self.recent_button.setToolTip("Captures and jobs that were opened last")
        set_icon(self.recent_button, "recent")
        menu = QMenu(self)
        menu.aboutToShow.connect(lambda: fill_recent(menu, self._settings, self.file_wanted.emit, self.job_wanted.emit))
        self.recent_button.setMenu(menu)
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

    def _cautions(self) -> QFrame:
        self._caution_strip = QFrame()
        self._caution_strip.setObjectName("strip")
        row = QHBoxLayout(self._caution_strip)
        row.setContentsMargins(10, 6, 6, 6)
        self._caution_text = QLabel()
        self._caution_text.setWordWrap(True)
        row.addWidget(self._caution_text, 1)
        seen = push_button("Read; I work by the\nmaker's procedure", "Noted in the job", self._cautions_seen)
        seen.setMinimumHeight(88)
        row.addWidget(seen)
        return self._caution_strip

    def _form(self) -> QWidget:
        work = Part()
        left = QVBoxLayout(work)
        left.setContentsMargins(0, 0, 6, 0)
        left.addLayout(self._part_buttons())
        self.parts = QStackedWidget()
        self._vin = QLabel()
        self._vin.setWordWrap(True)
        self._vin.setAccessibleName("Identification number checked")
        form = self.vehicle_form.form
        form.insertRow(form.getWidgetPosition(self.vehicle_form.lines["vin"])[0] + 1, self._vin)
        self.vehicle_form.lines["vin"].textChanged.connect(self._check_vin)
        self._check_vin("")
        for widgets in (
            (self.vehicle_form,),
            (self.codes_form,),
            (self.measured_form, self.photos_form),
            (self.wire_form,),
            (self.repair_form,),
            (self.costs_form,),
        ):
            self.parts.addWidget(_scrolled(widgets))
        left.addWidget(self.parts, 1)
        kept = Part()
        right = QVBoxLayout(kept)
        right.setContentsMargins(6, 0, 0, 0)
        right.addWidget(self.records, 1)
        right.addWidget(self.output)
        return Halves(work, kept, sizes=(690, 550))

    def _part_buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(4)
        self._part_group = QButtonGroup(self)
        for number, name in enumerate(PARTS):
            button = QPushButton(name)
            button.setObjectName("part")
            button.setCheckable(True)
            button.setToolTip(f"{name} of this job")
            self._part_group.addButton(button, number)
            row.addWidget(button, 1)
        self._part_group.idClicked.connect(self.go_to_part)
        self._part_group.button(0).setChecked(True)
        return row

    def go_to_part(self, number: int) -> None:
        """Show one part of the job's notes."""
        self.save()
        self.parts.setCurrentIndex(number)
        self._part_group.button(number).setChecked(True)

    def _check_vin(self, written: str) -> None:
        found = check_vin(written)
        self._vin.setText(f"{VIN_SIGNS[found.state]}  {found.text}".strip())
        self._vin.setVisible(bool(found.text))

    # What is shown

    def show_job(self) -> None:
        """Show the desk's job; what was typed a moment ago is kept first, whatever else changed the job."""
        if self._timer.isActive() and self._shown is not None and self._shown is self._desk.folder:
            self.save()
        job = self._desk.job
        self.output.show_folder(self._desk.folder)
        self._pages.setCurrentIndex(0 if job is None else 1)
        self._caution_strip.setVisible(job is not None and not job.cautions_seen)
        step = next_step(job) if job is not None else None
        self.next_button.setVisible(step is not None and bool(step.button))
        if job is None or step is None:
            return
        self.next_button.setText(step.button)
        self._title.setText(job.title)
        cautions = kind_named(self._desk.chosen.ask.kind).cautions
        self._caution_text.setText("Before you probe:\n" + "\n".join(f"•  {one}" for one in cautions))
        folder = self._desk.folder
        assert folder is not None
        if self._shown is not folder:
            self.past.begin(job)
        else:
            self.past.see(job)
        self._show_past()
        self.wire_form.set_channels(_channels(self._desk, job))
        for part in self._forms():
            part.show_job(job, anew=self._shown is not folder)
        self.photos_form.show_job()
        self._shown = folder
        self.records.show_job(folder, step)
        self._look_back(job, folder)

    def _look_back(self, job: Job, folder: JobFolder) -> None:
        """Look for earlier jobs like this one, aside, where what tells them has changed."""
        alike = (folder.path, job.vehicle, job.vin, job.place, job.fault_codes, job.verdicts)
        if alike == self._alike:
            return
        self._alike = alike
        folders = tuple(dict.fromkeys((jobs_folder(), folder.path.parent)))

        def work(progress: Progress) -> tuple[Seen, ...]:
            from loomlight.viewer.job_list import seen_before

            return seen_before(job, folder.path, folders, progress)

        self._looking.run(work, self.records.show_seen, self.failed.emit)

    # What is kept

    def save(self) -> None:
        """Keep what was typed; called after a short pause, on leaving a field, and on closing."""
        self._timer.stop()
        job = self._desk.job
        if job is None:
            return
        for part in self._forms():
            job = part.taken(job)
        try:
            self._desk.save_job(job)
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
        for part in self._forms():
            part.show_job(job, anew=True)
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
        self.wire_form.set_theme(theme)

    def close_work(self) -> None:
        """Keep what was typed, and stop what runs aside."""
        self.save()
        self.output.close_work()
        self.photos_form.close_work()
        self.records.close_work()
        self._looking.close()


def _channels(desk: Desk, job: Job) -> list[tuple[str, str]]:
    """File and channel of what was captured in this job: as far as it lies on the desk, or a verdict or the wire names it."""
    files = {one.file for one in job.captures}
    found = [(one.file, one.channel) for one in (*job.verdicts, *job.wire.probes)]
    for opened in desk.opened:
        kept = desk.job_capture(opened.path)
        if kept is not None:
            found += [(kept.file, channel.name) for channel in opened.capture.channels]
    order = {one.file: number for number, one in enumerate(job.captures)}
    return sorted(dict.fromkeys(one for one in found if one[0] in files), key=lambda one: order[one[0]])


def _scrolled(widgets: tuple[QWidget, ...]) -> QScrollArea:
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    inside = QWidget()
    column = QVBoxLayout(inside)
    column.setContentsMargins(0, 0, 6, 0)
    for widget in widgets:
        column.addWidget(widget)
    column.addStretch(1)
    area.setWidget(inside)
    return area
