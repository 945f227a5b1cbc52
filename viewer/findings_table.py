"""The findings of the comparison at hand, as a list that jumps to each."""

from collections.abc import Sequence

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtWidgets import QWidget

from loomlight.signal.finding import Finding
from loomlight.viewer.figure_cells import ROLES, alignment_of
from loomlight.viewer.rows_table import RowsTable
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


class FindingsTable(RowsTable):
    """The list; picking a row asks to show that finding."""

    picked = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        rows = FindingsModel()
        super().__init__(rows, name="Findings", tip="Pick a finding to see it in the lanes", parent=parent)
        self.rows = rows

    def show_findings(self, findings: Sequence[Finding]) -> None:
        """Show others."""
        self.rows.show_findings(findings)

    def measure(self) -> None:
        """The last column takes what is left."""
        for column in range(len(SHOWN) - 1):
            self.resizeColumnToContents(column)

    def take_row(self, row: int) -> None:
        """Ask to show that finding."""
        self.picked.emit(self.rows.findings[row])

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
