"""An SQLite index beside the library's entries: a cache that can be deleted, and is made anew from the files."""

import json
import sqlite3
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

from loomlight.signal.entry import Entry

INDEX_NAME = "index.sqlite"
SCHEMA = "CREATE TABLE IF NOT EXISTS entries (file TEXT PRIMARY KEY, stamp TEXT NOT NULL, entry TEXT NOT NULL)"

Stamps = dict[str, str]
"""File name, and what tells that it changed."""


def stamps_of(folder: Path) -> Stamps:
    """Size and time of each entry's file."""
    found = {}
    for path in folder.glob("*.h5"):
        try:
            status = path.stat()
        except OSError:
            continue
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
    if not file.exists():
        return {}
    try:
        connection = sqlite3.connect(file, timeout=1.0)
        try:
            rows = connection.execute("SELECT file, stamp, entry FROM entries").fetchall()
        finally:
            connection.close()
        return {name: (stamp, Entry(**json.loads(text))) for name, stamp, text in rows}
    except (sqlite3.Error, ValueError, TypeError):
        return {}


def _write(folder: Path, fresh: dict[str, tuple[str, Entry]], gone: set[str]) -> None:
    file = folder / INDEX_NAME
    for attempt in (1, 2):
        try:
            connection = sqlite3.connect(file, timeout=1.0)
            try:
                with connection:
                    connection.execute(SCHEMA)
                    connection.executemany("DELETE FROM entries WHERE file = ?", [(name,) for name in gone])
                    connection.executemany(
                        "INSERT OR REPLACE INTO entries VALUES (?, ?, ?)",
                        [(name, stamp, json.dumps(asdict(entry))) for name, (stamp, entry) in fresh.items()],
                    )
            finally:
                connection.close()
            return
        except sqlite3.DatabaseError as error:
            # Damaged: throw the cache away once. Locked or read-only: do without it.
            if attempt == 2 or isinstance(error, sqlite3.OperationalError):
                return
            file.unlink(missing_ok=True)
