"""The known-good library: a folder with one self-contained ``.h5`` an entry, named by a UUID."""

import re
import unicodedata
from dataclasses import fields, replace
from datetime import datetime
from pathlib import Path
from uuid import uuid4

from loomlight.signal.capture import Capture
from loomlight.signal.entry import Entry
from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.capture_file import read_capture, read_entry, write_capture
from loomlight.storage.clock_notes import clock_left_out
from loomlight.storage.job_folder import now
from loomlight.storage.library_index import ENDING, indexed
from loomlight.storage.places import unused

SHORTEST_ID = 8


class NoSuchEntry(LoomlightError):
    """No entry, or more than one, goes by that name."""


class Library:
    """A library in a folder; libraries merge by copying their files.

    Parameters
    ----------
    folder : Path
        Made with the first entry if it is not there.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.problems: tuple[str, ...] = ()

    def add(self, capture: Capture, channel_name: str, known: Entry, *, progress: Progress = unwatched) -> Entry:
        """Keep one channel as a known-good.

        Parameters
        ----------
        capture : Capture
            Where it comes from; only the one channel is kept, with the notes on how it was read, and no clock time.
        channel_name : str
            As `Capture.channel` takes it.
        known : Entry
            What is known about it; ``id``, ``channel``, ``added`` and ``source_name`` are filled in. The same title
            may stand on several entries, as on several cars; they are then told apart by their ids.
        progress : Progress
            0 to 1.

        Raises
        ------
        LoomlightError
            If the title is empty, or there is no such channel.
        FileProblem
            If the folder cannot be written.
        """
        title = " ".join(known.title.split())
        if not title:
            raise LoomlightError("An entry needs a title. Say what the waveform is, in a few words.")
        channel = capture.channel(channel_name)
        entry = replace(
            known,
            id=str(uuid4()),
            title=title,
            channel=channel.name,
            added=now(),
            source_name=capture.source_name,
        )
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FileProblem(
                f"the library's folder cannot be made ({error.strerror or error})",
                file=self.folder,
                do="Choose another folder for the library",
            ) from error
        kept = Capture(capture.source_name, capture.layout, (channel,), _notes_on(channel.name, capture))
        write_capture(self._path(entry), kept, entry=entry, created=entry.added, progress=progress)
        return entry

    def _path(self, entry: Entry) -> Path:
        plain, large = (self.folder / f"{entry.id}{ending}" for ending in (ENDING, ENDING.upper()))
        return large if not plain.exists() and large.exists() else plain

    def all(self) -> tuple[Entry, ...]:
        """Every entry, newest first; files that cannot be read are told in `problems`.

        Raises
        ------
        FileProblem
            If the folder is there and cannot be listed.
        """
        problems: list[str] = []

        def read(path: Path) -> Entry | None:
            try:
                entry = read_entry(path)
            except FileProblem as error:
                problems.append(str(error))
                return None
            if entry is None:
                problems.append(f"{path.name}: a capture, but no library entry. Add it with a title, or move it away.")
                return None
            # The file's name is what finds it again, whatever id stands inside a copy.
            return replace(entry, id=path.stem)

        entries = indexed(self.folder, read)
        self.problems = tuple(problems)
        return tuple(sorted(entries.values(), key=lambda entry: (_instant(entry.added), entry.id), reverse=True))

    def find(self, text: str = "", *, kind: str | None = None) -> tuple[Entry, ...]:
        """Entries in which every word of ``text`` begins some word, case and accents aside; newest first.

        Parameters
        ----------
        text : str
            Words in any order; they may stand in different fields. An id counts from its eighth sign on.
        kind : str, optional
            Only entries of this signal kind.

        Raises
        ------
        FileProblem
            As `all`.
        """
        wanted = _folded(text).split()
        kept = (entry for entry in self.all() if kind in (None, entry.kind))
        return tuple(entry for entry in kept if _holds(entry, wanted))

    def resolve(self, name: str) -> Entry:
        """The entry with this id, this begin of an id (8 signs at least), or exactly this title.

        Raises
        ------
        NoSuchEntry
            If there is none or more than one; the message lists what there is.
        """
        entries = self.all()
        sought = name.strip().lower()
        whole = [one for one in entries if one.id.lower() == sought]
        by_id = whole or [one for one in entries if len(sought) >= SHORTEST_ID and one.id.lower().startswith(sought)]
        found = by_id or [one for one in entries if one.title == name]
        if len(found) == 1:
            return found[0]
        if found:
            listed = ", ".join(one.id for one in found)
            raise NoSuchEntry(f"{len(found)} entries go by {name!r}. Use an id: {listed}.")
        near = ", ".join(repr(one.title) for one in entries[:5])
        hint = f"There are: {near}." if near else f"The library in {self.folder} is empty."
        raise NoSuchEntry(f"The library has no entry {name!r}. {hint}")

    def open(self, entry: Entry) -> Capture:
        """The entry's capture.

        Raises
        ------
        FileProblem
            If its file is gone or damaged.
        """
        return read_capture(self._path(entry))

    def put_aside(self, entry: Entry) -> Path:
        """Take an entry out of the library: its file goes to the folder ``put aside`` inside, and nothing is lost."""
        try:
            target = self.folder / "put aside" / f"{entry.id}{ENDING}"
            target.parent.mkdir(exist_ok=True)
            target = unused(target)
            self._path(entry).replace(target)
        except OSError as error:
            raise FileProblem(
                f"it cannot be put aside ({error.strerror or error})",
                file=self._path(entry),
                do="Close it and try again",
            ) from error
        return target


def _holds(entry: Entry, wanted: list[str]) -> bool:
    """Whether each wanted word begins a word of some field."""
    told = _folded(" ".join(str(getattr(entry, field.name)) for field in fields(entry) if field.name != "id"))
    return all(
        re.search(rf"(?<![^\W_]){re.escape(word)}", told) or (len(word) >= SHORTEST_ID and entry.id.startswith(word))
        for word in wanted
    )


def _folded(text: str) -> str:
    if text.isascii():
        return text.lower()
    # The dotless i of one alphabet is no other letter to someone who types without it.
    plain = unicodedata.normalize("NFKD", text.casefold().replace("ı", "i"))
    return "".join(sign for sign in plain if not unicodedata.combining(sign)).casefold()


def _instant(added: str) -> float:
    """Seconds since 1970, so that summer time and other time zones do not upset the order."""
    try:
        return datetime.fromisoformat(added).timestamp()
    except (ValueError, OverflowError, OSError):
        return 0.0


def _notes_on(name: str, capture: Capture) -> tuple[str, ...]:
    """What was assumed while reading, without what is about the other channels, and without the recording's clock time."""
    others = tuple(f"{one.name}{end}" for one in capture.channels if one.name != name for end in (":", " "))
    return tuple(clock_left_out(one) for one in capture.notes if not one.startswith(others))
