"""A table with one row a thing, whose columns are as wide as their texts once they are seen."""

from PySide6.QtCore import QAbstractTableModel, QEvent, QModelIndex, QTimer
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QAbstractItemView, QTableView, QWidget

ROW_PIXELS = 44
AFTER_MS = 15
"""Columns are laid in a turn of their own, once all else that comes with a comparison was painted."""
MEASURED_ROWS = 60
"""So many rows tell how wide a column is to be: there may be thousands of them."""


class RowsTable(QTableView):
    """Rows to pick, none to edit; `take_row` hears of the one that was picked, `measure` lays the columns."""

    def __init__(self, model: QAbstractTableModel, *, name: str, tip: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._is_measured = False
        self._measuring = QTimer(self)
        self._measuring.setSingleShot(True)
        self._measuring.setInterval(AFTER_MS)
        self._measuring.timeout.connect(self._measure)
        self.setModel(model)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(ROW_PIXELS)
        self.horizontalHeader().setStretchLastSection(True)
        self.horizontalHeader().setResizeContentsPrecision(MEASURED_ROWS)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setWordWrap(False)
        self.setAccessibleName(name)
        self.setToolTip(tip)
        self.selectionModel().currentRowChanged.connect(self._picked)
        model.modelReset.connect(self.measure_anew)

    def measure(self) -> None:
        """Make the columns as wide as their texts."""
        raise TypeError(f"{type(self).__name__} has no widths")

    def take_row(self, row: int) -> None:
        """A row was picked."""
        raise TypeError(f"{type(self).__name__} takes no row")

    def measure_anew(self) -> None:
        """Other rows or other letters want other widths: soon where the table is seen, else when it is."""
        self._is_measured = False
        self._measure_soon()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._measure_soon()

    def changeEvent(self, event: QEvent) -> None:
        """Larger letters want wider columns."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self.measure_anew()

    def _measure_soon(self) -> None:
        if self.isVisible() and not self._is_measured:
            self._measuring.start()

    def _measure(self) -> None:
        self._is_measured = True
        self.measure()

    def _picked(self, current: QModelIndex) -> None:
        if current.isValid():
            self.take_row(current.row())
