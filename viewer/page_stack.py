"""The pages one behind the other; a page that needs more room than there is can be scrolled."""

from PySide6.QtCore import QEvent, QObject, QSize
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QApplication, QFrame, QScrollArea, QStackedWidget, QWidget

from loomlight.viewer.halves import least_size


class PageStack(QStackedWidget):
    """Asks for the room of the page that is shown, not of the largest. A page that is not there yet has its place kept."""

    def __init__(self, pages: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        for _ in range(pages):
            self.addWidget(QWidget())
        self.currentChanged.connect(lambda _: self.updateGeometry())

    def take(self, place: int, page: QWidget) -> None:
        """Put a page into its place."""
        keeper, is_shown = self.widget(place), self.currentIndex() == place
        self.insertWidget(place, page)
        if is_shown:
            self.setCurrentIndex(place)
        self.removeWidget(keeper)
        keeper.deleteLater()

    def minimumSizeHint(self) -> QSize:
        page = self.currentWidget()
        if page is None:
            return QSize()
        return least_size(page, page.minimumSizeHint().expandedTo(page.minimumSize()))

    def sizeHint(self) -> QSize:
        return self.minimumSizeHint()


class _Holder(QWidget):
    """Gives the stack all room. It has no layout: a scroll area would take the height that the pages would like for the
    least that they need."""

    def __init__(self, stack: PageStack) -> None:
        super().__init__()
        self._stack = stack
        stack.setParent(self)
        stack.currentChanged.connect(lambda _: self.updateGeometry())
        stack.installEventFilter(self)

    def minimumSizeHint(self) -> QSize:
        return self._stack.minimumSizeHint()

    def sizeHint(self) -> QSize:
        return self._stack.minimumSizeHint()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._stack.resize(self.size())
        if event.size().width() != event.oldSize().width():
            self.updateGeometry()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.LayoutRequest:
            self.updateGeometry()
        return False


class PageScroll(QScrollArea):
    """Holds the stack; bars appear only where text was made larger than the screen has room for. Follows the focus."""

    def __init__(self, stack: PageStack, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidget(_Holder(stack))
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        application.focusChanged.connect(self._follow)

    def minimumSizeHint(self) -> QSize:
        return QSize(200, 200)

    def _follow(self, _left: QWidget | None, entered: QWidget | None) -> None:
        if entered is not None and self.widget().isAncestorOf(entered):
            self.ensureWidgetVisible(entered)
