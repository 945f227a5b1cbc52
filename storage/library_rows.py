"""Rows of the library's index: what is listed, and what was worked out from samples."""

import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from loomlight.signal.entry import Entry
from loomlight.storage.entry_json import entry_from_json
from loomlight.storage.library_index import ENDING, Spoilt, written


@dataclass(frozen=True)
class Listed:
    """One file of the library.

    Attributes
    ----------
    file : str
        Its name.
    stamp : str
        Changes with the file.
    entry : Entry
        What is known about it; of a damaged file what was known, or only its name.
    problem : str
        What is the matter, one line; empty where it is sound.
    checked : bool
        Whether its check sum was found right.
    """

    file: str
    stamp: str
    entry: Entry
    problem: str = ""
    checked: bool = False

    @property
    def copy_of(self) -> str:
        """The id of the entry of which this is a copy under another name, as tools that keep two places alike leave them."""
        return next((one for one in (self.file[:36],) if _is_id(one) and self.file[36:].lower() != ENDING), "")


def _is_id(text: str) -> bool:
    return [len(one) for one in text.split("-")] == [8, 4, 4, 4, 12] and all(
        sign in "0123456789abcdef-" for sign in text.lower()
    )


def rows_of(connection: sqlite3.Connection, where: str, values: Sequence[object], *, limit: int = -1) -> list[Listed]:
    """Files of the library that hold a condition, newest first.

    Raises
    ------
    Spoilt
        If the table holds what is no entry.
    """
    asked = f"SELECT file, stamp, entry, problem, checked FROM entries {where} ORDER BY instant DESC, file DESC LIMIT ?"
    found = []
    for file, stamp, text, problem, checked in connection.execute(asked, (*values, limit)):
        try:
            # The file's name is what finds it again, whatever id stands inside a copy.
            entry = replace(entry_from_json(text, exactly=True), id=Path(file).stem)
        except (ValueError, TypeError) as error:
            raise Spoilt from error
        found.append(Listed(file, stamp, entry, problem, bool(checked)))
    return found


@dataclass(frozen=True)
class Made:
    """A sound file, its kind, and what was worked out from its samples; None where that is not known yet."""

    file: str
    stamp: str
    kind: str
    content: bytes | None


def made_of(connection: sqlite3.Connection, what: str) -> list[Made]:
    """What was worked out from the samples of each sound file, and still holds."""
    asked = (
        "SELECT entries.file, entries.stamp, kind, content FROM entries LEFT JOIN made ON made.file = entries.file "
        "AND made.stamp = entries.stamp AND what = ? WHERE problem = '' ORDER BY entries.file"
    )
    rows = connection.execute(asked, (what,))
    return [Made(file, stamp, kind, one if isinstance(one, bytes) else None) for file, stamp, kind, one in rows]


def keep_made(connection: sqlite3.Connection, what: str, rows: Sequence[tuple[str, str, bytes]]) -> None:
    """Keep what was worked out: file name, stamp and content; without a word where the index takes nothing."""
    with suppress(sqlite3.Error), written(connection):
        connection.executemany(
            "INSERT OR REPLACE INTO made (file, what, stamp, content) VALUES (?, ?, ?, ?)",
            [(file, what, stamp, content) for file, stamp, content in rows],
        )
