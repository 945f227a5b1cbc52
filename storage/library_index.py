"""An SQLite index beside the library's entries: a cache that can be deleted, and is made anew from the files."""

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import asdict, fields
from pathlib import Path

from loomlight.signal.entry import Entry
from loomlight.signal.errors import FileProblem

ENDING = ".h5"
INDEX_NAME = "index.sqlite"
SCHEMA = "CREATE TABLE IF NOT EXISTS entries (file TEXT PRIMARY KEY, stamp TEXT NOT NULL, entry TEXT NOT NULL)"
FIELDS = {field.name for field in fields(Entry)}
WAIT_S = 0.05
"""For another program's lock: a cache is not worth a longer wait."""
SPOILT = (sqlite3.SQLITE_ERROR, sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT)

Stamps = dict[str, str]
"""File name, and what tells that it changed."""


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
        paths = [path for path in folder.iterdir() if path.suffix.lower() == ENDING and not path.name.startswith(".")]
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise FileProblem(
            f"the library's folder cannot be read ({error.strerror or error})",
            file=folder,
            do="Choose another folder for the library, or mend its rights",
        ) from error
    for path in paths:
        try:
            status = path.stat()
        except OSError:
            continue  # gone meanwhile
        found[path.name] = f"{status.st_size}-{status.st_mtime_ns}"
    return found


def indexed(folder: Path, read: Callable[[Path], Entry | None]) -> dict[str, Entry]:
    """All entries of a folder by file name, read anew only where a file changed.

    Parameters
    ----------
    folder : Path
        The library.
    read : callable
        Reads one file; None where it is no entry or cannot be read.

    Returns
    -------
    dict
        Where the index is damaged, locked or on a read-only place the files are read without it.
    """
    stamps = stamps_of(folder)
    known = _known(folder)
    entries = {}
    fresh: dict[str, tuple[str, Entry]] = {}
    for file, stamp in stamps.items():
        if file in known and known[file][0] == stamp:
            entries[file] = known[file][1]
            continue
        entry = read(folder / file)
        if entry is not None:
            entries[file] = entry
            fresh[file] = (stamp, entry)
    gone = set(known) - set(entries)
    if fresh or gone:
        _write(folder, fresh, gone)
    return entries


def _known(folder: Path) -> dict[str, tuple[str, Entry]]:
    file = folder / INDEX_NAME
    try:
        if not file.exists():
            return {}
        with closing(sqlite3.connect(file, timeout=WAIT_S)) as connection:
            rows = connection.execute("SELECT file, stamp, entry FROM entries").fetchall()
    except (sqlite3.Error, OSError):
        return {}
    return {name: (stamp, entry) for name, stamp, text in rows if (entry := _entry(text)) is not None}


def _entry(text: object) -> Entry | None:
    """A row's entry, or None where it was written by a version with other fields, or is damaged."""
    try:
        known = json.loads(str(text))
    except (ValueError, RecursionError):
        return None
    if not isinstance(known, dict) or known.keys() != FIELDS or not all(isinstance(one, str) for one in known.values()):
        return None
    return Entry(**known)


def _write(folder: Path, fresh: dict[str, tuple[str, Entry]], gone: set[str]) -> None:
    file = folder / INDEX_NAME
    for _attempt in (1, 2):
        try:
            with closing(sqlite3.connect(file, timeout=WAIT_S)) as connection, connection:
                connection.execute(SCHEMA)
                connection.executemany("DELETE FROM entries WHERE file = ?", [(name,) for name in gone])
                connection.executemany(
                    "INSERT OR REPLACE INTO entries (file, stamp, entry) VALUES (?, ?, ?)",
                    [(name, stamp, json.dumps(asdict(entry))) for name, (stamp, entry) in fresh.items()],
                )
            return
        except sqlite3.Error as error:
            # Locked, read-only, full: do without the cache. Damaged or of another make: throw it away once.
            if getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF not in SPOILT:
                return
        try:
            file.unlink(missing_ok=True)
        except OSError:
            return
