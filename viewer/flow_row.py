"""A row of widgets that goes on in the next line where the window is too narrow for all of them."""

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget


class FlowRow(QLayout):
    """Lays widgets out from the left, line by line, each at its own size."""

    def __init__(self, parent: QWidget | None = None, *, gap: int = 4) -> None:
        super().__init__(parent)
        self._gap = gap
        self._items: list[QLayoutItem] = []
        self.setContentsMargins(0, 0, 0, 0)

    def addItem(self, item: QLayoutItem) -> None:
        self._items.append(item)

    def count(self) -> int:
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return self._lay(QRect(0, 0, width, 0), place=False)

    def setGeometry(self, rect: QRect) -> None:
        super().setGeometry(rect)
        self._lay(rect, place=True)

    def sizeHint(self) -> QSize:
        """All in one line, if there is room."""
        sizes = [item.sizeHint() for item in self._shown()]
        width = sum(size.width() for size in sizes) + self._gap * max(len(sizes) - 1, 0)
        return QSize(width, max((size.height() for size in sizes), default=0))

    def minimumSize(self) -> QSize:
        """The widest alone."""
        sizes = [item.minimumSize() for item in self._shown()]
        return QSize(
            max((size.width() for size in sizes), default=0), max((size.height() for size in sizes), default=0)
        )

    def _shown(self) -> list[QLayoutItem]:
        return [item for item in self._items if not item.isEmpty()]

    def _lay(self, rect: QRect, *, place: bool) -> int:
        """Give the height that all lines take together."""
        left, top, line = rect.left(), rect.top(), 0
        for item in self._shown():
            size = item.sizeHint()
            if left > rect.left() and left + size.width() > rect.left() + rect.width():
                left, top, line = rect.left(), top + line + self._gap, 0
            if place:
                item.setGeometry(QRect(left, top, size.width(), size.height()))
            left += size.width() + self._gap
            line = max(line, size.height())
        return top + line - rect.top()
