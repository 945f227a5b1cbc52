"""What a wire looks like, offered where the signal kind that is chosen is another."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from loomlight.signal.kinds.listing import listed_kind
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Choice
from loomlight.viewer.desk import Desk

if TYPE_CHECKING:
    from loomlight.signal.progress import Progress
    from loomlight.signal.wire_guess import Guesses

MOST_KEPT = 64


class KindOffer(QWidget):
    """One line and a button; hidden where there is nothing to offer. Nothing is chosen unless the button is pressed.

    The channel that ought to be good is looked at where there is one: the suspect's own signal may be the fault's.
    """

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.aside = Aside(self)
        self._known: dict[tuple[Path | str, str, int], Guesses] = {}
        self._refused: set[tuple[Path | str, str, int]] = set()
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setAccessibleName("What the wire looks like")
        self.use_button = QPushButton("Use")
        self.use_button.setToolTip("Judge as this signal kind")
        self.use_button.clicked.connect(self._use)
        self.leave_button = QPushButton("Leave")
        self.leave_button.setToolTip("Keep the signal kind that is chosen, and do not ask again for this channel")
        self.leave_button.clicked.connect(self._leave)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.text, 1)
        for button in (self.use_button, self.leave_button):
            row.addWidget(button, 0, Qt.AlignmentFlag.AlignVCenter)
        desk.choice_changed.connect(self.renew)
        self.hide()
        self.renew()

    def renew(self) -> None:
        """Look at what is chosen now."""
        choice = self._looked_at()
        if choice is None or choice.kind:
            self.aside.cancel()
            self.hide()
            return
        key = _key(choice)
        if key in self._known:
            self._show(self._known[key], key)
            return
        self.hide()
        channel = choice.channel

        def work(progress: Progress) -> Guesses:
            from loomlight.signal.wire_guess import guess

            return guess(channel, progress)

        self.aside.run(work, lambda found: self._take(key, found), _pass_over)

    def _looked_at(self) -> Choice | None:
        chosen = self._desk.chosen
        return chosen.good or chosen.suspect

    def _take(self, key: tuple[Path | str, str, int], found: Guesses) -> None:
        if len(self._known) >= MOST_KEPT:
            self._known.clear()
        self._known[key] = found
        choice = self._looked_at()
        if choice is not None and _key(choice) == key:
            self._show(found, key)

    def _show(self, found: Guesses, key: tuple[Path | str, str, int]) -> None:
        # What is not sure is not worth an interruption.
        first, ask = found.sure, self._desk.chosen.ask
        wanted = first is not None and first.kind != ask.kind
        meant = any(one is not None for one in (ask.upper_v, ask.lower_v, ask.within_v))  # own limits were typed
        self.setVisible(wanted and not meant and key not in self._refused)
        if wanted and first is not None:
            choice = self._looked_at()
            name = choice.channel.name if choice is not None else "The wire"
            others = ", ".join(listed_kind(one.kind).title for one in found.ranked[1:3])
            rest = f" Less alike: {others}." if others else ""
            self.text.setText(f"{name} looks like {listed_kind(first.kind).title}: {first.reason}{rest}")

    def _use(self) -> None:
        choice = self._looked_at()
        found = self._known.get(_key(choice)) if choice is not None else None
        if found is None or found.sure is None:
            return
        ask = self._desk.chosen.ask
        self._desk.chosen.ask = replace(ask, kind=found.sure.kind, settings=(), besides=(), good_besides=())
        self._desk.choice_changed.emit()

    def _leave(self) -> None:
        choice = self._looked_at()
        if choice is not None:
            self._refused.add(_key(choice))
        self.hide()


def _key(choice: Choice) -> tuple[Path | str, str, int]:
    return choice.source, choice.channel.name, id(choice.channel)


def _pass_over(_error: Exception) -> None:
    """A file that can no longer be read is told when it is compared."""
