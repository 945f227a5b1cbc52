"""Set a channel up: name, probe, current clamp, sign, offset, with the picture of what comes of it."""

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.capture import Channel
from loomlight.signal.channel_setup import (
    LEAST,
    MOST,
    PROBE_FACTORS,
    ChannelSetup,
    pyramid_with,
    set_up,
    stored_of,
)
from loomlight.signal.errors import LoomlightError
from loomlight.signal.pyramid import Pyramid, pyramid_of
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.looks import in_letters
from loomlight.viewer.theme import Theme
from loomlight.viewer.typed_number import typed_number
from loomlight.viewer.wording import reach_text

OWN = "own"
CLAMPS = (1.0, 10.0, 100.0)
UNITS = ("V", "A", "Ω", "°C", "bar")
WAYS = (("as it was measured", False), ("upside down", True))
HINT = (
    "The stored samples stay as they are; the set-up is kept with the capture. A probe that the instrument knew of is in "
    "the file's volts already: leave ×1 then."
)


class ChannelSetupDialog(QDialog):
    """Holds what is being set up; `setup` gives it."""

    failed = Signal(object)

    def __init__(
        self,
        channel: Channel,
        taken: Sequence[str],
        theme: Theme,
        parent: QWidget | None = None,
        *,
        probe_factor: float = 1.0,
    ) -> None:
        """``taken`` are the names of the capture's other channels; a channel as it was read begins with ``probe_factor``."""
        super().__init__(parent)
        self._stored, setup = stored_of(channel)
        self._key, self._taken = setup.channel, frozenset(taken)
        self._pyramid: Pyramid | None = None
        self._aside = Aside(self)
        self.setWindowTitle(f"Set up {channel.name}")
        self.panel = LanePanel(theme, tools=False)
        self.name = _edit("Name", "", self._stored.name)
        self.unit = ChoiceBox()
        self.unit.setAccessibleName("Unit of the numbers")
        self.unit.addItem(f"{self._stored.unit}, as the file says" if self._stored.unit else "unknown", "")
        for text in () if self._stored.unit else UNITS:
            self.unit.addItem(text, text)
        self.probe = _NumberBox(
            "Probe", [(f"×{factor:g}", factor) for factor in PROBE_FACTORS], hint="times, such as 20", example="20"
        )
        clamps = [(f"{clamp:g} mV per A", clamp) for clamp in CLAMPS]
        self.clamp = _NumberBox("Current clamp", [("none", None), *clamps], hint="mV per A", example="40")
        self.way = ChoiceBox()
        self.way.setAccessibleName("Way round")
        for text, invert in WAYS:
            self.way.addItem(text, invert)
        self.offset = _edit("Offset", "", "none")
        self._trouble = QLabel()
        self._trouble.setWordWrap(True)
        self._trouble.setAccessibleName("What cannot be used")
        self._reach = QLabel()
        self._reach.setWordWrap(True)
        self._build()
        self._fill(replace(setup, factor=probe_factor) if setup.is_plain else setup)
        self._connect()
        self._aside.run(lambda progress: pyramid_of(self._stored.samples, progress), self._take, self.failed.emit)
        self.show_setup()

    def _build(self) -> None:
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        form.setVerticalSpacing(4)
        self._offset_label = QLabel()
        for label, field in (
            ("Name", self.name),
            *((("Unit of the numbers", self.unit),) if not self._stored.unit else ()),
            ("Probe", self.probe),
            ("Current clamp (mV per A)", self.clamp),
            ("Way round", self.way),
            (self._offset_label, self.offset),
        ):
            form.addRow(label, field)
        hint = QLabel(HINT)
        hint.setWordWrap(True)
        hint.setObjectName("quiet")
        side = QWidget()
        side.setFixedWidth(in_letters(340))
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(form)
        column.addWidget(self._reach)
        column.addWidget(self._trouble)
        column.addStretch(1)
        column.addWidget(hint)
        halves = QHBoxLayout()
        halves.addWidget(side)
        self.panel.setMinimumSize(480, 380)
        halves.addWidget(self.panel, 1)
        self.plain_button = QPushButton("As it was read")
        self.plain_button.setToolTip("Take all of the set-up away")
        self.cancel_button = QPushButton("Cancel")
        self.use_button = QPushButton("Use")
        self.use_button.setObjectName("main")
        self.use_button.setDefault(True)
        buttons = QHBoxLayout()
        buttons.addWidget(self.plain_button)
        buttons.addStretch(1)
        buttons.addWidget(self.cancel_button)
        buttons.addWidget(self.use_button)
        whole = QVBoxLayout(self)
        whole.addLayout(halves, 1)
        whole.addLayout(buttons)
        self.resize(1040, 620)

    def _connect(self) -> None:
        self.name.textChanged.connect(self.show_setup)
        self.offset.textChanged.connect(self.show_setup)
        self.unit.activated.connect(self.show_setup)
        self.probe.changed.connect(self.show_setup)
        self.clamp.changed.connect(self.show_setup)
        self.way.activated.connect(self.show_setup)
        self.plain_button.clicked.connect(self._make_plain)
        self.cancel_button.clicked.connect(self.reject)
        self.use_button.clicked.connect(self.accept)

    def _fill(self, setup: ChannelSetup) -> None:
        self.name.setText(setup.name)
        self._show_unit(setup.unit)
        self.probe.show_value(setup.factor)
        self.clamp.show_value(setup.clamp_mv_per_a)
        self.way.setCurrentIndex(self.way.findData(setup.invert))
        self.offset.setText(f"{setup.offset:g}" if setup.offset else "")

    def _show_unit(self, unit: str) -> None:
        if self.unit.findData(unit) < 0 and not self._stored.unit:
            self.unit.addItem(unit, unit)
        self.unit.setCurrentIndex(max(self.unit.findData(unit), 0))

    def _make_plain(self) -> None:
        self._fill(ChannelSetup())
        self.show_setup()

    def setup(self) -> ChannelSetup:
        """What was set up.

        Raises
        ------
        LoomlightError
            If something that was typed cannot be used: which field, and what is wanted.
        """
        name = " ".join(self.name.text().split())
        name = "" if name == self._stored.name else name
        if (name or self._stored.name) in self._taken:
            raise LoomlightError(f"Name: another channel is called {name or self._stored.name!r} already.")
        clamp, said_unit = self.clamp.value(), str(self.unit.currentData())
        unit = "A" if clamp is not None else self._stored.unit or said_unit
        offset = typed_number(self.offset.text(), "Offset", unit=unit, example="−0.35") or 0.0
        factor = self.probe.value()
        try:
            return ChannelSetup(
                channel=self._key,
                name=name,
                factor=1.0 if factor is None else factor,
                unit=said_unit,
                clamp_mv_per_a=clamp,
                invert=bool(self.way.currentData()),
                offset=offset,
            )
        except ValueError as error:
            text = str(error)
            raise LoomlightError(f"{text[0].upper()}{text[1:]}.") from error

    def show_setup(self) -> None:
        """Draw what comes of it; where something cannot be used, say so and keep the picture."""
        try:
            setup = self.setup()
            shown = set_up(self._stored, setup)
        except LoomlightError as error:
            self._trouble.setText(f"✗  {error}")
            self.use_button.setEnabled(False)
            return
        self._trouble.setText("")
        self.use_button.setEnabled(True)
        self._offset_label.setText(f"Offset ({shown.unit})" if shown.unit else "Offset")
        if self._pyramid is not None:
            self._draw(shown, self._pyramid, pyramid_with(self._pyramid, setup))

    def _take(self, pyramid: Pyramid) -> None:
        self._pyramid = pyramid
        self.show_setup()

    def _draw(self, shown: Channel, stored: Pyramid, now: Pyramid) -> None:
        traces = (
            Trace(self._stored, stored, "other", f"as it was read: {self._stored.name}"),
            Trace(shown, now, "other", f"as set up: {shown.name}"),
        )
        lanes = [Lane(f"lane {number}", (one,), unit=one.channel.unit or "") for number, one in enumerate(traces)]
        view = self.panel.lanes.view() if self.panel.lanes.lanes else None
        self.panel.show_lanes(lanes, {}, view=view)
        before, after = (reach_text(one.value_range(), one.channel.unit) for one in traces)
        self._reach.setText(f"As it was read: {before}.\nAs set up: {after}.")

    def done(self, result: int) -> None:
        """Stop what runs aside, whichever way the dialog is left."""
        self._aside.close()
        self.panel.close_work()
        super().done(result)


