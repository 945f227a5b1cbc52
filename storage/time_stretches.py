"""The time axes of one group of columns: one for the record, one for each segment, or one from the preamble alone."""

from dataclasses import dataclass, replace

import numpy as np

from loomlight.signal.errors import FileProblem
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import BLOCK, Times
from loomlight.storage.clock_notes import DAY_S, clock_start
from loomlight.storage.long_columns import Numbers, filled_rows
from loomlight.storage.reading import TIME_UNITS
from loomlight.storage.reading_questions import Account, OpenQuestion, Question, step_question
from loomlight.storage.text_clocks import rough_interval
from loomlight.storage.text_header import Column, is_time_name
from loomlight.storage.text_segments import LEAST_SAMPLES, MOST_CHANNELS, Rows, offsets_in, segments_in
from loomlight.storage.text_table import TextTable
from loomlight.storage.time_axis import EPOCH_S, STATED_SHARE, TimeAxis, time_axis
from loomlight.storage.time_column import counts_rows, time_question


@dataclass(frozen=True, eq=False)
class Stretch:
    """Rows of the table that make one record.

    Attributes
    ----------
    first : int
        Its first row.
    axis : TimeAxis
        Its time; `TimeAxis.rows` of the table belong to it.
    number, of : int
        Which segment it is, from 1, and how many there are.
    """

    first: int
    axis: TimeAxis
    number: int = 1
    of: int = 1


def stretches_of(table: TextTable, time: Column | None, values: list[Column], account: Account) -> tuple[Stretch, ...]:
    """The records that one group of columns holds.

    Raises
    ------
    FileProblem
        If no time axis can be made.
    OpenQuestion
        If an answer would make one.
    """
    if time is None:
        found: tuple[Stretch, ...] = (Stretch(0, _stated_axis(table, values, account)),)
    elif account.reading.step_s is not None:
        found = (Stretch(0, _said_axis(table, time, account.reading.step_s, account)),)
    else:
        found = _column_stretches(table, time, values, account)
    start_s = account.reading.start_s
    if start_s is not None:
        account.say(f"The first sample is at {in_words(start_s, 's', digits=6)}, as you said.")
        found = tuple(replace(one, axis=_moved(one.axis, start_s - found[0].axis.start_s)) for one in found)
    return tuple(replace(one, axis=_as_pairs(one.axis, time, account)) for one in found)


def _moved(axis: TimeAxis, by_s: float) -> TimeAxis:
    times_s = axis.times_s + by_s if axis.times_s is not None else None
    return replace(axis, start_s=axis.start_s + by_s, times_s=times_s)


