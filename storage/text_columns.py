"""Columns that are no plain numbers: clocks, unit cells beside values, text."""

from dataclasses import replace
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.storage.reading import DateOrder
from loomlight.storage.text_cells import (
    SLASHED,
    clock_s,
    is_month_first,
    name_and_unit,
    number_in,
    quoted_away,
    unit_of,
)
from loomlight.storage.text_header import Column, Rows

CLOCK_SHARE = 0.9
FILLED_SHARE = 0.5


def clock_column(data: Rows, head: Rows, order: DateOrder | None, path: Path) -> tuple[Column, ...]:
    """The column of dates with a time of day, if there is one.

    Parameters
    ----------
    data, head : list
        Some rows of data, and the rows above them.
    order : str or None
        What was said about dates with slashes.
    path : Path
        For the error's text.

    Raises
    ------
    FileProblem
        If the dates contradict what was said about them.
    """
    for index in range(_width(data)):
        cells = _filled(data, index)
        told = is_month_first(cells)
        month_first = order == "month-first" if order is not None else bool(told)
        if len(cells) <= CLOCK_SHARE * len(data):
            continue
        if told is not None and order is not None and SLASHED.match(quoted_away(cells[0])) and told != month_first:
            raise FileProblem(
                f"its dates cannot be read {order}: one part of them is above 12",
                file=path,
                where=f"column {index + 1}",
                do="Leave the order of dates open, or choose the other one",
            )
        if all(clock_s(cell, month_first=month_first) is not None for cell in cells):
            name = _name(head, index)
            is_open = told is None and order is None
            return (Column(index, name, "s", 1.0, "the time of day", True, month_first, is_open),)
    return ()


def units_beside(columns: tuple[Column, ...], data: Rows) -> tuple[Column, ...]:
    """Units that stand in a cell of their own to the right of each value."""
    answer = []
    for column in columns:
        cells = [quoted_away(cell) for cell in _filled(data, column.index + 1)]
        unit = unit_of(f"({cells[0]})") if cells and len(set(cells)) == 1 else None
        if column.unit is None and unit is not None and len(cells) > FILLED_SHARE * len(data):
            column = replace(column, unit=unit[0], factor=unit[1], written_unit=cells[0])
        answer.append(column)
    return tuple(answer)


def text_columns(data: Rows, head: Rows, taken: list[int], *, comma: bool) -> tuple[str, ...]:
    """Names of the columns that hold text: decoded values, comments."""
    names = []
    for index in range(min(taken, default=0) + 1, _width(data)):
        cells = _filled(data, index)
        words = [cell for cell in cells if number_in(cell, comma=comma) is None]
        is_unit = len({quoted_away(cell) for cell in cells}) == 1 and unit_of(f"({quoted_away(cells[0])})") is not None
        if index not in taken and not is_unit and len(words) > FILLED_SHARE * len(data):
            names.append(name_and_unit(_name(head, index))[0] or f"column {index + 1}")
    return tuple(names)


def _width(data: Rows) -> int:
    """Columns that more than half of the rows reach; one overlong row must not cost the square of its length."""
    lengths = sorted((len(row) for row in data), reverse=True)
    return lengths[len(lengths) // 2] if lengths else 0


def _filled(data: Rows, index: int) -> list[str]:
    return [row[index] for row in data if index < len(row) and row[index].strip()]


def _name(head: Rows, index: int) -> str:
    return quoted_away(head[-1][index]) if head and index < len(head[-1]) else ""
