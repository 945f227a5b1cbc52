"""The strip over every page while a folder is watched: which one, what arrived last, and its verdict in large letters."""

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import QFrame, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from loomlight.viewer.flow_row import FlowRow

WIDTH_LETTERS = 44


class _Told(QWidget):
    """The words, given a sentence's width before the buttons go on in the next line."""

    def __init__(self) -> None:
        super().__init__()
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def minimumSizeHint(self) -> QSize:
        return QSize(WIDTH_LETTERS * self.fontMetrics().averageCharWidth(), super().minimumSizeHint().height())


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
        told = _Told()
        texts = QVBoxLayout(told)
        texts.setContentsMargins(0, 0, 0, 0)
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
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 6, 6, 6)
        row = FlowRow(gap=6, fills=True)
        column.addLayout(row)
        for part in (told, self.wiggle_button, self.other_button, self.stop_button):
            row.addWidget(part)
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
