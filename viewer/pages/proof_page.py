"""Proof: before and after the repair, check by check."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.errors import LoomlightError
from loomlight.signal.progress import Progress
from loomlight.signal.proof import Circumstances
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk
from loomlight.viewer.empty_page import empty_page
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.icon import set_icon
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.pages.checks_table import ChecksTable
from loomlight.viewer.pages.choosers import ChannelBox
from loomlight.viewer.pages.good_of_both import GoodOfBoth
from loomlight.viewer.pages.proof_keeping import ProofKeeping
from loomlight.viewer.pages.run_button import RunButton
from loomlight.viewer.snapshot_view import SeenView
from loomlight.viewer.theme import Theme
from loomlight.viewer.tick_button import TickButton
from loomlight.viewer.verdict_card import VerdictCard

if TYPE_CHECKING:
    from loomlight.viewer.judging import ProofDrawn

EMPTY = (
    "Mend the wire, repeat the capture under the same conditions, open it on the Captures page as “after repair”, then press "
    "Prove. The two are laid to the same moment of the bus and held against each other, check by check."
)
PROVOKED = (
    "Provoked again: moved, loaded or warmed as before",
    "What brought the fault on before was repeated while recording after the repair; noted in the proof",
)
PICKED = (
    "“Before” was picked because it showed the fault",
    "It then does not tell how often the fault comes, and silence afterwards says little by itself",
)


class ProofPage(QWidget):
    """Shows the desk's proof and starts new ones."""

    after_wanted = Signal()
    said = Signal(str)
    failed = Signal(object)

    def __init__(self, desk: Desk, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._seen: SeenView | None = None
        self.aside = Aside(self)
        self.running = RunButton(self.aside, "Prove", tip="Hold the capture after the repair against the one before")
        self.run_button = self.running.button
        self.before = ChannelBox("■ Before the repair")
        self.after = ChannelBox("▲ After the repair")
        self.good = GoodOfBoth()
        self.provoked = TickButton(*PROVOKED)
        self.picked = TickButton(*PICKED)
        offer = (
            "Open the capture after the repair",
            "Open a CSV or HDF5 file as “after repair”",
            self.after_wanted.emit,
        )
        self.panel = LanePanel(theme, empty=empty_page(EMPTY, (offer,)), tools=False)
        self.card = VerdictCard("")
        self.table = ChecksTable()
        self.keeping = ProofKeeping(desk, self.good, self)
        self._build()
        desk.captures_changed.connect(self.show_choice)
        desk.choice_changed.connect(self.show_choice)
        desk.proved.connect(self.show_proof)
        self.before.chosen.connect(lambda choice: choice and desk.choose(suspect=choice))
        self.after.chosen.connect(lambda choice: choice and desk.choose(after=choice))
        self.run_button.clicked.connect(self.run)
        for tick in (self.provoked, self.picked):
            tick.toggled.connect(self._prove_anew)
        self.running.given_up.connect(lambda: self.said.emit("The proof was given up; nothing was changed."))
        self.keeping.failed.connect(self.failed)
        self.snapshot_button.clicked.connect(self.keeping.take_snapshot)
        self.export_button.clicked.connect(self.keeping.export)
        self.show_choice()
        self.show_proof()

    def _build(self) -> None:
        chosen = FlowRow(gap=6, fills=True)
        for box in (self.before, self.after, self.good):
            chosen.addWidget(box)
        top = QHBoxLayout()
        top.setSpacing(6)
        top.addLayout(chosen, 1)
        self.snapshot_button = QPushButton("Save before/after picture")
        self.snapshot_button.setToolTip(
            "Save the picture for the customer into the job, or to a file where no job is open"
        )
        top.addWidget(self.running, 0, Qt.AlignmentFlag.AlignBottom)
        side = self._side = Part()
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        self._age = QLabel()
        self._age.setWordWrap(True)
        self._age.hide()
        column.addWidget(self._age)
        column.addWidget(self.card, 2)
        column.addWidget(self.table, 3)
        buttons = QHBoxLayout()
        self.export_button = QPushButton("To file")
        self.export_button.setToolTip("Save the picture to a file: PNG in any size, or SVG")
        for button, icon in (
            (self.snapshot_button, "snapshot"),
            (self.export_button, "to-file"),
            (self.run_button, "compare-run"),
        ):
            set_icon(button, icon)
        buttons.addWidget(self.snapshot_button, 1)
        buttons.addWidget(self.export_button)
        column.addLayout(buttons)
        halves = Halves(self.panel, side, sizes=(720, 530))
        page = QVBoxLayout(self)
        page.setContentsMargins(8, 6, 8, 8)
        page.addLayout(top)
        said = FlowRow(gap=6)
        for tick in (self.provoked, self.picked):
            said.addWidget(tick)
        page.addLayout(said)
        page.addWidget(halves, 1)

    def show_choice(self) -> None:
        """Offer what lies on the desk."""
        chosen = self._desk.chosen
        captures = [one for one in self._desk.choices() if not isinstance(one.source, str)]
        self.before.show_choices(captures, chosen.suspect)
        self.after.show_choices(captures, chosen.after)
        self.good.show_choices(self._desk)
        ready = chosen.suspect is not None and chosen.after is not None
        for button in (self.run_button, self.provoked, self.picked):
            button.setEnabled(ready)
        self.snapshot_button.setEnabled(self._desk.proof is not None)
        self.export_button.setEnabled(self._desk.proof is not None)
        self._show_age()

    def run(self) -> None:
        """Prove with what is chosen."""
        before, after = self._desk.chosen.suspect, self._desk.chosen.after
        if before is None or after is None:
            return
        ask = self._desk.chosen.ask
        find_good = self.good.finder()
        try:
            goods = find_good(before), find_good(after)
        except LoomlightError as error:
            self.failed.emit(error)
            return
        said = Circumstances(picked=self.picked.isChecked(), provoked=self.provoked.isChecked())

        def work(progress: Progress) -> ProofDrawn:
            from loomlight.viewer.judging import proven

            return proven(before, goods[0], after, goods[1], ask, progress, said=said)

        self.aside.run(work, lambda found: self._desk.take_proof(found, before, after), self.failed.emit)

    def show_seen(self, seen: SeenView) -> None:
        """Prove again as a snapshot shows it, then show its view."""
        for tick, said in ((self.provoked, seen.provoked), (self.picked, seen.picked)):
            tick.blockSignals(True)
            tick.setChecked(said)
            tick.blockSignals(False)
            tick.show_state()
        self.good.forget()
        self.show_choice()
        self._seen = seen
        self.run()

    def _prove_anew(self) -> None:
        """What was said about the captures bears on a proof that is shown already."""
        if self._desk.proof is not None or self.aside.is_busy:
            self.run()

    def show_proof(self) -> None:
        """Show the desk's proof."""
        shown = self._desk.proof
        self._show_age()
        self.snapshot_button.setEnabled(shown is not None)
        self.export_button.setEnabled(shown is not None)
        self._side.setVisible(shown is not None)
        if shown is None:
            self.panel.show_lanes((), {})
            self.card.clear()
            self.table.show_proof(None)
            return
        self.panel.show_lanes(shown.lanes, shown.findings, view=shown.before.worst_s)
        self.card.show_proof(shown.proof)
        self.table.show_proof(shown.proof)
        seen, self._seen = self._seen, None
        if seen is not None and seen.view is not None:
            self.panel.lanes.set_view(*seen.view)

    def _show_age(self) -> None:
        """Say so where the proof that is shown is about other channels than those chosen now."""
        proof_from = self._desk.proof_from
        self._age.setVisible(self._desk.is_proof_old())
        if proof_from is not None:
            before, after = proof_from
            self._age.setText(f"Still shown: {before.label} and {after.label}. Press Prove for what is chosen now.")

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.panel.set_theme(theme)

    def close_work(self) -> None:
        """Stop what runs aside."""
        self.panel.close_work()
        self.aside.close()
