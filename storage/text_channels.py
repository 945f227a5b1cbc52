"""One column of a text table as a channel: its unit, its gaps, what lies beyond the range, what its numbers are."""

import re
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel, IndexRange
from loomlight.signal.errors import FileProblem
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import FloatSamples, Wave
from loomlight.storage.long_columns import Numbers
from loomlight.storage.reading_questions import Account, Question, counts_question, unit_question
from loomlight.storage.text_header import Column
from loomlight.storage.text_segments import LEAST_SAMPLES
from loomlight.storage.text_signs import cells_of
from loomlight.storage.text_table import TextTable
from loomlight.storage.time_axis import TimeAxis
from loomlight.storage.time_stretches import Stretch

PACKED = re.compile(r"d(\d+)\s*-\s*d?(\d+)", re.IGNORECASE)
SAME_STEP = 0.02
RAIL_SHARE = 0.02
RAIL_RUN = 3
BETWEEN_SHARE = 0.2
"""A record that touches both ends of its range and spends this share of its time between them may have been cut off."""
BEYOND = 9.8e37
"""SCPI-99, volume 1, 7.2.1: 9.9E+37 stands for infinity; no wire carries more than this."""
LEAST_PAIRS, MOSTLY = 20, 0.3
DIVISION_KEYS = ("vertical scale", "volts per division", "scale")


