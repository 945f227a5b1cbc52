"""The wiggle test at work: each capture that arrives is held against the pinned known-good, beside the window."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from loomlight.signal.channel_setup import with_setups
from loomlight.signal.errors import CannotUse
from loomlight.signal.progress import Progress, part
from loomlight.signal.verdict import Verdict
from loomlight.viewer.aside import Aside
from loomlight.viewer.ask import Ask
from loomlight.viewer.choice import Choice, Opened
from loomlight.viewer.desk import Desk
from loomlight.viewer.repeat_comparison import InHand, choice_named, in_hand
from loomlight.viewer.wiggle_record import Told, WiggleRecord, not_read, told_of


@dataclass(frozen=True, eq=False)
class Pinned:
    """What each capture is compared with: it stays the same whatever is chosen elsewhere."""

    hand: InHand
    ask: Ask

    @property
    def title(self) -> str:
        """The two channels."""
        good = self.hand.good.label if self.hand.good is not None else "its limits"
        return f"{self.hand.channel} against {self.hand.beside or good}"


class WiggleTest(QObject):
    """Judges captures one after the other; they stay in their folder, and off the desk and out of the job until asked for.

    `is_on` says whether what arrives is judged here.
    """

    changed = Signal()
    turned = Signal(object)

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._aside = Aside(self)
        self._waiting: list[Path] = []
        self.pinned: Pinned | None = None
        self.is_on = False
        self.record = WiggleRecord()
        self.held = ""
        self.began = datetime.now().astimezone()

    @property
    def waiting(self) -> int:
        """How many captures wait for their verdict, with the one at hand."""
        return len(self._waiting) + self._aside.is_busy

    def begin(self) -> bool:
        """Pin the comparison in hand and start anew; gives False where nothing was compared yet."""
        hand = in_hand(self._desk)
        self.end()
        if hand is None:
            return False
        self.is_on = True
        self.pinned = Pinned(hand, self._desk.chosen.ask)
        self.record, self.held, self.began = WiggleRecord(), "", datetime.now().astimezone()
        self.changed.emit()
        return True

    def end(self) -> None:
        """Judge no more; what was told stays, and what it was compared with."""
        self._waiting.clear()
        self._aside.cancel()
        self.is_on = False
        self.changed.emit()

    def add(self, paths: list[Path]) -> None:
        """Judge captures that arrived."""
        self._waiting += paths
        self._next()

    def _next(self) -> None:
        pinned = self.pinned
        if pinned is None or not self.is_on or self._aside.is_busy or not self._waiting:
            self.changed.emit()
            return
        path, held, desk = self._waiting.pop(0), self.held, self._desk

        def done(verdict: Verdict) -> None:
            self._tell(told_of(verdict, path, datetime.now().astimezone(), held))

        def failed(error: Exception) -> None:
            self._tell(not_read(error, path, datetime.now().astimezone(), held))

        self._aside.run(_judging(path, pinned, desk), done, failed)
        self.changed.emit()

    def _tell(self, one: Told) -> None:
        self.record = self.record.with_told(one)
        if self.record.is_change(one):
            self.turned.emit(one)
        self._next()

    def close_work(self) -> None:
        """Stop what runs aside."""
        self._waiting.clear()
        self._aside.close()


def _judging(path: Path, pinned: Pinned, desk: Desk) -> Callable[[Progress], Verdict]:
    folder = desk.folder

    def work(progress: Progress) -> Verdict:
        from loomlight.storage.open_capture import open_capture
        from loomlight.viewer.capture_keeping import known_about
        from loomlight.viewer.judging import verdict_on

        known = known_about(folder, path)
        capture = with_setups(open_capture(path, part(progress, 0.0, 0.4), reading=known.reading), known.setups)
        opened = Opened(path, capture, reading=known.reading)
        suspect = choice_named(opened, pinned.hand.channel)
        good: Choice | None = choice_named(opened, pinned.hand.beside) if pinned.hand.beside else pinned.hand.good
        if good is not None and good.is_same(suspect):
            raise CannotUse(f"{path.name} is the known-good itself: it was not compared.")
        return verdict_on(suspect, good, pinned.ask, part(progress, 0.4, 1.0))

    return work
