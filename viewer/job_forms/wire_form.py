"""The suspect wire: its stops typed, the picture beside them, where captures were probed and the fault was found."""

from dataclasses import replace

from PySide6.QtCore import QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QFormLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from loomlight.signal.job import Job
from loomlight.signal.wire_sketch import (
    ProbePoint,
    Stop,
    StopKind,
    Suspicion,
    WireSketch,
    renumbered,
    renumbered_reading,
)
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.job_forms.form import JobForm
from loomlight.viewer.job_forms.record_rows import Field, RecordRows
from loomlight.viewer.job_words import job_suspicion
from loomlight.viewer.theme import DAYLIGHT, Theme
from loomlight.viewer.wire_picture import WireLook, paint_wire, wire_height

KINDS: tuple[StopKind, ...] = ("control unit", "connector", "splice", "component")
FIELDS = (
    Field("kind", "What it is", stretch=3, choices=tuple((kind, kind) for kind in KINDS)),
    Field("name", "Name", stretch=4),
    Field("pin", "Pin", stretch=2),
)
HINT = (
    "From one end to the other, as the wiring diagram shows it; on a bus the commander's end first. Then say where each "
    "channel was probed: each verdict and meter reading narrows the hatched stretch."
)
CONTRADICTS = "The measurements contradict each other: one of them is wrong, or there is more than one fault."
NOT_PROBED = ("", "not on this wire")
NOT_FOUND = ("", "not yet")


class WireForm(JobForm):
    """Stops, probes, and the place found."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows = RecordRows(FIELDS, name="stop", add="Add a stop", start={"kind": "connector"}, movable=True)
        self.view = WireView()
        self.found = ChoiceBox()
        self.found.setAccessibleName("Fault found at")
        self.reasons = QLabel()
        self.reasons.setWordWrap(True)
        self._probes: dict[tuple[str, str], ChoiceBox] = {}
        self._wire = WireSketch()
        self._origins: tuple[int | None, ...] = ()
        self._below = QFormLayout()
        self._below.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        hint = QLabel(HINT)
        hint.setWordWrap(True)
        hint.setObjectName("quiet")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(hint)
        column.addWidget(self.rows)
        column.addWidget(self.view)
        column.addWidget(self.reasons)
        column.addLayout(self._below)
        self.rows.changed.connect(self._stops_edited)
        self.rows.left.connect(self.left)
        self.found.activated.connect(self._chosen)

    def set_channels(self, channels: list[tuple[str, str]]) -> None:
        """The job's captured channels, as (file, channel), that can be placed on the wire."""
        if list(self._probes) == channels:
            return
        while self._below.rowCount():
            self._below.removeRow(0)
        self._probes = {}
        for file, channel in channels:
            box = ChoiceBox()
            box.setAccessibleName(f"{channel} in {file} was probed at")
            box.activated.connect(self._chosen)
            self._probes[file, channel] = box
            self._below.addRow(QLabel(f"{channel} in {file} was probed at"), box)
        self.found = ChoiceBox()
        self.found.setAccessibleName("Fault found at")
        self.found.activated.connect(self._chosen)
        self._below.addRow(QLabel("Fault found at"), self.found)

    def show_job(self, job: Job, *, anew: bool) -> None:
        if anew or not self.rows.has_focus():
            self.rows.set_values([{"kind": one.kind, "name": one.name, "pin": one.pin} for one in job.wire.stops])
            self._take(job.wire)
        suspicion = job_suspicion(job)
        self.view.show_wire(WireLook(job.wire, suspicion))
        self.reasons.setText("\n".join([*suspicion.reasons, *([CONTRADICTS] if suspicion.contradicts else [])]))

    def taken(self, job: Job) -> Job:
        readings = tuple(renumbered_reading(one, self._origins) for one in job.readings)
        self._origins = tuple(range(len(self._wire.stops)))
        return replace(job, wire=self._wire, readings=readings)

    def set_theme(self, theme: Theme) -> None:
        """Draw the wire in another theme."""
        self.view.set_theme(theme)

    def _take(self, wire: WireSketch) -> None:
        self._wire, self._origins = wire, tuple(range(len(wire.stops)))
        self._offer(wire)

    def _offer(self, wire: WireSketch) -> None:
        """Offer the wire's stops and places, with what was chosen."""
        stops = [(str(number), f"{stop.name} {stop.pin}".strip()) for number, stop in enumerate(wire.stops)]
        for (file, channel), box in self._probes.items():
            stop = wire.stop_of(file, channel)
            _fill(box, [NOT_PROBED, *stops], "" if stop is None else str(stop))
        places = [(str(place), wire.place_name(place)) for place in range(wire.places)]
        _fill(self.found, [NOT_FOUND, *places], "" if wire.found_at is None else str(wire.found_at))

    def _stops_edited(self) -> None:
        stops = tuple(
            Stop(next(kind for kind in KINDS if kind == one["kind"]), one["name"], one["pin"])
            for one in self.rows.values()
        )
        origins = self.rows.origins()
        self._wire = renumbered(self._wire, stops, origins)
        self._origins = tuple(None if one is None else self._origins[one] for one in origins)
        self._offer(self._wire)
        self.view.show_wire(WireLook(self._wire, Suspicion()))
        self.changed.emit()

    def _chosen(self) -> None:
        chosen = tuple(
            ProbePoint(int(box.currentData()), file, channel)
            for (file, channel), box in self._probes.items()
            if box.currentData()
        )
        # What was noted of captures that are not listed here is kept.
        others = tuple(one for one in self._wire.probes if (one.file, one.channel) not in self._probes)
        found = self.found.currentData()
        self._wire = WireSketch(self._wire.stops, (*chosen, *others), int(found) if found else None)
        self.changed.emit()
        self.left.emit()


class WireView(QWidget):
    """The picture of the wire."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = DAYLIGHT
        self._look = WireLook(WireSketch(), Suspicion())
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Picture of the wire")

    def show_wire(self, look: WireLook) -> None:
        """Show a wire; nothing of it where it has no stops."""
        self._look = look
        self.setVisible(bool(look.sketch.stops))
        names = [look.sketch.place_name(place) for place in look.suspicion.places]
        self.setAccessibleDescription(f"Under suspicion: {', '.join(names)}" if names else "")
        self.updateGeometry()
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(300, round(wire_height(self._look.sketch)))

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        paint_wire(painter, self._look, self._theme, float(self.width()))


def _fill(box: ChoiceBox, choices: list[tuple[str, str]], value: str) -> None:
    box.clear()
    for key, words in choices:
        box.addItem(words, key)
    box.setCurrentIndex(max(box.findData(value), 0))
    box.setMinimumContentsLength(8)
    box.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
