"""What is shown and offered while the known-good is laid over the suspect by hand."""

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLabel, QToolButton, QVBoxLayout, QWidget

from loomlight.viewer.flow_row import FlowRow

HINT = (
    "Drag the known-good in the lane, or move it with left and right (Shift: coarse). Pin a point (P), then drag elsewhere "
    "to stretch about it; a second pin holds both."
)


class HandBar(QWidget):
    """The fit of the hand's line-up beside the tool's own, and the buttons for what the mouse and the keys do."""

    nudged = Signal(int, bool)
    pin_wanted = Signal()
    unpin_wanted = Signal()
    undo_wanted = Signal()
    own_wanted = Signal()
    judge_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.text = QLabel(HINT)
        self.text.setWordWrap(True)
        self.text.setAccessibleName("Line-up by hand")
        buttons = QWidget()
        self._row = FlowRow(buttons)
        self._add("◀◀", "Coarse left (Shift+Left): a hundredth of the view", lambda: self.nudged.emit(-1, True))
        self._add("◀ step", "Fine left (Left): one sample", lambda: self.nudged.emit(-1, False))
        self._add("step ▶", "Fine right (Right): one sample", lambda: self.nudged.emit(1, False))
        self._add("▶▶", "Coarse right (Shift+Right): a hundredth of the view", lambda: self.nudged.emit(1, True))
        self.pin_button = self._add(
            "Pin", "Hold what lies on each other where the hand was last (P)", self.pin_wanted.emit
        )
        self.unpin_button = self._add("Unpin", "Take the pins away; nothing moves", self.unpin_wanted.emit)
        self.undo_button = self._add("Undo step", "Take the last step back (Ctrl+Z)", self.undo_wanted.emit)
        self._add("Tool's own", "Go back to the tool's own answer", self.own_wanted.emit)
        self.judge_button = self._add(
            "Judge so",
            "Find and judge at this line-up; pictures and reports say that it was made by hand",
            self.judge_wanted.emit,
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.text)
        column.addWidget(buttons)

    def _add(self, text: str, tip: str, act: Callable[[], object]) -> QToolButton:
        button = QToolButton()
        button.setText(text)
        button.setToolTip(tip)
        button.setAccessibleName(tip.split(" (")[0])
        button.setMinimumWidth(44)
        button.clicked.connect(lambda: act())
        self._row.addWidget(button)
        return button

    def show_state(self, words: str, *, pins: int, can_undo: bool) -> None:
        """Show how it stands."""
        self.text.setText(f"{words}\n{HINT}" if words else HINT)
        self.pin_button.setEnabled(pins < 2)
        self.unpin_button.setEnabled(pins > 0)
        self.undo_button.setEnabled(can_undo)
