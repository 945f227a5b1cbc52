"""Compare: the suspect over the known-good, what is wrong, and what it means."""

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.by_hand import Hand
from loomlight.signal.errors import LoomlightError
from loomlight.signal.finding import Finding
from loomlight.signal.frame_table import FrameRow
from loomlight.signal.kinds.listing import listed_kind
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress
from loomlight.signal.track import Track
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.hand_bar import HandBar
from loomlight.viewer.hand_on_lanes import HandOnLanes
from loomlight.viewer.icon import set_icon
from loomlight.viewer.lane_panel import ArrangementMemory, LanePanel
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.lanes_of import Drawn, compare_lanes, findings_by_lane
from loomlight.viewer.pages.ask_bar import AskBar
from loomlight.viewer.pages.comparison_keeping import ComparisonKeeping
from loomlight.viewer.pages.kind_offer import KindOffer
from loomlight.viewer.pages.limit_drawing import LimitDrawing
from loomlight.viewer.pages.nothing_compared import NothingCompared
from loomlight.viewer.pages.places_box import PlacesBox
from loomlight.viewer.pages.run_button import RunButton
from loomlight.viewer.pages.supposing import Supposing
from loomlight.viewer.pages.track_lane import track_lane
from loomlight.viewer.pages.verdict_column import VerdictColumn
from loomlight.viewer.snapshot_view import SeenView
from loomlight.viewer.table_words import frame_tip
from loomlight.viewer.theme import Theme
from loomlight.viewer.wording import finding_sentence


