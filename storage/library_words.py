"""Words as the library searches them: case and accents aside, beginnings of words, slips of spelling forgiven."""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import fields

import numpy as np
import numpy.typing as npt

from loomlight.signal.entry import Entry
from loomlight.signal.errors import UnknownKind
from loomlight.signal.kinds.listing import listed_kind

NOT_SEARCHED = ("id", "changed", "history", "simulated", "added")
LONGEST = 24
"""Of a word's signs that are weighed against a slip."""
SLIPS = ((7, 2), (4, 1))
"""From so many signs on so many slips: a short word with one changed is another word."""

Codes = npt.NDArray[np.int32]


def folded(text: str) -> str:
    """The text without case and accents."""
    if text.isascii():
        return text.lower()
    # The dotless i of one alphabet is no other letter to someone who types without it.
    plain = unicodedata.normalize("NFKD", text.casefold().replace("ı", "i"))
    return "".join(sign for sign in plain if not unicodedata.combining(sign)).casefold()


def words_of(text: str) -> list[str]:
    """Its words, folded: letters and digits, parted by everything else."""
    return re.findall(r"[^\W_]+", folded(text))


def told(entry: Entry) -> str:
    """All words of an entry, parted by spaces: what the index holds."""
    texts = [_as_text(getattr(entry, one.name)) for one in fields(entry) if one.name not in NOT_SEARCHED]
    day = entry.added[:10]
    if entry.simulated:
        texts.append("simulated")
    return " ".join(words_of(" ".join((*texts, day, _kind_title(entry.kind)))))


def _as_text(value: object) -> str:
    if isinstance(value, tuple):
        return " ".join(one if isinstance(one, str) else f"{one.source_name} {one.note}" for one in value)
    return "" if value is None else str(value)


def _kind_title(key: str) -> str:
    try:
        return listed_kind(key).title
    except UnknownKind:
        return ""


def slips_forgiven(word: str) -> int:
    """How many slips of spelling a word of this length may have."""
    return next((slips for length, slips in SLIPS if len(word) >= length), 0)


class Vocabulary:
    """All words of a library, for finding those that a misspelt one may stand for.

    Parameters
    ----------
    words : sequence of str
        Folded.
    """

    def __init__(self, words: Sequence[str]) -> None:
        self._words = list(words)
        self._codes: Codes = np.zeros((len(self._words), LONGEST), dtype=np.int32)
        for row, word in enumerate(self._words):
            signs = [ord(sign) for sign in word[:LONGEST]]
            self._codes[row, : len(signs)] = signs

    def near(self, word: str, most: int = 12) -> tuple[str, ...]:
        """Words of which some beginning is at most `slips_forgiven` away, the nearest first.

        A slip is one sign too many, missing, or wrong, or two neighbours changed (Damerau 1964; the table is that of
        optimal string alignment, all words at once).
        """
        word = word[:LONGEST]
        allowed = slips_forgiven(word)
        if not allowed or not self._words:
            return ()
        distances = self._distances(word)
        near = np.flatnonzero(distances <= allowed)
        order = sorted(near, key=lambda row: (int(distances[row]), len(self._words[row]), self._words[row]))
        return tuple(self._words[row] for row in order[:most])

    def _distances(self, word: str) -> npt.NDArray[np.int16]:
        """The least distance of the word to any beginning of each word."""
        codes, count = self._codes, len(self._words)
        width = min(LONGEST, len(word) + 2)
        before: npt.NDArray[np.int16] = np.zeros((count, width + 1), dtype=np.int16)
        row = np.tile(np.arange(width + 1, dtype=np.int16), (count, 1))
        for place, sign in enumerate(word, start=1):
            older, before = before, row
            row = np.empty_like(before)
            row[:, 0] = place
            differs = (codes[:, :width] != ord(sign)).astype(np.int16)
            np.minimum(before[:, 1:] + 1, before[:, :-1] + differs, out=row[:, 1:])
            if place > 1:
                changed = (codes[:, 1:width] == ord(word[place - 2])) & (codes[:, : width - 1] == ord(sign))
                np.minimum(row[:, 2:], np.where(changed, older[:, :-2] + 1, 99), out=row[:, 2:])
            for column in range(1, width + 1):
                np.minimum(row[:, column], row[:, column - 1] + 1, out=row[:, column])
        found: npt.NDArray[np.int16] = row.min(axis=1)
        return found
