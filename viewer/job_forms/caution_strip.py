"""Cautions that are to be read before a wire is probed; that they were is noted in the job."""

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QWidget

from loomlight.viewer.push_button import push_button


class CautionStrip(QFrame):
    """Shows the cautions of the signal kind at hand until they are read."""

    read = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("strip")
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 6, 6, 6)
        self.text = QLabel()
        self.text.setWordWrap(True)
        row.addWidget(self.text, 1)
        self.read_button = push_button("Read; I work by the\nmaker's procedure", "Noted in the job", self.read.emit)
        self.read_button.setMinimumHeight(88)
        row.addWidget(self.read_button)

    def show_cautions(self, cautions: Sequence[str]) -> None:
        """Show other cautions, one line each."""
        self.text.setText("Before you probe:\n" + "\n".join(f"•  {one}" for one in cautions))
