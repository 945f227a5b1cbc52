"""Which known-good a proof holds both captures against."""

from collections.abc import Callable

from PySide6.QtWidgets import QLabel, QSizePolicy, QVBoxLayout, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.choice import Choice
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.desk import Desk
from loomlight.viewer.pages.choosers import LEAST_LETTERS

NONE = "none: limits alone"


class GoodOfBoth(QWidget):
    """The known-good of both captures: a channel beside each suspect, one channel for both, or none."""

    def __init__(self) -> None:
        super().__init__()
        self._box = ChoiceBox()
        self._box.setAccessibleName("Known-good of both")
        self._box.setMinimumContentsLength(LEAST_LETTERS)
        self._box.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self._box.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._finders: list[Callable[[Choice], Choice | None]] = []
        self._picked = ""
        self._box.activated.connect(self._pick)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        label = QLabel("● Known-good of both")
        label.setBuddy(self._box)
        column.addWidget(label)
        column.addWidget(self._box)

    def _pick(self) -> None:
        """What the user picked by hand stays, whatever the comparison uses."""
        self._picked = self._box.currentText()

    def forget(self) -> None:
        """What was picked by hand counts no more."""
        self._picked = ""

    def text(self) -> str:
        """What is chosen, as shown."""
        return self._box.currentText()

    def finder(self) -> Callable[[Choice], Choice | None]:
        """Gives the known-good that belongs to a suspect."""
        return self._finders[max(self._box.currentIndex(), 0)]

    def show_choices(self, desk: Desk) -> None:
        """Offer what fits both captures; first what the comparison used."""
        before = desk.chosen.suspect
        good = desk.chosen.good
        offers: list[tuple[str, Callable[[Choice], Choice | None]]] = []
        if good is not None and before is not None and good.is_beside(before):
            offers.append((f"in each capture: {good.channel.name}", _beside(desk, good.channel.name)))
        elif good is not None:
            offers.append((good.label, lambda _suspect, one=good: one))  # type: ignore[misc]  # bound now
        offers.append((NONE, lambda _suspect: None))
        for choice in desk.choices():
            if choice.label not in [text for text, _ in offers]:
                offers.append((choice.label, lambda _suspect, one=choice: one))  # type: ignore[misc]  # bound now
        self._finders = [finder for _, finder in offers]
        self._box.clear()
        self._box.addItems([text for text, _ in offers])
        place = self._box.findText(self._picked) if self._picked else 0
        self._box.setCurrentIndex(max(place, 0))


def _beside(desk: Desk, name: str) -> Callable[[Choice], Choice | None]:
    def find(suspect: Choice) -> Choice | None:
        opened = desk.opened_of(suspect)
        if opened is None:
            raise LoomlightError(f"{suspect.file} is not open any more. Open it again on the Captures page.")
        return Choice(opened.capture.channel(name), suspect.source, suspect.file)

    return find
