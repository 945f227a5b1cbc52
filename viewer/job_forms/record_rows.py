"""Rows of fields that can be added and removed, for notes of which there are several."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from loomlight.viewer.choice_box import ChoiceBox

Values = dict[str, str]
REMOVE_WIDTH = 44
MOST_LETTERS = 13
"""Of an answer, that are always seen."""


@dataclass(frozen=True)
class Field:
    """One field of a row.

    Attributes
    ----------
    key, label : str
        Its name in the values; what it is called, also as the hint inside.
    line : int
        On which line of the row's card it stands, from 0.
    stretch : int
        Its share of that line.
    choices : tuple of (str, str) or None
        Value and words of each answer; None: free text.
    """

    key: str
    label: str
    line: int = 0
    stretch: int = 1
    choices: tuple[tuple[str, str], ...] | None = None


class RecordRows(QWidget):
    """Cards of fields, with a button that adds one and one on each that removes it."""

    changed = Signal()
    left = Signal()

    def __init__(
        self,
        fields: tuple[Field, ...],
        *,
        name: str,
        add: str,
        start: Values | None = None,
        movable: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._movable = movable
        self._fields, self._name, self._start = fields, name, start or {}
        self._rows: list[_Row] = []
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(6)
        self.add_button = QPushButton(add)
        self.add_button.clicked.connect(self.add)
        self._column.addWidget(self.add_button)

    def has_focus(self) -> bool:
        """Whether something is being typed in one of the rows."""
        focus = self.focusWidget()
        return focus is not None and focus.hasFocus() and focus is not self.add_button

    def values(self) -> list[Values]:
        """What stands in the rows; a row in which nothing was typed does not count."""
        return [row.values() for row in self._typed()]

    def origins(self) -> tuple[int | None, ...]:
        """For each row of `values` its number when this was asked last (or rows were set); None for a new one."""
        typed = self._typed()
        found = tuple(row.origin for row in typed)
        for number, row in enumerate(typed):
            row.origin = number
        return found

    def _typed(self) -> "list[_Row]":
        keys = [field.key for field in self._fields if field.choices is None]
        return [row for row in self._rows if any(row.values()[key].strip() for key in keys)]

    def set_values(self, values: Sequence[Values]) -> None:
        """Show other rows."""
        if list(values) == [row.values() for row in self._rows]:
            return
        while self._rows:
            self._take_away(self._rows[-1])
        for number, one in enumerate(values):
            self._append(one)
            self._rows[-1].origin = number

    def set_choices(self, key: str, choices: tuple[tuple[str, str], ...]) -> None:
        """Offer other answers for one field; what was chosen stays where it is still offered."""
        self._fields = tuple(
            field if field.key != key else Field(key, field.label, field.line, field.stretch, choices)
            for field in self._fields
        )
        for row in self._rows:
            row.set_choices(key, choices)

    def add(self) -> None:
        """Add an empty row and put the cursor into it."""
        self._append(
            {**{field.key: field.choices[0][0] if field.choices else "" for field in self._fields}, **self._start}
        )
        self._rows[-1].take_focus()

    def _append(self, values: Values) -> None:
        row = _Row(self._fields, values, self._remove, self._move_up if self._movable else None)
        row.changed.connect(self.changed)
        row.left.connect(self.left)
        self._rows.append(row)
        self._column.insertWidget(len(self._rows) - 1, row)
        self._name_rows()

    def _remove(self, row: "_Row") -> None:
        self._take_away(row)
        self.changed.emit()
        self.left.emit()

    def _move_up(self, row: "_Row") -> None:
        place = self._rows.index(row)
        if place:
            self._rows.insert(place - 1, self._rows.pop(place))
            self._column.removeWidget(row)
            self._column.insertWidget(place - 1, row)
            self._name_rows()
            self.changed.emit()
            self.left.emit()

    def _take_away(self, row: "_Row") -> None:
        self._rows.remove(row)
        self._column.removeWidget(row)
        row.hide()
        row.deleteLater()
        self._name_rows()

    def _name_rows(self) -> None:
        for number, row in enumerate(self._rows, start=1):
            row.set_name(f"{self._name} {number}")


class _Row(QFrame):
    changed = Signal()
    left = Signal()

    def __init__(
        self,
        fields: tuple[Field, ...],
        values: Values,
        remove: Callable[["_Row"], None],
        move_up: Callable[["_Row"], None] | None,
    ) -> None:
        super().__init__()
        self.origin: int | None = None
        self.setObjectName("card")
        grid = QGridLayout(self)
        grid.setContentsMargins(4, 4, 4, 4)
        grid.setSpacing(4)
        self._inputs: dict[str, QLineEdit | ChoiceBox] = {}
        self._labels = {field.key: field.label for field in fields}
        lines = {field.line for field in fields}
        for line in sorted(lines):
            inside = QGridLayout()
            inside.setSpacing(4)
            for place, field in enumerate(one for one in fields if one.line == line):
                made = self._made(field, values.get(field.key, ""))
                inside.addWidget(made, 0, place)
                inside.setColumnStretch(place, field.stretch)
            grid.addLayout(inside, line, 0)
        self._away = _sign("✕", lambda: remove(self))
        grid.addWidget(self._away, 0, 2)
        self._up = _sign("▲", lambda: move_up(self)) if move_up is not None else None
        if self._up is not None:
            grid.addWidget(self._up, 0, 1)

    def set_name(self, name: str) -> None:
        """Name the fields and buttons after the row's place."""
        for key, one in self._inputs.items():
            one.setAccessibleName(f"{name}: {self._labels[key]}")
        named = [(self._away, f"Remove {name}"), (self._up, f"Move {name} up")]
        for button, words in named:
            if button is not None:
                button.setToolTip(words)
                button.setAccessibleName(words)

    def _made(self, field: Field, value: str) -> QWidget:
        if field.choices is not None:
            box = ChoiceBox()
            _fill(box, field.choices, value)
            box.activated.connect(self.changed)
            box.activated.connect(self.left)
            self._inputs[field.key] = box
        else:
            line = QLineEdit(value)
            line.setPlaceholderText(field.label)
            line.setCursorPosition(0)
            line.textEdited.connect(self.changed)
            line.editingFinished.connect(self.left)
            self._inputs[field.key] = line
        made = self._inputs[field.key]
        made.setToolTip(field.label)
        return made

    def values(self) -> Values:
        return {
            key: one.text() if isinstance(one, QLineEdit) else str(one.currentData() or "")
            for key, one in self._inputs.items()
        }

    def set_choices(self, key: str, choices: tuple[tuple[str, str], ...]) -> None:
        box = self._inputs[key]
        assert isinstance(box, ChoiceBox)
        _fill(box, choices, str(box.currentData() or ""))

    def take_focus(self) -> None:
        next(iter(self._inputs.values())).setFocus()


def _sign(sign: str, act: Callable[[], None]) -> QPushButton:
    button = QPushButton(sign)
    button.setFixedWidth(REMOVE_WIDTH)
    button.setStyleSheet("padding: 0")
    button.clicked.connect(lambda: act())
    return button


def _fill(box: ChoiceBox, choices: tuple[tuple[str, str], ...], value: str) -> None:
    box.clear()
    for key, words in choices:
        box.addItem(words, key)
    if box.findData(value) < 0 and value:
        box.addItem(value, value)  # what another version or hand wrote stays as it is
    box.setCurrentIndex(max(box.findData(value), 0))
    box.setMinimumContentsLength(min(max(len(words) for _, words in choices) if choices else 3, MOST_LETTERS))
    box.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
