"""A supposed fault under the comparison at hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QPushButton, QWidget

from loomlight.signal.examination import Examination
from loomlight.signal.kinds.listing import kind_named
from loomlight.signal.progress import Progress
from loomlight.signal.pyramid import pyramid_of
from loomlight.signal.supposal import Fitted, SupposedFault, Supposer
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.lanes_of import compare_lanes

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison


class Supposing(QObject):
    """Asks for a fault and has its picture drawn under the capture, for the stretch in sight.

    Parameters
    ----------
    desk : Desk
        Holds the comparison.
    view : callable
        Begin and end of what is in sight, seconds.
    show : callable
        Shows other lanes at a view.
    """

    failed = Signal(object)

    def __init__(
        self,
        desk: Desk,
        view: Callable[[], tuple[float, float]],
        show: Callable[[tuple[Lane, ...], tuple[float, float]], None],
        parent: QWidget,
    ) -> None:
        super().__init__(parent)
        self._desk, self._view, self._show, self._window = desk, view, show, parent
        self.aside = Aside(self)
        self.button = QPushButton("Suppose…")
        self.button.setToolTip("What would the wire look like with some fault? Drawn under the capture")
        self.button.clicked.connect(self.ask)
        self.fitted_button = QPushButton("As fitted")
        self.fitted_button.setToolTip("What the verdict's figures predict, drawn over the capture")
        self.fitted_button.clicked.connect(self.show_fitted)
        self.renew()

    def renew(self) -> None:
        """Another comparison is shown: what was being worked out belongs to the one before."""
        self.aside.cancel()
        self.button.setEnabled(self._looked() is not None)
        self.fitted_button.setEnabled(self._fitted() is not None)

    def ask(self) -> None:
        """Ask for a fault, and show it."""
        from loomlight.viewer.suppose_dialog import SupposeDialog

        looked, drawn, supposer = self._looked(), self._desk.drawn, self._supposer()
        if looked is None or drawn is None or supposer is None:
            return
        ohm = drawn.comparison.verdict.series_ohm
        dialog = SupposeDialog(supposer.faults, supposer.beyond(looked), ohm, self._window, supposer.beyond_words)
        if dialog.exec() == SupposeDialog.DialogCode.Accepted and (fault := dialog.fault()) is not None:
            self.suppose(fault)

    def suppose(self, fault: SupposedFault) -> None:
        """Work a fault out aside, and draw it under the capture."""
        looked, drawn, supposer = self._looked(), self._desk.drawn, self._supposer()
        if looked is None or drawn is None or supposer is None:
            return
        lanes, view = compare_lanes(drawn), self._view()
        lag_s, stretch = _way(drawn.comparison)

        def work(progress: Progress) -> Lane:
            first_s, last_s = sorted(lag_s + stretch * one for one in view)
            begin_s, end_s = max(first_s, looked.channel.start_s), min(last_s, looked.channel.stop_s)
            channel = supposer.picture(looked, fault, begin_s, end_s)
            pyramid = pyramid_of(channel.samples, progress)
            trace = Trace(channel, pyramid, "other", channel.name, lag_s=lag_s, stretch=stretch)
            return Lane(channel.name, (trace,), lanes[0].lines, unit=channel.unit or "V")

        self.aside.run(work, lambda lane: self._show((*lanes, lane), view), self.failed.emit)

    def show_fitted(self) -> None:
        """Draw what the verdict's figures predict over the suspect's lane, for the middle of what is in sight."""
        fitted, drawn, supposer = self._fitted(), self._desk.drawn, self._supposer()
        if fitted is None or drawn is None or supposer is None:
            return
        lanes, view = compare_lanes(drawn), self._view()
        suspect = drawn.comparison.suspect
        first_s, last_s = max(view[0], suspect.start_s), min(view[1], suspect.stop_s)
        spare_s = max(last_s - first_s - supposer.longest_s, 0.0) / 2

        def work(progress: Progress) -> Lane:
            channel = fitted.picture(first_s + spare_s, last_s - spare_s)
            trace = Trace(channel, pyramid_of(channel.samples, progress), "other", channel.name)
            return replace(lanes[0], traces=(*lanes[0].traces, trace))

        self.aside.run(work, lambda lane: self._show((lane, *lanes[1:]), view), self.failed.emit)

    def _fitted(self) -> Fitted | None:
        """What the verdict predicts, where it is a fault that can be drawn."""
        return self._desk.drawn.fitted if self._desk.drawn is not None else None

    def _supposer(self) -> Supposer | None:
        return kind_named(self._desk.drawn.comparison.kind).supposer if self._desk.drawn is not None else None

    def _looked(self) -> Examination | None:
        """The known-good, where its traffic can be sent through the model."""
        looked = self._desk.drawn.comparison.good_looked if self._desk.drawn is not None else None
        supposer = self._supposer()
        return looked if looked is not None and supposer is not None and supposer.ready(looked) else None


def _way(found: Comparison) -> tuple[float, float]:
    """Lag and stretch from the picture's axis to the known-good's."""
    lineup = found.lineup
    return (lineup.lag_s, lineup.stretch) if lineup is not None and lineup.accepted else (0.0, 1.0)
