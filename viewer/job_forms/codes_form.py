"""Fault codes with what they list as possible, and how the three suspects stand after the evidence."""

from dataclasses import replace

from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from loomlight.signal.job import Job
from loomlight.signal.job_records import FaultCode, ListedCause, Part
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.job_forms.form import JobForm
from loomlight.viewer.job_forms.record_rows import REMOVE_WIDTH, Field, RecordRows, Values
from loomlight.viewer.job_words import LEANING_WORDS, job_standings

STATUSES = ("", "active", "stored", "pending", "cleared")
PART_KEYS: tuple[Part, ...] = ("wire", "component", "control unit", "other")
PARTS = tuple((part, part) for part in PART_KEYS)
CAUSE_FIELDS = (
    Field("part", "Which suspect it names", stretch=2, choices=PARTS),
    Field("text", "Listed cause", stretch=5),
)


class CodesForm(JobForm):
    """One card a code."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._cards: list[_CodeCard] = []
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self.standings = QLabel()
        self.standings.setWordWrap(True)
        self._column.addWidget(self.standings)
        self.add_button = QPushButton("Add a fault code")
        self.add_button.clicked.connect(self.add)
        self._column.addWidget(self.add_button)

    def add(self) -> None:
        """Add an empty code and put the cursor into it."""
        self._append(FaultCode(""))
        self._cards[-1].code.setFocus()

    def codes(self) -> tuple[FaultCode, ...]:
        """The codes as typed; a card in which nothing was typed does not count."""
        found = [card.value() for card in self._cards]
        return tuple(one for one in found if one.code or one.text or one.when or one.causes)

    def show_job(self, job: Job, *, anew: bool) -> None:
        self.standings.setText(
            "\n".join(
                f"{LEANING_WORDS[one.leaning]}: {one.part}. {' '.join(one.reasons)}" for one in job_standings(job)
            )
            if job.verdicts
            else "Wire, component, control unit: a kept verdict raises or lowers each of them."
        )
        if job.fault_codes == self.codes() or (not anew and self._has_focus()):
            return
        for card in self._cards:
            self._column.removeWidget(card)
            card.hide()
            card.deleteLater()
        self._cards = []
        for code in job.fault_codes:
            self._append(code)

    def taken(self, job: Job) -> Job:
        return replace(job, fault_codes=self.codes())

    def _has_focus(self) -> bool:
        focus = self.focusWidget()
        return focus is not None and focus.hasFocus() and focus is not self.add_button

    def _append(self, code: FaultCode) -> None:
        card = _CodeCard(code, len(self._cards) + 1)
        card.changed.connect(self.changed)
        card.left.connect(self.left)
        card.remove.clicked.connect(lambda: self._remove(card))
        self._cards.append(card)
        self._column.insertWidget(len(self._cards), card)

    def _remove(self, card: "_CodeCard") -> None:
        self._cards.remove(card)
        self._column.removeWidget(card)
        card.hide()
        card.deleteLater()
        self.changed.emit()
        self.left.emit()


class _CodeCard(QFrame):
    """Code, status and time; what it stands for; what it lists as possible."""

    def __init__(self, code: FaultCode, number: int) -> None:
        super().__init__()
        self.setObjectName("card")
        self.code, self.when, self.text = QLineEdit(code.code), QLineEdit(code.when), QLineEdit(code.text)
        self.status = ChoiceBox()
        for status in STATUSES:
            self.status.addItem(status or "status?", status)
        self.status.setCurrentIndex(STATUSES.index(code.status))
        self.remove = QPushButton("✕")
        self.remove.setFixedWidth(REMOVE_WIDTH)
        self.remove.setStyleSheet("padding: 0")
        self.causes = RecordRows(CAUSE_FIELDS, name=f"cause of code {number}", add="Add a listed cause")
        self.causes.set_values([{"part": one.part, "text": one.text} for one in code.causes])
        self.changed, self.left = self.causes.changed, self.causes.left
        for widget, label in (
            (self.code, "Code"),
            (self.status, "Status"),
            (self.when, "When"),
            (self.text, "What it stands for"),
            (self.remove, "Remove"),
        ):
            widget.setAccessibleName(f"{label}, fault code {number}")
            widget.setToolTip(label)
        for line, hint in ((self.code, "Code"), (self.when, "When"), (self.text, "What it stands for")):
            line.setPlaceholderText(hint)
            line.textEdited.connect(self.changed)
            line.editingFinished.connect(self.left)
        self.status.activated.connect(self.changed)
        head = QHBoxLayout()
        head.setSpacing(4)
        for widget, stretch in ((self.code, 3), (self.status, 3), (self.when, 3), (self.remove, 0)):
            head.addWidget(widget, stretch)
        column = QVBoxLayout(self)
        column.setContentsMargins(6, 6, 6, 6)
        column.setSpacing(4)
        column.addLayout(head)
        column.addWidget(self.text)
        column.addWidget(self.causes)

    def value(self) -> FaultCode:
        causes = tuple(_cause(one) for one in self.causes.values())
        return FaultCode(
            self.code.text().strip(),
            self.text.text().strip(),
            self.when.text().strip(),
            self.status.currentData(),
            causes,
        )


def _cause(values: Values) -> ListedCause:
    return ListedCause(values["text"], next(part for part in PART_KEYS if part == values["part"]))
