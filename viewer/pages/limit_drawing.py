"""Limit curves drawn over the suspect on the Compare page."""

from dataclasses import replace

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from loomlight.signal.capture import Channel
from loomlight.signal.limit_curve import LimitCurve, OwnLimits
from loomlight.signal.lineup import LineUp
from loomlight.signal.pyramid import Pyramid, pyramid_of
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.limits_on_lanes import LimitsBar, LimitsOnLanes
from loomlight.viewer.pages.ask_bar import AskBar


class LimitDrawing(QObject):
    """Has a curve drawn over the suspect that is chosen, and hands it to what is asked."""

    begins = Signal()
    made = Signal()
    given_up = Signal()
    failed = Signal(object)

    def __init__(self, desk: Desk, panel: LanePanel, asking: AskBar, aside: Aside, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk, self._panel, self._asking, self._aside = desk, panel, asking, aside
        self.bar = LimitsBar()
        self.hand = LimitsOnLanes(panel.lanes, self.bar, self)
        asking.draw_wanted.connect(self.draw)
        self.hand.done.connect(self._take)
        self.hand.given_up.connect(self.given_up)

    def let_go(self) -> None:
        """Whatever was drawn and not used is dropped."""
        if self.hand.is_on:
            self.hand.end()

    def draw(self, side: str) -> None:
        """Have the upper or lower curve drawn."""
        suspect, shown = self._desk.chosen.suspect, self._desk.drawn
        if suspect is None:
            return
        channel = suspect.channel
        if shown is not None and shown.comparison.suspect is channel:
            self._begin(side, channel, shown.suspect)
            return
        self._aside.run(
            lambda progress: pyramid_of(channel.samples, progress),
            lambda pyramid: self._begin(side, channel, pyramid),
            self.failed.emit,
        )

    def _begin(self, side: str, channel: Channel, pyramid: Pyramid) -> None:
        self.begins.emit()
        limits = self._desk.chosen.ask.limits or OwnLimits()
        curve = limits.upper if side == "upper" else limits.lower
        points = curve.points if curve is not None else ()
        lineup = self._lineup(limits)
        if lineup is not None:
            points = tuple((lineup.on_suspect(at_s), level) for at_s, level in points)
        lane = Lane(channel.name, (Trace(channel, pyramid, "suspect", channel.name),), unit=channel.unit or "")
        self._panel.show_lanes((lane,), {})
        self.hand.begin(lane, side, points)

    def _lineup(self, limits: OwnLimits) -> LineUp | None:
        """The line-up by which curves go with the known-good; None where they stand on the suspect's own axis."""
        lineup = self._desk.drawn.comparison.lineup if self._desk.drawn is not None else None
        return lineup if limits.on_good and lineup is not None and lineup.accepted else None

    def _take(self, side: str, curve: LimitCurve | None) -> None:
        """Judge with the curve that was drawn."""
        limits = self._desk.chosen.ask.limits or OwnLimits()
        lineup = self._lineup(limits)
        if curve is not None and lineup is not None:
            curve = LimitCurve(tuple((lineup.lag_s + lineup.stretch * at_s, level) for at_s, level in curve.points))
        changed = replace(limits, on_good=lineup is not None)
        self._asking.take_limits(replace(changed, upper=curve) if side == "upper" else replace(changed, lower=curve))
        if self._desk.chosen.ask.limits is not None and self._desk.chosen.ask.limits.holds_something:
            self.made.emit()
        else:
            self.given_up.emit()
