"""The comparison in hand, made again on each capture that arrives."""

from dataclasses import dataclass

from PySide6.QtCore import QObject, QTimer, Signal

from loomlight.signal.errors import CannotUse, NoSuchChannel
from loomlight.viewer.choice import Choice, Opened
from loomlight.viewer.desk import Desk
from loomlight.viewer.pages.compare_page import ComparePage


@dataclass(frozen=True, eq=False)
class InHand:
    """What is compared: the suspect's name and its known-good.

    Attributes
    ----------
    channel : str
        Name of the suspect channel.
    good : Choice or None
        The known-good; None for the limits alone.
    beside : str
        Name of the known-good where it was recorded with the suspect: the new capture brings its own.
    """

    channel: str
    good: Choice | None
    beside: str = ""


def in_hand(desk: Desk) -> InHand | None:
    """What would be compared now, where a comparison was made before; else None."""
    chosen = desk.chosen
    if desk.drawn is None or chosen.suspect is None:
        return None
    good = chosen.good
    beside = good.channel.name if good is not None and good.is_beside(chosen.suspect) else ""
    return InHand(chosen.suspect.channel.name, good, beside)


class RepeatComparison(QObject):
    """Compares captures one after the other; none is passed over, however fast they come."""

    compared = Signal(object)
    failed = Signal(object)
    page_wanted = Signal()

    def __init__(self, desk: Desk, page: ComparePage, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk, self._page = desk, page
        self._waiting: list[tuple[Opened, InHand | None]] = []
        self._now: Opened | None = None
        desk.compared.connect(self._done)
        page.aside.busy_changed.connect(self._freed)

    def add(self, opened: Opened, *, pinned: InHand | None = None) -> None:
        """Repeat the comparison in hand, or the one that was pinned, on a capture that arrived."""
        self._waiting.append((opened, pinned))
        self._next()

    def give_up(self) -> None:
        """Forget what waits: the desk was given another job, or the watching was ended."""
        self._waiting.clear()
        self._now = None

    def _next(self) -> None:
        while self._waiting and self._now is None and not self._page.aside.is_busy:
            self._start(*self._waiting.pop(0))

    def _start(self, opened: Opened, pinned: InHand | None) -> None:
        hand = pinned or in_hand(self._desk)
        if hand is None or not any(one.path == opened.path for one in self._desk.opened):
            return
        try:
            suspect = choice_named(opened, hand.channel)
            good = choice_named(opened, hand.beside) if hand.beside else hand.good
            if good is not None and good.is_same(suspect):
                raise CannotUse(f"{opened.path.name} is the known-good itself: it was not compared.")
        except (NoSuchChannel, CannotUse) as error:
            self.failed.emit(error)
            return
        self._desk.choose(suspect=suspect, good=good)
        self.page_wanted.emit()
        self._page.run()
        if self._page.aside.is_busy:  # else it could not be started, which the page has told
            self._now = opened

    def _done(self) -> None:
        now, drawn_from = self._now, self._desk.drawn_from
        if now is not None and drawn_from is not None and drawn_from[0].source == now.path:
            self.compared.emit(now)

    def _freed(self, busy: bool) -> None:
        if not busy:  # the answer itself is handed on right after this
            QTimer.singleShot(0, self._go_on)

    def _go_on(self) -> None:
        if not self._page.aside.is_busy:
            self._now = None
            self._next()


def choice_named(opened: Opened, name: str) -> Choice:
    """The channel of that name, else the only one alike but for case.

    Raises
    ------
    NoSuchChannel
        If there is none.
    """
    channel = opened.capture.channel(name)
    return next(one for one in opened.choices() if one.channel is channel)
