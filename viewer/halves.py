"""Two parts of a page beside each other, or one over the other where there is no room for that."""

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent, QShowEvent
from PySide6.QtWidgets import QSplitter, QWidget

from loomlight.viewer.looks import in_letters

BESIDE_PIXELS, OVER_PIXELS = 640, 300
"""In letters of the usual size: width from which two parts stand beside each other, and height of each where they do not.
The page is scrolled then, so nothing has to be squeezed."""


def least_size(widget: QWidget, hint: QSize) -> QSize:
    """``hint``, made as high as the widget's words need at the width that it has: Qt takes the height of unbroken lines."""
    layout = widget.layout()
    if layout is None or not layout.hasHeightForWidth():
        return hint
    return QSize(hint.width(), max(hint.height(), layout.minimumHeightForWidth(max(widget.width(), hint.width()))))


class Part(QWidget):
    """Takes the height that its words need at the width that it has."""

    def minimumSizeHint(self) -> QSize:
        return least_size(self, super().minimumSizeHint())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.updateGeometry()


class Halves(QSplitter):
    """A splitter that turns by itself: large text on a small screen leaves no room for two columns.

    Beside each other is how it is divided by hand and remembered; one over the other each part gets what it needs.

    Parameters
    ----------
    sizes : tuple of int
        Of the parts beside each other, in proportion.
    """

    def __init__(self, *parts: QWidget, sizes: tuple[int, ...]) -> None:
        super().__init__(Qt.Orientation.Horizontal)
        for part in parts:
            self.addWidget(part)
        self.setChildrenCollapsible(False)
        self.setSizes(list(sizes))
        self._beside = list(sizes)

    def minimumSizeHint(self) -> QSize:
        """No wider than the widest part: it can always turn."""
        sizes = self._least()
        if not sizes:
            return QSize()
        between = self.handleWidth() * (len(sizes) - 1)
        if self.orientation() == Qt.Orientation.Vertical:
            height = sum(max(one.height(), in_letters(OVER_PIXELS)) for one in sizes) + between
        else:
            height = max(one.height() for one in sizes)
        return QSize(max(one.width() for one in sizes), height)

    def resizeEvent(self, event: QResizeEvent) -> None:
        if self.isVisible():
            self._turn()
        super().resizeEvent(event)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._turn()

    def _turn(self) -> None:
        sizes = self._least()
        needed = sum(one.width() for one in sizes) + self.handleWidth() * max(len(sizes) - 1, 0)
        is_narrow = self.width() < max(needed, in_letters(BESIDE_PIXELS))
        wanted = Qt.Orientation.Vertical if is_narrow else Qt.Orientation.Horizontal
        if wanted == self.orientation():
            return
        if wanted == Qt.Orientation.Vertical:
            self._beside = self.sizes()
            self.setOrientation(wanted)
            self.setSizes([max(one.height(), in_letters(OVER_PIXELS)) for one in sizes])
        else:
            self.setOrientation(wanted)
            self.setSizes(self._beside)
        self.updateGeometry()

    def _least(self) -> list[QSize]:
        """What each part needs at least."""
        parts = (self.widget(at) for at in range(self.count()))
        return [one.minimumSizeHint().expandedTo(one.minimumSize()) for one in parts if not one.isHidden()]
