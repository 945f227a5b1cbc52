"""Lanes with their overview, tools and readings: what the pages put where a capture is looked at."""

from collections.abc import Mapping, Sequence
from typing import Protocol

from PySide6.QtCore import QPoint, QSize, Signal
from PySide6.QtWidgets import QDialog, QHBoxLayout, QStackedLayout, QVBoxLayout, QWidget

from loomlight.signal.finding import Finding
from loomlight.viewer.bounds_dialog import BoundsDialog
from loomlight.viewer.fold_panel import FoldPanel
from loomlight.viewer.fold_work import FoldSource
from loomlight.viewer.halves import Part
from loomlight.viewer.lane_tools import FindingSteps, LaneTools
from loomlight.viewer.lanes.arrangement import Arrangement
from loomlight.viewer.lanes.key_list import KeyList
from loomlight.viewer.lanes.lane_menu import lane_menu
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.overview import Overview
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.readings_bar import ReadingsBar
from loomlight.viewer.theme import Theme

MOST_FOLDED = 3
"""Side by side: more would be too narrow to see anything in."""


class ArrangementMemory(Protocol):
    """Where arrangements are remembered, each under the name of what it arranges."""

    def arrangement(self, name: str) -> Arrangement | None:
        """What was remembered, or None."""

    def remember_arrangement(self, name: str, arrangement: Arrangement) -> None:
        """Remember another one."""


