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
        self.toggled.connect(self.show_state)
        self.show_state()

    def show_state(self) -> None:
        """Show the sign that belongs to the state."""
        self.setText(f"{TICKED if self.isChecked() else OPEN}  {self._text}")