@dataclass(eq=False)
class ChannelMaker:
    """Makes channels of a table's columns; what is assumed goes into the account."""

    table: TextTable
    account: Account

    def make(self, column: Column, stretch: Stretch, beside: list[Column]) -> Channel | None:
        """One column over one stretch of rows; None where it holds no number there.

        Parameters
        ----------
        column : Column
            Which.
        stretch : Stretch
            The rows and their time.
        beside : list of Column
            All value columns of the group, this one among them: the preamble may state a step for each.
        """
        name = self._name(column)
        axis = self._own_axis(column, stretch, beside, name)
        raw = self.table.values(column)[stretch.first : stretch.first + axis.rows]
        if not np.isfinite(raw).any():
            self.account.say(f"{name} holds no number and was left out.")
            return None
        if stretch.of > 1 and axis.rows < LEAST_SAMPLES:
            self.account.say(
                f"{name}: {axis.rows} samples a segment are too short to be lined up, which takes {LEAST_SAMPLES}."
            )
        with np.errstate(over="ignore"):  # what is too large for single precision is beyond any range
            values = raw.astype(np.float32, copy=False)
        values = _marked(values, BEYOND * column.factor)
        gaps, clipped = _ranges(np.isnan(values)), _ranges(np.isinf(values))
        if clipped:
            finite = values[np.isfinite(values)]
            if not finite.size:
                self.account.say(f"{name} is beyond its range throughout and was left out.")
                return None
            values = np.clip(values, finite.min(), finite.max())
            self.account.say(f"{name}: {_samples(clipped)} beyond the range; at least the rail there.")
        if gaps:
            self.account.say(f"{name}: {_samples(gaps)} not acquired.")
        unit, values = self._scaled(column, name, values)
        if not clipped:
            self._note_rails(name, unit, values)
        if axis.form == "pairs":
            order = np.argsort(values.reshape(-1, 2), axis=1, kind="stable")
            values = np.take_along_axis(values.reshape(-1, 2), order, axis=1).reshape(-1)
            gaps, clipped = (_in_pairs(ranges, order) for ranges in (gaps, clipped))
        return Channel(
            name=f"{name} · segment {stretch.number}" if stretch.of > 1 else name,
            unit=unit,
            samples=FloatSamples(values, copy=False),
            start_s=axis.start_s,
            step_s=axis.step_s,
            form=axis.form,
            gaps=gaps,
            clipped=clipped,
            history=(f"read from {self.table.path.name}, {self._place(column)}",),
            segments=stretch.of,
            times_s=axis.times_s,
        )

    def _place(self, column: Column) -> str:
        return f"{'row' if self.table.layout.turned else 'column'} {column.index + 1}"

    def _name(self, column: Column) -> str:
        return column.name or self._place(column)

    def _own_axis(self, column: Column, stretch: Stretch, beside: list[Column], name: str) -> TimeAxis:
        """The group's axis, unless the preamble states another step or count for this column."""
        axis, place = stretch.axis, beside.index(column)
        steps = self.table.stated_for_each("delta_x", len(beside))
        counts = self.table.stated_for_each("samples", len(beside))
        if axis.form != "even" or axis.step_s is None or not steps or len(beside) < 2:
            return axis
        rows = min(axis.rows, round(counts[place])) if counts and counts[place] > 1 else axis.rows
        beyond = self.table.values(column)[stretch.first + rows : stretch.first + axis.rows]
        if np.isfinite(beyond).any():
            rows = axis.rows
        if abs(steps[place] - axis.step_s) <= SAME_STEP * axis.step_s or steps[place] <= 0:
            return replace(axis, rows=rows)
        self.account.say(f"{name}: a sample every {in_words(steps[place], 's', digits=6)}, as the preamble states.")
        return replace(axis, step_s=steps[place], rows=rows)

    def _scaled(self, column: Column, name: str, values: Wave) -> tuple[str | None, Wave]:
        """The unit, and the values in it."""
        number = column.index + 1
        scale = self.account.reading.scale_of(number)
        if scale is not None:
            unit = column.unit or None
            times = f"{scale[0]:g}" + (f" and {scale[1]:+g}" if scale[1] else "")
            self.account.say(f"{name}: each number times {times}{f' {unit}' if unit else ''}, as you said.")
            scaled = _straight(values, *scale)
            if np.count_nonzero(np.isfinite(scaled)) < np.count_nonzero(np.isfinite(values)):
                raise FileProblem(
                    f"{name} times {times} is too large a number", file=self.table.path, do="Give a smaller scale"
                )
            return unit, scaled
        if self.account.reading.unit_of(number) is not None:
            self.account.say(f"{name} is in {self.account.reading.unit_of(number)}, as you said.")
            return column.unit or None, values
        stated = self._stated_scale(column)
        if stated is not None:
            self.account.say(
                f"{name}: counts made into {column.unit or 'values'} by the preamble's origin, increment and reference."
            )
            return column.unit or None, _straight(values, *stated)
        return self._unit(column, name, values), values

    def _stated_scale(self, column: Column) -> tuple[float, float] | None:
        """Scale and offset where the preamble gives all of origin, increment and reference and the values are whole."""
        increment = self.table.stated("yincrement", "y increment")
        origin = self.table.stated("yorigin", "y origin")
        reference = self.table.stated("yreference", "y reference")
        if increment is None or origin is None or reference is None or not increment or not self._is_whole(column):
            return None
        return increment, origin - reference * increment

    def _unit(self, column: Column, name: str, values: Wave) -> str | None:
        packed = PACKED.fullmatch(name)
        if packed and not column.unit:
            count = abs(int(packed[2]) - int(packed[1])) + 1
            words = {8: "eight", 16: "sixteen"}.get(count, str(count))
            self.account.say(
                f"{name}: {words} logic signals packed into one number, kept as one channel without a unit."
            )
            return None
        if self._holds_counts(column):
            return self._counts(column, name)
        if column.unit is None and column.written_unit:
            self.account.say(f"{name}: the unit {column.written_unit!r} is not known.")
        elif column.unit is None and _is_logic(values):
            self.account.say(f"{name} holds 0 and 1 only: a logic signal, not volts.")
        elif column.unit is None:
            self.account.say(f"{name}: the file gives no unit.")
            self.account.ask(unit_question(self.account, column.index + 1, name, guess="unknown"))
        elif column.factor != 1.0:
            self.account.say(f"{name} is in {column.written_unit} in the file.")
        return column.unit or None

    def _counts(self, column: Column, name: str) -> str:
        written = f", not {column.written_unit}" if column.written_unit else ""
        self.account.say(f"{name}: whole numbers without a time are converter counts{written}.")
        self.account.ask(
            counts_question(
                self.account,
                column.index + 1,
                name,
                unit=column.unit or "V",
                a_division=self.table.stated(*DIVISION_KEYS) if column.unit else None,
            )
        )
        return "counts"

    def _holds_counts(self, column: Column) -> bool:
        """Whole numbers in a file of one column and no time, whatever its preamble calls them."""
        return column.unit != "counts" and len(self.table.layout.columns) == 1 and self._is_whole(column)

    def _is_whole(self, column: Column) -> bool:
        rows = self.table.lines[self.table.layout.first_row :][:200]
        cells = [cells_of(line, self.table.layout.delimiter)[column.index : column.index + 1] for line in rows]
        texts = [cell[0].strip().lstrip("+-") for cell in cells if cell and cell[0].strip()]
        return all(text.isdecimal() for text in texts) and any(text not in ("0", "1") for text in texts)

    def _note_rails(self, name: str, unit: str | None, values: Wave) -> None:
        is_number = np.isfinite(values)
        finite = values if is_number.all() else values[is_number]
        low, high = float(finite.min()), float(finite.max())
        if low == high or unit == "counts":
            return
        is_between = (finite > low + 0.05 * (high - low)) & (finite < high - 0.05 * (high - low))
        if np.mean(is_between) < BETWEEN_SHARE or not all(_rests(finite == end) for end in (low, high)):
            return
        self.account.say(
            f"{name} touches both ends of its range, {in_words(low, unit or '')} and {in_words(high, unit or '')}, again "
            "and again: it may have been cut off there; take them as at least so much."
        )

    def ask_about_pairs(self, columns: list[Column], stretch: Stretch) -> None:
        """Ask where in all columns each second value is the greater one, as where minimum and maximum follow each other."""
        rows = slice(stretch.first, stretch.first + stretch.axis.rows)
        if not all(_may_be_pairs(self.table.values(column)[rows]) for column in columns):
            return
        offers = self.account.offers(
            ("minimum and maximum of each interval", replace(self.account.reading, pairs=True)),
            ("samples, one after the other", replace(self.account.reading, pairs=False)),
        )
        self.account.say(
            "Each second value is the greater one: read as samples, they may be minimum and maximum of each interval."
        )
        text = "Each second value is the greater one: are these minimum and maximum of each interval?"
        self.account.ask(Question("pairs", text, "samples", offers, option="--pairs"))


