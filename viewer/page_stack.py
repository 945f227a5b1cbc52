"""The pages one behind the other; a page that needs more room than there is can be scrolled."""

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QApplication, QFrame, QScrollArea, QStackedWidget, QWidget


class PageStack(QStackedWidget):
    """Asks for the room of the page that is shown, not of the largest."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.currentChanged.connect(lambda _: self.updateGeometry())

    def minimumSizeHint(self) -> QSize:
        page = self.currentWidget()
        return page.minimumSizeHint().expandedTo(page.minimumSize()) if page is not None else QSize()

    def sizeHint(self) -> QSize:
        return self.minimumSizeHint()


class PageScroll(QScrollArea):
    """Holds the stack; bars appear only where text was made larger than the screen has room for. Follows the focus."""

    def __init__(self, stack: PageStack, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidget(stack)
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        application.focusChanged.connect(self._follow)

    def minimumSizeHint(self) -> QSize:
        return QSize(200, 200)

    def _follow(self, _left: QWidget | None, entered: QWidget | None) -> None:
        if entered is not None and self.widget().isAncestorOf(entered):
            self.ensureWidgetVisible(entered)
