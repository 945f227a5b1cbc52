"""What a start would show with a weak cylinder, or a battery that is empty or gives way."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.cranking_examination import CrankingExamination, CrankingReading
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Examination
from loomlight.signal.supposal import Supposal, SupposedFault, Supposer
from loomlight.signal.supposed_stretch import Stretch, stretch_of, supposed_channel

Row = npt.NDArray[np.float64]

WEAK, INNER, EMPTY = (
    "weak cylinder with a pulse",
    "rise of the battery's inner resistance",
    "discharged battery with a loss",
)
FAULTS = (Supposal(WEAK, "%", 50.0), Supposal(INNER, "%", 80.0), Supposal(EMPTY, "V", 0.8))
NEAR = 0.06
"""Of the time from pulse to pulse: what is averaged where one meets the next."""


def supposed(good: Examination, fault: SupposedFault, start_s: float, stop_s: float) -> Channel:
    """The known-good's start as the fault would leave it.

    Parameters
    ----------
    good : CrankingExamination
        A known-good.
    fault : SupposedFault
        One of `FAULTS`; a weak cylinder's size is what is left of its pulse, per cent, and ``beyond`` says which it is.
    start_s, stop_s : float
        Stretch on the known-good's axis, seconds.

    Raises
    ------
    CannotUse
        If the known-good does not show what the fault would change.

    Notes
    -----
    The engine is taken to turn as fast as it did, and the starter to take the same current.
    """
    assert isinstance(good, CrankingExamination)
    start = good.start
    if start is None:
        raise CannotUse(f"{good.channel.name!r} shows no start, so nothing can be supposed from it.")
    stretch, size = stretch_of(good.channel, start_s, stop_s), fault.size
    if size is None or not size > 0:
        raise CannotUse(f"A size must be above 0, got {size}.")
    if fault.kind == WEAK:
        return supposed_channel(stretch, fault, _weak(stretch, start, size / 100.0, fault.beyond))
    rest_v = start.stages.rest_v if start.stages is not None else None
    if rest_v is None:
        raise CannotUse(f"{good.channel.name!r} does not show the battery at rest before the start.")
    if fault.kind == EMPTY:
        return supposed_channel(stretch, fault, stretch.values - size)
    return supposed_channel(stretch, fault, rest_v - (1.0 + size / 100.0) * (rest_v - stretch.values))


def _weak(stretch: Stretch, start: CrankingReading, left: float, beyond: tuple[str, ...]) -> Row:
    """The pulses of one cylinder drawn together towards the line between the valleys on either side."""
    if start.pulses is None or start.cylinders is None or not start.each:
        raise CannotUse(
            "Cylinder against cylinder could not be judged on the known-good: give the number of cylinders."
        )
    names = cylinders(start)
    own = start.each[names.index(beyond[0]) if beyond and beyond[0] in names else 0].at_s
    at_s, times_s, values = start.pulses.at_s, stretch.times_s, stretch.values.copy()
    for middle_s in own:
        place = int(np.argmin(np.abs(at_s - middle_s)))
        if not 0 < place < at_s.size - 1:
            continue
        ends_s = 0.5 * (at_s[place - 1] + at_s[place]), 0.5 * (at_s[place] + at_s[place + 1])
        inside = (times_s >= ends_s[0]) & (times_s < ends_s[1])
        near_s = NEAR * (ends_s[1] - ends_s[0])
        levels = [_mean_near(stretch, one, near_s) for one in ends_s]
        line = np.interp(times_s[inside], ends_s, levels)
        values[inside] = line + left * (values[inside] - line)
    return values


def _mean_near(stretch: Stretch, at_s: float, near_s: float) -> float:
    place = (at_s - stretch.start_s) / stretch.step_s
    half = max(near_s / stretch.step_s, 1.0)
    row = stretch.values[max(int(place - half), 0) : max(int(place + half) + 1, 1)]
    known = row[np.isfinite(row)]
    return float(known.mean()) if known.size else float(np.nanmedian(stretch.values))


def cylinders(start: CrankingReading) -> tuple[str, ...]:
    """Names of the cylinders: after the sync mark, or A, B… in the order of firing; none where their number is not known."""
    if start.cylinders is None:
        return ()
    return tuple(
        f"number {one.number} after the mark" if one.number is not None else f"cylinder {chr(ord('A') + place)}"
        for place, one in enumerate(start.each)
    )


def _beyond(good: Examination) -> tuple[str, ...]:
    return cylinders(good.start) if isinstance(good, CrankingExamination) and good.start is not None else ()


def ready(good: Examination) -> bool:
    """Whether a start was seen."""
    if not isinstance(good, CrankingExamination) or good.start is None:
        return False
    return bool(good.start.each) or (good.start.stages is not None and good.start.stages.rest_v is not None)


SUPPOSER = Supposer(FAULTS, _beyond, ready, supposed, beyond_words=("Weak cylinder", "the first one"))
