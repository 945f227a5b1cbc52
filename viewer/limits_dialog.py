"""Own limits in full: levels and curves, where they go, kept under a name."""

from dataclasses import replace

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.capture import Channel
from loomlight.signal.errors import LoomlightError
from loomlight.signal.limit_curve import LimitCurve, OwnLimits, around, require_order
from loomlight.storage.limits_store import LimitsStore
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.form_rows import FormRows
from loomlight.viewer.looks import in_letters
from loomlight.viewer.tick_button import TickButton
from loomlight.viewer.typed_number import typed_number

HINT = (
    "A curve is a list of corners, one a line: time in seconds, then the level. Lines are straight between corners; before the "
    "first and after the last nothing is held."
)
NEW = "– new –"
LEVELS = {"upper": "Never above", "lower": "Never below", "within": "From the known-good at most"}


class LimitsDialog(QDialog):
    """Holds the limits that are being made; `limits` gives them, `draws` which curve is to be drawn on the lane."""

    def __init__(
        self,
        limits: OwnLimits,
        store: LimitsStore,
        good: Channel | None,
        unit: str,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Own limits")
        self.setMinimumWidth(in_letters(700))
        self._store, self._good, self._unit = store, good, unit or "V"
        self.draws: str = ""
        self.kept = ChoiceBox()
        self.kept.setAccessibleName("Limits that were kept")
        self.name = QLineEdit()
        self.name.setAccessibleName("Name of the limits")
        self.name.setPlaceholderText("to keep them for next time")
        self.levels = {key: QLineEdit() for key in LEVELS}
        self.curves = {"upper": QPlainTextEdit(), "lower": QPlainTextEdit()}
        self.on_good = TickButton(
            "The curves go with the known-good, where it is laid",
            "Else they stand at the times that were typed, whatever the line-up",
        )
        self.tolerance = QLineEdit("0.5")
        self.tolerance.setAccessibleName("Tolerance around the known-good")
        self.around_button = QPushButton("Around the known-good")
        self.around_button.setToolTip("Make both curves: the known-good's own reach, and so much more either way")
        self.around_button.setEnabled(good is not None)
        self.problem = QLabel()
        self.problem.setWordWrap(True)
        self.problem.setAccessibleName("What cannot be used")
        self._build()
        self._connect()
        self._list()
        self.show_limits(limits)

    def _build(self) -> None:
        page = QVBoxLayout(self)
        kept = QHBoxLayout()
        for text, box in (("Kept:", self.kept), ("Name:", self.name)):
            label = QLabel(text)
            label.setBuddy(box)
            kept.addWidget(label)
            kept.addWidget(box, 1)
        self.keep_button = QPushButton("Keep")
        self.keep_button.setToolTip("Keep these limits under the name; those of the same name are replaced")
        self.aside_button = QPushButton("Put aside")
        self.aside_button.setToolTip("Take the kept limits off the list; their file is moved, not deleted")
        kept.addWidget(self.keep_button)
        kept.addWidget(self.aside_button)
        page.addLayout(kept)
        form = FormRows()
        for key, text in LEVELS.items():
            self.levels[key].setAccessibleName(text)
            self.levels[key].setPlaceholderText("–")
            form.addRow(f"{text} ({self._unit})", self.levels[key])
        page.addLayout(form)
        hint = QLabel(HINT)
        hint.setWordWrap(True)
        page.addWidget(hint)
        sides = QHBoxLayout()
        self.draw_buttons = {}
        for key, title in (("upper", "Upper curve"), ("lower", "Lower curve")):
            column = QVBoxLayout()
            label = QLabel(title)
            label.setBuddy(self.curves[key])
            self.curves[key].setAccessibleName(title)
            self.curves[key].setTabChangesFocus(True)
            self.curves[key].setPlaceholderText(f"0.000, 4.8\n0.250, 4.8\n({self._unit})")
            button = QPushButton(f"Draw the {key} curve")
            button.setToolTip("Set its corners on the lane with the mouse or the keys")
            self.draw_buttons[key] = button
            column.addWidget(label)
            column.addWidget(self.curves[key], 1)
            column.addWidget(button)
            sides.addLayout(column, 1)
        page.addLayout(sides, 1)
        row = QHBoxLayout()
        row.addWidget(self.around_button)
        row.addWidget(QLabel("±"))
        row.addWidget(self.tolerance)
        row.addWidget(QLabel(self._unit))
        row.addStretch(1)
        page.addLayout(row)
        page.addWidget(self.on_good)
        page.addWidget(self.problem)
        self._buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        self.use_button = self._buttons.button(QDialogButtonBox.StandardButton.Ok)
        self.use_button.setText("Use")
        self.use_button.setObjectName("main")
        page.addWidget(self._buttons)

    def _connect(self) -> None:
        self._buttons.accepted.connect(self.accept)
        self._buttons.rejected.connect(self.reject)
        self.kept.activated.connect(self._choose)
        self.keep_button.clicked.connect(self._keep)
        self.aside_button.clicked.connect(self._put_aside)
        self.around_button.clicked.connect(self._lay_around)
        for key, button in self.draw_buttons.items():
            button.clicked.connect(lambda _checked=False, key=key: self._draw(key))
        for field in self.levels.values():
            field.textChanged.connect(self._check)
        for text in self.curves.values():
            text.textChanged.connect(self._check)

    # The limits

    def show_limits(self, limits: OwnLimits) -> None:
        """Show limits in the fields."""
        self.name.setText(limits.name)
        self.kept.setCurrentIndex(max(self.kept.findData(limits.name), 0))
        for key, value in zip(LEVELS, (limits.upper_level, limits.lower_level, limits.within), strict=True):
            self.levels[key].setText("" if value is None else f"{value:.10g}")
        for key, curve in (("upper", limits.upper), ("lower", limits.lower)):
            lines = "" if curve is None else "\n".join(f"{at_s:.9g}, {level:.9g}" for at_s, level in curve.points)
            self.curves[key].setPlainText(lines)
        self.on_good.setChecked(limits.on_good)
        self._check()

    def limits(self) -> OwnLimits:
        """What stands in the fields.

        Raises
        ------
        LoomlightError
            If something is no number, or the curves cross; where.
        """
        numbers = {
            key: typed_number(field.text(), LEVELS[key], unit=self._unit, example="4.8")
            for key, field in self.levels.items()
        }
        upper, lower = (_curve(self.curves[key].toPlainText(), key) for key in ("upper", "lower"))
        require_order(upper, lower)
        return OwnLimits(
            name=self.name.text().strip(),
            unit=self._unit,
            upper=upper,
            lower=lower,
            upper_level=numbers["upper"],
            lower_level=numbers["lower"],
            within=numbers["within"],
            on_good=self.on_good.isChecked(),
        )

    def _check(self) -> None:
        try:
            usable = self.limits().holds_something
            self.problem.setText("")
        except LoomlightError as error:
            usable = False
            self.problem.setText(str(error))
        self.use_button.setEnabled(usable)
        self.keep_button.setEnabled(usable)
        for button in self.draw_buttons.values():
            button.setEnabled(not self.problem.text())

    # What the buttons do

    def _list(self) -> None:
        self.kept.clear()
        self.kept.addItem(NEW, "")
        for one in self._store.all():
            self.kept.addItem(one.name, one.name)
        self.aside_button.setEnabled(self.kept.count() > 1)

    def _choose(self) -> None:
        name = str(self.kept.currentData())
        self._tried(lambda: self.show_limits(self._store.named(name) if name else OwnLimits(unit=self._unit)))

    def _keep(self) -> None:
        def keep() -> None:
            limits = self.limits()
            self._store.keep(limits)
            self._list()
            self.kept.setCurrentIndex(max(self.kept.findData(limits.name), 0))

        self._tried(keep)

    def _put_aside(self) -> None:
        def put_aside() -> None:
            self._store.take_away(str(self.kept.currentData()))
            self._list()

        if self.kept.currentData():
            self._tried(put_aside)

    def _lay_around(self) -> None:
        def lay() -> None:
            assert self._good is not None
            within = typed_number(self.tolerance.text(), "Tolerance", unit=self._unit, example="0.5")
            upper, lower = around(self._good, within or 0.0)
            self.show_limits(replace(self.limits(), upper=upper, lower=lower, on_good=True))

        self._tried(lay)

    def _draw(self, key: str) -> None:
        self.draws = key
        self.accept()

    def _tried(self, act: object) -> None:
        assert callable(act)
        try:
            act()
        except LoomlightError as error:
            self.problem.setText(str(error))


def _curve(text: str, key: str) -> LimitCurve | None:
    """Corners as typed: blanks, a comma, a semicolon or a tab between the two numbers."""
    points = []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        cells = [one for one in line.replace(";", " ").replace("\t", " ").replace(", ", " ").split(" ") if one]
        if len(cells) == 1:
            cells = cells[0].split(",")
        if len(cells) != 2:
            raise LoomlightError(f"The {key} curve, line {number}: write a time and a level, such as 0.25, 4.8.")
        where = f"The {key} curve, line {number}"
        pair = [typed_number(one, where, example="0.25, 4.8") for one in cells]
        if pair[0] is None or pair[1] is None:
            raise LoomlightError(f"{where}: write a time and a level, such as 0.25, 4.8.")
        points.append((pair[0], pair[1]))
    return LimitCurve(tuple(points)) if points else None