class _NumberBox(QWidget):
    """A choice of usual numbers, and a field for one's own."""

    changed = Signal()

    def __init__(self, title: str, usual: Sequence[tuple[str, float | None]], *, hint: str, example: str) -> None:
        super().__init__()
        self._title, self._example = title, example
        self._usual = [value for _, value in usual]
        self.box = ChoiceBox()
        self.box.setAccessibleName(title)
        for text, _ in usual:
            self.box.addItem(text)
        self.box.addItem(OWN)
        self.own = _edit(f"{title}, own", "", hint)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.box, 1)
        row.addWidget(self.own, 1)
        self.box.activated.connect(self._chosen)
        self.own.textChanged.connect(self.changed)
        self.own.hide()

    def _chosen(self) -> None:
        is_own = self.box.currentText() == OWN
        self.own.setVisible(is_own)
        if is_own:
            self.own.setFocus()
        self.changed.emit()

    def show_value(self, value: float | None) -> None:
        """Show a number as chosen, or as one's own."""
        is_usual = value in self._usual
        self.box.setCurrentIndex(self._usual.index(value) if is_usual else len(self._usual))
        self.own.setVisible(not is_usual)
        self.own.setText("" if is_usual or value is None else f"{value:g}")

    def value(self) -> float | None:
        """The number that is chosen or typed.

        Raises
        ------
        LoomlightError
            If the own number is none, or too small or large.
        """
        if self.box.currentText() != OWN:
            return self._usual[self.box.currentIndex()]
        value = typed_number(self.own.text(), self._title, example=self._example)
        if value is None or not LEAST <= value <= MOST:
            raise LoomlightError(f"{self._title}: type your own number, such as {self._example}.")
        return value


def _edit(title: str, text: str, hint: str) -> QLineEdit:
    edit = QLineEdit(text)
    edit.setPlaceholderText(hint)
    edit.setAccessibleName(title)
    edit.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
    return edit
