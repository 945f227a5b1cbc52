"""The left half of the Job page: a job's notes, part by part, with a button for each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from loomlight.viewer.halves import Part
from loomlight.viewer.job_forms.codes_form import CodesForm
from loomlight.viewer.job_forms.costs_form import CostsForm
from loomlight.viewer.job_forms.form import JobForm, TextForm
from loomlight.viewer.job_forms.measured_form import MeasuredForm
from loomlight.viewer.job_forms.photos_form import PhotosForm
from loomlight.viewer.job_forms.vehicle_form import VehicleForm
from loomlight.viewer.job_forms.wire_form import WireForm

if TYPE_CHECKING:
    from loomlight.signal.job import Job
    from loomlight.viewer.desk import Desk

PARTS = ("Vehicle", "Codes", "Measured", "Wire", "Repair", "Costs")
REPAIR_LINES = (("place", "Place of the fault along the loom"),)
REPAIR_TEXTS = (("cause", "Cause found"), ("repair", "Repair"), ("after_check", "After-check"))


class JobParts(Part):
    """Shows a job's notes and gives the job with what was typed.

    `changed` and `left` as in `JobForm`; `turning` comes before another part is shown.
    """

    changed = Signal()
    left = Signal()
    turning = Signal()

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.vehicle_form = VehicleForm()
        self.repair_form = TextForm(REPAIR_LINES, REPAIR_TEXTS)
        self.codes_form, self.measured_form = CodesForm(), MeasuredForm()
        self.wire_form, self.costs_form = WireForm(), CostsForm()
        self.photos_form = PhotosForm(desk)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 6, 0)
        column.addLayout(self._buttons())
        self._shown = QStackedWidget()
        for widgets in (
            (self.vehicle_form,),
            (self.codes_form,),
            (self.measured_form, self.photos_form),
            (self.wire_form,),
            (self.repair_form,),
            (self.costs_form,),
        ):
            self._shown.addWidget(_scrolled(widgets))
        column.addWidget(self._shown, 1)
        for form in self._forms():
            form.changed.connect(self.changed)
            form.left.connect(self.left)
        self._job: Job | None = None
        self._to_come: list[JobForm] = []
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(0)
        self._later.timeout.connect(self._show_next)

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

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(4)
        self._group = QButtonGroup(self)
        for number, name in enumerate(PARTS):
            button = QPushButton(name)
            button.setObjectName("part")
            button.setCheckable(True)
            button.setToolTip(f"{name} of this job")
            self._group.addButton(button, number)
            row.addWidget(button, 1)
        self._group.idClicked.connect(self.go_to)
        self._group.button(0).setChecked(True)
        return row

    def go_to(self, number: int) -> None:
        """Show one part of the job's notes."""
        self.turning.emit()
        while self._to_come:
            self._show_next()
        self._shown.setCurrentIndex(number)
        self._group.button(number).setChecked(True)

    def show_job(self, job: Job, *, anew: bool) -> None:
        """Show a job's notes; what is being typed stays as it is, unless another job was opened (``anew``)."""
        self.wire_form.set_channels(_channels(self._desk, job))
        self.show_notes(job, anew=anew)
        self.photos_form.show_job()

    def show_notes(self, job: Job, *, anew: bool) -> None:
        """Show the notes alone: captures and photos are as they were.

        Those of another job fill the part that is seen at once, the others in turns of their own.
        """
        self._job = job
        if anew:
            self._to_come = [form for form in self._forms() if not form.isVisible()]
            self._later.start()
        for form in self._filled():
            form.show_job(job, anew=anew)

    def _show_next(self) -> None:
        if self._to_come and self._job is not None:
            self._to_come.pop(0).show_job(self._job, anew=True)
            self._later.start()

    def _filled(self) -> list[JobForm]:
        return [form for form in self._forms() if form not in self._to_come]

    def taken(self, job: Job) -> Job:
        """The job with what stands in all parts; in one that is still to come nothing was typed."""
        for form in self._filled():
            job = form.taken(job)
        return job


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
