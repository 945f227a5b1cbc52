"""The known-good's values where a line-up lays them over the suspect."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.lineup import LineUp
from loomlight.signal.resample import values_at
from loomlight.signal.samples import BLOCK, Times, Wave, evenly

JUMP = 64
"""Steps of the known-good between two neighbours from which on they are read apart."""


def good_times(lineup: LineUp, suspect_s: Times) -> Times:
    """Times on the known-good's axis that belong to the suspect's, piece by piece where it was laid so."""
    if lineup.laid is not None:
        return lineup.laid.on_good(suspect_s)
    times_s: Times = lineup.lag_s + lineup.stretch * suspect_s
    return times_s


def good_values(good: Channel, lineup: LineUp, suspect_s: Times) -> Wave:
    """The known-good's values at times of the suspect, its sign as the suspect's; not-a-number where there are none.

    Parameters
    ----------
    good : Channel
        Any form.
    lineup : LineUp
        Accepted or not.
    suspect_s : ndarray of float64, shape (n,), ascending
        Seconds on the suspect's axis.
    """
    if lineup.laid is not None and lineup.laid.reference is not None:
        good = lineup.laid.reference
    return np.float32(lineup.polarity) * _read(good, good_times(lineup, suspect_s))


def deviation_values(lineup: LineUp, suspect_s: Times) -> Wave:
    """How far the known-good's own cycles stand from their average at times of the suspect; 0 where it is no average."""
    if lineup.laid is None or lineup.laid.deviation is None:
        return np.zeros(suspect_s.size, dtype=np.float32)
    return _read(lineup.laid.deviation, good_times(lineup, suspect_s))


def _read(good: Channel, there_s: Times) -> Wave:
    """Values at times that may run backwards or leap, not-a-number where a time is none."""
    found = np.full(there_s.size, np.nan, dtype=np.float32)
    known = np.flatnonzero(np.isfinite(there_s))
    if not known.size:
        return found
    wanted = there_s[known]
    step_s = good.step_s or max((good.stop_s - good.start_s) / max(good.intervals, 1), 1e-300)
    steps = np.diff(wanted) / step_s
    usual = float(np.median(np.abs(steps))) if steps.size else 1.0
    # What runs backwards, or leaps, is read in stretches of its own: a stretch is read as one row of samples.
    cuts = np.flatnonzero((steps < 0) | (steps > max(JUMP, 8.0 * usual))) + 1
    most = max(256, int(4 * BLOCK / max(usual, 1.0)))
    bounds = np.unique(np.concatenate([[0], cuts, np.arange(0, wanted.size, most), [wanted.size]]))
    values = np.empty(wanted.size, dtype=np.float32)
    for first, last in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
        values[first:last] = values_at(good, wanted[first:last])
    found[known] = values
    return found


class _LaidSamples:
    """Worked out block by block on the suspect's own samples."""

    def __init__(self, suspect: Channel, good: Channel, lineup: LineUp, first: int, size: int) -> None:
        self._suspect, self._good, self._lineup, self._first, self._size = suspect, good, lineup, first, size

    @property
    def size(self) -> int:
        return self._size

    def block(self, start: int, stop: int) -> Wave:
        step_s = self._suspect.step_s
        assert step_s is not None
        times_s = evenly(self._suspect.start_s, step_s, self._first + start, self._first + stop)
        return good_values(self._good, self._lineup, times_s)


def reach(suspect: Channel, good: Channel, lineup: LineUp) -> tuple[int, int]:
    """Half-open range of the suspect's instants that the known-good may cover; empty where there is none."""
    step_s = suspect.step_s
    assert step_s is not None
    if lineup.laid is not None:
        pieces = lineup.laid.pieces
        ends_s = [float(pieces[0, 0]), float(pieces[-1, 1])] if len(pieces) else [suspect.stop_s, suspect.start_s]
    else:
        ends_s = sorted((lineup.on_suspect(good.start_s), lineup.on_suspect(good.stop_s)))
    first = max(0, int(np.ceil((ends_s[0] - suspect.start_s) / step_s - 1e-6)))
    last = min(suspect.intervals, int(np.floor((ends_s[1] - suspect.start_s) / step_s + 1e-6)))
    return first, max(first, last)


def laid_channel(suspect: Channel, good: Channel, lineup: LineUp) -> Channel:
    """The known-good as it lies over the suspect, on the suspect's own samples; worked out as it is read.

    Raises
    ------
    CannotUse
        If the two have no time in common.
    """
    assert suspect.step_s is not None
    first, last = reach(suspect, good, lineup)
    if last <= first:
        raise CannotUse("The suspect and the known-good have no time in common at this line-up.")
    return Channel(
        name=good.name,
        unit=good.unit,
        samples=_LaidSamples(suspect, good, lineup, first, last - first),
        start_s=suspect.start_s + first * suspect.step_s,
        step_s=suspect.step_s,
        history=(*good.history, f"laid over {suspect.name!r} {lineup.by} by {lineup.by}"),
    )
