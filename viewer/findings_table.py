"""The findings of the comparison at hand, as a list that jumps to each."""

from collections.abc import Sequence

from PySide6.QtCore import QAbstractTableModel, QEvent, QModelIndex, QPersistentModelIndex, Qt, QTimer, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QAbstractItemView, QTableView, QWidget

from loomlight.signal.finding import Finding
from loomlight.viewer.figure_cells import ROLES, alignment_of
from loomlight.viewer.text_table import MEASURED_ROWS
from loomlight.viewer.wording import FINDING_COLUMNS, finding_cells

SHOWN = FINDING_COLUMNS[:-1]  # the rule stands in full under the list

Index = QModelIndex | QPersistentModelIndex
NOWHERE = QModelIndex()


class FindingsModel(QAbstractTableModel):
    """Shows findings; holds nothing of its own."""

    def __init__(self) -> None:
        super().__init__()
        self.findings: Sequence[Finding] = ()

    def show_findings(self, findings: Sequence[Finding]) -> None:
        """Show others."""
        self.beginResetModel()
        self.findings = findings
        self.endResetModel()

    def rowCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else len(self.findings)

    def columnCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else len(SHOWN)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if not index.isValid() or role not in ROLES:
            return None
        finding = self.findings[index.row()]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return alignment_of(finding_cells(finding)[index.column()])
        return finding.rule if role == Qt.ItemDataRole.ToolTipRole else finding_cells(finding)[index.column()]

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if role != Qt.ItemDataRole.DisplayRole or orientation != Qt.Orientation.Horizontal:
            return None
        return SHOWN[section]


class FindingsTable(QTableView):
    """The list; picking a row asks to show that finding."""

    picked = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows = FindingsModel()
        self._is_measured = False
        self._measuring = QTimer(self)  # a turn of its own: with a comparison comes much else
        self._measuring.setSingleShot(True)
        self._measuring.timeout.connect(self._measure)
        self.setModel(self.rows)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(44)
        self.horizontalHeader().setStretchLastSection(True)
        self.horizontalHeader().setResizeContentsPrecision(MEASURED_ROWS)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setWordWrap(False)
        self.setAccessibleName("Findings")
        self.setToolTip("Pick a finding to see it in the lanes")
        self.selectionModel().currentRowChanged.connect(self._picked)

    def show_findings(self, findings: Sequence[Finding]) -> None:
        """Show others; columns as wide as their texts once they are seen."""
        self.rows.show_findings(findings)
        self._is_measured = False
        self._measure_soon()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._measure_soon()

    def changeEvent(self, event: QEvent) -> None:
        """Larger letters want wider columns."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._is_measured = False
            self._measure_soon()

    def _measure_soon(self) -> None:
        if self.isVisible() and not self._is_measured:
            self._measuring.start()

    def _measure(self) -> None:
        if not self._is_measured:
            self._is_measured = True
            for column in range(len(SHOWN) - 1):
                self.resizeColumnToContents(column)

    def step(self, by: int) -> None:
        """To the next or the previous finding."""
        count = len(self.rows.findings)
        if count:
            row = self.currentIndex().row()
            self.selectRow((row + by) % count if row >= 0 else (0 if by > 0 else count - 1))

    def select(self, finding: Finding) -> None:
        """Pick the row of a finding."""
        if finding in self.rows.findings:
            self.selectRow(self.rows.findings.index(finding))

    def _picked(self, current: QModelIndex) -> None:
        if current.isValid():
            self.picked.emit(self.rows.findings[current.row()])
