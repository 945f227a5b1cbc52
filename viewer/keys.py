"""Which keys do what, as the person wants them: keys as delivered, changed ones, and what would clash."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence

from loomlight.signal.errors import LoomlightError

EVERYWHERE, LANES = "everywhere", "on the lanes"
WITHOUT_LANES = ("Job",)
TAKEN = tuple(
    QKeySequence(one)
    for one in (
        Qt.Key.Key_Tab,
        Qt.Key.Key_Backtab,
        Qt.Key.Key_Space,
        Qt.Key.Key_Return,
        Qt.Key.Key_Enter,
        Qt.Key.Key_Escape,
    )
)
"""Keys that every window needs to walk through it."""


@dataclass(frozen=True)
class KeyUse:
    """One action that keys can be given to.

    Attributes
    ----------
    name : str
        What it does, in the words that stand in the list; with `place` it tells it from all others.
    place : str
        Where its keys count: a page's name, `EVERYWHERE` or `LANES`.
    keys : tuple of str
        The keys as delivered, in Qt's portable writing; empty for none.
    """

    name: str
    place: str
    keys: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """How the settings name it."""
        return f"{self.place}: {self.name}"

    def meets(self, other: "KeyUse") -> bool:
        """Whether the same keys could not do both."""
        places = {self.place, other.place}
        if len(places) == 1 or EVERYWHERE in places:
            return True
        return LANES in places and not places & set(WITHOUT_LANES)


class KeyBook:
    """All uses, and the keys that they have now."""

    def __init__(self, uses: Iterable[KeyUse], changed: Mapping[str, str]) -> None:
        self.uses = {one.id: one for one in uses}
        self.changed = {id: keys for id, keys in changed.items() if id in self.uses}

    def keys(self, use: KeyUse) -> tuple[str, ...]:
        """The keys that a use has now."""
        changed = self.changed.get(use.id)
        return use.keys if changed is None else (changed,) if changed else ()

    def text(self, use: KeyUse) -> str:
        """They as a person reads them on this system."""
        return "  ".join(QKeySequence(one).toString(QKeySequence.SequenceFormat.NativeText) for one in self.keys(use))

    def holder(self, use: KeyUse, keys: str) -> KeyUse | None:
        """Who else has these keys where ``use`` would need them, or None."""
        wanted = QKeySequence(keys)
        if wanted in TAKEN:  # what they do hangs on where one is: a message is closed, a box left
            return None
        for other in self.uses.values():
            if other is not use and other.meets(use) and any(QKeySequence(one) == wanted for one in self.keys(other)):
                return other
        return None

    def change(self, use: KeyUse, keys: str, *, take: bool = False) -> None:
        """Give a use other keys, or none; ``take`` takes them from whoever has them.

        Raises
        ------
        LoomlightError
            If the keys are needed to walk the window, or another use has them.
        """
        if keys and any(QKeySequence(keys) == one for one in TAKEN):
            raise LoomlightError(f"{keys} is needed to walk through the window. Choose other keys.")
        other = self.holder(use, keys) if keys else None
        if other is not None and not take:
            raise LoomlightError(
                f"{keys} is “{other.name}” ({other.place}) already. Choose others, or take them from it."
            )
        if other is not None:
            self.changed[other.id] = ""
        if (keys,) == use.keys or (not keys and not use.keys):
            self.changed.pop(use.id, None)
        else:
            self.changed[use.id] = keys

    def as_delivered(self, use: KeyUse) -> None:
        """Give a use the keys that it was delivered with, and take them from whoever has them now."""
        self.changed.pop(use.id, None)
        for keys in use.keys:
            other = self.holder(use, keys)
            if other is not None:
                self.changed[other.id] = ""

    def of_lanes(self) -> dict[str, str]:
        """What was changed of the lanes' keys, by the names of their acts."""
        return {
            use.name: self.changed[id] for id, use in self.uses.items() if use.place == LANES and id in self.changed
        }
