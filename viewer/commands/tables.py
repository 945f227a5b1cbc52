"""Tables of a judged channel on the command line: its measurements, and its frames as a file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from loomlight.signal.errors import LoomlightError
from loomlight.signal.frame_table import cells_of, columns_of
from loomlight.storage.table_file import write_table
from loomlight.viewer.table_words import measure_cells, measure_tip

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison


def add_table_options(parser: argparse.ArgumentParser) -> None:
    """Options for the tables."""
    parser.add_argument("--measured", action="store_true", help="print the table of measurements too")
    parser.add_argument("--frames", type=Path, metavar="OUT.csv", help="save the frames of the channel as a CSV table")


def print_measures(arguments: argparse.Namespace, found: Comparison) -> None:
    """Print what was measured on the suspect, where that was asked for."""
    if not arguments.measured or found.looked is None:
        return
    if not found.measures:
        print("\nNothing was measured: this kind has no table, or the line does not talk.")
        return
    rows = [measure_cells(one) for one in found.measures]
    widths = [max(len(row[column]) for row in rows) for column in range(3)]
    print()
    for row, one in zip(rows, found.measures, strict=True):
        line = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=False))
        print(f"{row[3] or ' '} {line}  {measure_tip(one)}".rstrip())


def save_frames(arguments: argparse.Namespace, found: Comparison) -> None:
    """Save the suspect's frames, where that was asked for.

    Raises
    ------
    LoomlightError
        If the channel carries no frames, or the file cannot be written.
    """
    if arguments.frames is None:
        return
    frames = found.looked.frames if found.looked is not None else ()
    if not frames:
        raise LoomlightError(f"{found.suspect.name!r} carries no frames that could be read, so no table was saved.")
    columns = columns_of(frames)
    write_table(arguments.frames, columns, (cells_of(row, columns) for row in frames))
