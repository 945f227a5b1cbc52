"""Answers that hold for a whole text file: how columns are divided, decimals, time, dates, step, pairs."""

import re
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.typed_number import typed_number

AS_FOUND = "as found"
CHOICES: tuple[tuple[str, str, tuple[tuple[str, Any], ...]], ...] = (
    (
        "delimiter",
        "Columns divided by",
        ((AS_FOUND, None), ("semicolons", ";"), ("commas", ","), ("tabs", "\t"), ("blanks", " ")),
    ),
    ("decimal", "Decimals behind", ((AS_FOUND, None), ("a point", "."), ("a comma", ","))),
    ("time_unit", "Time is in", ((AS_FOUND, None), ("s", "s"), ("ms", "ms"), ("µs", "us"), ("ns", "ns"))),
    ("date_order", "Dates", ((AS_FOUND, None), ("day first", "day-first"), ("month first", "month-first"))),
    (
        "pairs",
        "Values",
        ((AS_FOUND, None), ("minimum, maximum in turn", True), ("one a sample", False)),
    ),
    (
        "rows_are_channels",
        "Each row is",
        ((AS_FOUND, None), ("an instant", False), ("a channel", True)),
    ),
)
TIMES = (("step_s", "Step"), ("start_s", "Start"))
PREFIXES = {"": 1.0, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "n": 1e-9}
COLUMNS = 4


def typed_seconds(text: str, what: str) -> float | None:
    """A stretch of time as people type it: ``2 µs``, ``10 us``, ``0,5 ms``, ``1e-5``; seconds where no unit stands.

    Raises
    ------
    LoomlightError
        If it is none.
    """
    found = re.fullmatch(r"(.*?)\s*(?:(m|u|µ|μ|n|)s)?\s*", text)
    assert found is not None  # everything is optional
    value = typed_number(found[1], what, example="2 µs")
    return None if value is None else float(f"{value * PREFIXES[found[2] or '']:.15g}")


class ReadingAnswers(QWidget):
    """Boxes and fields, one for each answer; `changed` hands on all of the answers with the new one."""

    changed = Signal(object)
    failed = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._reading = NOTHING_SAID
        self.boxes: dict[str, ChoiceBox] = {}
        self.fields: dict[str, QLineEdit] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(6)
        grid.setVerticalSpacing(4)
        for place, (name, title, choices) in enumerate(CHOICES):
            box = ChoiceBox()
            box.setAccessibleName(title)
            box.setMinimumWidth(90)
            for text, _ in choices:
                box.addItem(text)
            box.activated.connect(lambda _, name=name: self._chosen(name))
            self.boxes[name] = box
            grid.addWidget(_titled(title, box), place // COLUMNS, place % COLUMNS)
        for place, (name, title) in enumerate(TIMES, start=len(CHOICES)):
            field = QLineEdit()
            field.setAccessibleName(title)
            field.setPlaceholderText(AS_FOUND)
            field.setToolTip(f"{title}, such as 2 µs; it wins over the file's own")
            field.setMinimumWidth(90)
            field.editingFinished.connect(self._typed)
            self.fields[name] = field
            grid.addWidget(_titled(title, field), place // COLUMNS, place % COLUMNS)
        for column in range(COLUMNS):
            grid.setColumnStretch(column, 1)

    def show_reading(self, reading: Reading) -> None:
        """Show answers as given."""
        self._reading = reading
        for name, _, choices in CHOICES:
            values = [value for _, value in choices]
            self.boxes[name].setCurrentIndex(values.index(getattr(reading, name)))
        for name, field in self.fields.items():
            value = getattr(reading, name)
            field.setText("" if value is None else f"{value:.9g} s")

    def _chosen(self, name: str) -> None:
        choices = next(choices for key, _, choices in CHOICES if key == name)
        self._say(**{name: choices[self.boxes[name].currentIndex()][1]})

    def _typed(self) -> None:
        said: dict[str, float | None] = {}
        try:
            for name, title in TIMES:
                said[name] = typed_seconds(self.fields[name].text(), title)
            if said != {name: getattr(self._reading, name) for name, _ in TIMES}:
                self._say(**said)
        except LoomlightError as error:
            self.failed.emit(str(error))

    def _say(self, **said: Any) -> None:
        try:
            reading = replace(self._reading, **said)
        except ValueError as error:
            self.failed.emit(f"{str(error)[0].upper()}{str(error)[1:]}.")
            return
        if reading != self._reading:
            self._reading = reading
            self.changed.emit(reading)


def _titled(title: str, field: QWidget) -> QWidget:
    whole = QWidget()
    column = QVBoxLayout(whole)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(2)
    label = QLabel(title)
    label.setBuddy(field)
    column.addWidget(label)
    column.addWidget(field)
    return whole
