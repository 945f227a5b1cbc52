"""Everything that was assumed while a capture was read, and what was set up by hand, line by line."""

from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QWidget

from loomlight.signal.capture import Capture
from loomlight.signal.channel_setup import stored_of


class HowItWasRead(QScrollArea):
    """Shows a capture's notes; holds nothing of its own."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lines: tuple[str, ...] = ()
        # One text for all lines: a file of many columns has a hundred of them.
        self._text = QLabel()
        self._text.setTextFormat(Qt.TextFormat.RichText)
        self._text.setWordWrap(True)
        self._text.setAlignment(Qt.AlignmentFlag.AlignTop)
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._text.setContentsMargins(0, 0, 6, 0)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("How it was read")
        self.setWidget(self._text)

    def show_capture(self, capture: Capture | None) -> None:
        """Show another capture's notes; nothing without one."""
        self._lines = reading_lines(capture) if capture is not None else ()
        self._text.setText("".join(f'<p style="margin: 0 0 5px 0">{escape(line)}</p>' for line in self._lines))
        self.verticalScrollBar().setValue(0)

    def lines(self) -> tuple[str, ...]:
        """What is shown."""
        return self._lines


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
