"""The known-good library: a folder with one self-contained ``.h5`` an entry, named by a UUID, and an index to search it."""

import json
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from loomlight.signal.entry import Entry
from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.library_files import LibraryFiles, NoSuchEntry, read_for_index
from loomlight.storage.library_index import ENDING, Spoilt
from loomlight.storage.library_rows import Listed, Made, keep_made, made_of, rows_of
from loomlight.storage.library_search import SHORTEST_ID, Found, Search, Wanted, named_like, values_of
from loomlight.storage.library_words import words_of
from loomlight.storage.safe_write import write_text

RECENT_NAME = "recent.json"
MOST_RECENT = 30
PROBLEMS = "SELECT problem FROM entries WHERE problem != '' ORDER BY file"
Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Look:
    """A search, the vehicles and systems that entries have, and what is amiss in the folder."""

    found: Found
    vehicles: tuple[str, ...]
    systems: tuple[str, ...]
    problems: tuple[str, ...]


class Library(LibraryFiles):
    """A library in a folder; libraries merge by copying their files.

    Parameters
    ----------
    folder : Path
        Made with the first entry if it is not there.

    Attributes
    ----------
    problems : tuple of str
        What the last look at the folder found amiss, one line each.
    """

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.problems: tuple[str, ...] = ()
        self._search = Search()
        self._was_there = False

    # Finding

    def search(self, wanted: Wanted, progress: Progress = unwatched) -> Found:
        """Look for entries; see `Search`.

        Raises
        ------
        FileProblem
            If the folder is there and cannot be listed, or was there and is gone.
        """

        def work(connection: sqlite3.Connection) -> Found:
            self.problems = tuple(problem for (problem,) in connection.execute(PROBLEMS))
            return self._search.find(connection, wanted)

        return self._asked(work, progress)

    def _asked(self, work: Callable[[sqlite3.Connection], Answer], progress: Progress = unwatched) -> Answer:
        """Ask the index; where it turns out to be spoilt, once more with one made anew."""
        there = _is_there(self.folder)
        if self._was_there and not there:
            raise FileProblem(
                "the library's folder is not there any more",
                file=self.folder,
                do="Put the stick in again, or choose another",
            )
        self._was_there = self._was_there or there
        try:
            with self._index.open(read_for_index, progress) as connection:
                return work(connection)
        except (Spoilt, sqlite3.Error):
            self._index.throw_away()
        with self._index.open(read_for_index, progress) as connection:
            return work(connection)

    def all(self) -> tuple[Entry, ...]:
        """Every entry, newest first; files that cannot be read are told in `problems`.

        Raises
        ------
        FileProblem
            As `search`.
        """
        return self.find()

    def find(self, text: str = "", *, kind: str | None = None) -> tuple[Entry, ...]:
        """Entries in which every word of ``text`` begins some word, case and accents aside; newest first.

        Raises
        ------
        FileProblem
            As `search`.
        """
        return tuple(one.entry for one in self.search(Wanted(text, kind)).listed)

    def values(self, name: str) -> tuple[str, ...]:
        """Kinds, vehicles or systems (``kind``, ``vehicle``, ``system``) that entries have; errors as `search`."""
        return self._asked(lambda connection: values_of(connection, name))

    def resolve(self, name: str) -> Entry:
        """The entry with this id, this begin of an id (8 signs at least), or exactly this title.

        Raises
        ------
        NoSuchEntry
            If there is none or more than one; the message lists what there is.
        """
        sought = name.strip().lower()
        where, values = named_like(sought)
        named = self._asked(lambda connection: rows_of(connection, f"WHERE problem = '' AND {where}", values))
        titled = self.find(name) if words_of(name) else self.all()
        entries = tuple(dict.fromkeys((*(one.entry for one in named), *titled)))
        whole = [one for one in entries if one.id.lower() == sought]
        by_id = whole or [one for one in entries if len(sought) >= SHORTEST_ID and one.id.lower().startswith(sought)]
        found = by_id or [one for one in entries if one.title == name]
        if len(found) == 1:
            return found[0]
        if found:
            listed = ", ".join(one.id for one in found)
            raise NoSuchEntry(f"{len(found)} entries go by {name!r}. Use an id: {listed}.")
        near = ", ".join(repr(one.entry.title) for one in self.search(Wanted(limit=5)).listed)
        hint = f"There are: {near}." if near else f"The library in {self.folder} is empty."
        raise NoSuchEntry(f"The library has no entry {name!r}. {hint}")

    def make_index_anew(self) -> None:
        """Throw the index away; it is made from the files when next asked."""
        self._index.throw_away()

    def look(self, wanted: Wanted, progress: Progress = unwatched) -> Look:
        """Search, and what there is to filter by, in one look at the folder; errors as `search`."""

        def work(connection: sqlite3.Connection) -> Look:
            problems = tuple(problem for (problem,) in connection.execute(PROBLEMS))
            vehicles, systems = (values_of(connection, name) for name in ("vehicle", "system"))
            return Look(self._search.find(connection, wanted), vehicles, systems, problems)

        return self._asked(work, progress)

    def by_files(self, files: Sequence[str]) -> dict[str, Listed]:
        """What is listed of some files, by file name; errors as `search`."""
        where = f"WHERE file IN ({','.join('?' * len(files))})"
        return {one.file: one for one in self._asked(lambda connection: rows_of(connection, where, files))}

    def files(self) -> tuple[Listed, ...]:
        """Every file of the library, sound or not; errors as `search`."""
        return self.search(Wanted(with_damaged=True)).listed

    def note_used(self, entry: Entry) -> None:
        """Put an entry first among those used last; where the folder takes nothing, it stays unknown."""
        others = [one for one in self.recent_ids() if one != entry.id]
        with suppress(LoomlightError):
            write_text(self.folder / RECENT_NAME, json.dumps([entry.id, *others][:MOST_RECENT]))

    def recent_ids(self) -> tuple[str, ...]:
        """Ids of the entries used last, the newest first; some may be gone."""
        try:
            known = json.loads((self.folder / RECENT_NAME).read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            return ()
        return tuple(one for one in known if isinstance(one, str))[:MOST_RECENT] if isinstance(known, list) else ()

    def recent(self) -> tuple[Listed, ...]:
        """Entries used last, the newest first; errors as `search`."""
        names = [f"{one}{ENDING}" for one in self.recent_ids()]
        known = self.by_files(names)
        return tuple(known[name] for name in names if name in known)

    # What is worked out from the samples, and kept in the index

    def made(self, what: str) -> list[Made]:
        """Each sound file, with what was worked out for it (`keep_made`) and still holds; errors as `search`."""
        return self._asked(lambda connection: made_of(connection, what))

    def keep_made(self, what: str, rows: Sequence[tuple[str, str, bytes]]) -> None:
        """Keep what was worked out from samples (file, stamp, content); a cache, lost with the index."""
        self._asked(lambda connection: keep_made(connection, what, rows))


def _is_there(folder: Path) -> bool:
    try:
        return folder.is_dir()
    except OSError:  # a name that is none
        return False
