"""An SQLite index beside the library's entries: a cache that can be deleted, and is made anew from the files.

Where the index cannot be used (locked by another program, read-only, the disk full) the same tables are made in memory.
"""

import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from loomlight.signal.entry import Entry
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.entry_json import entry_from_json, entry_to_json
from loomlight.storage.library_words import told

ENDING = ".h5"
INDEX_NAME = "index.sqlite"
LAYOUT = 2
"""Of the tables; an index of another is thrown away."""
TABLES = f"""
CREATE TABLE entries (number INTEGER PRIMARY KEY, file TEXT NOT NULL UNIQUE, stamp TEXT NOT NULL, entry TEXT NOT NULL,
    problem TEXT NOT NULL, checked INTEGER NOT NULL, kind TEXT NOT NULL, vehicle TEXT NOT NULL, system TEXT NOT NULL,
    instant REAL NOT NULL);
CREATE INDEX by_time ON entries (instant DESC, file DESC);
CREATE VIRTUAL TABLE words USING fts5(told, tokenize = 'ascii', prefix = '2 3');
CREATE VIRTUAL TABLE vocabulary USING fts5vocab(words, 'row');
CREATE TABLE made (file TEXT NOT NULL, what TEXT NOT NULL, stamp TEXT NOT NULL, content BLOB NOT NULL,
    PRIMARY KEY (file, what));
PRAGMA user_version = {LAYOUT}
"""
"""`made` holds what was worked out from an entry's samples: its small picture, its fingerprint."""
COLUMNS = "file, stamp, entry, problem, checked, kind, vehicle, system, instant"
WAIT_S = 0.05
"""For another program's lock: a cache is not worth a longer wait."""
BATCH = 500
"""Entries read before what is known of them is written down: a program that is ended loses no more."""
SPOILT = (sqlite3.SQLITE_ERROR, sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT)

Stamps = dict[str, str]
"""File name, and what tells that it changed."""


class Spoilt(Exception):
    """The index holds what it cannot hold."""


@dataclass(frozen=True)
class Read:
    """What a file told when it was indexed.

    Attributes
    ----------
    entry : Entry or None
        None where it cannot be read, or is none.
    problem : str
        What is the matter, one line; else empty.
    checked : bool
        Whether its check sum was looked at: a problem then stays as long as the file does, and is not looked at again.
    """

    entry: Entry | None
    problem: str = ""
    checked: bool = False


def stamp_of(status: os.stat_result) -> str:
    """What tells that a file changed: size and time."""
    return f"{status.st_size}-{status.st_mtime_ns}"


def stamps_of(folder: Path) -> Stamps:
    """Size and time of each entry's file; nothing where there is no folder yet.

    Files that begin with a point are left out: half-written ones, and what some systems leave on a stick.

    Raises
    ------
    FileProblem
        If the folder cannot be listed.
    """
    found = {}
    try:
        with os.scandir(folder) as listed:
            for one in listed:
                if one.name[-3:].lower() == ENDING and not one.name.startswith("."):
                    with suppress(OSError):  # gone meanwhile
                        found[one.name] = stamp_of(one.stat())
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise FileProblem(
            f"the library's folder cannot be read ({error.strerror or error})",
            file=folder,
            do="Choose another folder for the library, or mend its rights",
        ) from error
    return found


class LibraryIndex:
    """The index of one folder, brought up to date each time it is asked.

    Parameters
    ----------
    folder : Path
        The library.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.RLock()
        self._memory: sqlite3.Connection | None = None

    @contextmanager
    def open(self, read: Callable[[Path], Read], progress: Progress = unwatched) -> Iterator[sqlite3.Connection]:
        """Hand out the tables, up to date.

        Parameters
        ----------
        read : callable
            Reads one file; called only where it changed, or could not be read before.
        progress : Progress
            0 to 1 over what has to be read.

        Raises
        ------
        FileProblem
            If the folder cannot be listed.
        """
        with self._lock:
            stamps = stamps_of(self._folder)
            connection = self._on_disk(stamps, read, progress) or self._in_memory(stamps, read, progress)
            try:
                yield connection
            finally:
                if connection is not self._memory:
                    connection.close()

    def is_checked(self, file: str, stamp: str) -> bool:
        """Whether a file's check sum is known to be right, as far as the index tells without looking through the folder."""
        row = self._peeked("SELECT checked FROM entries WHERE file = ? AND stamp = ? AND problem = ''", (file, stamp))
        return row is not None and bool(row[0])

    def note_checked(self, file: str, stamp: str, problem: str = "") -> None:
        """Keep what a file's check sum said, where the index takes it; ``problem`` where it was another one."""
        asked = "UPDATE entries SET checked = 1, problem = ? WHERE file = ? AND stamp = ?"
        self._peeked(asked, (problem, file, stamp))

    def _peeked(self, asked: str, values: tuple[str, ...]) -> tuple[object, ...] | None:
        """The first row of an answer from the index as it stands; None where there is none, or no index."""
        file = self._folder / INDEX_NAME
        with self._lock:
            try:
                if self._memory is not None:
                    found: tuple[object, ...] | None = self._memory.execute(asked, values).fetchone()
                    return found
                if file.is_file():
                    with closing(sqlite3.connect(file, timeout=WAIT_S, isolation_level=None)) as connection:
                        found = connection.execute(asked, values).fetchone()
                        return found
            except (sqlite3.Error, OSError):
                return None
        return None

    def throw_away(self) -> None:
        """Forget everything; it is made anew from the files when next asked."""
        with self._lock:
            if self._memory is not None:
                self._memory.close()
                self._memory = None
            with suppress(OSError):
                for end in ("", "-journal", "-wal", "-shm"):
                    (self._folder / f"{INDEX_NAME}{end}").unlink(missing_ok=True)

    def _on_disk(self, stamps: Stamps, read: Callable[[Path], Read], progress: Progress) -> sqlite3.Connection | None:
        file = self._folder / INDEX_NAME
        if not stamps and not file.exists():
            return None  # looking into a library that is not there makes none
        for _attempt in (1, 2):
            connection = None
            try:
                connection = sqlite3.connect(file, timeout=WAIT_S, isolation_level=None, check_same_thread=False)
                _with_tables(connection)
                _bring_up(connection, self._folder, stamps, read, progress)
            except (sqlite3.Error, Spoilt) as error:
                # Locked, read-only, full: do without the file. Damaged or of another make: throw it away once.
                code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
                if connection is not None:
                    self._keep_what_it_knows(connection, usable=code not in SPOILT)
                    connection.close()
                if code not in SPOILT:
                    return None
                self.throw_away()
                continue
            except BaseException:
                if connection is not None:
                    connection.close()
                raise
            if self._memory is not None:
                self._memory.close()
                self._memory = None
            return connection
        return None

    def _keep_what_it_knows(self, connection: sqlite3.Connection, *, usable: bool) -> None:
        """Where the file can be read but not written, memory begins with what it holds."""
        if not usable or self._memory is not None:
            return
        memory = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        try:
            connection.backup(memory, progress=_give_up_if_locked)
            self._memory = memory
        except sqlite3.Error:
            memory.close()

    def _in_memory(self, stamps: Stamps, read: Callable[[Path], Read], progress: Progress) -> sqlite3.Connection:
        if self._memory is not None:
            try:
                _with_tables(self._memory)
                _bring_up(self._memory, self._folder, stamps, read, progress)
                return self._memory
            except (sqlite3.Error, Spoilt):
                self._memory.close()
        self._memory = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        _with_tables(self._memory)
        _bring_up(self._memory, self._folder, stamps, read, progress)
        return self._memory


