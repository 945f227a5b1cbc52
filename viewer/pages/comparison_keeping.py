"""What is kept of the comparison that is shown: its picture, its verdict, its frames as a table."""

from pathlib import Path

from PySide6.QtCore import QObject, Signal, SignalInstance
from PySide6.QtWidgets import QFileDialog, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.signal.frame_table import cells_of, columns_of
from loomlight.storage.places import file_name
from loomlight.storage.table_file import write_table
from loomlight.viewer.desk import Desk
from loomlight.viewer.job_keeping import keep_verdict
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.picture import Shown
from loomlight.viewer.snapshot import ComparisonSnapshot
from loomlight.viewer.tables_panel import TablesPanel


class ComparisonKeeping(QObject):
    """Takes what is seen off the desk and the lanes, and hands it on."""

    said = Signal(str)
    failed = Signal(object)
    snapshot_taken = Signal(str, object)
    export_wanted = Signal(str, object)

    def __init__(self, desk: Desk, panel: LanePanel, tables: TablesPanel, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk, self._panel, self._tables, self._page = desk, panel, tables, parent

    def take_snapshot(self) -> None:
        """Hand on what is seen; in a job its verdict is kept too."""
        shown, drawn_from = self._desk.drawn, self._desk.drawn_from
        if shown is None or drawn_from is None:
            return
        kept = self._desk.job_capture(drawn_from[0].source)
        if self._desk.folder is not None and kept is not None:
            good = drawn_from[1].label if drawn_from[1] is not None else ""
            entry = drawn_from[1].entry_id if drawn_from[1] is not None else ""
            try:
                keep_verdict(self._desk.folder, shown.comparison, kept, good=good, entry=entry)
                self._desk.job_changed.emit()
            except LoomlightError as error:
                self.failed.emit(error)
                return
        self._hand_on(self.snapshot_taken)

    def export(self) -> None:
        """Hand on what is seen, for a file of the user's choice."""
        self._hand_on(self.export_wanted)

    def _hand_on(self, wanted: SignalInstance) -> None:
        """Send what is seen, with its name."""
        shown, drawn_from = self._desk.drawn, self._desk.drawn_from
        if shown is None or drawn_from is None:
            return
        suspect, good = drawn_from
        lanes = self._panel.lanes
        settings = Shown(
            lanes.view(), lanes.notes(), lanes.cursors(), lanes.level_cursors(), self._panel.readings.lines()
        )
        taken = ComparisonSnapshot(
            shown,
            suspect.file,
            good.label if good is not None else "",
            "" if good is None or good.is_beside(suspect) else good.source_name,
            self._desk.job,
            settings,
            by=self._desk.chosen.ask.by,
        )
        wanted.emit(f"{suspect.channel.name} {shown.comparison.verdict.state}", taken)

    def save_frames(self) -> None:
        """Save the frames as a table, where the user chooses."""
        drawn_from = self._desk.drawn_from
        if drawn_from is None:
            return
        start = Path.home() / f"{file_name(f'{drawn_from[0].channel.name} frames')}.csv"
        chosen, _ = QFileDialog.getSaveFileName(self._page, "Save frames", str(start), "Tables (*.csv)")
        if not chosen:
            return
        try:
            columns = columns_of(self._tables.rows)
            write_table(Path(chosen), columns, (cells_of(row, columns) for row in self._tables.rows))
            self.said.emit(f"{len(self._tables.rows)} frames saved as {chosen}.")
        except LoomlightError as error:
            self.failed.emit(error)
