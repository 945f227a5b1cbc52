"""Notes on a picture, with undo and redo of every change."""

from loomlight.signal.job import Note
from loomlight.viewer.lanes.past import Past

Notes = tuple[Note, ...]


class NoteList:
    """The notes as they stand, and the states before and after."""

    def __init__(self) -> None:
        self._past: Past[Notes] = Past(())

    @property
    def notes(self) -> Notes:
        """As they stand."""
        return self._past.now

    def replace_all(self, notes: Notes) -> None:
        """Show another capture's notes; nothing to undo."""
        self._past.begin(notes)

    def add(self, note: Note) -> int:
        """Add a note, and give its number."""
        self._past.change((*self.notes, note))
        return len(self.notes) - 1

    def edit(self, number: int, note: Note) -> bool:
        """Put another note in one's place; False where it is the same."""
        return self._past.change((*self.notes[:number], note, *self.notes[number + 1 :]))

    def delete(self, number: int) -> None:
        """Take a note away."""
        self._past.change((*self.notes[:number], *self.notes[number + 1 :]))

    def undo(self) -> bool:
        """Back to before the last change; False where there is none."""
        return self._past.undo()

    def redo(self) -> bool:
        """Make an undone change again; False where there is none."""
        return self._past.redo()
