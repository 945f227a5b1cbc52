"""Boxes to choose a channel or a signal kind from."""

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QSizePolicy, QVBoxLayout, QWidget

from loomlight.signal.kinds.listing import KINDS, OWN_LIMITS
from loomlight.signal.lineup import WAYS, WantedBy
from loomlight.viewer.choice import Choice
from loomlight.viewer.choice_box import ChoiceBox

LEAST_LETTERS = 9
"""Of a channel's name that can be seen, whatever the room; the whole stands in the tooltip."""


class ChannelBox(QWidget):
    """One labelled box of channels; an empty first place where nothing may be chosen."""

    chosen = Signal(object)

    def __init__(self, title: str, *, none: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._none = none
        self._choices: list[Choice | None] = []
        self._box = ChoiceBox()
        self._box.setAccessibleName(title)
        self._box.setMinimumContentsLength(LEAST_LETTERS)
        self._box.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self._box.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._box.activated.connect(self._activated)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        label = QLabel(title)
        label.setBuddy(self._box)
        column.addWidget(label)
        column.addWidget(self._box)

    def show_choices(self, choices: Sequence[Choice], current: Choice | None) -> None:
        """Offer channels; ``current`` is shown as chosen."""
        self._choices = [None, *choices] if self._none or current is None else list(choices)
        self._box.blockSignals(True)
        self._box.clear()
        for choice in self._choices:
            self._box.addItem(choice.label if choice is not None else self._none or "– choose –")
        same = [
            place
            for place, one in enumerate(self._choices)
            if one is not None and current is not None and one.label == current.label and one.source == current.source
        ]
        self._box.setCurrentIndex(same[0] if same else 0)
        self._box.setToolTip(self._box.currentText())
        self._box.blockSignals(False)

    def current(self) -> Choice | None:
        """What is chosen."""
        place = self._box.currentIndex()
        return self._choices[place] if 0 <= place < len(self._choices) else None

    def _activated(self) -> None:
        self._box.setToolTip(self._box.currentText())
        self.chosen.emit(self.current())


class KindBox(QWidget):
    """Which signal the wire carries."""

    chosen = Signal(str, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._names: tuple[str, ...] = ()
        self._box = ChoiceBox()
        self._box.setAccessibleName("Signal kind")
        self._box.setMinimumContentsLength(LEAST_LETTERS)
        self._box.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        for kind in KINDS:
            self._box.addItem(kind.title, (kind.key, ""))
        self._box.activated.connect(lambda: self.chosen.emit(*self._box.currentData()))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        label = QLabel("Signal kind")
        label.setBuddy(self._box)
        column.addWidget(label)
        column.addWidget(self._box)

    def key(self) -> str:
        """Key of the kind."""
        return str(self._box.currentData()[0])

    def show_named(self, names: tuple[str, ...]) -> None:
        """Offer own limits by the names they are kept under, after the kinds."""
        if names == self._names:
            return
        self._names = names
        while self._box.count() > len(KINDS):
            self._box.removeItem(self._box.count() - 1)
        for name in names:
            self._box.addItem(f"{OWN_LIMITS.title}: {name}", (OWN_LIMITS.key, name))

    def show_key(self, key: str, name: str = "") -> None:
        """Show a kind as chosen; own limits by their name where they have one."""
        for wanted in ((key, name), (key, "")):
            places = [at for at in range(self._box.count()) if tuple(self._box.itemData(at)) == wanted]
            if places:
                self._box.setCurrentIndex(places[0])
                return


class WayBox(QWidget):
    """How the known-good is laid over the suspect."""

    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._box = ChoiceBox()
        self._box.setAccessibleName("Line up by")
        for way in WAYS:
            self._box.addItem(WAY_TITLES[way], way)
            self._box.setItemData(self._box.count() - 1, WAY_TIPS[way], Qt.ItemDataRole.ToolTipRole)
        self._box.setToolTip("How the known-good is laid over the suspect; auto says which way it took, and why")
        self._box.activated.connect(lambda: self.chosen.emit(self.way()))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        label = QLabel("Line up by")
        label.setBuddy(self._box)
        column.addWidget(label)
        column.addWidget(self._box)

    def way(self) -> WantedBy:
        """What is chosen."""
        return WAYS[max(self._box.currentIndex(), 0)]

    def show_way(self, way: WantedBy) -> None:
        """Show one as chosen."""
        self._box.setCurrentIndex(WAYS.index(way))


WAY_TITLES: dict[WantedBy, str] = {"auto": "auto", "shape": "shape", "frame": "frame", "cycle": "cycle"}
WAY_TIPS: dict[WantedBy, str] = {
    "auto": "As the signal kind wants",
    "shape": "One shift for the whole",
    "frame": "Buses: frames with the same identifier, each start on start",
    "cycle": "What turns or repeats: cycle on cycle, whatever the speed",
}
