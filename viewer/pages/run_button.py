"""The main button of a page that starts long work: while it runs, progress and a way to give up stand in its place."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QProgressBar, QPushButton, QSizePolicy, QStackedLayout, QWidget

from loomlight.viewer.aside import Aside


class RunButton(QWidget):
    """Start, see how far it is, give up."""

    given_up = Signal()

    def __init__(self, aside: Aside, text: str, *, tip: str) -> None:
        super().__init__()
        self._aside = aside
        self.button = QPushButton(text)
        self.button.setObjectName("main")
        self.button.setToolTip(tip)
        self._progress = QProgressBar()
        self._progress.setRange(0, 100)
        self._progress.setAccessibleName("How far it is")
        self.cancel_button = QPushButton("Give up")
        self.cancel_button.setToolTip("Stop the work at hand")
        running = QWidget()
        row = QHBoxLayout(running)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self._progress, 1)
        row.addWidget(self.cancel_button)
        self._stack = QStackedLayout(self)
        self._stack.addWidget(self.button)
        self._stack.addWidget(running)
        self.setMinimumSize(160, 46)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.cancel_button.clicked.connect(self._give_up)
        aside.progressed.connect(lambda _, share: self._progress.setValue(round(100 * share)))
        aside.busy_changed.connect(self._show_busy)

    def _show_busy(self, busy: bool) -> None:
        if busy:
            self._progress.setValue(0)
        self._stack.setCurrentIndex(1 if busy else 0)

    def _give_up(self) -> None:
        self._aside.cancel()
        self.given_up.emit()
