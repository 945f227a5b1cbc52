"""All places where the known-good fits, to jump to."""

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QToolButton, QWidget

from loomlight.signal.capture import Channel
from loomlight.signal.lineup import LineUp
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.wording import place_words


class PlacesBox(QWidget):
    """Shown only where there is more than one place."""

    picked = Signal(float, float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._places: tuple[LineUp, ...] = ()
        self._good: Channel | None = None
        self._text = QLabel()
        self.box = ChoiceBox()
        self.box.setAccessibleName("Places where the known-good fits")
        self.box.setToolTip("Pick a place to see it in the lanes")
        self.box.activated.connect(self._pick)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4)
        row.addWidget(self._text)
        row.addWidget(self.box, 1)
        for text, name, by in (("◀", "The place before", -1), ("▶", "The next place", 1)):
            button = QToolButton()
            button.setText(text)
            button.setToolTip(name)
            button.setAccessibleName(name)
            button.setMinimumWidth(44)
            button.clicked.connect(lambda _checked=False, by=by: self.step(by))
            row.addWidget(button)
        self.hide()

    def show_places(self, places: Sequence[LineUp], good: Channel | None) -> None:
        """Offer these; one alone is the line-up itself and needs no list."""
        self._places, self._good = tuple(places) if good is not None else (), good
        self._text.setText(f"The known-good fits at {len(self._places)} places:")
        self.box.clear()
        if good is not None:
            self.box.addItems([place_words(number, one, good) for number, one in enumerate(self._places, 1)])
        self.setVisible(len(self._places) > 1)

    def step(self, by: int) -> None:
        """To the next place or the one before."""
        if self._places:
            self.box.setCurrentIndex((self.box.currentIndex() + by) % len(self._places))
            self._pick(self.box.currentIndex())

    def _pick(self, number: int) -> None:
        if 0 <= number < len(self._places) and self._good is not None:
            place = self._places[number]
            self.picked.emit(*(place.on_suspect(at_s) for at_s in (self._good.start_s, self._good.stop_s)))
