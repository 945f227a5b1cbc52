"""What a file leaves open, with the answers that can be chosen."""

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from loomlight.storage.reading_questions import Offer, Question

MOST_CARDS = 4
"""A file of sixty columns without units must not cost sixty cards."""


class ReadingQuestionsBox(QWidget):
    """One card for each question; `answered` hands on all of the answers with the chosen one."""

    answered = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(6)
        self._cards: list[Question] = []
        self._texts: tuple[list[tuple[str, str, int]], str] | None = None

    def show_questions(self, questions: Sequence[Question], *, stopped: str = "") -> None:
        """Show other questions; ``stopped`` says why the file cannot be read until they are answered."""
        cards = [*together(questions), *questions]
        self._cards = cards[:MOST_CARDS]
        texts = [(card.text, card.guess, len(card.offers)) for card in cards]
        if (texts, stopped) == self._texts:
            return  # only what the answers add to has changed: the buttons look that up
        self._texts = texts, stopped
        self._clear()
        if stopped and not any(not question.guess for question in questions):
            self._column.addWidget(_label(f"✗  {stopped}"))
        for place, question in enumerate(self._cards):
            self._column.addWidget(self._card(place, question))
        if len(cards) > MOST_CARDS:
            more = len(cards) - MOST_CARDS
            self._column.addWidget(_label(f"And {more} more; they are shown as these are answered."))
        if not questions and not stopped:
            self._column.addWidget(_label("✓  No question is open."))

    def _clear(self) -> None:
        while (item := self._column.takeAt(0)) is not None:
            old = item.widget()
            if old is not None:
                old.hide()
                old.deleteLater()

    def _answer(self, card: int, offer: int) -> None:
        self.answered.emit(self._cards[card].offers[offer].reading)

    def _card(self, number: int, question: Question) -> QFrame:
        card = QFrame()
        card.setObjectName("card")
        inside = QVBoxLayout(card)
        inside.setContentsMargins(8, 6, 8, 8)
        guess = f" Taken so far: {question.guess}." if question.guess else " It has to be answered first."
        inside.addWidget(_label(f"?  {question.text}{guess}"))
        grid = QGridLayout()
        for place, offer in enumerate(question.offers):
            button = QPushButton(offer.text)
            button.setToolTip(f"As {question.option} says it on the command line" if question.option else "")
            button.clicked.connect(lambda _=False, place=place: self._answer(number, place))
            grid.addWidget(button, place // 2, place % 2)
        inside.addLayout(grid)
        return card


def together(questions: Sequence[Question]) -> tuple[Question, ...]:
    """One question for all channels whose unit is not known, where there are several; else nothing."""
    asked = [question for question in questions if question.about == "unit" and question.column is not None]
    if len(asked) < 2:
        return ()
    offers = []
    for place, offer in enumerate(asked[0].offers):
        # Each offer holds all that was said so far: the units of the others' same offers are added to the first's.
        reading = offer.reading
        for question in asked[1:]:
            unit = question.offers[place].reading.unit_of(question.column or 0)
            reading = reading.with_unit(question.column or 0, unit or "")
        offers.append(Offer(offer.text, reading))
    text = f"What are all {len(asked)} channels without a unit in?"
    return (Question("unit", text, "unknown", tuple(offers), option="--unit"),)


def _label(text: str) -> QLabel:
    label = QLabel(text)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    return label
