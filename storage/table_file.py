"""A table as a CSV file that any spreadsheet opens."""

import csv
import io
from collections.abc import Iterable
from pathlib import Path

from loomlight.storage.safe_write import write_bytes


def write_table(path: Path, head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> None:
    """Write a head and rows as RFC 4180 has it: commas, CR LF, quotes where they are needed; UTF-8.

    Parameters
    ----------
    path : Path
        An older file there is replaced whole.
    head : tuple of str
        Names of the columns.
    rows : iterable of tuple of str
        Cells. A cell that a spreadsheet would take for a formula keeps its text behind an apostrophe.

    Raises
    ------
    FileProblem
        If it cannot be written.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(head)
    for row in rows:
        writer.writerow([f"'{cell}" if cell[:1] in ("=", "@", "+") else cell for cell in row])
    write_bytes(path, text.getvalue().encode("utf-8"))
