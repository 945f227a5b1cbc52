"""The beginning of a text file, from which its layout is recognised."""

import re
from dataclasses import dataclass, field
from pathlib import Path

from loomlight.storage.text_bytes import encoding_of, plain_lines, read_head, text_of, unreadable

LEADING = 40
LINE_END = re.compile(r"\r*\n|\r")


@dataclass(frozen=True, eq=False)
class TextHead:
    """First lines of a text file.

    Attributes
    ----------
    path, encoding : Path, str
        The file.
    lines : list of str
        Non-empty lines from its begin.
    is_whole : bool
        Whether these are all; otherwise the last one may be cut.
    text : str
        The same with the blank lines.
    """

    path: Path
    encoding: str
    lines: list[str] = field(repr=False)
    is_whole: bool
    text: str = field(repr=False)

    @property
    def leading(self) -> int:
        """How many non-empty lines stand before the first empty one; 0 where there is none among the first."""
        lines = LINE_END.split(self.text, maxsplit=LEADING)
        filled = [bool(line.strip()) for line in lines[:LEADING]]
        return filled.index(False) if False in filled and any(filled[filled.index(False) :]) else 0

    def line_numbers(self, most: int) -> list[int]:
        """Where the first ``most`` non-empty lines stand in the file, from 1."""
        lines = LINE_END.split(self.text, maxsplit=20 * most)
        return [number for number, line in enumerate(lines, start=1) if line.strip()][:most]


def head_of(path: Path) -> TextHead:
    """Read the beginning of a text file.

    Raises
    ------
    FileProblem
        If it cannot be read, is empty or is no text.
    """
    raw = read_head(path)
    encoding = encoding_of(raw, path)
    is_whole = len(raw) == path.stat().st_size
    if encoding.startswith("utf-16") and not is_whole:
        raw = raw[: len(raw) // 2 * 2]  # not half a sign
    text = text_of(raw, encoding)
    return TextHead(path, encoding, _filled(text), is_whole, text)


def all_lines(head: TextHead) -> list[str]:
    """Every non-empty line of the file, for layouts that must be seen whole.

    Raises
    ------
    FileProblem
        If it can no longer be read.
    """
    if head.is_whole:
        return head.lines
    try:
        return _filled(text_of(head.path.read_bytes(), head.encoding))
    except OSError as error:
        raise unreadable(head.path, error) from error


def _filled(text: str) -> list[str]:
    lines = plain_lines(text.encode("utf-8")).decode("utf-8").split("\n")
    return [line for line in lines if line.strip()]
