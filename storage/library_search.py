"""Entries that hold some words: each word begins a word of the entry; where none does, slips of spelling are forgiven."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from loomlight.storage.library_rows import Listed, rows_of
from loomlight.storage.library_words import Vocabulary, folded, words_of

SHORTEST_ID = 8


@dataclass(frozen=True)
class Wanted:
    """What is looked for.

    Attributes
    ----------
    text : str
        Words in any order; they may stand in different fields. An id counts from its eighth sign on.
    kind, vehicle, system : str or None
        Only entries with these; None: all.
    with_damaged : bool
        Whether files that cannot be read are listed too.
    limit : int
        At most so many; -1: all.
    """

    text: str = ""
    kind: str | None = None
    vehicle: str | None = None
    system: str | None = None
    with_damaged: bool = False
    limit: int = -1


@dataclass(frozen=True)
class Found:
    """What was found.

    Attributes
    ----------
    listed : tuple of Listed
        Newest first.
    total : int
        How many there are, with those beyond the limit.
    meant : tuple of (str, tuple of str)
        Words that no entry holds, and what was looked for in their place.
    """

    listed: tuple[Listed, ...] = ()
    total: int = 0
    meant: tuple[tuple[str, tuple[str, ...]], ...] = ()


Clause = tuple[str, tuple[object, ...]]


class Search:
    """Searches an index; remembers its vocabulary from one search to the next."""

    def __init__(self) -> None:
        self._vocabulary = Vocabulary(())
        self._of: tuple[int, int] | None = None

    def find(self, connection: sqlite3.Connection, wanted: Wanted) -> Found:
        """Look for entries.

        Raises
        ------
        Spoilt, sqlite3.Error
            If the index holds what it cannot hold.
        """
        words = [word for word in folded(wanted.text).split() if words_of(word)]
        if wanted.text.strip() and not words:
            return Found()
        filters = _filters(connection, wanted)
        found = _found(connection, [*filters, *(_holding(word) for word in words)], wanted.limit)
        if found.total or not words:
            return found
        meant = self._meant(connection, words)
        if not meant:
            return found
        near = [_holding(word, meant.get(word, ())) for word in words]
        forgiving = _found(connection, [*filters, *near], wanted.limit)
        missing = [word for word in words if word in meant and not _counted(connection, [_holding(word)])]
        return Found(forgiving.listed, forgiving.total, tuple((word, meant[word]) for word in missing or meant))

    def _meant(self, connection: sqlite3.Connection, words: Sequence[str]) -> dict[str, tuple[str, ...]]:
        state = connection.execute("SELECT count(*), coalesce(max(number), 0) FROM entries").fetchone()
        if state != self._of:
            self._vocabulary = Vocabulary([word for (word,) in connection.execute("SELECT term FROM vocabulary")])
            self._of = state
        single = [word for word in words if words_of(word) == [word]]
        return {word: near for word in single if (near := self._vocabulary.near(word))}


def _found(connection: sqlite3.Connection, clauses: Sequence[Clause], limit: int) -> Found:
    where, values = _joined(clauses)
    listed = tuple(rows_of(connection, where, values, limit=limit))
    total = len(listed) if limit < 0 or len(listed) < limit else _counted(connection, clauses)
    return Found(listed, total)


def _counted(connection: sqlite3.Connection, clauses: Sequence[Clause]) -> int:
    where, values = _joined(clauses)
    (count,) = connection.execute(f"SELECT count(*) FROM entries {where}", values).fetchone()
    return int(count)


def _joined(clauses: Sequence[Clause]) -> tuple[str, tuple[object, ...]]:
    where = " AND ".join(text for text, _ in clauses)
    return f"WHERE {where}" if where else "", tuple(value for _, values in clauses for value in values)


def _filters(connection: sqlite3.Connection, wanted: Wanted) -> list[Clause]:
    clauses: list[Clause] = [] if wanted.with_damaged else [("problem = ''", ())]
    if wanted.kind is not None:
        clauses.append(("kind = ?", (wanted.kind,)))
    for name, value in (("vehicle", wanted.vehicle), ("system", wanted.system)):
        if value is not None:
            alike = [one for one in _spellings(connection, name) if folded(one) == folded(value)]
            clauses.append((f"{name} IN ({','.join('?' * len(alike))})", tuple(alike)))
    return clauses


def _spellings(connection: sqlite3.Connection, name: str) -> dict[str, int]:
    asked = f"SELECT {name}, count(*) FROM entries WHERE {name} != '' GROUP BY {name}"
    return dict(connection.execute(asked))


def values_of(connection: sqlite3.Connection, name: str) -> tuple[str, ...]:
    """Vehicles, systems or kinds that entries have, each in the spelling that is used most, in alphabetical order."""
    best: dict[str, tuple[int, str]] = {}
    for text, count in _spellings(connection, name).items():
        best[folded(text)] = max(best.get(folded(text), (0, "")), (count, text))
    return tuple(best[key][1] for key in sorted(best))


def _holding(word: str, near: Sequence[str] = ()) -> Clause:
    """That some word begins with this one (or is one of those near it); a long one may also begin the entry's id."""
    phrases = [f'"{" ".join(words_of(word))}"*', *(f'"{one}"' for one in near)]
    held = "number IN (SELECT rowid FROM words WHERE words MATCH ?)"
    match = " OR ".join(phrases)
    if len(word) < SHORTEST_ID:
        return held, (match,)
    named, values = named_like(word)
    return f"({held} OR {named})", (match, *values)


def named_like(begin: str) -> Clause:
    """That the file's name, so the entry's id, begins with these signs, case aside."""
    plain = begin.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    return "file LIKE ? ESCAPE '\\'", (f"{plain}%",)
