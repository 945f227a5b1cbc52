"""What a file leaves open, with the answers that can be chosen."""

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from loomlight.storage.reading_questions import Question


class ReadingQuestionsBox(QWidget):
    """One card for each question; `answered` hands on all of the answers with the chosen one."""

    answered = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(6)

    def show_questions(self, questions: Sequence[Question], *, stopped: str = "") -> None:
        """Show other questions; ``stopped`` says why the file cannot be read until they are answered."""
        while (item := self._column.takeAt(0)) is not None:
            old = item.widget()
            if old is not None:
                old.hide()
                old.deleteLater()
        if stopped and not any(not question.guess for question in questions):
            self._column.addWidget(_label(f"✗  {stopped}"))
        for question in questions:
            self._column.addWidget(self._card(question))
        if not questions and not stopped:
            self._column.addWidget(_label("✓  No question is open."))

    def _card(self, question: Question) -> QFrame:
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
            button.clicked.connect(lambda _=False, reading=offer.reading: self.answered.emit(reading))
            grid.addWidget(button, place // 2, place % 2)
        inside.addLayout(grid)
        return card


def _label(text: str) -> QLabel:
    label = QLabel(text)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    return label
