"""A table of texts, one row a thing; picking a row tells which."""

from collections.abc import Callable, Sequence
from typing import TypeVar, overload

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from loomlight.viewer.figure_cells import ROLES, WORDS_ALIGNED, alignment_of
from loomlight.viewer.rows_table import RowsTable

Index = QModelIndex | QPersistentModelIndex
NOWHERE = QModelIndex()
Thing = TypeVar("Thing")
WIDEST_PIXELS, WIDEST_SHARE = 260, 0.4
"""Of a column, and of the table's width; the whole of a longer text stands in the tooltip."""

Row = tuple[tuple[str, ...], str]
"""The cells of a row, and its tip."""


class LaterRows(Sequence[Row]):
    """Rows whose words are made when they are shown: most of many never are.

    Parameters
    ----------
    things : sequence
        What the rows are about.
    row : callable
        Gives the cells and the tip of one of them.
    """

    def __init__(self, things: Sequence[Thing], row: Callable[[Thing], Row]) -> None:
        self._things, self._row = things, row

    def __len__(self) -> int:
        return len(self._things)

    @overload
    def __getitem__(self, at: int) -> Row: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[Row]: ...

    def __getitem__(self, at: int | slice) -> Row | Sequence[Row]:
        if isinstance(at, slice):
            return LaterRows(self._things[at], self._row)
        return self._row(self._things[at])


class TextModel(QAbstractTableModel):
    """Cells and a tip for each row; the cells are made when they are shown."""

    def __init__(self, head: tuple[str, ...], *, words: Sequence[str] = ()) -> None:
        super().__init__()
        self._head, self._words = head, words
        self.rows: Sequence[Row] = ()

    def show_rows(self, rows: Sequence[Row]) -> None:
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
            is_words = self._head[index.column()] in self._words
            return WORDS_ALIGNED if is_words else alignment_of(cells[index.column()])
        return tip or cells[index.column()] if role == Qt.ItemDataRole.ToolTipRole else cells[index.column()]

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if role != Qt.ItemDataRole.DisplayRole or orientation != Qt.Orientation.Horizontal:
            return None
        return self._head[section]


class TextTable(RowsTable):
    """The table; `picked` gives the row's number."""

    picked = Signal(int)

    def __init__(
        self, head: tuple[str, ...], *, name: str, tip: str, words: Sequence[str] = (), parent: QWidget | None = None
    ) -> None:
        """``words`` are the columns of ``head`` that hold no figures, whatever they look like."""
        rows = TextModel(head, words=words)
        super().__init__(rows, name=name, tip=tip, parent=parent)
        self.model_of_rows = rows
        self._wanted: list[int] = []

    def show_rows(self, rows: Sequence[Row]) -> None:
        """Show other rows."""
        self.model_of_rows.show_rows(rows)

    def measure(self) -> None:
        """Note what each column wants, and lay them."""
        self.resizeColumnsToContents()
        self._wanted = [self.columnWidth(column) for column in range(self.model_of_rows.columnCount())]
        self._lay_columns()

    def take_row(self, row: int) -> None:
        """Tell which row."""
        self.picked.emit(row)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._lay_columns()

    def _lay_columns(self) -> None:
        """No column so wide that the next one is out of sight."""
        most = min(WIDEST_PIXELS, round(WIDEST_SHARE * self.viewport().width()))
        for column, wanted in enumerate(self._wanted):
            self.setColumnWidth(column, min(wanted, most))
