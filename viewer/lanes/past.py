"""Something as it stands, with the way back to what it was and forward again."""

from typing import Generic, TypeVar

State = TypeVar("State")


class Past(Generic[State]):
    """One state, and those before and after.

    Attributes
    ----------
    now : object
        The state as it stands; never changed in place.
    """

    def __init__(self, now: State) -> None:
        self.now = now
        self._done: list[State] = []
        self._undone: list[State] = []

    def begin(self, now: State) -> None:
        """Start afresh; nothing to undo."""
        self.now = now
        self._done.clear()
        self._undone.clear()

    def change(self, now: State) -> bool:
        """Make a change that can be undone; False where it changes nothing."""
        if now == self.now:
            return False
        self._done.append(self.now)
        self._undone.clear()
        self.now = now
        return True

    def undo(self) -> bool:
        """Back to before the last change; False where there is none."""
        if not self._done:
            return False
        self._undone.append(self.now)
        self.now = self._done.pop()
        return True

    def redo(self) -> bool:
        """Make an undone change again; False where there is none."""
        if not self._undone:
            return False
        self._done.append(self.now)
        self.now = self._undone.pop()
        return True


class Steps:
    """In which order things with a past of their own were changed, so that one key undoes the last change of all."""

    def __init__(self) -> None:
        self._done: list[str] = []
        self._undone: list[str] = []

    def add(self, what: str) -> None:
        """``what`` was changed just now."""
        self._done.append(what)
        self._undone.clear()

    def forget(self, what: str) -> None:
        """``what`` has no past any more."""
        self._done = [one for one in self._done if one != what]
        self._undone = [one for one in self._undone if one != what]

    def can_turn(self, *, back: bool) -> bool:
        """Whether there is something to undo, or to make again."""
        return bool(self._done if back else self._undone)

    def back(self) -> str | None:
        """What has to be undone now."""
        return self._turned(self._done, self._undone)

    def forward(self) -> str | None:
        """What has to be made again now."""
        return self._turned(self._undone, self._done)

    @staticmethod
    def _turned(start: list[str], end: list[str]) -> str | None:
        if not start:
            return None
        end.append(start.pop())
        return end[-1]
