"""Lanes with their overview, tools and readings: what the pages put where a capture is looked at."""

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedLayout, QToolButton, QVBoxLayout, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.signal.finding import Finding
from loomlight.signal.progress import Progress, part
from loomlight.signal.readings import Readings, readings
from loomlight.viewer.aside import Aside
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.overview import Overview
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.log import logged
from loomlight.viewer.readings_text import readings_text
from loomlight.viewer.theme import Theme


class LanePanel(QWidget):
    """Joins the parts; holds only the lanes' names for the readings."""

    finding_step = Signal(int)

    def __init__(
        self,
        theme: Theme,
        *,
        empty: QWidget | None = None,
        tools: bool = True,
        notes: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        """``empty`` stands there as long as there are no lanes; ``notes`` where they are kept with the capture."""
        super().__init__(parent)
        self.lanes = LaneStack(theme)
        self.lanes.takes_notes = notes
        self._steppers: list[QToolButton] = []
        self.overview = Overview(theme)
        self._reading = Aside(self)
        self._readings = QLabel()
        self._readings.setAccessibleName("Readings of the cursors")
        self._readings.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._readings.setWordWrap(True)
        self._readings.hide()
        self._stack = QStackedLayout(self)
        self._stack.addWidget(empty or QWidget())
        filled = QWidget()
        self._stack.addWidget(filled)
        column = QVBoxLayout(filled)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        if tools:
            column.addLayout(self._tools())
        column.addWidget(self.overview)
        column.addWidget(self.lanes, 1)
        column.addWidget(self._readings)
        self.lanes.view_changed.connect(self.overview.show_view)
        self.overview.view_wanted.connect(lambda start_s, stop_s: self.lanes.set_view(start_s, stop_s, moving=True))
        self.lanes.cursors_changed.connect(self._show_readings)

    def _tools(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(4)
        for text, tip, act in (
            ("All", "Show the whole capture (Home, or double-click)", self.lanes.fit),
            ("Zoom in", "Zoom in (+, or turn the wheel over the lanes)", lambda: self.lanes.zoom(0.5)),
            ("Zoom out", "Zoom out (-)", lambda: self.lanes.zoom(2.0)),
            ("View back", "The view before (Backspace)", self.lanes.back),
            ("Cursors", "Set two cursors, or take them away (C); drag them to measure", self.lanes.toggle_cursors),
        ):
            row.addWidget(_tool(text, tip, act))
        if self.lanes.takes_notes:
            tip = "Place a note: press, then click what it is about (N)"
            row.addWidget(_tool("Note", tip, self.lanes.begin_note))
        row.addStretch(1)
        self._steppers = [
            _tool("◀ Finding", "The finding before", lambda: self.finding_step.emit(-1)),
            _tool("Finding ▶", "The next finding", lambda: self.finding_step.emit(1)),
        ]
        for stepper in self._steppers:
            row.addWidget(stepper)
            stepper.hide()
        return row

    def show_lanes(
        self,
        lanes: Sequence[Lane],
        findings: dict[str, tuple[Finding, ...]],
        *,
        view: tuple[float, float] | None = None,
    ) -> None:
        """Show other lanes with their findings, at a view or as a whole."""
        self.lanes.show_lanes(lanes)
        self.lanes.show_findings(findings)
        first = lanes[0] if lanes else None
        self.overview.show_trace(first.traces[-1] if first is not None else None, self.lanes.full())
        own = findings.get(first.key, ()) if first is not None else ()
        self.overview.show_findings(own)
        self.overview.show_view(*self.lanes.view())
        if view is not None:
            self.lanes.set_view(*view)
        for stepper in self._steppers:
            stepper.setVisible(bool(own))
        self._stack.setCurrentIndex(1 if lanes else 0)
        self._show_readings()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.lanes.set_theme(theme)
        self.overview.set_theme(theme)

    def _show_readings(self) -> None:
        first_s, second_s = self.lanes.cursors()
        if first_s is None or second_s is None or not self.lanes.lanes:
            self._reading.cancel()
            self._readings.hide()
            return
        traces = [trace for lane in self.lanes.lanes for trace in lane.traces]
        cursors_s = (first_s, second_s)
        # A long capture has many samples between its cursors: they are read aside, the newest place wins.
        self._reading.run(
            lambda progress: readings_text(*cursors_s, _read(traces, cursors_s, progress)),
            self._show_text,
            self._show_trouble,
        )

    def _show_text(self, text: str) -> None:
        self._readings.setText(text)
        self._readings.show()

    def _show_trouble(self, error: Exception) -> None:
        self._show_text(str(error) if isinstance(error, LoomlightError) else logged(error))

    def close_work(self) -> None:
        """Stop what runs aside."""
        self._reading.close()


def _read(traces: list[Trace], cursors_s: tuple[float, float], progress: Progress) -> list[tuple[Trace, Readings]]:
    rows = []
    for number, trace in enumerate(traces):
        own = (trace.lag_s + trace.stretch * at_s for at_s in cursors_s)
        share = part(progress, number / len(traces), (number + 1) / len(traces))
        rows.append((trace, readings(trace.channel, *own, share)))
    return rows


def _tool(text: str, tip: str, act: object) -> QToolButton:
    button = QToolButton()
    button.setText(text)
    button.setToolTip(tip)
    button.setAccessibleName(text)
    button.clicked.connect(act)
    return button
