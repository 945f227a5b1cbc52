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
        as it held. None where there are none.
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
    least, greatest, mean, rms = _between(channel, min(first_s, second_s), max(first_s, second_s), progress)
    return Readings(
        first_s=first_s,
        second_s=second_s,
        first_value=values[0],
        second_value=values[1],
        apart_s=apart_s,
        rate_hz=1.0 / abs(apart_s) if apart_s else None,
        step_value=values[1] - values[0] if both else None,  # type: ignore[operator]  # both are known
        least=least,
        greatest=greatest,
        mean=mean,
        rms=rms,
    )


def _or_none(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _between(
    channel: Channel, low_s: float, high_s: float, progress: Progress
) -> tuple[float | None, float | None, float | None, float | None]:
    least, greatest, total, squares, whole = np.inf, -np.inf, 0.0, 0.0, 0.0
    first, last = samples_between(channel, low_s, high_s)
    for start in range(first, last, BLOCK):
        progress((start - first) / (last - first))
        stop = min(start + BLOCK, last)
        values = channel.samples.block(start, stop).astype(np.float64)
        weights = _weights(channel, start, stop, low_s, high_s)
        known = np.isfinite(values)
        values, weights = values[known], weights[known]
        if values.size:
            least, greatest = min(least, float(values.min())), max(greatest, float(values.max()))
            total += float((values * weights).sum())
            squares += float((values * values * weights).sum())
            whole += float(weights.sum())
    if whole <= 0:
        return None, None, None, None
    return least, greatest, total / whole, float(np.sqrt(squares / whole))


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
    """What each sample counts for: the time for which a change held, else all the same."""
    if channel.form != "changes" or channel.times_s is None or high_s <= low_s:
        return np.ones(stop - start)
    ends = np.append(channel.times_s[start + 1 : stop + 1], high_s)[: stop - start]
    held: Row = np.clip(ends, low_s, high_s) - np.clip(channel.times_s[start:stop], low_s, high_s)
    return held
