"""A row of widgets that goes on in the next line where the window is too narrow for all of them."""

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget


class FlowRow(QLayout):
    """Lays widgets out from the left, line by line, each at its own size, or so that they fill each line.

    Parameters
    ----------
    gap : int
        Pixels between widgets.
    fills : bool
        Whether what is left of a line goes to those of its widgets that can be wider.
    """

    def __init__(self, parent: QWidget | None = None, *, gap: int = 4, fills: bool = False) -> None:
        super().__init__(parent)
        self._gap, self._fills = gap, fills
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
        top = rect.top()
        for number, line in enumerate(self._lines(rect.width())):
            top += self._gap if number else 0
            left, widths = rect.left(), self._widths(line, rect.width())
            heights = [
                max(size.height(), item.heightForWidth(width))
                if self._fills and item.hasHeightForWidth()
                else size.height()
                for (item, size), width in zip(line, widths, strict=True)
            ]
            height = max(heights)
            for (item, _), width, own in zip(line, widths, heights, strict=True):
                if place:  # at the foot of its line: what stands over a field is its title
                    item.setGeometry(QRect(left, top + height - own, width, own))
                left += width + self._gap
            top += height
        return top - rect.top()

    def _lines(self, width: int) -> list[list[tuple[QLayoutItem, QSize]]]:
        """What stands in each line, with its size: as wide as it likes, or as it needs where lines are filled."""
        lines: list[list[tuple[QLayoutItem, QSize]]] = []
        left = 0
        for item in self._shown():
            likes = item.sizeHint()
            size = QSize(item.minimumSize().width(), likes.height()) if self._fills else likes
            if not lines or left + size.width() > width:
                lines.append([])
                left = 0
            lines[-1].append((item, size))
            left += size.width() + self._gap
        return lines

    def _widths(self, line: list[tuple[QLayoutItem, QSize]], width: int) -> list[int]:
        widths = [size.width() for _, size in line]
        growing = [
            number
            for number, (item, _) in enumerate(line)
            if self._fills and item.expandingDirections() & Qt.Orientation.Horizontal
        ]
        left = width - sum(widths) - self._gap * (len(line) - 1)
        for number in growing:
            widths[number] += max(left, 0) // len(growing)
        return widths
