"""One line over the page for what went wrong or was done; it stays until it is read away."""

from collections.abc import Callable

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.log import logged
from loomlight.viewer.support import details_of

COPIED_MS = 2000


class MessageStrip(QFrame):
    """Shows one message at a time; the newest wins."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("strip")
        self._is_error = False
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 4, 4, 4)
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.text.setAccessibleName("Message")
        self._act: Callable[[], object] | None = None
        self.offer_button = QPushButton()
        self.offer_button.clicked.connect(self._take_offer)
        self.offer_button.hide()
        self.copy_button = QPushButton("Copy details")
        self.copy_button.setToolTip("Copy what support needs, without paths and names, to paste it into a mail")
        self.copy_button.clicked.connect(self._copy)
        self.copy_button.hide()
        self._details = ""
        close = QPushButton("Close message")
        close.setToolTip("Put this message away (Esc)")
        close.clicked.connect(self.hide)
        row.addWidget(self.text, 1)
        row.addWidget(self.copy_button)
        row.addWidget(self.offer_button)
        row.addWidget(close)
        self.hide()

    def say(self, text: str, *, offer: tuple[str, Callable[[], object]] | None = None) -> None:
        """Tell what was done; an offer is a button's text and what it does, such as taking that back."""
        self._is_error = False
        self._details = ""
        self.copy_button.hide()
        self.text.setText(text)
        self._act = offer[1] if offer is not None else None
        self.offer_button.setText(offer[0] if offer is not None else "")
        self.offer_button.setVisible(offer is not None)
        self.show()

    def _take_offer(self) -> None:
        act = self._act
        self.hide()
        if act is not None:
            act()

    def turn_page(self) -> None:
        """What was told is read by now; an error stays until it is put away."""
        if not self._is_error:
            self.hide()

    def say_error(self, error: Exception) -> None:
        """What the user can mend as it is; our own bugs into the log, with one plain line."""
        self.say(f"✗  {error}" if isinstance(error, LoomlightError) else f"✗  {logged(error)}")
        self._is_error = True
        self._details = details_of(error)
        self.copy_button.show()

    def _copy(self) -> None:
        QGuiApplication.clipboard().setText(self._details)
        self.copy_button.setText("Copied")
        QTimer.singleShot(COPIED_MS, self, lambda: self.copy_button.setText("Copy details"))
