"""The list of the Library page: a small picture, title and place of each entry."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QPainter
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from loomlight.signal.entry import Entry
from loomlight.storage.library_bin import Binned
from loomlight.storage.library_pictures import COLUMNS, TOP, SmallPicture
from loomlight.storage.library_rows import Listed
from loomlight.viewer.entry_words import where_line
from loomlight.viewer.looks import in_letters
from loomlight.viewer.theme import Theme

PICTURE, ROW, EDGE = QSize(COLUMNS, 44), 64, 8


@dataclass(frozen=True)
class Row:
    """One line of the list.

    Attributes
    ----------
    entry : Entry
        What is known.
    listed : Listed or None
        Its file in the library; None for what lies in the bin.
    remark : str
        Damaged, a copy, days left in the bin, fit: before the second line.
    binned : Binned or None
        Where it lies in the bin.
    """

    entry: Entry
    listed: Listed | None = None
    remark: str = ""
    binned: Binned | None = None

    @property
    def is_usable(self) -> bool:
        """Whether there is a sound waveform to show."""
        return self.listed is not None and not self.listed.problem

    @property
    def second(self) -> str:
        """The second line."""
        return " · ".join(one for one in (self.remark, where_line(self.entry)) if one)


class _Delegate(QStyledItemDelegate):
    """Draws a row: the picture at the left, two lines of text beside it."""

    def __init__(self, shown: "LibraryList") -> None:
        super().__init__(shown)
        self._shown = shown

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        return QSize(10, in_letters(ROW))

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        row, theme = self._shown.rows[index.row()], self._shown.theme
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)  # type: ignore[attr-defined]
        whole: QRect = option.rect  # type: ignore[attr-defined]
        text = QColor(theme.ground if chosen else theme.text)
        painter.save()
        painter.fillRect(whole, QColor(theme.text if chosen else theme.raised))
        picture = self._shown.pictures.get(row.listed.file) if row.listed is not None else None
        frame = QRect(
            whole.left() + EDGE, whole.top() + (whole.height() - PICTURE.height()) // 2, COLUMNS, PICTURE.height()
        )
        painter.fillRect(frame, QColor(theme.ground))
        if picture is not None:
            _draw(painter, frame, picture, QColor(theme.traces["known-good"]))
        painter.setPen(QColor(theme.rule))
        painter.drawRect(frame.adjusted(-1, -1, 0, 0))
        beside = whole.adjusted(COLUMNS + 3 * EDGE, 8, -EDGE, -8)
        font = QFont(option.font)  # type: ignore[attr-defined]
        lines = ((row.entry.title, True, 0), (row.second, False, 1))
        for words, bold, place in lines:
            font.setBold(bold)
            painter.setFont(font)
            painter.setPen(text)
            line = QRect(
                beside.left(), beside.top() + place * beside.height() // 2, beside.width(), beside.height() // 2
            )
            fitting = painter.fontMetrics().elidedText(words, Qt.TextElideMode.ElideRight, line.width())
            painter.drawText(line, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, fitting)
        painter.setPen(QColor(theme.grid))
        painter.drawLine(whole.bottomLeft(), whole.bottomRight())
        painter.restore()


def _draw(painter: QPainter, frame: QRect, picture: SmallPicture, colour: QColor) -> None:
    """One stroke a column, joined to its neighbour so that an edge is a line."""
    painter.setPen(colour)
    reach = frame.height() - 7
    bottom = frame.top() + frame.height() - 4
    low, high = picture.low.astype(int), picture.high.astype(int)
    known = low <= high
    for column in np.flatnonzero(known).tolist():
        least, most = low[column], high[column]
        if column and known[column - 1]:
            least, most = min(least, high[column - 1]), max(most, low[column - 1])
        x = frame.left() + column
        painter.drawLine(x, bottom - most * reach // TOP, x, bottom - least * reach // TOP)


class LibraryList(QListWidget):
    """Shows rows; says which is chosen."""

    row_chosen = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.rows: tuple[Row, ...] = ()
        self.pictures: dict[str, SmallPicture] = {}
        self.setItemDelegate(_Delegate(self))
        self.setUniformItemSizes(True)
        self.setAccessibleName("Entries")
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.currentRowChanged.connect(lambda row: self.row_chosen.emit(self.row_at(row)))

    def row_at(self, place: int) -> Row | None:
        """The row in a place, or None."""
        return self.rows[place] if 0 <= place < len(self.rows) else None

    def current_row(self) -> Row | None:
        """The chosen row."""
        return self.row_at(self.currentRow())

    def show_rows(self, rows: Sequence[Row], *, keep: str = "") -> None:
        """Show others; the entry with the id ``keep`` stays chosen, else the first one is."""
        self.blockSignals(True)
        self.clear()
        self.rows = tuple(rows)
        for row in rows:
            item = QListWidgetItem(row.entry.title)
            item.setToolTip(f"{row.entry.title}\n{row.second}")
            item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{row.entry.title}, {row.second}")
            self.addItem(item)
        at = next((place for place, row in enumerate(rows) if row.entry.id == keep), 0)
        self.setCurrentRow(at if rows else -1)
        self.blockSignals(False)
        self.row_chosen.emit(self.current_row())

    def show_pictures(self, pictures: dict[str, SmallPicture]) -> None:
        """Add small pictures by file name."""
        self.pictures |= pictures
        self.viewport().update()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.theme = theme
        self.scheduleDelayedItemsLayout()  # rows grow with the text
        self.viewport().update()
