"""Which column of a text table is the time, which columns hold values, and the axis that follows."""

from dataclasses import replace

import numpy as np

from loomlight.signal.errors import FileProblem
from loomlight.signal.quantity import in_words
from loomlight.storage.reading import TIME_UNITS, Reading, TimeUnit
from loomlight.storage.reading_questions import Account, OpenQuestion, Question, step_question
from loomlight.storage.text_header import Column, is_time_name
from loomlight.storage.text_table import Numbers, TextTable
from loomlight.storage.time_axis import TimeAxis, time_axis

AGREES = 0.02
"""A column is the time where its steps agree this well with the interval that the preamble states."""
TIME_UNIT_OFFERS: tuple[TimeUnit, ...] = ("s", "ms", "us", "ns")
MOST_OFFERS = 8
COUNT_NAMES = ("index", "sample", "n", "no", "no.", "#", "nr", "row")


def time_groups(table: TextTable, account: Account) -> list[tuple[Column | None, list[Column]]]:
    """Time columns, each with the value columns that belong to it."""
    if account.reading.time_column is not None:
        return [_said_time(table, account.reading.time_column)]
    columns = [column for column in table.layout.columns if not column.is_clock]
    clock = next((column for column in table.layout.columns if column.is_clock), None)
    times = [column for column in columns if column.unit == "s" and _rises(table, column)]
    if not times:
        times = [one for one in columns if is_time_name(one.name) and not one.written_unit and _rises(table, one)]
    index = _index_column(table, columns, bool(times or clock))
    if index is not None:
        account.say(f"Column {index.index + 1} only counts the rows.")
        columns = [column for column in columns if column is not index]
        times = [column for column in times if column is not index]
    if not times and clock is not None:
        times = [clock]
    elif not times:
        times = _unnamed_time(table, columns, account)
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
    account.say("Each channel has a time column of its own.")
    return groups


def _said_time(table: TextTable, number: int) -> tuple[Column | None, list[Column]]:
    """The time column that the user named, by number; 0: none."""
    time = next((one for one in table.layout.columns if one.index + 1 == number), None)
    values = [one for one in table.layout.columns if one is not time and not one.is_clock]
    if time is None:
        return None, values
    same = table.values(time)
    return time, [
        one for one in values if one.unit != "s" or not np.array_equal(table.values(one), same, equal_nan=True)
    ]


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


def _unnamed_time(table: TextTable, columns: list[Column], account: Account) -> list[Column]:
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
            raise OpenQuestion(
                _time_question(table, column, account),
                file=table.path,
                what=f"column {column.index + 1} rises like a time, but does not agree with the stated interval",
                where=table.where(0),
                do="Say which column is the time (--time-column), or export with a header that names the columns",
            )
    return []


def axis_of(table: TextTable, time: Column | None, values: list[Column], account: Account) -> tuple[TimeAxis, int]:
    """The axis of one group, and how many rows of the table belong to it."""
    axis = _stated_axis(table, account) if time is None else _column_axis(table, time, values, account)
    if account.reading.start_s is not None:
        account.say(f"The first sample is at {in_words(account.reading.start_s, 's', digits=6)}, as you said.")
        axis = _moved(axis, account.reading.start_s)
    return axis, axis.rows


def _column_axis(table: TextTable, time: Column, values: list[Column], account: Account) -> TimeAxis:
    said_s = account.reading.step_s
    stamps = np.asarray(table.values(time), dtype=np.float64)
    filled = np.flatnonzero(np.isfinite(stamps))
    rows = int(filled[-1]) + 1 if filled.size else 0
    if said_s is not None and rows > 1:
        account.say(f"Step {in_words(said_s, 's', digits=6)}, as you said; of the time column only the start is used.")
        return TimeAxis("even", float(stamps[0]) if np.isfinite(stamps[0]) else 0.0, said_s, rows, None, ())
    stamps = stamps * _time_factor(table, time, account)
    two_levels = bool(values) and all(_has_two_levels(table.values(column)[:rows]) for column in values)
    return time_axis(
        stamps[:rows],
        digit_s=table.digit_s(time) * _time_factor(table, time, account),
        stated_s=table.interval_s(),
        two_levels=two_levels,
        path=table.path,
        where=table.where,
    )


def _time_factor(table: TextTable, time: Column, account: Account) -> float:
    """What the column's numbers are multiplied by to be seconds; those of a known unit are seconds already."""
    reading = account.reading
    if reading.time_unit is not None:
        account.say(f"The time is in {reading.time_unit}, as you said.")
        return 1.0 if time.is_clock else TIME_UNITS[reading.time_unit] / time.factor
    if time.unit is None:
        account.say(f"Column {time.index + 1} is taken for the time in seconds; the file does not say so.")
        if _counts(table, time) and not is_time_name(time.name):
            raise OpenQuestion(
                step_question(account),
                file=table.path,
                what="its first column only counts the rows, and the sample interval is not stated",
                where=table.where(0),
                do="Say the interval (--step), or export with the time column",
            )
        account.ask(_time_question(table, time, account))
    elif time.factor != 1.0 or time.is_clock:
        account.say(f"The time is in {time.written_unit} in the file.")
    return 1.0


def _time_question(table: TextTable, time: Column, account: Account) -> Question:
    number = time.index + 1
    units = [
        (f"column {number} is the time, in {unit}", Reading(time_column=number, time_unit=unit))
        for unit in TIME_UNIT_OFFERS
    ]
    if is_time_name(time.name):
        return Question("time unit", "What is the time in?", "s", account.offers(*units), number, option="--time-unit")
    others = [
        (f"column {one.index + 1} is the time, in s", Reading(time_column=one.index + 1, time_unit="s"))
        for one in table.layout.columns
        if one is not time and not one.is_clock
    ]
    none = ("no column is the time", Reading(time_column=0))
    offers = account.offers(*units, *others[:MOST_OFFERS], none)
    guess = f"column {number}, in s"
    return Question("time", "Which column is the time?", guess, offers, number, option="--time-column")


def _moved(axis: TimeAxis, start_s: float) -> TimeAxis:
    times_s = axis.times_s - axis.start_s + start_s if axis.times_s is not None else None
    return replace(axis, start_s=start_s, times_s=times_s)


def _stated_axis(table: TextTable, account: Account) -> TimeAxis:
    said_s, stated_s = account.reading.step_s, table.interval_s()
    step_s = said_s if said_s is not None else stated_s
    if step_s is None:
        raise OpenQuestion(
            step_question(account),
            file=table.path,
            what="it has values but neither a time column nor a sample interval",
            do="Say the interval (--step), or export with the time column",
        )
    if table.rows < 2:
        raise FileProblem("there is one row of data", file=table.path, do="Export a capture with more samples")
    source = "as you said" if said_s is not None else "from the preamble"
    account.say(f"Step {in_words(step_s, 's', digits=6)} {source}; there is no time column.")
    start_s = table.start_s()
    if start_s is None and account.reading.start_s is None:
        account.say("The file does not say when the record starts: counted from 0.")
    return TimeAxis("even", start_s or 0.0, step_s, table.rows, None, ())


def _has_two_levels(values: Numbers) -> bool:
    return bool(((values == 0) | (values == 1)).all())
