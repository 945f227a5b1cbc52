"""Read NumPy's ``.npy`` and ``.npz``: rows, tables and named columns of numbers; never anything that runs code."""

import zipfile
import zlib
from pathlib import Path

import numpy as np

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import CountSamples, FloatSamples, Samples
from loomlight.storage.foreign_axis import Axis, Stamps, axis_of_stamps, stated_axis, unit_under
from loomlight.storage.numpy_arrays import LEAST_SAMPLES, MOST_CHANNELS, NPY_SIGNATURE, ArrayColumn, Arrays
from loomlight.storage.reading import NOTHING_SAID, TIME_UNITS, Reading
from loomlight.storage.reading_questions import Account, OpenQuestion, step_question, unit_question
from loomlight.storage.text_cells import unit_of

ZIP_SIGNATURE = b"PK\x03\x04"
UNREADABLE = (
    OSError,
    ValueError,
    EOFError,
    MemoryError,
    RuntimeError,
    LookupError,
    TypeError,
    SyntaxError,
    zipfile.BadZipFile,
    zlib.error,
)


def is_numpy(head: bytes) -> bool:
    """Whether a file begins as ``.npy`` or as a zip archive, which ``.npz`` is."""
    return head.startswith((NPY_SIGNATURE, ZIP_SIGNATURE))


def read_numpy(path: Path, progress: Progress = unwatched, *, reading: Reading = NOTHING_SAID) -> Capture:
    """Read a ``.npy`` or ``.npz`` file.

    Parameters
    ----------
    path : Path
        The file.
    progress : Progress
        0 to 1 over the arrays.
    reading : Reading
        What the user said; columns are counted from 1 through all arrays.

    Raises
    ------
    FileProblem
        If it is damaged or holds no rows of numbers.
    OpenQuestion
        If neither the file nor the user tells the spacing of the samples.
    """
    arrays = Arrays(path, reading)
    try:
        with path.open("rb") as file:
            if file.read(len(NPY_SIGNATURE)) == NPY_SIGNATURE:
                file.seek(0)
                arrays.take(file, path.stem, path.stat().st_size, progress)
        if zipfile.is_zipfile(path):
            arrays.take_all(progress)
    except UNREADABLE as error:
        raise FileProblem(
            "it is damaged, was cut short, or holds more than plain numbers",
            file=path,
            do="Save plain arrays of numbers, or take it again from the stick",
        ) from error
    if not arrays.columns and arrays.too_wide:
        name, shape = arrays.too_wide[0]
        raise FileProblem(
            f"the table {name!r} is {shape[0]} × {shape[1]}: more than {MOST_CHANNELS} channels whichever side is the samples",
            file=path,
            do=f"Save at most {MOST_CHANNELS} rows of it, or one row, as an array of its own",
        )
    if not arrays.columns:
        raise FileProblem(
            f"no row of at least {LEAST_SAMPLES} numbers was found",
            file=path,
            do="Save the samples as arrays of numbers",
        )
    return _Reading(path, arrays, Account(reading)).capture()


class _Reading:
    """Columns on their way to a capture."""

    def __init__(self, path: Path, arrays: Arrays, account: Account) -> None:
        self._path, self._arrays, self._account = path, arrays, account

    def capture(self) -> Capture:
        """All columns that are channels."""
        for name, shape in self._arrays.tables:
            self._account.say(f"{name}: a table of {shape[0]} × {shape[1]}; its longer side is taken for the samples.")
        times = self._times()
        values = [
            column
            for column in self._arrays.columns
            if column not in times and column.number not in self._account.reading.left_out
        ]
        channels = [self._channel(column, self._axis(column, times)) for column in values]
        if not channels:
            raise FileProblem("there is a time but no channel", file=self._path, do="Save at least one channel")
        questions = tuple(question.text for question in self._account.questions)
        return Capture(
            self._path.name, "NumPy arrays as channels", tuple(channels), tuple(self._account.notes), questions
        )

    def _times(self) -> list[ArrayColumn]:
        """The columns that hold stamps."""
        said = self._account.reading.time_column
        if said is not None:
            times = [column for column in self._arrays.columns if column.number == said]
            if said and not (times and self._stamps(times[0]).rises()):
                raise FileProblem(
                    f"column {said} is no time: it does not rise throughout", file=self._path, do="Choose another"
                )
            return times
        return [one for one in self._arrays.columns if one.stamps is not None and self._stamps(one).rises()]

    def _stamps(self, column: ArrayColumn) -> Stamps:
        said = self._account.reading.time_unit
        factor = TIME_UNITS[said] if said else column.unit[1] if column.unit else 1.0
        stamps = column.stamps
        assert stamps is not None
        return Stamps(column.size, stamps.dtype, lambda start, stop: stamps[start:stop], factor)

    def _axis(self, column: ArrayColumn, times: list[ArrayColumn]) -> Axis:
        reading, name = self._account.reading, column.name
        if reading.step_s is not None:
            self._account.say("The step is as you said.")
            return Axis(reading.start_s or 0.0, reading.step_s)
        fitting = [time for time in times if time.size == column.size]
        if fitting:
            if fitting[0].unit is None and reading.time_unit is None:
                self._account.say(f"{fitting[0].name} is taken for the time in seconds; the file does not say so.")
            return axis_of_stamps(self._stamps(fitting[0]), name, self._account.notes)
        stated = stated_axis(self._arrays.around, name, self._account.notes, self._path)
        if stated is None:
            raise OpenQuestion(
                step_question(self._account),
                file=self._path,
                what=f"{name} has neither a time nor a sample interval beside it",
                do="Say the interval (--step), or save the times too",
            )
        return stated

    def _channel(self, column: ArrayColumn, axis: Axis) -> Channel:
        reading = self._account.reading
        name = reading.name_of(column.number) or column.name
        said = reading.unit_of(column.number)
        unit, factor = (unit_of(said) if said else column.unit) or (said or None, 1.0)
        if unit is None:
            unit, factor = unit_under(self._arrays.around)
        scale, offset = reading.scale_of(column.number) or (1.0, 0.0)
        if unit is None and column.is_whole:
            unit = "counts"
            self._account.say(f"{name} holds whole numbers and no scale: they are counts, not volts.")
        elif unit is None:
            self._account.say(f"{name}: the file gives no unit.")
            self._account.ask(unit_question(self._account, column.number, name, guess="unknown"))
        return Channel(
            name=name,
            unit=unit,
            samples=_scaled(column.row.samples(), scale * factor, offset * factor),
            start_s=axis.start_s,
            step_s=axis.step_s,
            form="even" if axis.times_s is None else "uneven",
            gaps=column.row.gaps,
            clipped=column.row.clipped,
            history=(f"read from {self._path.name}, {column.name}",),
            times_s=axis.times_s,
        )


def _scaled(samples: Samples, scale: float, offset: float) -> Samples:
    if scale == 1.0 and offset == 0.0:
        return samples
    if isinstance(samples, CountSamples):
        return CountSamples(samples.counts, scale=samples.scale * scale, offset=samples.offset * scale + offset)
    return FloatSamples(samples.block(0, samples.size) * np.float32(scale) + np.float32(offset), copy=False)
