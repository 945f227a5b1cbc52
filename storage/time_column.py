"""Which column of a text table is the time, which columns hold values, and the axis that follows."""

import numpy as np

from loomlight.signal.errors import FileProblem
from loomlight.storage.long_columns import Numbers, counts_up, falls
from loomlight.storage.reading import Reading, TimeUnit
from loomlight.storage.reading_questions import Account, OpenQuestion, Question
from loomlight.storage.text_header import Column, is_time_name
from loomlight.storage.text_table import TextTable

AGREES = 0.02
"""A column is the time where its steps agree this well with the interval that the preamble states."""
MOSTLY = 0.9
SAME_WITHIN = 1e-3
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
    if not times and clock is None:
        _refuse_backwards(table, columns)
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
    others = [time for time in times[1:] if not _are_same(table.values(time), first)]
    if not others:
        values = [one for one in values if not _repeats(table, one, times[0])]
        return [(times[0], values)]
    edges = [time.index for time in (times[0], *others)]
    groups: list[tuple[Column | None, list[Column]]] = []
    for time, stop in zip((times[0], *others), (*edges[1:], 1 << 30), strict=True):
        own = [column for column in values if time.index < column.index < stop]
        if own:
            groups.append((time, own))
        else:
            account.say(f"Column {time.index + 1} is a time without values of its own and was left out.")
    if len(groups) > 1:
        account.say("Each channel has a time column of its own.")
    if not groups:
        raise FileProblem(
            "its time columns have no values behind them",
            file=table.path,
            do="Say which column is the time (--time-column)",
        )
    return groups


def _refuse_backwards(table: TextTable, columns: list[Column]) -> None:
    for column in columns:
        if column.unit == "s" and is_time_name(column.name):
            raise FileProblem(
                f"its time column ({column.name}) runs backwards",
                file=table.path,
                where=table.where(1),
                do="Export it in the order of time, or say that no column is the time (--time-column 0)",
            )


def _are_same(one: Numbers, other: Numbers) -> bool:
    """Whether two time columns tell the same, but for the last digits."""
    steps = np.abs(np.diff(other[:1000]))
    usual = float(np.median(steps[np.isfinite(steps)])) if np.isfinite(steps).any() else 0.0
    return bool(np.allclose(one, other, rtol=0.0, atol=SAME_WITHIN * usual, equal_nan=True))


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
    is_number = np.isfinite(stamps)
    finite = stamps if is_number.all() else stamps[is_number]
    return finite.size < 2 or float(np.mean(falls(finite))) <= 0.5


def _index_column(table: TextTable, columns: list[Column], has_time: bool) -> Column | None:
    """The first column where it counts the rows and the time comes from elsewhere."""
    first = columns[0]
    named_time = is_time_name(first.name) and first.name.strip().lower() not in ("x", "x-axis", "x_value")
    if len(columns) < 2 or first.unit is not None or not counts_rows(table, first):
        return None
    stated_s = table.interval_s()
    if named_time and (stated_s is None or abs(stated_s - 1.0) < AGREES):
        return None
    elsewhere = stated_s is not None or (has_time and not is_time_name(first.name))
    if elsewhere or first.name.strip().lower() in COUNT_NAMES:
        return first
    return None


def counts_rows(table: TextTable, column: Column) -> bool:
    """Whether a column holds 0, 1, 2… or another run of whole numbers."""
    return counts_up(table.values(column))


def _unnamed_time(table: TextTable, columns: list[Column], account: Account) -> list[Column]:
    """The column that is the time by its steady increase, the first one first."""
    stated_s = table.interval_s()
    for column in columns if len(columns) > 1 else []:
        stamps = table.values(column)
        stamps = stamps[:-1] if stamps.size > 4 else stamps
        if not column.written_unit and stated_s is not None and _mostly_steps(stamps, stated_s):
            return [column]  # a spoilt stamp in it is put in line or refused later, but it is no channel
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
                time_question(table, column, account),
                file=table.path,
                what=f"column {column.index + 1} rises like a time, but does not agree with the stated interval",
                where=table.where(0),
                do="Say which column is the time (--time-column), or export with a header that names the columns",
            )
    return []


def _mostly_steps(stamps: Numbers, stated_s: float) -> bool:
    """Whether nearly all steps are the stated one, though some stamps may be spoilt."""
    with np.errstate(invalid="ignore"):
        return stamps.size > 4 and float(np.mean(np.abs(np.diff(stamps) - stated_s) <= AGREES * stated_s)) >= MOSTLY


def time_question(table: TextTable, time: Column, account: Account) -> Question:
    """Which column is the time, or, where its name says so, what it is in."""
    number = time.index + 1
    units = [
        (f"column {number} is the time, in {unit.replace('us', 'µs')}", Reading(time_column=number, time_unit=unit))
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
    return Question(
        "time", "Which column is the time?", f"column {number}, in s", offers, number, option="--time-column"
    )