def _may_be_pairs(values: Numbers) -> bool:
    whole = values[: values.size // 2 * 2].reshape(-1, 2)
    if len(whole) < LEAST_PAIRS or not (whole[:, 1] >= whole[:, 0]).all():
        return False
    differ = np.mean(whole[:, 1] > whole[:, 0])
    overlap = np.mean(whole[1:, 0] < whole[:-1, 1])  # else it only rises on from one to the next
    return bool(differ >= MOSTLY and overlap >= MOSTLY)


def _marked(values: Wave, beyond: float) -> Wave:
    """Values with the number that stands for "beyond the range" made infinite."""
    with np.errstate(invalid="ignore"):
        high, low = values >= beyond, values <= -beyond
    if not high.any() and not low.any():
        return values
    values = values.copy()
    values[high], values[low] = np.inf, -np.inf
    return values


def _in_pairs(ranges: tuple[IndexRange, ...], order: npt.NDArray[np.int64]) -> tuple[IndexRange, ...]:
    """Ranges of samples after each pair was put in order."""
    if not ranges:
        return ()
    marked = np.zeros(order.shape, np.bool_)
    for start, stop in ranges:
        marked.reshape(-1)[start:stop] = True
    return _ranges(np.take_along_axis(marked, order, axis=1).reshape(-1))


def _straight(values: Wave, scale: float, offset: float) -> Wave:
    with np.errstate(over="ignore"):
        return (values.astype(np.float64) * scale + offset).astype(np.float32)


def _is_logic(values: Wave) -> bool:
    finite = values[np.isfinite(values)]
    return bool(((finite == 0) | (finite == 1)).all())


def _rests(at_end: npt.NDArray[np.bool_]) -> bool:
    """Whether a record stays at an end again and again: a share of its samples, several in a row."""
    if np.mean(at_end) < RAIL_SHARE:
        return False
    runs = [stop - start for start, stop in _ranges(at_end)]
    return max(runs) >= RAIL_RUN and len(runs) > 1


def _ranges(marked: npt.NDArray[np.bool_]) -> tuple[IndexRange, ...]:
    if not marked.any():
        return ()
    changes = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]])))
    return tuple(zip(changes[::2].tolist(), changes[1::2].tolist(), strict=True))


def _samples(ranges: tuple[IndexRange, ...]) -> str:
    count = sum(stop - start for start, stop in ranges)
    return "1 sample is" if count == 1 else f"{count} samples are"
