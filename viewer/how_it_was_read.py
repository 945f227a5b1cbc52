"""Everything that was assumed while a capture was read, and what was set up by hand, line by line."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QVBoxLayout, QWidget

from loomlight.signal.capture import Capture
from loomlight.signal.channel_setup import stored_of


class HowItWasRead(QScrollArea):
    """Shows a capture's notes; holds nothing of its own."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("How it was read")
        self._inside = QWidget()
        self._column = QVBoxLayout(self._inside)
        self._column.setContentsMargins(0, 0, 6, 0)
        self._column.setSpacing(5)
        self.setWidget(self._inside)

    def show_capture(self, capture: Capture | None) -> None:
        """Show another capture's notes; nothing without one."""
        while (item := self._column.takeAt(0)) is not None:
            old = item.widget()
            if old is not None:
                old.hide()
                old.deleteLater()
        for line in reading_lines(capture) if capture is not None else ():
            self._column.addWidget(_line(line))
        self._column.addStretch(1)
        self.verticalScrollBar().setValue(0)

    def lines(self) -> tuple[str, ...]:
        """What is shown."""
        labels = [self._column.itemAt(place).widget() for place in range(self._column.count())]
        return tuple(label.text() for label in labels if isinstance(label, QLabel))


def reading_lines(capture: Capture) -> tuple[str, ...]:
    """How a capture was read: its layout, each assumption, and what a person set up."""
    by_hand = [
        f"–  {stored.name}: {channel.history[-1]}."
        for channel in capture.channels
        for stored, setup in (stored_of(channel),)
        if not setup.is_plain
    ]
    asked = [f"?  {question}" for question in capture.questions]
    return (f"{capture.source_name}: {capture.layout}.", *asked, *(f"–  {note}" for note in capture.notes), *by_hand)


def _line(text: str) -> QLabel:
    label = QLabel(text)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label
