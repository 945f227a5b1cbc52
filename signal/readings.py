"""What two cursors read, from the capture and not from its picture."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.resample import values_at
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
        Over the samples from the earlier to the later cursor; None where there are none.
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


def readings(channel: Channel, first_s: float, second_s: float) -> Readings:
    """Read a channel at two cursors and between them.

    Parameters
    ----------
    channel : Channel
        Any form.
    first_s, second_s : float
        Seconds on the channel's own axis, in any order.
    """
    values = [_or_none(float(values_at(channel, np.array([at_s]))[0])) for at_s in (first_s, second_s)]
    apart_s = second_s - first_s
    both = values[0] is not None and values[1] is not None
    least, greatest, mean, rms = _between(channel, min(first_s, second_s), max(first_s, second_s))
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
    channel: Channel, low_s: float, high_s: float
) -> tuple[float | None, float | None, float | None, float | None]:
    if high_s < channel.start_s or low_s > channel.stop_s:
        return None, None, None, None
    first = channel.index_at(low_s)
    last = channel.index_at(high_s) + (2 if channel.form == "pairs" else 1)
    least, greatest, total, squares, count = np.inf, -np.inf, 0.0, 0.0, 0
    for start in range(first, last, BLOCK):
        values = channel.samples.block(start, min(start + BLOCK, last)).astype(np.float64)
        values = values[np.isfinite(values)]
        if values.size:
            least, greatest = min(least, float(values.min())), max(greatest, float(values.max()))
            total, squares, count = total + float(values.sum()), squares + float(values @ values), count + values.size
    if not count:
        return None, None, None, None
    return least, greatest, total / count, float(np.sqrt(squares / count))