class LanePanel(Part):
    """Joins the parts; holds only the name under which the lanes' arrangement is remembered."""

    finding_step = Signal(int)
    said = Signal(str)
    undo_offered = Signal(str)

    def __init__(
        self,
        theme: Theme,
        *,
        empty: QWidget | None = None,
        tools: bool = True,
        notes: bool = False,
        memory: ArrangementMemory | None = None,
        parent: QWidget | None = None,
    ) -> None:
        """``empty`` stands there as long as there are no lanes; ``notes`` where they are kept with the capture."""
        super().__init__(parent)
        self.lanes = LaneStack(theme)
        self.lanes.takes_notes = notes
        self._memory, self._name = memory, ""
        self._has_findings = False
        self.overview = Overview(theme)
        self.readings = ReadingsBar(self.lanes)
        self.tools = LaneTools(self.lanes)
        if not tools:
            self.tools.hide()
        self.steps = FindingSteps()
        self.fold = FoldPanel(theme)
        self.fold.hide()
        self.fold_button = self.tools.fold_button
        self._keys: KeyList | None = None
        self._stack = QStackedLayout(self)
        self._stack.addWidget(empty or QWidget())
        filled = QWidget()
        self._stack.addWidget(filled)
        column = QVBoxLayout(filled)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.tools)
        whole = QHBoxLayout()
        whole.setSpacing(4)
        whole.addWidget(self.overview, 1)
        whole.addWidget(self.steps)
        column.addLayout(whole)
        column.addWidget(self.lanes, 1)
        column.addWidget(self.readings)
        column.addWidget(self.fold, 1)
        self._connect()

    def _connect(self) -> None:
        self.lanes.view_changed.connect(self.overview.show_view)
        self.overview.view_wanted.connect(lambda start_s, stop_s: self.lanes.set_view(start_s, stop_s, moving=True))
        self.lanes.menu_wanted.connect(self._show_menu)
        self.lanes.said.connect(self.said)
        self.lanes.undo_offered.connect(self.undo_offered)
        self.lanes.arranging.turned.connect(self._remember)
        self.lanes.arranged.connect(self._show_overview)
        self.steps.stepped.connect(self.finding_step)
        self.fold_button.toggled.connect(self._show_folded)
        self.tools.keys_wanted.connect(self.show_keys)
        self.tools.menu_wanted.connect(self._show_chosen_menu)

    def hasHeightForWidth(self) -> bool:
        """The lanes take whatever height there is; only the tools need more in a narrow place (`minimumSizeHint`)."""
        return False

    def minimumSizeHint(self) -> QSize:
        shown = self._stack.currentWidget()
        least = shown.minimumSizeHint()
        lines = 0
        if self.tools.isVisibleTo(shown):
            lines = self.tools.heightForWidth(max(self.width(), least.width())) - self.tools.minimumSizeHint().height()
        return QSize(least.width(), least.height() + max(lines, 0))

    def show_lanes(
        self,
        lanes: Sequence[Lane],
        findings: Mapping[str, Sequence[Finding]],
        *,
        view: tuple[float, float] | None = None,
        name: str = "",
    ) -> None:
        """Show other lanes with their findings, at a view or as a whole; arranged as was remembered under ``name``."""
        self._name = name
        kept = self._memory.arrangement(name) if self._memory is not None and name else None
        self.lanes.show_lanes(lanes, arrangement=kept if kept is not None else Arrangement())
        self.lanes.show_findings(findings)
        self._show_overview()
        self.overview.show_view(*self.lanes.view())
        if view is not None:
            self.lanes.set_view(*view)
        self._has_findings = bool(lanes) and bool(findings.get(lanes[0].key)) and not self.tools.isHidden()
        self._stack.setCurrentIndex(1 if lanes else 0)
        self.readings.read()
        self._show_folded(self.fold_button.isChecked())

    def _show_overview(self) -> None:
        """The uppermost lane as a whole, with its findings."""
        first = self.lanes.lanes[0] if self.lanes.lanes else None
        self.overview.show_trace(first.traces[-1] if first is not None else None, self.lanes.full())
        self.overview.show_findings(self.lanes.marks(first.key) if first is not None else ())

    # Folded view

    def _show_folded(self, folded: bool) -> None:
        self.overview.setVisible(not folded)
        self.steps.setVisible(self._has_findings and not folded)
        self.lanes.setVisible(not folded)
        self.tools.show_lane_tools(shown=not folded)
        self.fold.setVisible(folded)
        if folded:
            self.readings.hide()
            self.fold.show_sources(self._to_fold(), self.lanes.view())
        else:
            self.fold.stop()
            self.readings.read()

    def _to_fold(self) -> list[FoldSource]:
        """Suspect and known-good side by side where there are any; else what stands in the chosen lane."""
        layers = [layer for lane in self.lanes.lanes for layer in lane.layers]
        sources = [FoldSource(trace, layer.lines, layer.unit) for layer in layers for trace in layer.traces]
        compared = [one for one in sources if one.trace.role in ("known-good", "suspect", "after repair")]
        chosen = self.lanes.arranging.lane(self.lanes.arranging.chosen)
        traces = chosen.all_traces if chosen is not None else ()
        return compared or [one for one in sources if one.trace in traces][:MOST_FOLDED]

    def _remember(self) -> None:
        if self._memory is not None and self._name:
            self._memory.remember_arrangement(self._name, self.lanes.arranging.arrangement)

    # Menu and keys

    def _show_menu(self, key: str, place: QPoint) -> None:
        lane_menu(self.lanes.arranging, key, self._ask_bounds, self).popup(place)

    def _show_chosen_menu(self) -> None:
        below = self.tools.lane_button.mapToGlobal(self.tools.lane_button.rect().bottomLeft())
        self._show_menu(self.lanes.arranging.chosen, below)

    def _ask_bounds(self, key: str) -> None:
        lane = self.lanes.arranging.lane(key)
        if lane is None:
            return
        dialog = BoundsDialog(lane.key, lane.unit, self.lanes.value_range(key), self)
        bounds = dialog.bounds() if dialog.exec() == QDialog.DialogCode.Accepted else None
        if bounds is not None:
            self.lanes.arranging.scale(key, "set", bounds)

    def show_keys(self) -> None:
        """List all keys and gestures, beside the work."""
        if self._keys is not None:
            self._keys.deleteLater()
        self._keys = KeyList(self)  # anew: keys may have been changed
        self._keys.show()
        self._keys.raise_()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme, and in the units that are chosen now."""
        self.readings.renew()
        self.lanes.set_theme(theme)
        self.overview.set_theme(theme)
        self.fold.set_theme(theme)

    def close_work(self) -> None:
        """Stop what runs aside."""
        self.readings.close_work()
        self.fold.close_work()
