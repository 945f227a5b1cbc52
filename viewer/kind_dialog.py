"""A signal kind in full: channels beside, figures that may be changed, its limits with their sources, how to capture it."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFrame,
    QLabel,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.beside import Role
from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.shape import SignalKind
from loomlight.signal.quantity import PREFIXED, in_words
from loomlight.signal.setting import Setting
from loomlight.viewer.ask import Ask
from loomlight.viewer.choice import Choice
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.form_rows import FormRows
from loomlight.viewer.halves import Part
from loomlight.viewer.looks import in_letters
from loomlight.viewer.suppose_dialog import quantity_in
from loomlight.viewer.typed_number import typed_number
from loomlight.viewer.wording import limit_words, recipe_sentences, setting_words

NONE = "none"
LABEL_PIXELS = 270


class KindDialog(QDialog):
    """Holds what is being changed; `changed` gives the ask with it."""

    def __init__(
        self, kind: SignalKind, ask: Ask, suspect: Choice | None, good: Choice | None, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(kind.title)
        self.setMinimumSize(in_letters(640), 560)
        self._kind, self._ask = kind, ask
        self.fields: dict[str, QLineEdit] = {}
        self.boxes: dict[tuple[str, str], ChoiceBox] = {}
        self.problem = QLabel()
        self.problem.setWordWrap(True)
        self.problem.setAccessibleName("What cannot be used")
        inside = Part()
        column = QVBoxLayout(inside)
        if kind.roles:
            column.addWidget(_heading("Recorded beside it"))
            for side, choice, named in (("suspect", suspect, ask.besides), ("known-good", good, ask.good_besides)):
                if choice is not None and (side == "suspect" or suspect is None or not choice.is_beside(suspect)):
                    column.addLayout(self._roles(side, choice, dict(named)))
        if kind.settings:
            column.addWidget(_heading("Figures that you may know better"))
            column.addLayout(self._settings(dict(ask.settings)))
        if kind.limits:
            column.addWidget(_heading("Limits"))
            for limit in kind.limits:
                column.addWidget(_text(f"–  {limit_words(limit)}", limit.source))
        column.addWidget(_heading("How to capture it"))
        for sentence in recipe_sentences(kind.recipe):
            column.addWidget(_text(f"–  {sentence}"))
        column.addWidget(_heading("Take care"))
        for sentence in kind.cautions:
            column.addWidget(_text(f"–  {sentence}"))
        column.addStretch(1)
        area = QScrollArea()
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(inside)
        self._buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        self.use_button = self._buttons.button(QDialogButtonBox.StandardButton.Ok)
        self.use_button.setText("Use")
        self.use_button.setObjectName("main")
        self._buttons.accepted.connect(self.accept)
        self._buttons.rejected.connect(self.reject)
        page = QVBoxLayout(self)
        page.addWidget(area, 1)
        page.addWidget(self.problem)
        page.addWidget(self._buttons)
        self._check()

    def _roles(self, side: str, choice: Choice, named: dict[str, str]) -> FormRows:
        form = FormRows()
        for role in self._kind.roles:
            box = _role_box(role, choice, named.get(role.key, ""))
            title = f"{role.title}, {choice.file}" if side == "known-good" else role.title
            box.setAccessibleName(title)
            self.boxes[side, role.key] = box
            form.addRow(_label(title, role.hint), box)
        return form

    def _settings(self, given: dict[str, float]) -> FormRows:
        form = FormRows()
        for setting in self._kind.settings:
            field = QLineEdit(f"{given[setting.key]:.10g}" if setting.key in given else "")
            field.setPlaceholderText(
                "not given" if setting.default is None else in_words(setting.default, setting.unit)
            )
            field.setAccessibleName(setting.title)
            field.setToolTip(setting_words(setting))
            field.textChanged.connect(self._check)
            self.fields[setting.key] = field
            unit = f", {setting.unit}" if setting.unit else ""
            form.addRow(_label(f"{setting.title}{unit}", setting_words(setting)), field)
        return form

    def changed(self) -> Ask:
        """The ask with what was chosen and typed.

        Raises
        ------
        LoomlightError
            If a figure is none, or makes no sense.
        """
        figures = []
        for setting in self._kind.settings:
            value = _figure(setting, self.fields[setting.key].text())
            if value is not None:
                figures.append((setting.key, value))
        return Ask(
            kind=self._ask.kind,
            supply_v=self._ask.supply_v,
            upper_v=self._ask.upper_v,
            lower_v=self._ask.lower_v,
            within_v=self._ask.within_v,
            by=self._ask.by,
            settings=tuple(figures),
            besides=self._named("suspect"),
            good_besides=self._named("known-good"),
            limits=self._ask.limits,
        )

    def _named(self, side: str) -> tuple[tuple[str, str], ...]:
        chosen = ((role.key, self.boxes.get((side, role.key))) for role in self._kind.roles)
        return tuple((key, str(box.currentData())) for key, box in chosen if box is not None and box.currentData())

    def _check(self) -> None:
        try:
            self.changed()
            self.problem.setText("")
        except LoomlightError as error:
            self.problem.setText(str(error))
        self.use_button.setEnabled(not self.problem.text())


def _figure(setting: Setting, text: str) -> float | None:
    """In the base unit, prefixes understood; None where nothing was typed."""
    value = quantity_in(text.strip(), setting.unit) if setting.unit in PREFIXED else None
    if value is None:
        example = "100" if setting.default is None else f"{setting.default:g}"
        value = typed_number(text, setting.title, unit=setting.unit, example=example)
    return None if value is None else setting.checked(value)


def _role_box(role: Role, choice: Choice, chosen: str) -> ChoiceBox:
    """The channels of the same file that have the role's unit."""
    box = ChoiceBox()
    box.setToolTip(role.hint)
    box.addItem(NONE, "")
    for channel in choice.capture.channels if choice.capture is not None else ():
        if channel.name != choice.channel.name and channel.unit in (None, role.unit):
            box.addItem(channel.name, channel.name)
    box.setCurrentIndex(max(box.findData(chosen), 0))
    return box


def _heading(text: str) -> QLabel:
    label = QLabel(text)
    label.setObjectName("headline")
    return label


def _label(text: str, tip: str) -> QLabel:
    """As wide as those of all rows, whatever it says."""
    label = _text(text, tip)
    label.setFixedWidth(in_letters(LABEL_PIXELS))
    return label


def _text(text: str, tip: str = "") -> QLabel:
    label = QLabel(text)
    label.setWordWrap(True)
    label.setToolTip(tip)
    return label
