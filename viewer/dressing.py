"""Who wears which style sheet: what is seen at once, what is behind it when it is shown or when there is nothing else to do.

One sheet for the whole application would be simpler, but a change of it looks at every widget there is in one go, longer
than a hand should wait.
"""

from collections.abc import Iterator

from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QStackedWidget, QWidget

from loomlight.viewer.icon import begin_icons, dress_icons
from loomlight.viewer.looks import own_application
from loomlight.viewer.theme import Theme

BETWEEN_MS = 5
"""From the end of one step to the next: what the hand does comes first."""


class Dressing(QObject):
    """Dresses a window, page by page, and the sheets that open over it.

    Parameters
    ----------
    window : QWidget
        The window; it wears no sheet itself, for all its pages would wear it with it.
    pages : QStackedWidget
        Only the one that is shown is dressed at once.
    parts : tuple of QWidget
        What is seen beside each page.
    """

    def __init__(self, window: QWidget, pages: QStackedWidget, parts: tuple[QWidget, ...]) -> None:
        super().__init__(window)
        self._window, self._pages, self._parts = window, pages, parts
        self._sheet = ""
        self._worn: dict[QWidget, str] = {}
        self._step = QTimer(self)
        self._step.setSingleShot(True)
        self._step.setInterval(BETWEEN_MS)
        self._step.timeout.connect(self._go_on)
        pages.currentChanged.connect(self._page_turned)
        window.installEventFilter(self)

    @property
    def is_done(self) -> bool:
        """Whether every page that was shown once wears what it should."""
        return not self._step.isActive()

    def add(self, part: QWidget) -> None:
        """One more part that is seen beside each page."""
        self._parts = (*self._parts, part)
        self._put_on(part)

    def wear(self, theme: Theme, sheet: str) -> None:
        """From now on all is dressed in ``sheet``, the style sheet of ``theme`` in the wanted text size.

        The page that is shown follows in the next turns of the event loop, and keeps its old looks until it is ready.
        """
        if sheet == self._sheet:
            return
        self._sheet = sheet
        begin_icons(theme)
        own_application().setPalette(_palette(theme))
        for part in (*self._parts, *self._open_sheets()):
            self._put_on(part)
        page = self._pages.currentWidget()
        if page is None or page not in self._worn:
            self.finish_shown()
        else:
            self._pages.setUpdatesEnabled(False)
        self._step.start()

    def _page_turned(self) -> None:
        """One in older looks follows in the next turns, as after a change of them; one that has none yet at once."""
        page = self._pages.currentWidget()
        if page in self._worn and self._is_old(page):
            self._pages.setUpdatesEnabled(False)
            self._step.start()
        else:
            self.finish_shown()

    def finish_shown(self) -> None:
        """Dress the page that is shown, at once."""
        page = self._pages.currentWidget()
        while page is not None and self._worn.get(page, "") != self._sheet:
            self._dress_on(page)
        self._pages.setUpdatesEnabled(True)

    def _go_on(self) -> None:
        """One step: the page that is shown comes first; one that was never dressed waits until it is shown."""
        pages = (self._pages.widget(at) for at in range(self._pages.count()))
        if self._is_old(self._pages.currentWidget()):
            self._dress_on(self._pages.currentWidget())
        elif not self._pages.updatesEnabled():
            self._pages.setUpdatesEnabled(True)  # a step of its own: all of the page is drawn anew
        elif (old := next(filter(self._is_old, pages), None)) is not None:
            self._dress_on(old)
        else:
            return
        self._step.start()

    def _is_old(self, page: QWidget) -> bool:
        return self._worn.get(page, self._sheet) != self._sheet

    def _dress_on(self, page: QWidget) -> None:
        """Undress a page, or dress it: each takes half the time, straight from one sheet to another more than both."""
        wanted = "" if self._worn.get(page) else self._sheet
        self._worn[page] = wanted
        if wanted:
            self._put_on(page)
        else:
            page.setStyleSheet("")

    def _put_on(self, part: QWidget) -> None:
        part.setStyleSheet(self._sheet)
        dress_icons(part)

    def _open_sheets(self) -> Iterator[QWidget]:
        """Sheets that belong to the window itself; those of a page wear what the page wears."""
        return (one for one in self._window.children() if isinstance(one, QWidget) and one.isWindow())

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """A sheet is dressed right before it is measured and shown for the first time."""
        if event.type() == QEvent.Type.ChildPolished:
            child = event.child()  # type: ignore[attr-defined]
            if isinstance(child, QWidget) and child.isWindow():
                self._put_on(child)
        return False


def _palette(theme: Theme) -> QPalette:
    """For what wears no sheet: the ground between the parts, what the system's own sheets draw."""
    role, group = QPalette.ColorRole, QPalette.ColorGroup
    palette = QPalette(QColor(theme.raised), QColor(theme.panel))
    for one, colour in (
        (role.Base, theme.raised),
        (role.AlternateBase, theme.panel),
        (role.WindowText, theme.text),
        (role.Text, theme.text),
        (role.ButtonText, theme.text),
        (role.ToolTipBase, theme.raised),
        (role.ToolTipText, theme.text),
        (role.PlaceholderText, theme.quiet_text),
        (role.Highlight, theme.text),
        (role.HighlightedText, theme.ground),
    ):
        palette.setColor(one, QColor(colour))
    for one in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(group.Disabled, one, QColor(theme.quiet_text))
    return palette
