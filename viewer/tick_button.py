"""A statement that can be ticked, with a target for cold fingers and a mark that every theme shows."""

from PySide6.QtWidgets import QPushButton, QSizePolicy, QWidget

OPEN, TICKED = "☐", "☑"


class TickButton(QPushButton):
    """Shows whether it is ticked by its sign, not by colour."""

    def __init__(self, text: str, tip: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._text = text
        self.setCheckable(True)
        self.setToolTip(tip)
        self.setAccessibleName(text)
        self.setStyleSheet("text-align: left;")
        self.setSizePolicy(QSizePolicy.Policy.MinimumExpanding, QSizePolicy.Policy.Fixed)
        self.toggled.connect(self._show)
        self._show(False)

    def _show(self, ticked: bool) -> None:
        self.setText(f"{TICKED if ticked else OPEN}  {self._text}")
