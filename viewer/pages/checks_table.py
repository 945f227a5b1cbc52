"""The proof, check by check: both figures, the limit, the result."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QTableWidget, QTableWidgetItem, QWidget

from loomlight.signal.proof import Proof
from loomlight.viewer.figure_cells import alignment_of
from loomlight.viewer.wording import CHECK_COLUMNS, check_cells

LEAST_SHARE = 0.6
"""Of a check's name that is always seen; the whole stands in the tooltip."""


class ChecksTable(QTableWidget):
    """Columns as wide as their words; the first takes what is left, or gives some of its own before the table scrolls."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(0, len(CHECK_COLUMNS), parent)
        self.setHorizontalHeaderLabels(list(CHECK_COLUMNS))
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(34)
        self.setAccessibleName("Checks of the proof")
        self.setWordWrap(False)
        self.setTextElideMode(Qt.TextElideMode.ElideMiddle)  # whose figure it is stands at a name's end
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)

    def show_proof(self, proof: Proof | None) -> None:
        """Show the checks of a proof; none without one."""
        checks = proof.checks if proof is not None else ()
        self.setRowCount(len(checks))
        for row, check in enumerate(checks):
            for column, cell in enumerate(check_cells(check)):
                item = QTableWidgetItem(cell)
                item.setToolTip(cell)
                item.setTextAlignment(alignment_of(cell))
                self.setItem(row, column, item)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        self.resizeColumnsToContents()
        left = self.viewport().width() - self.horizontalHeader().length()
        words = self.columnWidth(0)
        self.setColumnWidth(0, max(words + left, round(LEAST_SHARE * words)))
