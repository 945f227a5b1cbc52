"""Captures that were opened before there was a job: a new job takes them in, and nothing that was done with them is lost."""

from dataclasses import dataclass
from pathlib import Path

from loomlight.signal.job import Note, Stage
from loomlight.viewer.choice import Choice
from loomlight.viewer.desk import USES, Desk

STAGES: dict[str, Stage] = {"suspect": "suspect", "good": "known-good", "after": "after repair"}


@dataclass(frozen=True)
class LooseCaptures:
    """What lay on the desk, by place in the order of opening.

    Attributes
    ----------
    files : tuple of (Path, Stage)
        The files, with what each was chosen for.
    channels : tuple of (str, int, str)
        Use, place of the file, and name of the channel chosen for it.
    entries : tuple of Choice
        Library entries that were taken.
    good : Choice or None
        The known-good, where it is one of the entries.
    notes : tuple of tuple of Note
        Notes on each file.
    was_compared : bool
        Whether a comparison was shown.
    """

    files: tuple[tuple[Path, Stage], ...]
    channels: tuple[tuple[str, int, str], ...]
    entries: tuple[Choice, ...]
    good: Choice | None
    notes: tuple[tuple[Note, ...], ...]
    was_compared: bool

    def choose_again(self, desk: Desk) -> None:
        """Choose the same channels from the job's own copies, and keep the notes with them.

        Raises
        ------
        LoomlightError
            If the notes cannot be written.
        """
        desk.entries = list(self.entries)
        if len(desk.opened) == len(self.files):
            for use, place, name in self.channels:
                for same in (one for one in desk.opened[place].choices() if one.channel.name == name):
                    desk.choose(**{use: same})
        if self.good is not None:
            desk.choose(good=self.good)
        if len(desk.opened) == len(self.files):
            for opened, notes in zip(desk.opened, self.notes, strict=True):
                desk.keep_notes(opened.path, notes)


def loose_of(desk: Desk) -> LooseCaptures:
    """Take down what lies on the desk."""
    places = {opened.path: place for place, opened in enumerate(desk.opened)}
    stages: dict[Path, Stage] = {}
    channels = []
    for use in USES:
        choice: Choice | None = getattr(desk.chosen, use)
        if choice is not None and isinstance(choice.source, Path):
            channels.append((use, places[choice.source], choice.channel.name))
            stages.setdefault(choice.source, STAGES[use])
    good = desk.chosen.good
    return LooseCaptures(
        files=tuple((one.path, stages.get(one.path, "other")) for one in desk.opened),
        channels=tuple(channels),
        entries=tuple(desk.entries),
        good=good if good is not None and isinstance(good.source, str) else None,
        notes=tuple(desk.notes_of(one.path) for one in desk.opened),
        was_compared=desk.drawn is not None,
    )
