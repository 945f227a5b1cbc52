"""Options that say how a text file is to be read, where its structure leaves a question open."""

import argparse
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from loomlight.signal.capture import Capture
from loomlight.signal.errors import LoomlightError
from loomlight.storage.open_capture import is_text
from loomlight.storage.reading import DATE_ORDERS, DECIMAL_WORDS, DELIMITER_WORDS, TIME_UNITS, Reading
from loomlight.storage.reading_memory import open_remembered
from loomlight.storage.reading_preview import preview, structure_of
from loomlight.storage.text_cells import quantity_in
from loomlight.storage.text_head import head_of


def add_reading_options(parser: argparse.ArgumentParser, *, also: str = "") -> None:
    """Every option of a `Reading`, in a group of their own.

    Parameters
    ----------
    parser : ArgumentParser
        The command's.
    also : str
        What else than the first file they hold for.
    """
    about = "for a text file whose structure leaves it open; columns by number from 1, or by name"
    group = parser.add_argument_group(
        "how the file is to be read", f"{about}{f'; they hold for {also} too' if also else ''}"
    )
    group.add_argument("--time-column", metavar="COLUMN", help="the column that is the time; 0: none is")
    group.add_argument("--time-unit", choices=tuple(TIME_UNITS), help="what the time column is in")
    group.add_argument("--step", type=_seconds, metavar="SECONDS", help="how far apart the samples are: 1e-5, 10us")
    group.add_argument("--start", type=_seconds, metavar="SECONDS", help="time of the first sample")
    group.add_argument(
        "--unit", action="append", type=_pair, default=[], metavar="COLUMN=UNIT", help="V, mV, A, counts…"
    )
    group.add_argument("--name", action="append", type=_pair, default=[], metavar="COLUMN=NAME", help="what to call it")
    group.add_argument(
        "--scale",
        action="append",
        type=_pair,
        default=[],
        metavar="COLUMN=SCALE[,OFFSET]",
        help="for converter counts: value = number x SCALE + OFFSET, in the column's unit",
    )
    group.add_argument("--leave-out", action="append", default=[], metavar="COLUMN", help="a column that is no channel")
    group.add_argument("--skip-rows", type=_count, metavar="N", help="rows before the data, empty ones not counted")
    group.add_argument(
        "--delimiter",
        type=_sign(DELIMITER_WORDS),
        metavar="SIGN",
        help=f"between columns: {', '.join(DELIMITER_WORDS)}",
    )
    group.add_argument("--decimal", type=_sign(DECIMAL_WORDS), metavar="SIGN", help="before decimals: point or comma")
    group.add_argument("--date-order", choices=DATE_ORDERS, help="of dates with slashes")
    group.add_argument(
        "--pairs", action=argparse.BooleanOptionalAction, help="minimum and maximum of each interval follow each other"
    )
    group.add_argument("--rows-are-channels", action=argparse.BooleanOptionalAction, help="each row holds one channel")


def reading_of(arguments: argparse.Namespace, path: Path) -> Reading:
    """What was said on the command line about how a file is to be read.

    Raises
    ------
    LoomlightError
        If a column is named that the file does not have, or a number is none.
    """
    try:
        plain = Reading(
            skip_rows=arguments.skip_rows,
            delimiter=arguments.delimiter,
            decimal=arguments.decimal,
            time_unit=arguments.time_unit,
            step_s=arguments.step,
            start_s=arguments.start,
            date_order=arguments.date_order,
            pairs=arguments.pairs,
            rows_are_channels=arguments.rows_are_channels,
        )
        columns = _Columns(path, plain)
        return replace(
            plain,
            time_column=None if arguments.time_column is None else columns.number(arguments.time_column, least=0),
            units=tuple((columns.number(column), unit) for column, unit in arguments.unit),
            names=tuple((columns.number(column), name) for column, name in arguments.name),
            scales=tuple((columns.number(column), *_scale(text)) for column, text in arguments.scale),
            left_out=tuple(columns.number(column) for column in arguments.leave_out),
        )
    except ValueError as error:
        raise LoomlightError(f"{str(error)[:1].upper()}{str(error)[1:]}.") from error


def new_options(reading: Reading, said: Reading) -> tuple[str, ...]:
    """The options of an answer without those that were said already."""
    return tuple(
        word for option in grouped(reading.options()) if option not in grouped(said.options()) for word in option
    )


def grouped(options: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Each option with its value."""
    groups: list[tuple[str, ...]] = []
    for word in options:
        if word.startswith("--"):
            groups.append((word,))
        else:
            groups[-1] = (*groups[-1], word)
    return groups


def open_said(path: Path, arguments: argparse.Namespace) -> Capture:
    """Open a file as was said on the command line, else as was said for its structure before."""
    return open_remembered(path, reading=reading_of(arguments, path))


def said_for_other(first: Path, other: Path, arguments: argparse.Namespace) -> Reading | None:
    """What was said, where another file is laid out like the first; else None."""
    if first == other:
        return reading_of(arguments, first)
    if not other.is_file() or not is_text(first) or not is_text(other):
        return None
    said = reading_of(arguments, first)
    if said.is_empty:
        return None
    one, two = structure_of(head_of(first)), structure_of(head_of(other))
    return said if one[0] and one == two else None


class _Columns:
    """Columns by number, or by the name that the file gives them."""

    def __init__(self, path: Path, reading: Reading) -> None:
        self._path, self._reading = path, reading
        self._names: dict[str, int] | None = None

    def number(self, text: str, *, least: int = 1) -> int:
        """A column's number from 1."""
        if text.isdecimal():
            if int(text) < least:
                raise LoomlightError("Columns are counted from 1.")
            return int(text)
        if self._names is None:
            self._names = {one.name: one.number for one in preview(self._path, self._reading).columns if one.name}
        if text not in self._names:
            there = ", ".join(f"{number} {name}" for name, number in self._names.items()) or "none with a name"
            raise LoomlightError(f"{self._path.name} has no column {text!r}. Its columns: {there}.")
        return self._names[text]


def _pair(text: str) -> tuple[str, str]:
    column, divider, value = text.partition("=")
    if not divider or not column.strip():
        raise argparse.ArgumentTypeError(f"{text!r} is no COLUMN=VALUE")
    return column.strip(), value.strip()


def _scale(text: str) -> tuple[float, float]:
    scale, _, offset = text.partition(",")
    try:
        return float(scale), float(offset or 0.0)
    except ValueError:
        raise LoomlightError(f"{text!r} is no scale. Give SCALE or SCALE,OFFSET with decimal points.") from None


def _seconds(text: str) -> float:
    value = quantity_in(text if text.lower().endswith("s") else text.replace(",", "."))
    if value is None:
        raise argparse.ArgumentTypeError(f"{text!r} is no time. Give seconds (1e-5), or a number with ms, us or ns")
    return value


def _count(text: str) -> int:
    if not text.isdecimal():
        raise argparse.ArgumentTypeError(f"{text!r} is no count")
    return int(text)


def _sign(words: dict[str, Any]) -> Callable[[str], Any]:
    def parse(text: str) -> Any:
        if text in words:
            return words[text]
        if text in words.values():
            return text
        raise argparse.ArgumentTypeError(f"{text!r} is none of {', '.join(words)}")

    return parse
