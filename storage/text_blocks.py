"""Texts in which the channels stand under each other, each with a head of its own."""

import re
from dataclasses import dataclass, field

from loomlight.storage.text_cells import is_written
from loomlight.storage.text_head import TextHead, all_lines

KEY = re.compile(r"#+\s*(\w[^:=]*)[:=]")


@dataclass(frozen=True, eq=False)
class Block:
    """One channel's lines.

    Attributes
    ----------
    lines : list of str
        Its head and its values.
    before : int
        Non-empty lines of the file above it.
    """

    lines: list[str] = field(repr=False)
    before: int


def stacked(head: TextHead) -> tuple[Block, ...]:
    """The blocks of a file that begins with a marked key and comes back to the same key later; empty for any other."""
    first = KEY.match(head.lines[0]) if head.lines else None
    if first is None:
        return ()
    values = [line for line in head.lines if not line.startswith("#")]
    if not values or not all(_is_value(line) for line in values[: len(values) // 2 + 1][:200]):
        return ()
    lines = all_lines(head)
    key = first[1].strip().lower()
    starts = [
        place
        for place, line in enumerate(lines)
        if line.startswith("#") and (found := KEY.match(line)) and found[1].strip().lower() == key
    ]
    edges = [*starts, len(lines)]
    blocks = tuple(Block(lines[start:stop], start) for start, stop in zip(edges[:-1], edges[1:], strict=True))
    return blocks if len(blocks) > 1 else ()


def _is_value(line: str) -> bool:
    """A single number, perhaps behind or before a delimiter."""
    cell = line.strip().strip(",;\t").strip()
    return is_written(cell, comma=False) or is_written(cell, comma=True)
