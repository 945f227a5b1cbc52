"""A coil's voltage at its switched end: levels, flyback, and the burn line of an ignition coil's primary."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.pwm_reading import PwmReading, read_pwm, usual_of
from loomlight.signal.resample import values_at

Row = npt.NDArray[np.float64]

MOST_PULSES = 64
BURN_LEAST, BURN_MOST = 1.3, 0.55
"""Times the supply, and of the peak: a line between them behind the spike is the spark's."""
SHORTEST_S = 0.15e-3
LOOKED_S = 6e-3
STUCK_TIMES = 3.0
RINGING = 0.3
LONG = 1.5
SMOOTHED_S = 60e-6


@dataclass(frozen=True, eq=False)
class VoltageReading:
    """What one voltage channel shows.

    Attributes
    ----------
    pulses : PwmReading
        Levels and all edges; the wire is low while the coil is switched on, and for moments while it rings.
    starts_s, on_s : ndarray, shape (n,)
        When the coil was switched on, and for how long, seconds.
    peaks_v : ndarray, shape (n,)
        Flyback at each switching off; empty where there is none.
    missing : tuple of (float, float)
        Stretches in which it should have been switched on.
    burn_s, burn_v : float or None
        Length and level of the burn line; None where none is seen.
    stuck : (float, float) or None
        Where the wire stays low from some moment on.
    """

    pulses: PwmReading
    starts_s: Row = field(repr=False)
    on_s: Row = field(repr=False)
    peaks_v: Row = field(repr=False)
    missing: tuple[tuple[float, float], ...]
    burn_s: float | None
    burn_v: float | None
    stuck: tuple[float, float] | None

    @property
    def usual_on_s(self) -> float | None:
        """Usual on-time, seconds."""
        return float(np.median(self.on_s)) if self.on_s.size else None

    @property
    def period_s(self) -> float | None:
        """Usual time from pulse to pulse, seconds."""
        return float(np.median(np.diff(self.starts_s))) if self.starts_s.size > 1 else None

    @property
    def peak_v(self) -> float | None:
        """Flyback that one in ten exceeds: a short one can fall between two samples."""
        return float(np.percentile(self.peaks_v, 90.0)) if self.peaks_v.size else None


def read_voltage(channel: Channel, progress: Progress = unwatched) -> VoltageReading | None:
    """Read a channel in volts; None where no sample is a number."""
    pulses = read_pwm(channel, part(progress, 0.0, 0.8))
    if pulses is None:
        return None
    train = pulses.train
    downs, ups = train.like(rising=False), train.like(rising=True)
    open_end = downs.size > 0 and (not ups.size or downs[-1] > ups[-1])
    if downs.size:
        ups = ups[np.searchsorted(ups, downs[0]) :]
    count = min(downs.size, ups.size)
    on = ups[:count] - downs[:count]
    # A coil that rings after its spark dips to the driver's level for moments.
    real = on > RINGING * float(np.percentile(on, 90.0)) if count else np.zeros(0, bool)
    starts, ends, on = downs[:count][real], ups[:count][real], on[real]
    stuck = None
    if open_end and on.size and channel.stop_s - downs[-1] > STUCK_TIMES * float(np.median(on)):
        stuck = float(downs[-1]), channel.stop_s
    peaks = _peaks_at(pulses, ends)
    burn_s, burn_v = _burn(channel, train.high, ends, peaks, part(progress, 0.8, 1.0))
    return VoltageReading(pulses, starts, on, peaks, _missing(starts), burn_s, burn_v, stuck)


def _peaks_at(pulses: PwmReading, ends: Row) -> Row:
    """Peaks of those high stretches that begin where the coil was switched off."""
    if not pulses.peaks.size or not ends.size:
        return np.empty(0)
    which = np.searchsorted(pulses.peak_times_s, ends - 1e-9).clip(0, pulses.peaks.size - 1)
    peaks = pulses.peaks[which[np.abs(pulses.peak_times_s[which] - ends) < 1e-6]]
    train = pulses.train
    enough = peaks.size and float(np.percentile(peaks, 90.0)) - train.high > 0.25 * train.amplitude
    return peaks if enough else np.empty(0)


def _missing(starts: Row) -> tuple[tuple[float, float], ...]:
    if starts.size < 3:
        return ()
    period = np.diff(starts)
    long = np.flatnonzero(period > LONG * usual_of(period))[:500]
    return tuple((float(starts[place]), float(starts[place + 1])) for place in long.tolist())


def _burn(
    channel: Channel, supply: float, ends: Row, peaks: Row, progress: Progress
) -> tuple[float | None, float | None]:
    """Length and level of the spark's line: the wire stays clearly above the supply behind the spike."""
    if not peaks.size:
        return None, None
    floor, roof = BURN_LEAST * supply, BURN_MOST * float(np.percentile(peaks, 90.0))
    if roof <= 1.2 * floor:
        return None, None
    chosen = ends[np.linspace(0, ends.size - 1, min(ends.size, MOST_PULSES)).astype(np.int64)]
    assert channel.step_s is not None
    step_s = max(channel.step_s, LOOKED_S / 2000)
    grid = np.arange(0.0, LOOKED_S, step_s)
    lengths, levels = [], []
    width = max(1, round(SMOOTHED_S / step_s))
    for place, at_s in enumerate(chosen.tolist()):
        progress(place / chosen.size)
        values = values_at(channel, at_s + grid).astype(np.float64)
        spike = np.flatnonzero(values > roof)
        begin = int(spike[-1]) + 1 if spike.size else 0
        # Ringing crosses the supply again and again; a spark keeps the wire above it. Backwards means: no spike's foot.
        smooth = np.convolve(values[begin:], np.ones(width) / width, mode="valid")
        low = np.flatnonzero(smooth < 0.5 * (floor + supply))
        long_s = float((low[0] if low.size else smooth.size) * step_s + 0.5 * width * step_s)
        if low.size and long_s >= SHORTEST_S:
            lengths.append(long_s)
            levels.append(float(np.median(values[begin : begin + int(low[0])])))
    if len(lengths) <= 0.5 * chosen.size:
        return None, None
    return float(np.median(lengths)), float(np.median(levels))
