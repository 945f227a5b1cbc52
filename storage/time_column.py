"""Which column of a text table is the time, which columns hold values, and the axis that follows."""

import numpy as np

from loomlight.signal.errors import FileProblem
from loomlight.signal.quantity import in_words
from loomlight.storage.text_header import Column, is_time_name
from loomlight.storage.text_table import Numbers, TextTable
from loomlight.storage.time_axis import TimeAxis, time_axis

AGREES = 0.02
"""A column is the time where its steps agree this well with the interval that the preamble states."""
COUNT_NAMES = ("index", "sample", "n", "no", "no.", "#", "nr", "row")


def time_groups(table: TextTable, notes: list[str]) -> list[tuple[Column | None, list[Column]]]:
    """Time columns, each with the value columns that belong to it."""
    columns = [column for column in table.layout.columns if not column.is_clock]
    clock = next((column for column in table.layout.columns if column.is_clock), None)
    times = [column for column in columns if column.unit == "s" and _rises(table, column)]
    if not times:
        times = [one for one in columns if is_time_name(one.name) and not one.written_unit and _rises(table, one)]
    index = _index_column(table, columns, bool(times or clock))
    if index is not None:
        notes.append(f"Column {index.index + 1} only counts the rows.")
        columns = [column for column in columns if column is not index]
        times = [column for column in times if column is not index]
    if not times and clock is not None:
        times = [clock]
    elif not times:
        times = _unnamed_time(table, columns)
    values = [column for column in columns if column not in times]
    if not times:
        return [(None, values)]
    first = table.values(times[0])
    others = [time for time in times[1:] if not np.array_equal(table.values(time), first, equal_nan=True)]
    if not others:
        values = [one for one in values if not _repeats(table, one, times[0])]
        return [(times[0], values)]
    edges = [time.index for time in (times[0], *others)]
    groups: list[tuple[Column | None, list[Column]]] = []
    for time, stop in zip((times[0], *others), (*edges[1:], 1 << 30), strict=True):
        own = [column for column in values if time.index < column.index < stop]
        if not own:
            raise FileProblem(
                f"it has several time columns, and none of the values belongs to column {time.index + 1}",
                file=table.path,
                do="Export each channel into a file of its own",
            )
        groups.append((time, own))
    notes.append("Each channel has a time column of its own.")
    return groups


def _repeats(table: TextTable, column: Column, time: Column) -> bool:
    """Whether an unnamed column is the same time once more."""
    return not column.name and np.array_equal(table.values(column), table.values(time), equal_nan=True)


def _rises(table: TextTable, column: Column) -> bool:
    """Whether a column could be a time at all: it never falls, but for a stray last row or a new segment."""
    stamps = table.values(column)
    finite = stamps[np.isfinite(stamps)]
    return finite.size < 2 or float(np.mean(np.diff(finite) >= 0)) >= 0.5


def _index_column(table: TextTable, columns: list[Column], has_time: bool) -> Column | None:
    """The first column where it counts the rows and the time comes from elsewhere."""
    first = columns[0]
    named_time = is_time_name(first.name) and first.name.strip().lower() not in ("x", "x-axis", "x_value")
    if len(columns) < 2 or first.unit is not None or not _counts(table, first):
        return None
    stated_s = table.interval_s()
    if named_time and (stated_s is None or abs(stated_s - 1.0) < AGREES):
        return None
    elsewhere = stated_s is not None or (has_time and not is_time_name(first.name))
    if elsewhere or first.name.strip().lower() in COUNT_NAMES:
        return first
    return None


def _counts(table: TextTable, column: Column) -> bool:
    stamps = table.values(column)
    return stamps.size > 1 and bool(np.array_equal(stamps, stamps[0] + np.arange(stamps.size)))


def _unnamed_time(table: TextTable, columns: list[Column]) -> list[Column]:
    """The column that is the time by its steady increase, the first one first."""
    stated_s = table.interval_s()
    for column in columns if len(columns) > 1 else []:
        stamps = table.values(column)
        stamps = stamps[:-1] if stamps.size > 4 else stamps
        if column.written_unit or not np.isfinite(stamps).all() or stamps.size < 2 or stamps[-1] <= stamps[0]:
            continue
        steps = np.diff(stamps)
        spanned = (stamps[-1] - stamps[0]) / steps.size
        straight = np.abs(stamps - stamps[0] - np.arange(stamps.size) * spanned).max() <= 0.01 * steps.sum()
        if (steps < 0).any() or not (straight or (column is columns[0] and stated_s is None)):
            continue
        if stated_s is None or abs(spanned - stated_s) <= AGREES * stated_s:
            return [column]
        if column is columns[0] and straight:
            raise FileProblem(
                f"column {column.index + 1} rises like a time, but does not agree with the stated interval",
                file=table.path,
                where=table.where(0),
                do="Export with a header that names the columns and their units",
            )
    return []


def axis_of(table: TextTable, time: Column | None, values: list[Column], notes: list[str]) -> tuple[TimeAxis, int]:
    """The axis of one group, and how many rows of the table belong to it."""
    stated_s = table.interval_s()
    if time is None:
        return _stated_axis(table, stated_s, notes), table.rows
    if time.unit is None:
        notes.append(f"Column {time.index + 1} is taken for the time in seconds; the file does not say so.")
        if _counts(table, time) and not is_time_name(time.name):
            raise FileProblem(
                "its first column only counts the rows, and the sample interval is not stated",
                file=table.path,
                where=table.where(0),
                do="Export with the time column",
            )
    elif time.factor != 1.0 or time.is_clock:
        notes.append(f"The time is in {time.written_unit} in the file.")
    stamps = np.asarray(table.values(time), dtype=np.float64)
    filled = np.flatnonzero(np.isfinite(stamps))
    rows = int(filled[-1]) + 1 if filled.size else 0
    two_levels = bool(values) and all(_has_two_levels(table.values(column)[:rows]) for column in values)
    axis = time_axis(
        stamps[:rows],
        digit_s=table.digit_s(time),
        stated_s=stated_s,
        two_levels=two_levels,
        path=table.path,
        where=table.where,
    )
    return axis, axis.rows


def _stated_axis(table: TextTable, stated_s: float | None, notes: list[str]) -> TimeAxis:
    if stated_s is None:
        raise FileProblem(
            "it has values but neither a time column nor a sample interval",
            file=table.path,
            do="Export with the time column",
        )
    rows = table.rows
    if rows < 2:
        raise FileProblem("there is one row of data", file=table.path, do="Export a capture with more samples")
    notes.append(f"Step {in_words(stated_s, 's', digits=6)} from the preamble; there is no time column.")
    start_s = table.start_s()
    if start_s is None:
        notes.append("The file does not say when the record starts: counted from 0.")
    return TimeAxis("even", start_s or 0.0, stated_s, rows, None, ())


def _has_two_levels(values: Numbers) -> bool:
    return bool(((values == 0) | (values == 1)).all())
