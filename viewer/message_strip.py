"""One line over the page for what went wrong or was done; it stays until it is read away."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.log import logged


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
        close = QPushButton("Close message")
        close.setToolTip("Put this message away (Esc)")
        close.clicked.connect(self.hide)
        row.addWidget(self.text, 1)
        row.addWidget(close)
        self.hide()

    def say(self, text: str) -> None:
        """Tell what was done."""
        self._is_error = False
        self.text.setText(text)
        self.show()

    def turn_page(self) -> None:
        """What was told is read by now; an error stays until it is put away."""
        if not self._is_error:
            self.hide()

    def say_error(self, error: Exception) -> None:
        """What the user can mend as it is; our own bugs into the log, with one plain line."""
        self.say(f"✗  {error}" if isinstance(error, LoomlightError) else f"✗  {logged(error)}")
        self._is_error = True
