"""The first rows of a text file as they stand there, with what each row and column was taken for."""

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, QPoint, Qt, Signal
from PySide6.QtGui import QFont, QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from loomlight.storage.reading_preview import PreviewColumn, PreviewRow, ReadingPreview
from loomlight.viewer.style_sheet import TARGET_PIXELS

Index = QModelIndex | QPersistentModelIndex
WIDEST, NARROWEST, PADDING = 260, 110, 16
WIDE_SIGN = 1.25
"""Bold digits and capitals are wider than the average letter."""


def column_heading(column: PreviewColumn) -> str:
    """What a column was taken for, in two lines."""
    guess = " (guessed)" if column.is_guess else ""
    if column.role == "time":
        return f"{column.number}  time{guess}\nin {column.unit or 's'}"
    if column.role == "value":
        name = column.name or f"column {column.number}"
        return f"{column.number}  {name}\n{f'in {column.unit}' if column.unit else 'unit unknown'}"
    return f"{column.number}  ({column.role})\n–"


def _font(*, italic: bool = False, strong: bool = False) -> QFont:
    font = QFont()
    font.setItalic(italic)
    font.setWeight(QFont.Weight.DemiBold if strong else QFont.Weight.Normal)
    return font


ABOVE_THE_DATA, TAKEN = _font(italic=True), _font(strong=True)


class RowsModel(QAbstractTableModel):
    """Hands a preview to the view; holds nothing else."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._rows: tuple[PreviewRow, ...] = ()
        self._columns: tuple[PreviewColumn, ...] = ()
        self._width = 0

    def show_preview(self, shown: ReadingPreview) -> bool:
        """Show another preview; gives whether its cells are others. Where they are not, only what they mean changed."""
        if [row.cells for row in shown.rows] == [row.cells for row in self._rows] and self._rows:
            self._rows, self._columns = shown.rows, shown.columns
            self.dataChanged.emit(self.index(0, 0), self.index(len(self._rows) - 1, self._width - 1))
            self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, self._width - 1)
            self.headerDataChanged.emit(Qt.Orientation.Vertical, 0, len(self._rows) - 1)
            return False
        self.beginResetModel()
        self._rows, self._columns = shown.rows, shown.columns
        self._width = max([len(self._columns), *(len(row.cells) for row in self._rows)], default=0)
        self.endResetModel()
        return True

    def signs(self, place: int) -> int:
        """Length of a column's longest cell or heading, in signs."""
        cells = (row.cells[place] for row in self._rows if place < len(row.cells))
        heading = str(self.headerData(place, Qt.Orientation.Horizontal)).split("\n")
        return max(map(len, (*cells, *heading)))

    def column(self, place: int) -> PreviewColumn | None:
        """What the column at this place was taken for; None where only the rows above the data have it."""
        return self._columns[place] if 0 <= place < len(self._columns) else None

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 (as Qt has it)
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else self._width

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        row = self._rows[index.row()]
        cell = row.cells[index.column()] if index.column() < len(row.cells) else ""
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole):
            return cell
        if role == Qt.ItemDataRole.FontRole:
            if not row.is_data:
                return ABOVE_THE_DATA
            return TAKEN if self._is_taken(index.column()) else None
        if role == Qt.ItemDataRole.TextAlignmentRole and row.is_data:
            return int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        return None

    def _is_taken(self, place: int) -> bool:
        column = self.column(place)
        return column is not None and column.role in ("time", "value")

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        if orientation == Qt.Orientation.Horizontal:
            column = self.column(section)
            return column_heading(column) if column is not None else f"{section + 1}\n"
        row = self._rows[section]
        first = row.is_data and (section == 0 or not self._rows[section - 1].is_data)
        return f"▶ {row.line}" if first else str(row.line)


class ReadingTable(QTableView):
    """Rows and columns to click on: a column's heading asks about that column, a row's number makes the data begin there.

    With the keyboard: Return asks about the column of the cell that has the focus, Space begins the data in its row.
    """

    column_asked = Signal(int, QPoint)
    row_picked = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows = RowsModel(self)
        self.setModel(self.rows)
        self.setAccessibleName("First rows of the file")
        self.setAccessibleDescription(
            "Return asks about the column of the current cell, Space lets the data begin in its row."
        )
        self.setWordWrap(False)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        across, down = self.horizontalHeader(), self.verticalHeader()
        across.setSectionsClickable(True)
        across.setHighlightSections(False)
        across.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        across.sectionClicked.connect(self._ask_column)
        down.setSectionsClickable(True)
        down.setDefaultSectionSize(TARGET_PIXELS)
        down.setMinimumWidth(72)
        down.sectionClicked.connect(self.row_picked)
        down.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)

    def show_preview(self, shown: ReadingPreview) -> None:
        """Show another preview; columns are as wide as they need to be, within bounds."""
        place = self.currentIndex()
        is_other = self.rows.show_preview(shown)
        sign = self.fontMetrics().averageCharWidth() * WIDE_SIGN
        for number in range(self.rows.columnCount()):
            wanted = round(self.rows.signs(number) * sign) + PADDING
            width = min(max(wanted, NARROWEST), WIDEST)
            if width != self.columnWidth(number):
                self.setColumnWidth(number, width)
        if is_other and place.isValid():
            self.setCurrentIndex(self.rows.index(place.row(), place.column()))

    def _ask_column(self, place: int) -> None:
        header = self.horizontalHeader()
        corner = QPoint(header.sectionViewportPosition(place), header.height())
        self.column_asked.emit(place, header.viewport().mapToGlobal(corner))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """The headings' clicks without a mouse."""
        place = self.currentIndex()
        if place.isValid() and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._ask_column(place.column())
        elif place.isValid() and event.key() == Qt.Key.Key_Space:
            self.row_picked.emit(place.row())
        else:
            super().keyPressEvent(event)
