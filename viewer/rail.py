"""The rail at the left: the five places in the order of the work, and what belongs to the whole window."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QPushButton, QVBoxLayout, QWidget

from loomlight.viewer.icon import set_icon

PLACES = ("Job", "Captures", "Compare", "Proof", "Library")
HINTS = {
    "Job": "Whose vehicle, what is wrong, what was found and mended",
    "Captures": "Open files, see how they were read, say what each channel is for",
    "Compare": "The suspect over the known-good, and the verdict",
    "Proof": "Before and after the repair, check by check",
    "Library": "Known-good waveforms that were kept",
}


class Rail(QWidget):
    """Buttons; the window does what they ask for."""

    place_wanted = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.places: list[QPushButton] = []
        column = QVBoxLayout(self)
        column.setSpacing(6)
        self._group = QButtonGroup(self)
        for number, name in enumerate(PLACES):
            button = _button(name, HINTS[name])
            button.setObjectName("place")
            button.setCheckable(True)
            self._group.addButton(button, number)
            self.places.append(button)
            column.addWidget(button)
        self._group.idClicked.connect(self.place_wanted)
        column.addStretch(1)
        self.actions_button = _button("All actions", "Find by a word whatever can be done, and change its keys")
        self.settings_button = _button("Settings", "Theme, text size, units, folders, business details")
        self.theme_button = _button("Night", "Change between daylight and night")
        for button, icon in zip(self.places, ("job", "captures", "compare", "proof", "library"), strict=True):
            set_icon(button, icon)
        for button, icon in (
            (self.actions_button, "actions"),
            (self.settings_button, "settings"),
            (self.theme_button, "night"),
        ):
            button.setObjectName("whole")
            set_icon(button, icon)
            column.addWidget(button)

    def show_place(self, place: int) -> None:
        """Show which of the five is open."""
        self.places[place].setChecked(True)


def _button(text: str, tip: str) -> QPushButton:
    button = QPushButton(text)
    button.setToolTip(tip)
    return button
