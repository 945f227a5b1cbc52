"""Notes on a picture, with undo and redo of every change."""

from loomlight.signal.job import Note

Notes = tuple[Note, ...]


class NoteList:
    """The notes as they stand, and the states before and after.

    Attributes
    ----------
    notes : tuple of Note
        As they stand.
    """

    def __init__(self) -> None:
        self.notes: Notes = ()
        self._undone: list[Notes] = []
        self._done: list[Notes] = []

    def replace_all(self, notes: Notes) -> None:
        """Show another capture's notes; nothing to undo."""
        self.notes = notes
        self._done.clear()
        self._undone.clear()

    def change(self, notes: Notes) -> None:
        """Make a change that can be undone."""
        if notes != self.notes:
            self._done.append(self.notes)
            self._undone.clear()
            self.notes = notes

    def add(self, note: Note) -> int:
        """Add a note, and give its number."""
        self.change((*self.notes, note))
        return len(self.notes) - 1

    def edit(self, number: int, note: Note) -> None:
        """Put another note in one's place."""
        self.change((*self.notes[:number], note, *self.notes[number + 1 :]))

    def delete(self, number: int) -> None:
        """Take a note away."""
        self.change((*self.notes[:number], *self.notes[number + 1 :]))

    def undo(self) -> bool:
        """Back to before the last change; False where there is none."""
        if not self._done:
            return False
        self._undone.append(self.notes)
        self.notes = self._done.pop()
        return True

    def redo(self) -> bool:
        """Make an undone change again; False where there is none."""
        if not self._undone:
            return False
        self._done.append(self.notes)
        self.notes = self._undone.pop()
        return True
