"""The strip over every page while a folder is watched: which one, what arrived last, and its verdict in large letters."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget


class WatchBar(QFrame):
    """Shows what it is told."""

    stop_wanted = Signal()
    folder_wanted = Signal()
    wiggle_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("strip")
        self.verdict = QLabel()
        self.verdict.setObjectName("headline")
        self.verdict.setWordWrap(True)
        self.verdict.setAccessibleName("Verdict on the newest export")
        self.state = QLabel()
        self.state.setWordWrap(True)
        self.state.setTextFormat(Qt.TextFormat.PlainText)
        self.state.setAccessibleName("Watched folder")
        texts = QVBoxLayout()
        texts.setSpacing(2)
        texts.addWidget(self.verdict)
        texts.addWidget(self.state)
        self.wiggle_button = QPushButton("Wiggle test")
        self.wiggle_button.setToolTip("A verdict in large letters on each new export, while the loom is moved")
        self.wiggle_button.clicked.connect(self.wiggle_wanted)
        self.other_button = QPushButton("Other folder")
        self.other_button.setToolTip("Watch another folder")
        self.other_button.clicked.connect(self.folder_wanted)
        self.stop_button = QPushButton("Stop watching")
        self.stop_button.setToolTip("Open new exports by hand again")
        self.stop_button.clicked.connect(self.stop_wanted)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 6, 6, 6)
        row.addLayout(texts, 1)
        row.addWidget(self.wiggle_button)
        row.addWidget(self.other_button)
        row.addWidget(self.stop_button)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self._is_held_back = False
        self.hide()

    def hold_back(self, held_back: bool) -> None:
        """Not shown where a page tells the same in larger letters."""
        self._is_held_back = held_back
        self.setVisible(bool(self.state.text()) and not held_back)

    def show_state(self, text: str) -> None:
        """Show how the watching stands."""
        self.state.setText(text)
        self.setVisible(bool(text) and not self._is_held_back)

    def show_verdict(self, text: str) -> None:
        """Show what the newest export came to."""
        self.verdict.setText(text)
        self.verdict.setVisible(bool(text))
