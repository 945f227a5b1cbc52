"""The ripple of a supply: what moves faster than 50 Hz, how much and how often."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.resample import averaged
from loomlight.signal.spans import Spans

Row = npt.NDArray[np.float64]

STRETCH_S = 0.16
"""Long enough for eight periods of the slowest ripple that counts."""
SLOWEST_S = 0.02
"""ISO 16750-2 superimposes alternating voltage from 50 Hz on."""
POINTS = 16_384
MOST_READ = 4_000_000
INNER = (0.01, 0.99)
"""Shares of the samples between which the peak-to-peak value is read; a sine spends 1 % beyond 0.9995 of its height."""
INNER_Z = 2.326
"""Where a normal distribution has these shares, standard deviations."""
FEWEST_PERIODS = 8
"""What comes less often in a stretch may be a few pulses."""
LINE_SHARE = 0.2
"""A line in the spectrum with less of the ripple's power is none."""


@dataclass(frozen=True, eq=False)
class Ripple:
    """Ripple of a channel.

    Attributes
    ----------
    peak_to_peak_v : float
        Median over the stretches, noise taken off.
    rms_v : float
        Likewise; what a meter on AC volts shows.
    hz : float or None
        Frequency of the strongest line; None where no line stands out.
    times_s, each_v : ndarray of float64
        Middle of each stretch and its peak-to-peak value.
    """

    peak_to_peak_v: float
    rms_v: float
    hz: float | None
    times_s: Row
    each_v: Row


def ripple_of(channel: Channel, noise: float, without: Spans, progress: Progress = unwatched) -> Ripple | None:
    """Measure the ripple in stretches spread over the capture.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    noise : float
        Standard deviation of its scatter from sample to sample.
    without : ndarray, shape (n, 2)
        Stretches to leave out, seconds.
    progress : Progress
        0 to 1.

    Returns
    -------
    Ripple or None
        None where no stretch could be measured.
    """
    assert channel.step_s is not None
    length = max(16, min(channel.intervals, round(STRETCH_S / channel.step_s)))
    if channel.intervals < 16:
        return None
    many = int(np.clip(channel.intervals / length + 1, 1, np.clip(MOST_READ / length, 4, 64)))
    firsts = np.unique(np.linspace(0, channel.intervals - length, many).astype(np.int64))
    found: list[tuple[float, float, float, float]] = []
    for place, first in enumerate(firsts.tolist()):
        progress(place / firsts.size)
        begin_s = channel.start_s + first * channel.step_s
        stop_s = begin_s + length * channel.step_s
        if len(without) and bool(((without[:, 0] < stop_s) & (without[:, 1] > begin_s)).any()):
            continue
        points = min(length, POINTS)
        each_s = length * channel.step_s / points
        row = averaged(channel, step_s=each_s, start_s=begin_s + 0.5 * (each_s - channel.step_s), count=points)
        if not np.isfinite(row).all():
            continue
        found.append((0.5 * (begin_s + stop_s), *_measured(row, each_s, noise * np.sqrt(points / length))))
    if not found:
        return None
    table = np.array(found)
    lines = table[:, 3][np.isfinite(table[:, 3])]
    return Ripple(
        peak_to_peak_v=float(np.median(table[:, 1])),
        rms_v=float(np.median(table[:, 2])),
        hz=float(np.median(lines)) if lines.size > 0.5 * len(table) else None,
        times_s=table[:, 0],
        each_v=table[:, 1],
    )


def _measured(row: Row, each_s: float, noise: float) -> tuple[float, float, float]:
    """Peak to peak, root mean square and the strongest line's frequency of one stretch."""
    from scipy import fft, ndimage

    width = round(SLOWEST_S / each_s) | 1
    if width < row.size:
        # Averaged twice: once would leave some hundredths of the ripple in the average.
        slow = ndimage.uniform_filter1d(ndimage.uniform_filter1d(row, width, mode="nearest"), width, mode="nearest")
        fast = (row - slow)[width // 2 : row.size - width // 2]
    else:
        at = np.arange(row.size) - 0.5 * (row.size - 1)
        fast = row - row.mean()
        fast = fast - at * float((at @ fast) / (at @ at))
    rms = float(np.sqrt(max(float(fast @ fast) / fast.size - noise**2, 0.0)))
    power = np.abs(fft.rfft(fast * np.hanning(fast.size))) ** 2
    power[:FEWEST_PERIODS] = 0.0
    if power.size < 4 * FEWEST_PERIODS or not power.any():
        return 0.0, rms, float("nan")
    peak = int(np.argmax(power))
    stands_out = float(power[max(peak - 2, 0) : peak + 3].sum() / power.sum()) >= LINE_SHARE
    # Ripple is there all the time; a single pulse is in one of the parts only.
    height = min(_peak_to_peak(one, noise) for one in np.array_split(fast, FEWEST_PERIODS - 1))
    return height, rms, peak / (fast.size * each_s) if stands_out else float("nan")


def _peak_to_peak(row: Row, noise: float) -> float:
    low, high = np.quantile(row, INNER)
    # The scatter widens either side like two independent spreads do.
    return 2.0 * float(np.sqrt(max((0.5 * (high - low)) ** 2 - (INNER_Z * noise) ** 2, 0.0)))
