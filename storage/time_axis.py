"""The time axis behind a column of time stamps: start and step, or the stamps themselves."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Form
from loomlight.signal.errors import FileProblem
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import Times
from loomlight.storage.clock_notes import counted_from
from loomlight.storage.long_columns import falls, farthest_from_line, largest_size, never_falls
from loomlight.storage.time_mending import in_line

EPOCH_S = 1e8
"""Stamps above this are seconds since 1970, not since a trigger."""
PAUSE = 10.0
"""A step this many times the usual one is a pause of the recording."""
LEAST_EVEN = 4
"""Fewer changes than this between 0 and 1 do not show an even step."""
LEAST_CUT = 20
STATED_SHARE = 0.02
"""A stated interval is believed while the stamps agree with it this well."""


@dataclass(frozen=True, eq=False)
class TimeAxis:
    """What the stamps say.

    Attributes
    ----------
    form : str
        ``even``, ``pairs``, ``changes`` or ``uneven``.
    start_s, step_s : float, float or None
        First instant and spacing, seconds.
    rows : int
        Rows that belong to the record: a stray last one is left out.
    times_s : ndarray or None
        For ``changes`` and ``uneven``.
    notes : tuple of str
        What was assumed.
    """

    form: Form
    start_s: float
    step_s: float | None
    rows: int
    times_s: Times | None
    notes: tuple[str, ...]


def time_axis(
    stamps: Times,
    *,
    digit_s: float,
    stated: tuple[float, float] | None,
    two_levels: bool,
    path: Path,
    where: Callable[[int], str],
) -> TimeAxis:
    """Find start and step from all stamps, never from one difference.

    Parameters
    ----------
    stamps : ndarray of float64, shape (n,)
        Seconds.
    digit_s : float
        One unit of the coarsest last digit, seconds.
    stated : (float, float) or None
        Interval from the preamble, seconds, and its doubt as a share.
    two_levels : bool
        Whether the values are 0 and 1 only: uneven stamps are then changes.
    path : Path
        For the error's text.
    where : callable
        Gives the place of a data row, counted from 0, in words.

    Raises
    ------
    FileProblem
        If there are fewer than two stamps, one is no number, or time goes backwards.
    """
    notes: list[str] = []
    stamps = _mended(_without_stray_end(stamps, notes), digit_s, notes)
    _require_order(stamps, path, where)
    rows = stamps.size
    if stamps[0] > EPOCH_S:
        notes.append(counted_from(float(stamps[0])))
        digit_s = max(digit_s, float(np.spacing(stamps[-1])))  # a double keeps no more of it
        stamps = stamps - stamps[0]
    whole = _whole_pairs(stamps)
    if whole:
        if whole < rows:
            notes.append("The last interval is not whole and was left out.")
        step_s, said = _step(stamps[:whole:2], stated, digit_s)
        notes += [said, "Every stamp stands twice: minimum and maximum of an interval, not two samples."]
        return TimeAxis("pairs", float(stamps[0]), step_s, whole, None, tuple(notes))
    if stamps[-1] == stamps[0]:
        raise FileProblem("all time stamps are the same", file=path, do="Export with more digits in the time column")
    is_even = (not two_levels or rows >= LEAST_EVEN) and _is_even(stamps, digit_s)
    if not is_even and not two_levels and rows >= LEAST_CUT and _is_even(stamps[:-1], digit_s):
        notes.append("The last row was cut short or does not belong to the record, and was left out.")
        stamps, rows, is_even = stamps[:-1], rows - 1, True
    if is_even:
        step_s = _note_even(stamps, stated, digit_s, notes)
        return TimeAxis("even", float(stamps[0]), step_s, rows, None, tuple(notes))
    form: Form = "changes" if two_levels else "uneven"
    word = "a list of changes" if two_levels else "unevenly spaced samples"
    notes.append(f"The time steps differ: read as {word}.")
    if not two_levels:
        notes += _unevenness(stamps)
    return TimeAxis(form, float(stamps[0]), None, rows, stamps, tuple(notes))


def _is_even(stamps: Times, digit_s: float) -> bool:
    """Whether every stamp lies on the line from the first to the last, as well as their digits can tell."""
    rows = stamps.size
    spanned_s = float((stamps[-1] - stamps[0]) / (rows - 1))
    off = farthest_from_line(stamps, float(stamps[0]), spanned_s)
    # Some writers hold the time as a 32-bit number; that excuses at most half a step.
    rounding_s = min(2.0**-23 * largest_size(stamps), 0.5 * spanned_s)
    return bool(spanned_s > 0 and off <= max(0.01 * spanned_s, 1.01 * digit_s, rounding_s))


def _note_even(stamps: Times, stated: tuple[float, float] | None, digit_s: float, notes: list[str]) -> float:
    """The step, seconds; what it rests on and how well it is known goes into the notes."""
    step_s, said = _step(stamps, stated, digit_s)
    notes.append(said)
    repeated = float(np.mean(stamps[1:] == stamps[:-1]))
    if repeated > 0.01:
        notes.append(f"The stamps have too few digits: {100 * repeated:.0f} % repeat the one before.")
    unsure = digit_s / (stamps.size - 1) / step_s
    if unsure > 1e-3 and stated is None:
        notes.append(f"By the digits of the time column the step is good to {100 * unsure:.2g} %.")
    notes.append(f"Nothing shorter than {in_words(step_s, 's')} can be seen in this file.")
    return step_s


def _unevenness(stamps: Times) -> list[str]:
    """The mean rate, and pauses between bursts where there are some."""
    steps = np.diff(stamps)
    usual = float(np.median(steps))
    pauses = int(np.count_nonzero(steps > PAUSE * usual)) if usual > 0 else 0
    mean = (stamps.size - 1) / float(stamps[-1] - stamps[0])
    if 0 < pauses <= steps.size // 2:
        share = "1 pause" if pauses == 1 else f"{pauses} pauses"
        return [f"{share} in the recording, the longest {in_words(float(steps.max()), 's')}; a pause is no dropout."]
    return [f"About {mean:.4g} samples a second on average."]


def _without_stray_end(stamps: Times, notes: list[str]) -> Times:
    """Drop one last row that falls out of the order, as some exports leave behind."""
    if stamps.size >= 4 and (not np.isfinite(stamps[-1]) or stamps[-1] < stamps[-2]):
        before: npt.NDArray[np.float64] = stamps[:-1]
        if np.isfinite(before).all() and never_falls(before):
            notes.append("The last row does not belong to the record and was left out.")
            return before
    return stamps


def _mended(stamps: Times, digit_s: float, notes: list[str]) -> Times:
    """Stamps with a few spoilt ones put in line, where all others stand in line."""
    if np.isfinite(stamps).all() and never_falls(stamps):
        return stamps
    found = in_line(stamps, digit_s=digit_s)
    if found is None:
        return stamps
    line, spoilt = found
    stamps_are = "1 time stamp is" if spoilt == 1 else f"{spoilt} time stamps are"
    notes.append(
        f"{stamps_are} spoilt; all others stand in line by the number of their row, and so these were put there."
    )
    return line


def _require_order(stamps: Times, path: Path, where: Callable[[int], str]) -> None:
    if stamps.size < 2:
        raise FileProblem(
            f"there is {'one row' if stamps.size else 'no row'} of data",
            file=path,
            do="Export a capture with more samples",
        )
    lost = np.flatnonzero(~np.isfinite(stamps))
    if lost.size:
        raise FileProblem(
            "the time is not a number",
            file=path,
            where=where(int(lost[0])),
            do="Mend or delete that row",
        )
    back = np.flatnonzero(falls(stamps))
    if back.size:
        row = int(back[0]) + 1
        raise FileProblem(
            f"time goes backwards, from {stamps[row - 1]:.6g} s to {stamps[row]:.6g} s",
            file=path,
            where=where(row),
            do="Mend or delete that row; if these are segments, they start or step unlike one another: export one a file",
        )


def _whole_pairs(stamps: Times) -> int:
    """Rows of stamps that all stand twice, up to two cut ones at the end left out; 0 where they do not."""
    for rows in range(stamps.size // 2 * 2, stamps.size - 3, -2):
        if rows >= LEAST_EVEN and _is_pairs(stamps[:rows]):
            return rows
    return 0


def _is_pairs(stamps: Times) -> bool:
    return bool((stamps[::2] == stamps[1::2]).all() and (np.diff(stamps[::2]) > 0).all())


def _step(stamps: Times, stated: tuple[float, float] | None, digit_s: float) -> tuple[float, str]:
    """Step and what it rests on: the preamble's where the stamps do not know better, else their span."""
    spanned_s = float((stamps[-1] - stamps[0]) / (stamps.size - 1))
    said = f"Step {in_words(spanned_s, 's', digits=6)} from the span of the time column."
    if stated is None:
        return spanned_s, said
    stated_s, doubt = stated
    apart_s = abs(stated_s - spanned_s)
    spanned_doubt_s = max(digit_s, 2.0**-23 * largest_size(stamps)) / (stamps.size - 1)
    words = in_words(stated_s, "s", digits=6)
    if apart_s <= spanned_doubt_s:
        return stated_s, f"Step {words} as the preamble states; the time column agrees."
    if apart_s <= doubt * stated_s and spanned_doubt_s < doubt * stated_s:
        return spanned_s, f"{said} The preamble's {words} is the same, rounded."
    if apart_s <= STATED_SHARE * stated_s:
        apart = f"{100 * apart_s / stated_s:.2g} %"
        return stated_s, f"Step {words} as the preamble states; the span of the time column differs by {apart}."
    return spanned_s, f"{said} The preamble states {words}, which does not agree."