class ComparePage(QWidget):
    """Shows the desk's comparison and starts new ones."""

    said = Signal(str)
    failed = Signal(object)
    keep_wanted = Signal(object)
    captures_wanted = Signal()
    sample_wanted = Signal()

    def __init__(
        self, desk: Desk, theme: Theme, memory: ArrangementMemory | None = None, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._desk = desk
        self.aside = Aside(self)
        self._noted: Path | str | None = None
        self._seen: SeenView | None = None
        self.running = RunButton(self.aside, "Compare", tip="Line up, find, judge")
        self.run_button = self.running.button
        self.asking = AskBar(desk)
        self._nothing = NothingCompared(
            self.run,
            (
                ("Open capture", "Open CSV or HDF5 files", self.captures_wanted.emit),
                ("Open the sample job", "A fresh copy; nothing of yours is touched", self.sample_wanted.emit),
            ),
        )
        self.panel = LanePanel(theme, empty=self._nothing, notes=True, memory=memory)
        self.supposing = Supposing(desk, self.panel.lanes.view, self._show_lanes, self)
        self.hand_button = self.panel.tools.add_switch(
            "By hand", "Lay the known-good over the suspect by hand; press again to let go", icon="hand"
        )
        self.hand_bar = HandBar()
        self.places = PlacesBox()
        self.kind_offer = KindOffer(desk)
        self.drawing = LimitDrawing(desk, self.panel, self.asking, self.aside, self)
        self.hand = HandOnLanes(self.panel.lanes, self.hand_bar, self)
        self._own_lineup: LineUp | None = None
        self.column = VerdictColumn((self.supposing.button, self.supposing.fitted_button))
        self.card, self.tables, self.table = self.column.card, self.column.tables, self.column.tables.findings
        self.snapshot_button, self.export_button = self.column.snapshot_button, self.column.export_button
        self.keeping = ComparisonKeeping(desk, self.panel, self.tables, self)
        self._build()
        self._connect()
        self.show_choice()
        self.show_comparison()

    # Widgets

    def _build(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(6)
        top.addWidget(self.asking, 1)
        top.addWidget(self.running, 0, Qt.AlignmentFlag.AlignBottom)
        set_icon(self.supposing.button, "suppose")
        set_icon(self.run_button, "compare-run")
        left = Part()
        under = QVBoxLayout(left)
        under.setContentsMargins(0, 0, 0, 0)
        under.setSpacing(4)
        under.addWidget(self.panel, 1)
        under.addWidget(self.places)
        under.addWidget(self.drawing.bar)
        under.addWidget(self.hand_bar)
        self.hand_bar.hide()
        halves = Halves(left, self.column, sizes=(774, 420))
        page = QVBoxLayout(self)
        page.setContentsMargins(8, 6, 8, 8)
        page.addLayout(top)
        page.addWidget(self.kind_offer)
        page.addWidget(halves, 1)

    def _connect(self) -> None:
        desk = self._desk
        desk.captures_changed.connect(self.show_choice)
        desk.choice_changed.connect(self.show_choice)
        desk.compared.connect(self.show_comparison)
        self.run_button.clicked.connect(self.run)
        self.running.given_up.connect(lambda: self.said.emit("The comparison was given up; nothing was changed."))
        self.table.picked.connect(self._show_finding)
        self.tables.frame_picked.connect(self._show_frame)
        self.tables.track_picked.connect(self._show_track)
        self.tables.said.connect(self.column.say_rule)
        self.tables.frames_wanted.connect(self.keeping.save_frames)
        self.panel.finding_step.connect(self.table.step)
        self.panel.lanes.finding_picked.connect(self.table.select)
        self.panel.lanes.notes_changed.connect(self._keep_notes)
        self.places.picked.connect(self.panel.lanes.set_view)
        self.hand_button.toggled.connect(self._by_hand)
        self.hand.judge_wanted.connect(self._judge_by_hand)
        self.asking.failed.connect(self.failed)
        self.drawing.failed.connect(self.failed)
        self.drawing.begins.connect(self._let_go)
        self.drawing.made.connect(self.run)
        self.drawing.given_up.connect(self.show_comparison)
        for part in (self.hand, self.keeping):
            part.failed.connect(self.failed)
        self.keeping.said.connect(self.said)
        self.panel.fold_button.toggled.connect(lambda folded: folded and self.hand_button.setChecked(False))
        self.snapshot_button.clicked.connect(self.keeping.take_snapshot)
        self.supposing.failed.connect(self.failed)
        self.export_button.clicked.connect(self.keeping.export)
        self.column.keep_button.clicked.connect(lambda: self.keep_wanted.emit(desk.chosen.suspect))

    # Choosing

    def show_choice(self) -> None:
        """Offer what lies on the desk."""
        chosen = self._desk.chosen
        self.asking.show_choice()
        self.run_button.setEnabled(chosen.suspect is not None)
        self._nothing.show_choice(self._desk)
        self.column.keep_button.setEnabled(chosen.suspect is not None)
        self.column.set_picture_there(self._desk.drawn is not None)
        self._show_age()

    # Comparing

    def run(self) -> None:
        """Compare what is chosen."""
        chosen = self._desk.chosen
        suspect, good = chosen.suspect, chosen.good
        if suspect is None:
            return
        try:
            ask = self.asking.ask()
        except LoomlightError as error:
            self.failed.emit(error)
            return
        chosen.ask = ask

        def work(progress: Progress) -> Drawn:
            from loomlight.viewer.judging import judged

            return judged(suspect, good, ask, progress)

        self.aside.run(work, lambda found: self._desk.take_drawn(found, suspect, good), self.failed.emit)

    def show_seen(self, seen: SeenView) -> None:
        """Compare again as a snapshot shows it, then show its view and cursors."""
        self.asking.show_ask(seen.ask)
        self.show_choice()
        self._seen = seen
        self.run()

    def _show_seen_view(self) -> None:
        seen, self._seen = self._seen, None
        if seen is None:
            return
        lanes = self.panel.lanes
        if seen.view is not None:
            lanes.set_view(*seen.view)
        lanes.set_cursors(*seen.cursors)
        for key, pair in seen.levels.items():
            if any(layer.key == key for lane in lanes.lanes for layer in lane.layers):
                lanes.set_level_cursors(key, *pair)

    def show_comparison(self) -> None:
        """Show the desk's comparison, at its worst finding."""
        shown, drawn_from = self._desk.drawn, self._desk.drawn_from
        self._show_age()
        self.supposing.renew()
        self._let_go()
        self.column.set_picture_there(shown is not None)
        if shown is None or drawn_from is None:
            self._show_nothing()
            return
        found = shown.comparison
        if found.lineup is None or found.lineup.by != "hand":
            self._own_lineup = found.lineup
        self.hand_button.setVisible(found.lineup is not None and found.suspect.step_s is not None)
        self._show_lanes(compare_lanes(shown), shown.worst_s)
        self.column.show_comparison(found, shown.marks)
        self.places.show_places(found.places, found.good)
        self._show_seen_view()

    # By hand

    def _by_hand(self, begins: bool) -> None:
        shown = self._desk.drawn
        if begins and shown is not None and self._own_lineup is not None:
            self.panel.fold_button.setChecked(False)
            self.hand_bar.show()
            self.hand.begin(shown, self._own_lineup)
        elif not begins and self.hand.is_on and shown is not None:
            # Verdict and tables stayed the comparison's own all the while.
            self._show_lanes(compare_lanes(shown), self.panel.lanes.view())

    def lay_by_hand(self, hand: Hand, *, judge: bool) -> None:
        """Lay the known-good where a hand had it before, and judge it there if it was judged."""
        self.hand_button.setChecked(True)
        if not self.hand.is_on:
            return
        self.hand.lay(hand)
        if judge:
            self.hand.scored.connect(self.hand.judge, Qt.ConnectionType.SingleShotConnection)

    def renew_tables(self) -> None:
        """Show the tables again: units were changed."""
        shown = self._desk.drawn
        if shown is not None:
            self.tables.show_comparison(shown.comparison, shown.marks)

    def _let_go(self) -> None:
        """Whatever was made by hand and not judged is dropped; the lanes are the comparison's again."""
        if self.hand.is_on:
            self.hand.end()
        self.drawing.let_go()
        self.hand_button.setChecked(False)
        self.hand_bar.hide()

    def _judge_by_hand(self, lineup: LineUp) -> None:
        shown, drawn_from = self._desk.drawn, self._desk.drawn_from
        if shown is None or drawn_from is None:
            return

        def work(progress: Progress) -> Drawn:
            from loomlight.viewer.judging import judged_as_laid

            return judged_as_laid(shown.comparison, lineup, progress)

        self.aside.run(work, lambda found: self._desk.take_drawn(found, *drawn_from), self.failed.emit)

    def _show_notes(self, source: Path | str | None) -> None:
        """Show a capture's notes; a note that is still being written goes to the capture that it was begun on."""
        self.panel.lanes.set_notes(())
        self._noted = source
        if source is not None:
            self.panel.lanes.set_notes(self._desk.notes_of(source))

    def _show_lanes(self, lanes: tuple[Lane, ...], view: tuple[float, float] | None) -> None:
        """Show lanes of the comparison at hand, with its findings."""
        shown, drawn_from = self._desk.drawn, self._desk.drawn_from
        if shown is None or drawn_from is None:
            return
        self._let_go()
        findings = findings_by_lane(shown, lanes)
        self.panel.show_lanes(lanes, findings, view=view, name=f"compare {drawn_from[0].file}")
        self._show_notes(drawn_from[0].source)

    def _show_nothing(self) -> None:
        self._show_notes(None)
        self.hand_button.hide()
        self.panel.show_lanes((), {})
        self.column.show_comparison(None)
        self.places.show_places((), None)

    def _show_age(self) -> None:
        """Say so where the answer that is shown is about other channels than those chosen now."""
        shown, drawn_from = self._desk.drawn, self._desk.drawn_from
        if shown is None or drawn_from is None or not self._desk.is_comparison_old():
            self.column.say_age("")
            return
        good = drawn_from[1].label if drawn_from[1] is not None else "the limits alone"
        kind = listed_kind(shown.comparison.kind).title
        self.column.say_age(
            f"Still shown: {drawn_from[0].label} against {good}, as {kind}. Press Compare for what is chosen now."
        )

    def _show_finding(self, finding: Finding) -> None:
        self.column.say_rule(finding_sentence(finding))
        self.panel.lanes.pick(finding)
        self.panel.lanes.go_to(finding.start_s, finding.stop_s)

    def _show_frame(self, row: FrameRow) -> None:
        self.column.say_rule(f"Frame {row.identifier or 'without identifier'}: {frame_tip(row)}.")
        room = 0.05 * (row.stop_s - row.start_s)
        self.panel.lanes.go_to(row.start_s - room, row.stop_s + room)

    def _show_track(self, track: Track) -> None:
        """Draw a figure over time under the capture."""
        shown = self._desk.drawn
        if shown is not None and track.times_s.size:
            lanes, view = compare_lanes(shown), self.panel.lanes.view()
            self._show_lanes((*lanes, track_lane(shown.comparison, track)), view)

    def _keep_notes(self) -> None:
        if self._noted is None:
            return
        try:
            self._desk.keep_notes(self._noted, self.panel.lanes.notes())
        except LoomlightError as error:
            self.failed.emit(error)

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.panel.set_theme(theme)

    def close_work(self) -> None:
        """Keep a note that is still being written, and stop what runs aside."""
        self._show_notes(None)
        self.panel.close_work()
        self.hand.close_work()
        self.aside.close()
        self.supposing.aside.close()
        self.kind_offer.aside.close()
