"""Proof: before and after the repair, check by check."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, SignalInstance
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.errors import LoomlightError
from loomlight.signal.progress import Progress
from loomlight.signal.proof import Circumstances, Proof
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Choice
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.desk import Desk
from loomlight.viewer.empty_page import empty_page
from loomlight.viewer.figure_cells import alignment_of
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.icon import set_icon
from loomlight.viewer.job_keeping import keep_verdict
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.pages.choosers import LEAST_LETTERS, ChannelBox
from loomlight.viewer.pages.run_button import RunButton
from loomlight.viewer.snapshot import proof_snapshot
from loomlight.viewer.snapshot_view import SeenView
from loomlight.viewer.theme import Theme
from loomlight.viewer.tick_button import TickButton
from loomlight.viewer.verdict_card import VerdictCard
from loomlight.viewer.wording import CHECK_COLUMNS, check_cells

if TYPE_CHECKING:
    from loomlight.viewer.judging import ProofDrawn

EMPTY = (
    "Mend the wire, repeat the capture under the same conditions, open it on the Captures page as “after repair”, then press "
    "Prove. The two are laid to the same moment of the bus and held against each other, check by check."
)
NONE = "none: limits alone"
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
    snapshot_taken = Signal(str, object)
    export_wanted = Signal(str, object)

    def __init__(self, desk: Desk, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._seen: SeenView | None = None
        self.aside = Aside(self)
        self.running = RunButton(self.aside, "Prove", tip="Hold the capture after the repair against the one before")
        self.run_button = self.running.button
        self.before = ChannelBox("■ Before the repair")
        self.after = ChannelBox("▲ After the repair")
        self.good = _GoodBox()
        self.provoked = TickButton(*PROVOKED)
        self.picked = TickButton(*PICKED)
        offer = (
            "Open the capture after the repair",
            "Open a CSV or HDF5 file as “after repair”",
            self.after_wanted.emit,
        )
        self.panel = LanePanel(theme, empty=empty_page(EMPTY, (offer,)), tools=False)
        self.card = VerdictCard("")
        self.table = _check_table()
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
        self.snapshot_button.clicked.connect(self.take_snapshot)
        self.export_button.clicked.connect(lambda: self._hand_on(self.export_wanted))
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
            self.table.setRowCount(0)
            return
        self.panel.show_lanes(shown.lanes, shown.findings, view=shown.before.worst_s)
        self.card.show_proof(shown.proof)
        self._fill_table(shown.proof)
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

    def _fill_table(self, proof: Proof) -> None:
        self.table.setRowCount(len(proof.checks))
        for row, check in enumerate(proof.checks):
            for column, cell in enumerate(check_cells(check)):
                item = QTableWidgetItem(cell)
                item.setToolTip(cell)
                item.setTextAlignment(alignment_of(cell))
                self.table.setItem(row, column, item)
        self.table.fit()

    def take_snapshot(self) -> None:
        """Hand the before/after picture on; in a job both verdicts and the state are kept."""
        shown, proof_from = self._desk.proof, self._desk.proof_from
        if shown is None or proof_from is None:
            return
        try:
            self._keep(shown, *proof_from)
        except LoomlightError as error:
            self.failed.emit(error)
            return
        self._hand_on(self.snapshot_taken)

    def _hand_on(self, wanted: SignalInstance) -> None:
        """Send what is seen, with its name."""
        shown, proof_from = self._desk.proof, self._desk.proof_from
        if shown is None or proof_from is None:
            return
        before, after = proof_from
        good = next((one for one in self._desk.choices() if one.channel is shown.proof.before.good), None)
        source = "" if good is None or good.is_beside(before) else good.source_name
        taken = proof_snapshot(
            shown.proof,
            before=before.file,
            after=after.file,
            good=good.label if good is not None else "",
            good_source=source,
            job=self._desk.job,
            shown=(shown.before, shown.after),
        )
        wanted.emit(f"proof {before.channel.name}", taken)

    def _keep(self, shown: ProofDrawn, before: Choice, after: Choice) -> None:
        folder = self._desk.folder
        if folder is None:
            return
        for choice, found in ((before, shown.proof.before), (after, shown.proof.after)):
            kept = self._desk.job_capture(choice.source)
            if kept is not None:
                keep_verdict(folder, found, kept, good=self.good.text())
        folder.save(replace(folder.job, state=shown.proof.state))
        self._desk.job_changed.emit()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.panel.set_theme(theme)

    def close_work(self) -> None:
        """Stop what runs aside."""
        self.panel.close_work()
        self.aside.close()


class _GoodBox(QWidget):
    """The known-good of both captures: a channel beside each suspect, one channel for both, or none."""

    def __init__(self) -> None:
        super().__init__()
        self._box = ChoiceBox()
        self._box.setAccessibleName("Known-good of both")
        self._box.setMinimumContentsLength(LEAST_LETTERS)
        self._box.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self._box.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._finders: list[Callable[[Choice], Choice | None]] = []
        self._picked = ""
        self._box.activated.connect(self._pick)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        label = QLabel("● Known-good of both")
        label.setBuddy(self._box)
        column.addWidget(label)
        column.addWidget(self._box)

    def _pick(self) -> None:
        """What the user picked by hand stays, whatever the comparison uses."""
        self._picked = self._box.currentText()

    def forget(self) -> None:
        """What was picked by hand counts no more."""
        self._picked = ""

    def text(self) -> str:
        """What is chosen, as shown."""
        return self._box.currentText()

    def finder(self) -> Callable[[Choice], Choice | None]:
        """Gives the known-good that belongs to a suspect."""
        return self._finders[max(self._box.currentIndex(), 0)]

    def show_choices(self, desk: Desk) -> None:
        """Offer what fits both captures; first what the comparison used."""
        before = desk.chosen.suspect
        good = desk.chosen.good
        offers: list[tuple[str, Callable[[Choice], Choice | None]]] = []
        if good is not None and before is not None and good.is_beside(before):
            offers.append((f"in each capture: {good.channel.name}", _beside(desk, good.channel.name)))
        elif good is not None:
            offers.append((good.label, lambda _suspect, one=good: one))  # type: ignore[misc]  # bound now
        offers.append((NONE, lambda _suspect: None))
        for choice in desk.choices():
            if choice.label not in [text for text, _ in offers]:
                offers.append((choice.label, lambda _suspect, one=choice: one))  # type: ignore[misc]  # bound now
        self._finders = [finder for _, finder in offers]
        self._box.clear()
        self._box.addItems([text for text, _ in offers])
        place = self._box.findText(self._picked) if self._picked else 0
        self._box.setCurrentIndex(max(place, 0))


def _beside(desk: Desk, name: str) -> Callable[[Choice], Choice | None]:
    def find(suspect: Choice) -> Choice | None:
        opened = desk.opened_of(suspect)
        if opened is None:
            raise LoomlightError(f"{suspect.file} is not open any more. Open it again on the Captures page.")
        return Choice(opened.capture.channel(name), suspect.source, suspect.file)

    return find


LEAST_SHARE = 0.6
"""Of a check's name that is always seen; the whole stands in the tooltip."""


class _CheckTable(QTableWidget):
    """Columns as wide as their words; the first takes what is left, or gives some of its own before the table scrolls."""

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.fit()

    def fit(self) -> None:
        """Give each column its width."""
        self.resizeColumnsToContents()
        left = self.viewport().width() - self.horizontalHeader().length()
        words = self.columnWidth(0)
        self.setColumnWidth(0, max(words + left, round(LEAST_SHARE * words)))


def _check_table() -> _CheckTable:
    table = _CheckTable(0, len(CHECK_COLUMNS))
    table.setHorizontalHeaderLabels(list(CHECK_COLUMNS))
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
    table.verticalHeader().hide()
    table.verticalHeader().setDefaultSectionSize(34)
    table.setAccessibleName("Checks of the proof")
    table.setWordWrap(False)
    table.setTextElideMode(Qt.TextElideMode.ElideMiddle)  # whose figure it is stands at a name's end
    table.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
    return table