def _give_up_if_locked(status: int, _left: int, _pages: int) -> None:
    """Else the copy would be tried again for as long as another program holds the lock."""
    if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        raise sqlite3.OperationalError("locked")


def _with_tables(connection: sqlite3.Connection) -> None:
    if _has_tables(connection):
        return
    with written(connection):
        if not _has_tables(connection):  # another program may have been quicker
            for statement in TABLES.split(";"):
                connection.execute(statement)


def _has_tables(connection: sqlite3.Connection) -> bool:
    (layout,) = connection.execute("PRAGMA user_version").fetchone()
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if layout not in (0, LAYOUT) or (tables and not layout):
        raise Spoilt
    return bool(layout == LAYOUT)


def _bring_up(
    connection: sqlite3.Connection, folder: Path, stamps: Stamps, read: Callable[[Path], Read], progress: Progress
) -> None:
    """Read what changed since, batch by batch; forget what is gone."""
    known = dict(connection.execute("SELECT file, stamp FROM entries WHERE problem = '' OR checked"))
    gone = [file for (file,) in connection.execute("SELECT file FROM entries") if file not in stamps]
    if gone:
        with written(connection):
            for file in gone:
                _forget(connection, file)
    changed = sorted(file for file, stamp in stamps.items() if known.get(file) != stamp)
    for start in range(0, len(changed), BATCH):
        found: list[tuple[str, Read]] = []
        for file in changed[start : start + BATCH]:
            progress((start + len(found)) / len(changed))
            found.append((file, read(folder / file)))
        if all(_told_already(connection, file, stamps[file], one) for file, one in found):
            continue  # still damaged as before: nothing to write
        with written(connection):
            for file, one in found:
                _put(connection, file, stamps[file], one)


@contextmanager
def written(connection: sqlite3.Connection) -> Iterator[None]:
    """A change of the index, whole or not at all."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def _told_already(connection: sqlite3.Connection, file: str, stamp: str, one: Read) -> bool:
    if not one.problem:
        return False
    row = connection.execute("SELECT stamp, problem FROM entries WHERE file = ?", (file,)).fetchone()
    return bool(row == (stamp, one.problem))


def _forget(connection: sqlite3.Connection, file: str) -> None:
    connection.execute("DELETE FROM words WHERE rowid = (SELECT number FROM entries WHERE file = ?)", (file,))
    connection.execute("DELETE FROM entries WHERE file = ?", (file,))
    connection.execute("DELETE FROM made WHERE file = ?", (file,))


def _put(connection: sqlite3.Connection, file: str, stamp: str, one: Read) -> None:
    entry = one.entry
    if entry is None:
        before = connection.execute("SELECT entry FROM entries WHERE file = ?", (file,)).fetchone()
        try:
            entry = entry_from_json(before[0]) if before is not None else None
        except ValueError:
            entry = None
        entry = entry or Entry(id=Path(file).stem, title=file, kind="", channel="")
    _forget(connection, file)
    row = (file, stamp, entry_to_json(entry), one.problem, one.checked, entry.kind)
    filters = (entry.vehicle_text, entry.system, instant_of(entry.added))
    number = connection.execute(
        f"INSERT INTO entries ({COLUMNS}) VALUES (?,?,?,?,?,?,?,?,?)", (*row, *filters)
    ).lastrowid
    connection.execute("INSERT INTO words (rowid, told) VALUES (?, ?)", (number, told(entry)))


def instant_of(added: str) -> float:
    """Seconds since 1970, so that summer time and other time zones do not upset the order."""
    try:
        return datetime.fromisoformat(added).timestamp()
    except (ValueError, OverflowError, OSError):
        return 0.0
