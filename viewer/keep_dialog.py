"""Ask what is not known yet about a waveform that is to be kept as a known-good."""

from dataclasses import replace

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.entry import CONDITIONS, Entry, Value
from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import KINDS
from loomlight.viewer.choice import Choice
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.entry_dialog import HINTS
from loomlight.viewer.entry_words import FIELDS, LABELS, typed_value, value_text
from loomlight.viewer.form_rows import FormRows
from loomlight.viewer.looks import in_letters

ASKED = ("component", "connector", "pin", "note")
VEHICLE = ("make", "model", "year", "engine")
HINT = {"title": "What the waveform is, in a few words", "component": "The node or part that was probed"}
TICKED = CONDITIONS[:5]


class KeepDialog(QDialog):
    """Title and place; the vehicle and the rest only where they are not known, or are asked for.

    Parameters
    ----------
    choice : Choice
        The channel to be kept.
    known : Entry
        What is known already: kind, vehicle, and what was said the last time.
    """

    def __init__(self, choice: Choice, known: Entry, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keep as a known-good waveform")
        self.setMinimumWidth(in_letters(640))
        self._known = known
        self.lines: dict[str, QLineEdit] = {}
        self.kind = ChoiceBox()
        self.kind.setAccessibleName("Signal kind")
        for one in KINDS:
            self.kind.addItem(one.title, one.key)
        self.kind.setCurrentIndex(max(self.kind.findData(known.kind), 0))
        self._form = FormRows()
        self._add("title", choice.channel.name)
        self._form.addRow("Signal kind", self.kind)
        self._vehicle_is_known = bool(known.vehicle_text)
        self._vehicle = QWidget()
        self._add_vehicle(known)
        for name in ASKED:
            self._add(name, "")
        self.ticks = self._add_ticks()
        self._rest = self._add_rest(known)
        self.more_button = QPushButton("More …")
        self.more_button.setCheckable(True)
        self.more_button.setToolTip("Wire colour, probe, instrument, who judged it good and why, tags")
        self.more_button.toggled.connect(self._show_more)
        self._wrong = QLabel()
        self._wrong.setWordWrap(True)
        self._wrong.hide()
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Save | QDialogButtonBox.StandardButton.Cancel)
        save = buttons.button(QDialogButtonBox.StandardButton.Save)
        save.setText("Keep")
        save.setObjectName("main")
        self.lines["title"].textChanged.connect(lambda text: save.setEnabled(bool(text.strip())))
        buttons.accepted.connect(self._agree)
        buttons.rejected.connect(self.reject)
        foot = QHBoxLayout()
        foot.addWidget(self.more_button)
        foot.addStretch(1)
        foot.addWidget(buttons)
        column = QVBoxLayout(self)
        column.addLayout(self._form)
        column.addWidget(self._rest, 1)
        column.addWidget(self._wrong)
        column.addLayout(foot)
        self.lines["title"].selectAll()

    def _line(self, name: str, text: str) -> QLineEdit:
        line = QLineEdit(text)
        line.setAccessibleName(LABELS[name])
        line.setPlaceholderText(HINT.get(name) or HINTS.get(name, ""))
        self.lines[name] = line
        return line

    def _add(self, name: str, text: str) -> None:
        self._form.addRow(LABELS[name], self._line(name, text))

    def _add_vehicle(self, known: Entry) -> None:
        """The vehicle in one line where it is known, with a way to say another; else its parts."""
        parts = QHBoxLayout(self._vehicle)
        parts.setContentsMargins(0, 0, 0, 0)
        for name in VEHICLE:
            line = self._line(name, getattr(known, name))
            line.setPlaceholderText(LABELS[name])
            parts.addWidget(line, 1 if name == "year" else 2)
        self._told = QWidget()
        told = QHBoxLayout(self._told)
        told.setContentsMargins(0, 0, 0, 0)
        label = QLabel(known.vehicle_text)
        label.setWordWrap(True)
        other = QPushButton("Another vehicle")
        other.clicked.connect(self.ask_vehicle)
        told.addWidget(label, 1)
        told.addWidget(other)
        self._form.addRow("Vehicle", self._told if self._vehicle_is_known else self._vehicle)
        if not self._vehicle_is_known:
            self._told.hide()

    def ask_vehicle(self) -> None:
        """Another vehicle than the one that is known: all about that one is forgotten."""
        self._vehicle_is_known = False
        self._known = replace(self._known, vehicle="", vin="", owner="")
        for name in VEHICLE:
            self.lines[name].clear()
        for name in ("vin", "owner"):
            self.lines[name].clear()
        row, _role = self._form.getWidgetPosition(self._told)  # type: ignore[misc]
        self._form.removeRow(self._told)
        self._form.insertRow(row, "Vehicle", self._vehicle)
        self._vehicle.show()
        self.lines["make"].setFocus()

    def _add_ticks(self) -> dict[str, QPushButton]:
        row = QHBoxLayout()
        row.setSpacing(4)
        found = {}
        for name in TICKED:
            button = QPushButton(name)
            button.setObjectName("part")
            button.setCheckable(True)
            row.addWidget(button)
            found[name] = button
        self._form.addRow("Conditions", row)
        return found

    def _add_rest(self, known: Entry) -> QScrollArea:
        inside = QWidget()
        form = FormRows(inside)
        left_out = ("title", "kind", "vehicle", "conditions", *VEHICLE, *ASKED)
        for name, label in FIELDS:
            if name not in left_out:
                form.addRow(label, self._line(name, value_text(name, getattr(known, name))))
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(inside)
        area.setMinimumHeight(in_letters(260))
        area.hide()
        return area

    def _show_more(self, shown: bool) -> None:
        self._rest.setVisible(shown)
        self.more_button.setText("Less" if shown else "More …")
        self.adjustSize()

    def _agree(self) -> None:
        try:
            self.entry()
        except LoomlightError as error:
            self._wrong.setText(f"✗  {error}")
            self._wrong.show()
            return
        self.accept()

    def entry(self) -> Entry:
        """What is known now.

        Raises
        ------
        LoomlightError
            If a number was mistyped.
        """
        values: dict[str, Value] = {name: typed_value(name, line.text()) for name, line in self.lines.items()}
        values["conditions"] = tuple(name for name, button in self.ticks.items() if button.isChecked())
        return replace(self._known, id="", channel="", kind=str(self.kind.currentData()), **values)  # type: ignore[arg-type]
