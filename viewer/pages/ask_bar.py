"""What a comparison is asked with: the two channels, the signal kind, the way to line up, and volts where they are needed."""

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import OWN_LIMITS, kind_named
from loomlight.signal.limit_curve import OwnLimits
from loomlight.signal.lineup import WantedBy
from loomlight.storage.limits_store import LimitsStore
from loomlight.viewer.ask import Ask
from loomlight.viewer.choice import Choice
from loomlight.viewer.desk import Desk
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.kind_dialog import KindDialog
from loomlight.viewer.limits_dialog import LimitsDialog
from loomlight.viewer.pages.choosers import ChannelBox, KindBox, WayBox

NO_GOOD = "none: limits alone"
FIELDS = {
    "supply": ("Supply (V)", "not known", "Supply voltage at the node; leave empty where it is not known"),
    "upper": ("Upper (V)", "–", "No sample above this"),
    "lower": ("Lower (V)", "–", "No sample below this"),
    "within": ("Within (V)", "–", "At most this far from the known-good"),
}


class AskBar(QWidget):
    """Shows what is chosen on the desk, and chooses there."""

    draw_wanted = Signal(str)
    failed = Signal(object)

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.suspect = ChannelBox("■ Suspect")
        self.good = ChannelBox("● Known-good", none=NO_GOOD)
        self.kind = KindBox()
        self.way = WayBox()
        self.kind_button = QPushButton("Details")
        self.kind_button.setAccessibleName("Details of the signal kind")
        self.kind_button.setToolTip(
            "Channels beside, figures that you may change, limits with their sources, how to capture"
        )
        self.fields = {name: VoltsField(*texts) for name, texts in FIELDS.items()}
        row = FlowRow(self, gap=6, fills=True)
        for part in (self.suspect, self.good, self.kind, self.kind_button, self.way, *self.fields.values()):
            row.addWidget(part)
        self.suspect.chosen.connect(lambda choice: choice and desk.choose(suspect=choice))
        self.good.chosen.connect(self._choose_good)
        self.kind.chosen.connect(self._choose_kind)
        self.way.chosen.connect(self._choose_way)
        self.kind_button.clicked.connect(self.show_details)

    def show_choice(self) -> None:
        """Offer what lies on the desk."""
        chosen, choices = self._desk.chosen, self._desk.choices()
        self.suspect.show_choices([one for one in choices if not isinstance(one.source, str)], chosen.suspect)
        self.good.show_choices(choices, chosen.good)
        named = chosen.ask.limits.name if chosen.ask.limits is not None else ""
        self.kind.show_named(tuple(one.name for one in LimitsStore(self._desk.library_folder).all()))
        self.kind.show_key(chosen.ask.kind, named)
        self.way.show_way(chosen.ask.by)
        self.way.setEnabled(chosen.good is not None)
        own = chosen.ask.kind == "own-limits"
        for name in ("upper", "lower", "within"):
            self.fields[name].setVisible(own)
        self.fields["supply"].setVisible(not own)
        ask = chosen.ask
        given = len(ask.settings) + len(ask.besides) + len(ask.good_besides)
        if own and ask.limits is not None:
            given += sum(curve is not None for curve in (ask.limits.upper, ask.limits.lower))
        self.kind_button.setText(f"Details ({given})" if given else "Details")

    def show_ask(self, ask: Ask) -> None:
        """Show what a comparison was asked with."""
        now = self._desk.chosen.ask
        self._desk.chosen.ask = replace(
            now,
            kind=ask.kind,
            settings=ask.settings,
            besides=ask.besides,
            good_besides=ask.good_besides,
            limits=ask.limits,
        )
        self.kind.show_key(ask.kind)
        self.way.show_way(ask.by)
        for name, value in (
            ("supply", ask.supply_v),
            ("upper", ask.upper_v),
            ("lower", ask.lower_v),
            ("within", ask.within_v),
        ):
            self.fields[name].edit.setText("" if value is None else f"{value:.10g}")

    def ask(self) -> Ask:
        """What is asked now.

        Raises
        ------
        LoomlightError
            If a field holds no number.
        """
        values = {name: field.volts() for name, field in self.fields.items() if field.isVisibleTo(self)}
        return Ask(
            kind=self.kind.key(),
            supply_v=values.get("supply"),
            upper_v=values.get("upper"),
            lower_v=values.get("lower"),
            within_v=values.get("within"),
            by=self.way.way(),
            settings=self._desk.chosen.ask.settings,
            besides=self._desk.chosen.ask.besides,
            good_besides=self._desk.chosen.ask.good_besides,
            limits=self._desk.chosen.ask.limits,
        )

    def show_details(self) -> None:
        """Show the kind in full, and take what is changed there."""
        chosen = self._desk.chosen
        if chosen.ask.kind == OWN_LIMITS.key:
            self._show_limits()
            return
        dialog = KindDialog(kind_named(chosen.ask.kind), chosen.ask, chosen.suspect, chosen.good, self.window())
        if dialog.exec() == KindDialog.DialogCode.Accepted:
            chosen.ask = dialog.changed()
            self._desk.choice_changed.emit()

    def _show_limits(self) -> None:
        """Show own limits in full, and take what is changed there; where a curve is to be drawn, ask for that."""
        chosen = self._desk.chosen
        try:
            now = self.ask()
        except LoomlightError:
            now = chosen.ask
        kept = chosen.ask.limits or OwnLimits()
        limits = replace(kept, upper_level=now.upper_v, lower_level=now.lower_v, within=now.within_v)
        good = chosen.good.channel if chosen.good is not None else None
        unit = (chosen.suspect.channel.unit if chosen.suspect is not None else None) or "V"
        dialog = LimitsDialog(limits, LimitsStore(self._desk.library_folder), good, unit, self.window())
        if dialog.exec() == LimitsDialog.DialogCode.Accepted:
            self.take_limits(dialog.limits())
            if dialog.draws:
                self.draw_wanted.emit(dialog.draws)

    def take_limits(self, limits: OwnLimits) -> None:
        """Judge by these own limits from now on."""
        for name, value in (("upper", limits.upper_level), ("lower", limits.lower_level), ("within", limits.within)):
            self.fields[name].edit.setText("" if value is None else f"{value:.10g}")
        ask = replace(self._desk.chosen.ask, kind=OWN_LIMITS.key, limits=limits)
        self._desk.chosen.ask = replace(
            ask, upper_v=limits.upper_level, lower_v=limits.lower_level, within_v=limits.within
        )
        self._desk.choice_changed.emit()

    def _choose_good(self, choice: Choice | None) -> None:
        if choice is None:
            self._desk.without_good()
        else:
            self._desk.choose(good=choice)

    def _choose_kind(self, key: str, name: str = "") -> None:
        if name:
            try:
                self.take_limits(LimitsStore(self._desk.library_folder).named(name))
            except LoomlightError as error:
                self.failed.emit(error)
                self._desk.choice_changed.emit()
            return
        ask = self._desk.chosen.ask
        if key != ask.kind:  # the figures and channels beside are another kind's
            ask = replace(ask, kind=key, settings=(), besides=(), good_besides=())
        self._desk.chosen.ask = ask
        self._desk.choice_changed.emit()

    def _choose_way(self, way: WantedBy) -> None:
        self._desk.chosen.ask = replace(self._desk.chosen.ask, by=way)


class VoltsField(QWidget):
    """A labelled field for volts, that may stay empty."""

    def __init__(self, title: str, empty: str, tip: str) -> None:
        super().__init__()
        self._title = title
        self.edit = QLineEdit()
        self.edit.setPlaceholderText(empty)
        self.edit.setToolTip(tip)
        self.edit.setAccessibleName(title)
        self.edit.setMinimumWidth(96)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        label = QLabel(title)
        label.setBuddy(self.edit)
        column.addWidget(label)
        column.addWidget(self.edit)

    def volts(self) -> float | None:
        """What was typed, decimal comma or point.

        Raises
        ------
        LoomlightError
            If it is no number.
        """
        text = self.edit.text().strip().replace(",", ".").removesuffix("V").strip()
        if not text:
            return None
        try:
            return float(text)
        except ValueError as error:
            raise LoomlightError(
                f"{self._title}: {self.edit.text()!r} is no number. Type volts, such as 13.2."
            ) from error
