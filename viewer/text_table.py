"""A table of texts, one row a thing; picking a row tells which."""

from collections.abc import Sequence

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from loomlight.viewer.figure_cells import ROLES, alignment_of

Index = QModelIndex | QPersistentModelIndex
NOWHERE = QModelIndex()
ROW_PIXELS = 44
WIDEST_PIXELS = 260


class TextModel(QAbstractTableModel):
    """Cells and a tip for each row; the cells are made when they are shown."""

    def __init__(self, head: tuple[str, ...]) -> None:
        super().__init__()
        self._head = head
        self.rows: Sequence[tuple[tuple[str, ...], str]] = ()

    def show_rows(self, rows: Sequence[tuple[tuple[str, ...], str]]) -> None:
        """Show other rows: cells and tip."""
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def rowCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._head)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if not index.isValid() or role not in ROLES:
            return None
        cells, tip = self.rows[index.row()]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return alignment_of(cells[index.column()])
        return tip or cells[index.column()] if role == Qt.ItemDataRole.ToolTipRole else cells[index.column()]

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if role != Qt.ItemDataRole.DisplayRole or orientation != Qt.Orientation.Horizontal:
            return None
        return self._head[section]


class TextTable(QTableView):
    """The table; `picked` gives the row's number."""

    picked = Signal(int)

    def __init__(self, head: tuple[str, ...], *, name: str, tip: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.model_of_rows = TextModel(head)
        self.setModel(self.model_of_rows)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(ROW_PIXELS)
        self.horizontalHeader().setStretchLastSection(True)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setWordWrap(False)
        self.setAccessibleName(name)
        self.setToolTip(tip)
        self.selectionModel().currentRowChanged.connect(self._picked)

    def show_rows(self, rows: Sequence[tuple[tuple[str, ...], str]]) -> None:
        """Show other rows; columns as wide as their texts."""
        self.model_of_rows.show_rows(rows)
        header = self.horizontalHeader()
        for column in range(self.model_of_rows.columnCount()):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.Interactive)
            self.resizeColumnToContents(column)
            self.setColumnWidth(column, min(self.columnWidth(column), WIDEST_PIXELS))

    def _picked(self, current: QModelIndex) -> None:
        if current.isValid():
            self.picked.emit(current.row())
