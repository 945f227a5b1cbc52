"""What two cursors read, from the capture and not from its picture."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.resample import SNAP, Row, values_at
from loomlight.signal.samples import BLOCK


@dataclass(frozen=True)
class Readings:
    """Two cursors on one channel.

    Attributes
    ----------
    first_s, second_s : float
        Where the cursors stand.
    first_value, second_value : float or None
        The channel there; None outside it.
    apart_s : float
        Second minus first.
    rate_hz : float or None
        1/Δt; None where the cursors stand together.
    step_value : float or None
        Second value minus first value.
    least, greatest, mean, rms : float or None
        Over the samples from the earlier to the later cursor, ends included; of ``changes`` each value counts for as long
        as it held, of ``uneven`` ones for half the way to either neighbour between the cursors. None where there are none.
        Of ``pairs`` the mean and the RMS cannot be told: how long the signal stood at either end is not known.
    missing : float
        Share of the samples between the cursors that were not acquired, or stand beyond the instrument's range, 0 to 1.
    is_clipped : bool
        Some of them stand at the instrument's rail: the signal went further.
    """

    first_s: float
    second_s: float
    first_value: float | None
    second_value: float | None
    apart_s: float
    rate_hz: float | None
    step_value: float | None
    least: float | None
    greatest: float | None
    mean: float | None
    rms: float | None
    missing: float = 0.0
    is_clipped: bool = False

    @property
    def peak_to_peak(self) -> float | None:
        """Greatest minus least, None where there are no samples."""
        return self.greatest - self.least if self.greatest is not None and self.least is not None else None


def readings(channel: Channel, first_s: float, second_s: float, progress: Progress = unwatched) -> Readings:
    """Read a channel at two cursors and between them.

    Parameters
    ----------
    channel : Channel
        Any form.
    first_s, second_s : float
        Seconds on the channel's own axis, in any order.
    progress : Progress
        0 to 1 over the samples between the cursors.
    """
    values = [_or_none(float(values_at(channel, np.array([at_s]))[0])) for at_s in (first_s, second_s)]
    apart_s = second_s - first_s
    both = values[0] is not None and values[1] is not None
    low_s, high_s = min(first_s, second_s), max(first_s, second_s)
    first, last = samples_between(channel, low_s, high_s)
    sums = _summed(channel, first, last, (low_s, high_s), progress)
    whole = sums.weight if channel.form != "pairs" else 0.0
    return Readings(
        first_s=first_s,
        second_s=second_s,
        first_value=values[0],
        second_value=values[1],
        apart_s=apart_s,
        rate_hz=1.0 / abs(apart_s) if apart_s else None,
        step_value=_step(values[0], values[1]) if both else None,  # type: ignore[arg-type]  # both are known
        least=sums.least if sums.known else None,
        greatest=sums.greatest if sums.known else None,
        mean=sums.total / whole if whole > 0 else None,
        rms=float(np.sqrt(sums.squares / whole)) if whole > 0 else None,
        missing=1.0 - sums.known / (last - first) if last > first else 0.0,
        is_clipped=any(begin < last and end > first for begin, end in channel.clipped),
    )


def _step(first: float, second: float) -> float:
    """Second minus first; nothing where they differ by no more than two neighbouring numbers of a float32 sample."""
    step = second - first
    return 0.0 if abs(step) <= 2.0 * float(np.spacing(np.float32(max(abs(first), abs(second))))) else step


def _or_none(value: float) -> float | None:
    return value if np.isfinite(value) else None


@dataclass
class _Sums:
    """What is gathered block by block."""

    least: float = np.inf
    greatest: float = -np.inf
    total: float = 0.0
    squares: float = 0.0
    weight: float = 0.0
    known: int = 0


def _summed(channel: Channel, first: int, last: int, ends_s: tuple[float, float], progress: Progress) -> _Sums:
    sums = _Sums()
    for start in range(first, last, BLOCK):
        progress((start - first) / (last - first))
        stop = min(start + BLOCK, last)
        values = channel.samples.block(start, stop).astype(np.float64)
        weights = _weights(channel, start, stop, *ends_s)
        known = np.isfinite(values)
        values, weights = values[known], weights[known]
        if values.size:
            sums.least, sums.greatest = min(sums.least, float(values.min())), max(sums.greatest, float(values.max()))
            sums.total += float((values * weights).sum())
            sums.squares += float((values * values * weights).sum())
            sums.weight += float(weights.sum())
            sums.known += values.size
    return sums


def samples_between(channel: Channel, low_s: float, high_s: float) -> tuple[int, int]:
    """Half-open range of samples that stand between two times, ends included; of ``changes`` the one that held by then too.

    Parameters
    ----------
    channel : Channel
        Any form; for ``pairs`` whole pairs.
    low_s, high_s : float
        Seconds on the channel's own axis, ``low_s <= high_s``.
    """
    if channel.times_s is not None:
        first = int(np.searchsorted(channel.times_s, low_s, side="left"))
        last = int(np.searchsorted(channel.times_s, high_s, side="right"))
        if channel.form == "changes" and first > 0:
            first = int(np.searchsorted(channel.times_s, low_s, side="right")) - 1  # the value that held by then
        return first, last
    assert channel.step_s is not None
    each = 2 if channel.form == "pairs" else 1
    places = [(at_s - channel.start_s) / channel.step_s for at_s in (low_s, high_s)]
    first = max(0, int(np.ceil(places[0] - SNAP)))
    last = min(channel.intervals, int(np.floor(places[1] + SNAP)) + 1)
    return each * first, each * max(first, last)


def _weights(channel: Channel, start: int, stop: int, low_s: float, high_s: float) -> Row:
    """What each sample counts for: the time for which a change held or an uneven one stands, else all the same."""
    times_s = channel.times_s
    if times_s is None or high_s <= low_s:
        return np.ones(stop - start)
    if channel.form == "changes":
        ends = np.append(times_s[start + 1 : stop + 1], high_s)[: stop - start]
        held: Row = np.clip(ends, low_s, high_s) - np.clip(times_s[start:stop], low_s, high_s)
        return held
    inside = times_s[max(start - 1, 0) : stop + 1]
    inside = inside[(inside >= low_s) & (inside <= high_s)]
    if inside.size < 2:
        return np.ones(stop - start)  # one alone
    own = times_s[start:stop]
    place = np.searchsorted(inside, own)
    before = inside[np.maximum(place - 1, 0)]
    after = inside[np.minimum(place + 1, inside.size - 1)]
    stands: Row = 0.5 * (after - before)
    return stands if stands.any() else np.ones(stop - start)
