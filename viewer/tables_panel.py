"""Findings, frames and measurements of the comparison at hand, one table at a time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QPushButton, QStackedWidget, QTableView, QVBoxLayout, QWidget

from loomlight.signal.evidence import Evidence
from loomlight.signal.finding import Finding
from loomlight.signal.frame_table import FrameRow
from loomlight.signal.measure import Measure
from loomlight.signal.track import Track
from loomlight.viewer.findings_table import FindingsTable
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.table_words import (
    BESIDE_COLUMNS,
    EVIDENCE_COLUMNS,
    FRAME_COLUMNS,
    TRACK_COLUMNS,
    evidence_cells,
    frame_cells,
    frame_tip,
    measure_cells_beside,
    measure_tip,
    track_cells,
)
from loomlight.viewer.text_table import LaterRows, TextTable

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison

NAMES = ("Findings", "Frames", "Measured", "Over time", "Evidence")


class TablesPanel(QWidget):
    """The tables; one that has nothing to show is not offered."""

    frame_picked = Signal(object)
    track_picked = Signal(object)
    said = Signal(str)
    frames_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.findings = FindingsTable()
        self.frames = TextTable(
            FRAME_COLUMNS, name="Frames", tip="Pick a frame to see it in the lanes", words=FRAME_COLUMNS[1:]
        )
        self.measures = TextTable(BESIDE_COLUMNS, name="Measured", tip="What was measured, and its limit")
        self.tracks = TextTable(TRACK_COLUMNS, name="Over time", tip="Pick one to see it drawn under the capture")
        self.evidence = TextTable(EVIDENCE_COLUMNS, name="Evidence", tip="What speaks for and against each suspect")
        self._evidence: tuple[Evidence, ...] = ()
        self._rows: tuple[FrameRow, ...] = ()
        self._measures: tuple[Measure, ...] = ()
        self._tracks: tuple[Track, ...] = ()
        self._stack = QStackedWidget()
        self._group = QButtonGroup(self)
        bar = FlowRow()
        for number, (name, table) in enumerate(zip(NAMES, self._tables(), strict=True)):
            self._stack.addWidget(table)
            button = QPushButton(name)
            button.setObjectName("part")
            button.setCheckable(True)
            button.setToolTip(f"Show the table: {name}")
            self._group.addButton(button, number)
            bar.addWidget(button)
        self.save_button = QPushButton("Save…")
        self.save_button.setToolTip("Save the frames as a CSV table")
        self.save_button.setAccessibleName("Save frames")
        self.save_button.clicked.connect(self.frames_wanted)
        bar.addWidget(self.save_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(bar)
        column.addWidget(self._stack, 1)
        self._group.idClicked.connect(self.show_table)
        self.frames.picked.connect(lambda row: self.frame_picked.emit(self._rows[row]))
        self.measures.picked.connect(lambda row: self.said.emit(measure_tip(self._measures[row])))
        self.tracks.picked.connect(self._pick_track)
        self.evidence.picked.connect(lambda row: self.said.emit(self._evidence[row].why))
        self.show_comparison(None)

    def _tables(self) -> tuple[QTableView, ...]:
        return self.findings, self.frames, self.measures, self.tracks, self.evidence

    @property
    def rows(self) -> tuple[FrameRow, ...]:
        """The frames that are shown."""
        return self._rows

    def show_comparison(self, found: Comparison | None, findings: Sequence[Finding] = ()) -> None:
        """Show the suspect's tables; its ``findings`` first where there are any."""
        looked = found.looked if found is not None else None
        self._rows = looked.frames if looked is not None else ()
        self._measures = found.measures if found is not None else ()
        self.findings.show_findings(findings)
        self.frames.show_rows(LaterRows(self._rows, lambda row: (frame_cells(row), frame_tip(row))))
        good = found.good_looked.measures if found is not None and found.good_looked is not None else ()
        there = {(one.group, one.name): one for one in good}
        rows = [
            (measure_cells_beside(one, there.get((one.group, one.name))), measure_tip(one)) for one in self._measures
        ]
        self.measures.show_rows(rows)
        self._tracks = looked.tracks if looked is not None else ()
        self.tracks.show_rows([(track_cells(one), one.note) for one in self._tracks])
        self._evidence = found.verdict.evidence if found is not None else ()
        self.evidence.show_rows([(evidence_cells(one), one.why) for one in self._evidence])
        filled = (bool(findings), bool(self._rows), bool(self._measures), bool(self._tracks), bool(self._evidence))
        for number, has in enumerate(filled):
            self._group.button(number).setVisible(has)
        self.setVisible(any(filled))
        if any(filled):
            self.show_table(filled.index(True))

    def show_table(self, number: int) -> None:
        """Show one of them."""
        self._stack.setCurrentIndex(number)
        self._group.button(number).setChecked(True)
        self.save_button.setVisible(number == NAMES.index("Frames"))

    def _pick_track(self, row: int) -> None:
        self.said.emit(self._tracks[row].note)
        self.track_picked.emit(self._tracks[row])
