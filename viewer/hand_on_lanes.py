"""The known-good under a hand: dragged over the suspect in the lane, nudged by keys, pinned, undone."""

from dataclasses import replace

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QMouseEvent

from loomlight.signal.by_hand import Hand, scored, start_of
from loomlight.signal.lineup import LineUp
from loomlight.viewer.aside import Aside
from loomlight.viewer.hand_bar import HandBar
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.specs import Lane, LevelLine, Trace
from loomlight.viewer.lanes_of import Drawn, limit_lines
from loomlight.viewer.wording import hand_words

COARSE_SHARE = 0.01
"""Of the view."""


class HandOnLanes(QObject):
    """Holds the hand's line-up while it is being made; the comparison itself is not touched until it is judged."""

    failed = Signal(object)
    judge_wanted = Signal(object)
    changed = Signal()
    scored = Signal()

    def __init__(self, lanes: LaneStack, bar: HandBar, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._lanes, self._bar = lanes, bar
        self._scoring = Aside(self)
        self._shown: Drawn | None = None
        self._own: LineUp | None = None
        self.hand = Hand(0.0)
        self.lineup: LineUp | None = None
        self._before: list[Hand] = []
        self._grabbed: tuple[float, Hand] | None = None
        self._last_s: float | None = None
        bar.nudged.connect(self.nudge)
        bar.pin_wanted.connect(self.pin)
        bar.unpin_wanted.connect(lambda: self._take(self.hand.unpinned()))
        bar.undo_wanted.connect(self.undo)
        bar.own_wanted.connect(self.back_to_own)
        bar.judge_wanted.connect(self.judge)

    @property
    def is_on(self) -> bool:
        """Whether the lanes are under the hand."""
        return self._shown is not None

    def begin(self, shown: Drawn, own: LineUp) -> None:
        """Lay suspect and known-good into one lane, as the shown line-up has them; ``own``: the tool's own answer."""
        self._shown, self._own, self._before, self._last_s = shown, own, [], None
        lineup = shown.comparison.lineup
        self.hand = start_of(lineup if lineup is not None else own)
        self._lanes.installEventFilter(self)
        self._lanes.setCursor(Qt.CursorShape.SizeHorCursor)
        view = self._lanes.view()
        self._draw()
        self._lanes.set_view(*view)
        self._lanes.setFocus()
        self._score()

    def end(self) -> None:
        """Let go; what is shown then is up to the page."""
        self._lanes.removeEventFilter(self)
        self._lanes.unsetCursor()
        self._scoring.cancel()
        self._shown, self._own, self.lineup, self._grabbed = None, None, None, None

    # What the hand does

    def nudge(self, way: int, coarse: bool) -> None:
        """Move the known-good by one sample, or by a hundredth of the view."""
        if self._shown is None:
            return
        start_s, stop_s = self._lanes.view()
        step_s = self._shown.comparison.suspect.step_s or COARSE_SHARE * (stop_s - start_s)
        by_s = way * (COARSE_SHARE * (stop_s - start_s) if coarse else step_s)
        self._take(self.hand.moved(self._middle(), by_s))

    def pin(self) -> None:
        """Hold what lies on each other where the hand was last, else in the middle of the view."""
        self._take(self.hand.pinned(self._middle()))

    def undo(self) -> None:
        """Take the last step back."""
        if self._before:
            self.hand = self._before.pop()
            self._changed()

    def back_to_own(self) -> None:
        """To the tool's own answer."""
        if self._own is not None:
            self._take(start_of(self._own))

    def judge(self) -> None:
        """Ask for a verdict at this line-up, once its fit is known."""
        if self.lineup is not None:
            self.judge_wanted.emit(self.lineup)

    def _middle(self) -> float:
        start_s, stop_s = self._lanes.view()
        last_s = self._last_s
        return last_s if last_s is not None and start_s <= last_s <= stop_s else 0.5 * (start_s + stop_s)

    def _take(self, hand: Hand) -> None:
        if hand != self.hand:
            self._before.append(self.hand)
            self.hand = hand
            self._changed()

    def lay(self, hand: Hand) -> None:
        """Put the known-good where a hand had it."""
        self._take(hand)

    def _changed(self) -> None:
        self._draw()
        self._score()
        self.changed.emit()

    # Showing

    def _draw(self) -> None:
        assert self._shown is not None
        self._lanes.show_lanes((hand_lane(self._shown, self.hand),), keep_view=True)

    def _score(self) -> None:
        """Work the fit out aside; the newest place wins."""
        assert self._shown is not None
        assert self._own is not None
        comparison, own, hand = self._shown.comparison, self._own, self.hand
        good = comparison.good
        assert good is not None
        self.lineup = None
        self._show_words()
        self._scoring.run(
            lambda progress: scored(comparison.suspect, good, hand, own, progress), self._scored, self.failed.emit
        )

    def _scored(self, lineup: LineUp) -> None:
        self.lineup = lineup
        self._show_words()
        self.scored.emit()

    def _show_words(self) -> None:
        assert self._own is not None
        words = hand_words(self.hand, self.lineup, self._own)
        self._bar.show_state(words, pins=len(self.hand.pins), can_undo=bool(self._before))
        self._bar.judge_button.setEnabled(self.lineup is not None and self.lineup.accepted)

    # Mouse and keys

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take drags and keys that move the known-good; all others stay the lanes' own."""
        if self._shown is None or not self._lanes.lanes:
            return False
        if isinstance(event, QMouseEvent):
            return self._mouse(event)
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            return self._key(event)
        return False

    def _mouse(self, event: QMouseEvent) -> bool:
        scale = self._lanes.scales()[0]
        at_s, kind = scale.time_at(event.position().x()), event.type()
        left = event.button() == Qt.MouseButton.LeftButton and event.modifiers() == Qt.KeyboardModifier.NoModifier
        if kind == QEvent.Type.MouseButtonPress and left and scale.rect.contains(event.position()):
            self._lanes.setFocus(Qt.FocusReason.MouseFocusReason)
            self._grabbed, self._last_s = (at_s, self.hand), at_s
            return True
        if self._grabbed is None:
            return False
        grabbed_s, before = self._grabbed
        if kind == QEvent.Type.MouseMove:
            self.hand = before.moved(grabbed_s, at_s - grabbed_s)
            self._draw()
            return True
        if kind == QEvent.Type.MouseButtonRelease:
            self._grabbed, self._last_s = None, at_s
            after, self.hand = self.hand, before
            self._take(after)
            return True
        return False

    def _key(self, event: QKeyEvent) -> bool:
        if event.matches(QKeySequence.StandardKey.Undo):
            self.undo()
            return True
        key, held = event.key(), event.modifiers()
        coarse = bool(held & Qt.KeyboardModifier.ShiftModifier)
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right) and held in (
            Qt.KeyboardModifier.NoModifier,
            Qt.KeyboardModifier.ShiftModifier,
        ):
            self.nudge(-1 if key == Qt.Key.Key_Left else 1, coarse)
            return True
        if key == Qt.Key.Key_P and held == Qt.KeyboardModifier.NoModifier:
            self.pin()
            return True
        return False

    def close_work(self) -> None:
        """Let go of the lanes, and stop what runs aside."""
        if self.is_on:
            self.end()
        self._scoring.close()


def hand_lane(shown: Drawn, hand: Hand) -> Lane:
    """Suspect and known-good in one lane, the known-good where the hand put it."""
    comparison = shown.comparison
    assert comparison.good is not None
    assert shown.good is not None
    upside_down = comparison.lineup is not None and comparison.lineup.polarity < 0
    good = Trace(comparison.good, shown.good, "known-good", comparison.good.name, hand.lag_s, hand.stretch, upside_down)
    suspect = Trace(comparison.suspect, shown.suspect, "suspect", comparison.suspect.name)
    lines: tuple[LevelLine, ...] = limit_lines(comparison, comparison.bus)
    return replace(Lane(comparison.suspect.name, (good, suspect), lines), unit=comparison.suspect.unit or "")
