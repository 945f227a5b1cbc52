"""Everything that can be done, found by its words: each action has a place, a hint and keys that can be changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QAbstractButton, QWidget

from loomlight.viewer.keys import EVERYWHERE, LANES, KeyBook, KeyUse
from loomlight.viewer.lanes.lane_keys import KEY_GROUPS, use_keys
from loomlight.viewer.rail import PLACES

if TYPE_CHECKING:
    from loomlight.viewer.lanes.lane_stack import LaneStack
    from loomlight.viewer.settings import Settings


@dataclass(frozen=True, eq=False)
class Action:
    """One thing that can be done.

    Attributes
    ----------
    use : KeyUse
        Its name, its place and its keys.
    hint : str
        What it does, in one line.
    act : callable
        Does it.
    can : callable
        Whether it can be done now.
    """

    use: KeyUse
    hint: str
    act: Callable[[], object]
    can: Callable[[], bool]

    def holds(self, words: str) -> bool:
        """Whether every word stands in its name, its place or its hint."""
        told = f"{self.use.name} {self.use.place} {self.hint}".casefold()
        return all(word in told for word in words.casefold().split())


class Actions(QObject):
    """Joins actions with their keys, their buttons' tooltips and the settings.

    ``complete`` is called before all are listed: what was not offered yet is offered then.
    """

    changed = Signal()

    def __init__(self, settings: Settings, window: QWidget, *, complete: Callable[[], object]) -> None:
        super().__init__(window)
        self._complete = complete
        self._settings, self._window = settings, window
        self._actions: list[Action] = []
        self._shortcuts: dict[str, tuple[QWidget, Callable[[], object]]] = {}
        self._made: list[QShortcut] = []
        self._new: list[str] = []
        self._tips: dict[str, tuple[QAbstractButton, str]] = {}
        self.book = KeyBook((), {})

    def add(
        self,
        name: str,
        act: Callable[[], object],
        *,
        keys: str = "",
        hint: str = "",
        place: str = EVERYWHERE,
        within: QWidget | None = None,
    ) -> None:
        """Offer something that needs no button; its keys count wherever ``within`` can be seen (the window if not given)."""
        use = KeyUse(name, place, (keys,) if keys else ())
        self._take(Action(use, hint, act, lambda: True))
        self._shortcuts[use.id] = (within or self._window, act)

    def ask(self) -> None:
        """List everything that can be done; do what is chosen once the sheet is closed."""
        from loomlight.viewer.actions_dialog import ActionsDialog

        dialog = ActionsDialog(self, self._window)
        wanted = dialog.wanted if dialog.exec() == ActionsDialog.DialogCode.Accepted else None
        dialog.deleteLater()
        if wanted is not None:
            wanted.act()

    def show_keys_of(self, name: str, button: QAbstractButton) -> None:
        """A button's tooltip tells the keys of an action that was added without it."""
        use = next(one.use for one in self._actions if one.use.name == name and one.use.place == EVERYWHERE)
        self._tips[use.id] = (button, button.toolTip())

    def add_button(
        self,
        button: QAbstractButton,
        *,
        keys: str = "",
        place: str = EVERYWHERE,
        name: str = "",
        go: Callable[[], object] | None = None,
    ) -> None:
        """Offer a button's act. Its keys count while it can be pressed; ``go`` turns to its page before it is pressed."""
        use = KeyUse(name or button.accessibleName() or button.text(), place, (keys,) if keys else ())

        def act() -> None:
            if go is not None:
                go()
            button.click()

        self._take(Action(use, button.toolTip(), act, button.isEnabled))
        self._shortcuts[use.id] = (button, button.click)
        self._tips[use.id] = (button, button.toolTip())

    def add_lanes(self, lanes: Callable[[], LaneStack | None]) -> None:
        """Offer what keys do on the lanes that ``lanes`` gives: those of the page that is shown."""

        def can() -> bool:
            return lanes() is not None

        for group in KEY_GROUPS:
            for act in (act for row in group.rows for act in row.acts):

                def do(act=act) -> None:  # type: ignore[no-untyped-def]  # bound now
                    shown = lanes()
                    if shown is not None:
                        shown.setFocus()
                        act.act(shown)

                hint = f"{group.title}, on the page that shows lanes"
                self._take(Action(KeyUse(act.name, LANES, act.keys), hint, do, can))

    def _take(self, action: Action) -> None:
        self._actions.append(action)
        self._new.append(action.use.id)

    def start(self) -> None:
        """Give those that were added since the last call their keys."""
        self.book = KeyBook((one.use for one in self._actions), self._settings.keys)
        self._give_keys(self._new)
        self._new = []

    def found(self, words: str) -> list[Action]:
        """Actions whose words hold all of these, the one first that is called so.

        Then what can be done everywhere, page by page, the lanes' last.
        """
        self._complete()
        called = words.strip().casefold()
        found = (one for one in self._actions if one.holds(words))
        return sorted(found, key=lambda one: (one.use.name.casefold() != called, _rank(one)))

    def keep(self) -> None:
        """The book was changed: remember it, and let the keys count."""
        self._settings.keys = self.book.changed
        for one in self._made:
            one.setEnabled(False)
            one.deleteLater()
        self._made = []
        self._give_keys(list(self.book.uses))
        self.changed.emit()

    def _give_keys(self, ids: list[str]) -> None:
        for id in ids:
            if id in self._shortcuts:
                widget, act = self._shortcuts[id]
                for keys in self.book.keys(self.book.uses[id]):
                    self._made.append(QShortcut(QKeySequence(keys), widget, act))
            if id in self._tips:
                button, tip = self._tips[id]
                text = self.book.text(self.book.uses[id])
                button.setToolTip(f"{tip} ({text})" if text else tip)
        use_keys(self.book.of_lanes())


def _rank(action: Action) -> int:
    places = (EVERYWHERE, *PLACES, LANES)
    return places.index(action.use.place)