def _as_pairs(axis: TimeAxis, time: Column | None, account: Account) -> TimeAxis:
    """What was said about minimum and maximum following each other."""
    said = account.reading.pairs
    if said is None or axis.step_s is None:
        return axis
    from_column = time is not None and account.reading.step_s is None
    if said and axis.form == "even":
        account.say("Minimum and maximum of each interval follow each other, as you said.")
        return replace(axis, form="pairs", rows=axis.rows // 2 * 2, step_s=axis.step_s * (2 if from_column else 1))
    if not said and axis.form == "pairs":
        account.say("Every value is a sample of its own, as you said; the stamps that stand twice are spread evenly.")
        return replace(axis, form="even", step_s=axis.step_s / 2)
    return axis


def _said_axis(table: TextTable, time: Column, step_s: float, account: Account) -> TimeAxis:
    stamps = _filled(table, time)
    if stamps.size < 2:
        raise FileProblem("there is one row of data", file=table.path, do="Export a capture with more samples")
    account.say(f"Step {in_words(step_s, 's', digits=6)}, as you said; of the time column only the start is used.")
    start_s = float(stamps[0]) * _time_factor(time, account)
    is_plain = np.isfinite(start_s) and not time.is_clock and abs(start_s) < EPOCH_S
    return TimeAxis("even", start_s if is_plain else 0.0, step_s, stamps.size, None, ())


def _filled(table: TextTable, time: Column) -> Times:
    """The stamps up to the last one there is."""
    stamps = np.asarray(table.values(time), dtype=np.float64)
    return stamps[: filled_rows(stamps)]


def _column_stretches(table: TextTable, time: Column, values: list[Column], account: Account) -> tuple[Stretch, ...]:
    stamps, factor = _filled(table, time), _time_factor(time, account)
    stamps = stamps if factor == 1.0 else stamps * factor
    if time.is_clock and stamps.size:
        stamps = _from_first(stamps, time, account)
    ranges = segments_in(stamps)
    of = len(ranges)
    if time.unit is None and account.reading.time_unit is None:
        _ask_about(table, time, stamps[: ranges[0][1]], account)
    if of > 1:
        ranges = _openable(ranges, len(values), table, account)
    offsets = _offsets(table, ranges, of, account)
    two_levels = bool(values) and all(_has_two_levels(table.values(column)[: stamps.size]) for column in values)
    found = []
    for number, ((first, stop), offset_s) in enumerate(zip(ranges, offsets, strict=True), start=1):
        axis = time_axis(
            stamps[first:stop],
            digit_s=table.digit_s(time) * _unit_factor(time, account),
            stated=table.stated_interval(),
            two_levels=two_levels,
            path=table.path,
            where=lambda row, first=first: table.where(first + row),  # type: ignore[misc]
        )
        found.append(Stretch(first, _moved(axis, offset_s), number, of))
    return tuple(found)


def _offsets(table: TextTable, ranges: tuple[Rows, ...], of: int, account: Account) -> tuple[float, ...]:
    if of == 1:
        return (0.0,)
    told = offsets_in(table.layout.head, comma=table.layout.comma)
    if len(told) >= of:
        account.say(f"{of} segments, placed by the file's own table; each is a channel of its own.")
        return told[: len(ranges)]
    account.say(
        f"The time starts anew: {of} segments, each a channel of its own with the times that stand in the file; how far "
        "apart they were recorded is not stated."
    )
    return (0.0,) * len(ranges)


def _openable(ranges: tuple[Rows, ...], columns: int, table: TextTable, account: Account) -> tuple[Rows, ...]:
    most = max(MOST_CHANNELS // max(columns, 1), 1)
    length = max(stop - first for first, stop in ranges)
    if length < LEAST_SAMPLES and len(ranges) > most:
        raise FileProblem(
            f"{len(ranges)} segments of {length} samples: too short to be lined up, which takes {LEAST_SAMPLES}",
            file=table.path,
            where=table.where(ranges[1][0]),
            do="Record longer segments, or one long record",
        )
    if len(ranges) > most:
        account.say(
            f"The first {most} of {len(ranges)} segments were opened; export the later ones into a file of their own."
        )
    return ranges[:most]


def _unit_factor(time: Column, account: Account) -> float:
    said = account.reading.time_unit
    return 1.0 if said is None or time.is_clock else TIME_UNITS[said] / time.factor


def _time_factor(time: Column, account: Account) -> float:
    """What the column's numbers are multiplied by to be seconds; those of a known unit are seconds already."""
    if account.reading.time_unit is not None:
        account.say(f"The time is in {account.reading.time_unit}, as you said.")
    elif time.factor != 1.0 or time.is_clock:
        account.say(f"The time is in {time.written_unit} in the file.")
    return _unit_factor(time, account)


def _from_first(stamps: Times, time: Column, account: Account) -> Times:
    """Seconds from the first stamp of a clock."""
    first = float(stamps[0])
    if np.isfinite(first):
        account.say(clock_start(first))
    if time.is_order_open:
        account.say("In its dates the day is taken to come first; the file does not say so.")
        account.ask(_date_question(time, account))
    shifted: Times = stamps - first
    if 0 <= first < DAY_S:
        with np.errstate(invalid="ignore"):
            midnights = np.concatenate([[0], np.cumsum(np.diff(stamps) < -DAY_S / 2)])
        shifted = shifted + DAY_S * midnights
    return shifted


def _date_question(time: Column, account: Account) -> Question:
    offers = account.offers(
        ("the day comes first", replace(account.reading, date_order="day-first")),
        ("the month comes first", replace(account.reading, date_order="month-first")),
    )
    return Question(
        "date order", "Does the day or the month come first?", "the day", offers, time.index + 1, option="--date-order"
    )


def _ask_about(table: TextTable, time: Column, stamps: Times, account: Account) -> None:
    """A time column that the file does not call one, unless its steps or its size say what it is."""
    number = time.index + 1
    if counts_rows(table, time) and not is_time_name(time.name):
        raise OpenQuestion(
            step_question(account),
            file=table.path,
            what="its first column only counts the rows, and the sample interval is not stated",
            where=table.where(0),
            do="Say the interval (--step), or export with the time column",
        )
    stated_s = table.interval_s()
    spanned_s = (stamps[-1] - stamps[0]) / max(stamps.size - 1, 1) if stamps.size else 0.0
    if stated_s is not None and abs(spanned_s - stated_s) <= STATED_SHARE * stated_s:
        return
    account.say(f"Column {number} is taken for the time in seconds; the file does not say so.")
    if not stamps.size or abs(stamps[0]) < EPOCH_S:
        account.ask(time_question(table, time, account))


def _stated_axis(table: TextTable, values: list[Column], account: Account) -> TimeAxis:
    """An axis without a time column: from what was said, the preamble, or the clocks of the first and last row."""
    said_s, stated_s = account.reading.step_s, table.interval_s()
    rows = table.rows - _closing_rows(table, values, account)
    if rows < 2:
        raise FileProblem("there is one row of data", file=table.path, do="Export a capture with more samples")
    step_s = said_s if said_s is not None else stated_s
    if step_s is not None:
        source = "as you said" if said_s is not None else "from the preamble"
        account.say(f"Step {in_words(step_s, 's', digits=6)} {source}; there is no time column.")
    else:
        span_s = rough_interval(table)
        if span_s is None:
            raise _no_axis(table, values, account)
        step_s = span_s / (rows - 1)
        account.say(
            f"Step about {in_words(step_s, 's')} from the clocks of the first and last row, which count whole seconds: "
            f"rough, ±{100 / span_s:.0f} %."
        )
    start_s = table.start_s()
    if start_s is None and account.reading.start_s is None:
        account.say("The file does not say when the record starts: counted from 0.")
    return TimeAxis("even", start_s or 0.0, step_s, rows, None, ())


def _closing_rows(table: TextTable, values: list[Column], account: Account) -> int:
    """One last row without any number closes the record; it is no sample."""
    if table.rows < 2 or not values or any(np.isfinite(table.values(column)[-1]) for column in values):
        return 0
    account.say("The last row holds no sample and was left out.")
    return 1


def _no_axis(table: TextTable, values: list[Column], account: Account) -> OpenQuestion:
    first = values[0] if values else None
    if first is not None and len(values) > 1 and (first.written_unit or first.unit) and _rises_straight(table, first):
        what = f"this is a table over {first.name or 'its first column'}, not over time"
        do = "Export volts over time; if its rows are samples all the same, say the interval (--step)"
        return OpenQuestion(step_question(account), file=table.path, what=what, do=do)
    return OpenQuestion(
        step_question(account),
        file=table.path,
        what="it has values but neither a time column nor a sample interval",
        do="Say the interval (--step), or export with the time column",
    )


def _rises_straight(table: TextTable, column: Column) -> bool:
    steps = np.diff(np.asarray(table.values(column), dtype=np.float64))
    return bool(steps.size and np.isfinite(steps).all() and (steps > 0).all() and np.ptp(steps) <= 0.1 * steps.mean())


def _has_two_levels(values: Numbers) -> bool:
    return bool(np.isin(values[:BLOCK], (0, 1)).all()) and bool(((values == 0) | (values == 1)).all())
