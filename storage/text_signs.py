"""Which sign divides the columns, and which one the decimals: told together, from the last of the first lines."""

import csv
import re
from collections import Counter
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.storage.reading import DELIMITER_WORDS, Reading
from loomlight.storage.text_cells import is_written

CANDIDATES = (
    (";", True),
    (";", False),
    ("\t", True),
    ("\t", False),
    (",", False),
    (",", True),
    (" ", False),
    (" ", True),
)
SAMPLE_ROWS = 200


def cells_of(line: str, delimiter: str) -> list[str]:
    """Cells of one line; quotes keep a delimiter inside a cell."""
    if delimiter == " ":
        return line.split()
    if '"' in line:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    return line.split(delimiter)


def signs_of(lines: list[str], head: list[str], reading: Reading, path: Path) -> tuple[str, bool]:
    """Delimiter and whether the decimal sign is a comma.

    Parameters
    ----------
    lines : list of str
        The last of the first lines, where the data are.
    head : list of str
        The first lines: a single column's delimiter shows only there.
    reading : Reading
        What the user said.
    path : Path
        For the error's text.

    Raises
    ------
    FileProblem
        If no way gives numbers.
    """
    said = reading.over(_announced(head))
    candidates = [
        (delimiter, comma)
        for delimiter, comma in CANDIDATES
        if said.delimiter in (None, delimiter) and said.decimal in (None, "," if comma else ".")
    ]
    scores = ((_score(lines, head, delimiter, comma), (delimiter, comma)) for delimiter, comma in candidates)
    (rating, _), signs = max(scores, key=lambda score: score[0])
    if rating <= 0.0:
        settings = sum(bool(SETTING.fullmatch(line)) for line in head)
        if settings > 0.6 * len(head) and len(head) > 4:
            raise FileProblem(
                "this is a list of settings, it holds no samples",
                file=path,
                do="Open the file with the waveform itself",
            )
        raise FileProblem(
            "no table of numbers was found", file=path, do="Export the capture as CSV with one row for each instant"
        )
    return signs


SETTING = re.compile(r"\s*[^\W\d][\w \-/\[\]()#.%]*\s*[:=;,\t]\s*\S.*|\s*\[[^\]]+\]\s*")
ANNOUNCED = re.compile(r"(separator|decimal_separator)[\t;,:= ]+(\S+)\s*", re.IGNORECASE)


def _announced(head: list[str]) -> Reading:
    """The signs that some files announce in their own head."""
    found = [ANNOUNCED.fullmatch(line) for line in head[:40]]
    told = {one[1].lower(): one[2] for one in found if one}
    decimal, between = told.get("decimal_separator"), told.get("separator", "").lower()
    if decimal not in (".", ",", None):
        decimal = None
    return Reading(decimal=decimal, delimiter=DELIMITER_WORDS.get(between))  # type: ignore[arg-type]


def _score(lines: list[str], head: list[str], delimiter: str, comma: bool) -> tuple[float, float]:
    """How well a delimiter and decimal sign explain the rows: share of rows alike in shape, then cells that are numbers."""
    shapes: Counter[tuple[bool, ...]] = Counter()
    numeric = total = 0
    doubled = comma is False and delimiter == ","
    for line in lines:
        cells = cells_of(line, delimiter)
        while cells and not cells[-1].strip():
            cells.pop()
        shape = tuple(is_written(cell, comma=comma) for cell in cells)
        filled = [cell for cell in cells if cell.strip()]
        shapes[shape] += 1
        numeric += sum(shape)
        total += max(len(filled), 1)
        doubled = (
            doubled and len(cells) % 2 == 0 and bool(cells) and all(re.fullmatch(r"\s*\d+\s*", c) for c in cells[1::2])
        )
    if not numeric:
        return 0.0, 0.0
    is_divided = any(len(shape) > 1 and all(shape) for shape in shapes)
    alike = max((count for shape, count in shapes.items() if any(shape)), default=0) / max(len(lines), 1)
    whole = numeric / total
    # "0,5" under a comma delimiter doubles the columns, every second one an unsigned integer: a decimal comma is likelier.
    rating = alike * whole * (0.5 if doubled and _has_other_sign(lines) else 1.0)
    if comma and not any("," in line for line in lines):
        rating *= 0.99
    if delimiter == " " and any(one in line for line in lines for one in ";\t"):
        rating *= 0.5
    if delimiter == " " and not is_divided:
        rating *= 0.8  # a single column; blanks then stand in its name and its preamble only
    if delimiter == "," and lines and any(all(one in line for line in lines) for one in ";\t"):
        rating *= 0.5
    if not any(delimiter in line.strip(" ") for line in (*lines, *head)):
        rating *= 0.98  # of two ways to read a single column the one whose delimiter does occur
    if delimiter == "," and comma and not any('"' in line for line in lines):
        rating *= 0.5  # inside a cell a decimal comma can only stand in quotes
    return rating, float(numeric)


def _has_other_sign(lines: list[str]) -> bool:
    """Whether each line holds one comma for each number, as decimal commas would."""
    return all(re.fullmatch(r"\s*[+-]?\d+,\d+([eE][+-]?\d+)?\s*", line) for line in lines)
