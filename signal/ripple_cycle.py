"""The ripple of a battery under charge, cycle by cycle: its frequency over time, its mean cycle, what rectifier makes that."""

from dataclasses import dataclass, field
from functools import cache

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.rectifier_cycles import FAULTS, POINTS, RectifierFault, cycle_models
from loomlight.signal.resample import averaged

Row = npt.NDArray[np.float64]

LOWEST_HZ = 70.0
"""An alternator's electrical frequency lies above it at any engine speed that charges."""
HIGHEST_HZ = 12_000.0
STRETCH_S = 0.12
MOST_STRETCHES = 8
MOST_POINTS = 32_768
STANDS_OUT = 25.0
"""Times the median power of a spectrum: the greatest of some thousand lines of noise reaches ten."""
SWAYS = 0.025
"""Share of its frequency by which the firing of an engine moves a line either way."""
NARROW = 0.25
"""Half width of the band whose phase is followed, as a share of its middle."""
FEWEST_A_LINE = 3.2
"""Samples a period of the strongest line: below that nothing of its shape is left."""
ORDERS: dict[RectifierFault, tuple[int, ...]] = {
    "": (6, 12),
    "open diode": (1,),
    "shorted diode": (1,),
    "lost phase": (2,),
}
"""How many times the strongest line may lie in one electrical period."""
SLOWEST_HZ = 45.0
"""Loads that come and go, and what the regulator does about them, are slower."""
LEAST_SIXTH = 4e-3
SIXTH_STANDS_OUT = 5.0
"""Six humps that differ, against five and seven that cannot: what is left there is noise."""
WINDOW_S = 0.025
MOST_WINDOWS = 400


@dataclass(frozen=True)
class CycleMatch:
    """How well a rectifier's expected cycle fits the mean cycle.

    Attributes
    ----------
    fault : str
        What is wrong with the rectifier; empty: nothing.
    order : int
        The strongest line is this multiple of the electrical frequency.
    likeness : float
        Correlation of the two cycles, at most 1.
    """

    fault: RectifierFault
    order: int
    likeness: float


@dataclass(frozen=True, eq=False)
class RippleCycle:
    """The ripple as cycles.

    Attributes
    ----------
    hz : float
        Frequency of the strongest line, median.
    peak_to_peak_v : float
        Of the mean cycle: noise and what is not tied to it are averaged out.
    matches : tuple of CycleMatch
        Best order for each fault, the most alike first.
    cycle : ndarray
        Mean cycle over 12 periods of the strongest line, at `POINTS` points each period of the matched order.
    is_sixth : bool
        The strongest line is the sixth multiple of the electrical frequency for certain: six humps, not quite equal.
    times_s, each_hz : ndarray
        Frequency of the strongest line over time.
    """

    hz: float
    peak_to_peak_v: float
    matches: tuple[CycleMatch, ...]
    is_sixth: bool
    cycle: Row = field(repr=False)
    times_s: Row = field(repr=False)
    each_hz: Row = field(repr=False)


def ripple_cycle(
    channel: Channel, *, expected_hz: float | None = None, progress: Progress = unwatched
) -> RippleCycle | None:
    """Find the ripple's cycle in stretches spread over the capture.

    The strongest line's phase is followed (its band alone, as an analytic signal), so that a speed that sways does not smear
    the cycle; samples are sorted by that phase and averaged over one, two, six and twelve of its periods: the line may be any of
    these multiples of the electrical frequency. Each mean is laid over the expected cycles at every shift.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    expected_hz : float or None
        Electrical frequency as engine speed, pulleys and poles tell it, within a factor of 1.7; rules out what lies beyond.
    progress : Progress
        0 to 1.

    Returns
    -------
    RippleCycle or None
        None where no line stands out: no alternator's ripple there, or the sample rate does not show it.
    """
    assert channel.step_s is not None
    if channel.step_s > 0.5 / (3.0 * LOWEST_HZ):
        return None
    length = min(channel.intervals, round(STRETCH_S / channel.step_s))
    many = int(np.clip(channel.intervals / max(length, 1), 1, MOST_STRETCHES))
    found: list[_Stretch] = []
    for place, first in enumerate(np.linspace(0, channel.intervals - length, many).astype(np.int64).tolist()):
        progress(0.7 * place / many)
        row, step_s = _row(channel, first, length)
        one = _one_stretch(row, step_s)
        if one is not None:
            found.append(one)
    if len(found) < 0.5 * many:
        return None
    hz = float(np.median([one.hz for one in found]))
    alike = [one for one in found if 0.7 * hz < one.hz < 1.4 * hz] or found[:1]
    matches = _matches([one.likeness for one in alike], hz, expected_hz)
    best = max(alike, key=lambda one: one.height)
    times_s, each_hz = _over_time(channel, hz, progress)
    height = float(np.median([one.height for one in alike]))
    sixth, others = (float(np.median([one.repeats[at] for one in alike])) for at in (0, 1))
    is_sixth = sixth > LEAST_SIXTH and sixth > SIXTH_STANDS_OUT * others
    return RippleCycle(hz, height, matches, is_sixth, best.cycle, times_s, each_hz)


@dataclass(frozen=True, eq=False)
class _Stretch:
    hz: float
    height: float
    likeness: dict[tuple[RectifierFault, int], float]
    repeats: tuple[float, float]
    cycle: Row


def _row(channel: Channel, first: int, length: int) -> tuple[Row, float]:
    """A stretch in at most `MOST_POINTS` points."""
    assert channel.step_s is not None
    count = min(length, MOST_POINTS)
    step_s = channel.step_s * length / count
    start_s = channel.start_s + (first - 0.5) * channel.step_s + 0.5 * step_s
    return averaged(channel, step_s=step_s, start_s=start_s, count=count), step_s


def _one_stretch(row: Row, step_s: float) -> _Stretch | None:
    """Frequency, height, likeness of each fault and order, and the mean cycle of one stretch; None where no line stands out."""
    from scipy import fft

    known = np.isfinite(row)
    if row.size < 256 or known.mean() < 0.9:
        return None
    at = np.arange(row.size) - 0.5 * (row.size - 1)
    row = np.where(known, row - row[known].mean(), 0.0)
    row = row - at * float((at @ row) / (at @ at))
    row = _without_slow(row, step_s)
    spectrum = fft.rfft(row * np.hanning(row.size))
    hz = np.arange(spectrum.size) / (row.size * step_s)
    power = np.abs(spectrum) ** 2
    inside = (hz >= LOWEST_HZ) & (hz <= min(HIGHEST_HZ, 1.0 / (FEWEST_A_LINE * step_s)))
    if inside.sum() < 16:
        return None
    peak = _strongest(power, inside)
    if peak is None:
        return None
    phase = _phase(fft.rfft(row), hz, float(hz[peak]), row.size)
    edge = row.size // 20
    turns = phase[edge:-edge] / (2.0 * np.pi)
    line_hz = abs(float(turns[-1] - turns[0])) / ((turns.size - 1) * step_s)
    cycles = {order: mean_cycle(row[edge:-edge], turns / order, known[edge:-edge]) for order in (1, 2, 5, 6, 7, 12)}
    likeness: dict[tuple[RectifierFault, int], float] = {}
    for fault, orders in ORDERS.items():
        for order in orders:
            likeness[fault, order] = _likeness(cycles[order if fault else 1], fault)
    heights = [float(np.ptp(cycles[order])) for order in (1, 2, 12)]
    unequal = {order: _unequal(cycles[order], order) for order in (5, 6, 7)}
    return _Stretch(line_hz, max(heights), likeness, (unequal[6], max(unequal[5], unequal[7])), cycles[12])


def _unequal(cycle: Row, humps: int) -> float:
    """Share of a cycle's power that does not repeat with each of its humps."""
    power = np.abs(np.fft.rfft(cycle)) ** 2
    power[0] = 0.0
    own = float(power[::humps].sum())
    return float(power[1 : 2 * humps + 1].sum() - power[humps : 2 * humps + 1 : humps].sum()) / max(own, 1e-30)


def _strongest(power: Row, inside: npt.NDArray[np.bool_]) -> int | None:
    """Index of the strongest line; None where none stands out.

    A speed that sways spreads a line over a share of its frequency, so that share's whole power counts.
    """
    # The median of noise's power is ln 2 of its mean.
    floor = float(np.median(power[inside])) / float(np.log(2.0))
    place = np.arange(power.size)
    half = np.maximum(2, np.round(SWAYS * place).astype(np.int64))
    running = np.concatenate([[0.0], np.cumsum(power)])
    low, high = np.maximum(place - half, 0), np.minimum(place + half + 1, power.size)
    width = (high - low).astype(np.float64)
    above = np.where(inside, running[high] - running[low] - floor * (width + 4.0 * np.sqrt(width)), -np.inf)
    best = int(np.argmax(above))
    if above[best] <= STANDS_OUT * floor:
        return None
    # The middle of what lies there, not the edge of a window that just holds it.
    reach = slice(int(low[best]), int(high[best]))
    return max(1, round(float(place[reach] @ power[reach]) / float(power[reach].sum())))


def _without_slow(row: Row, step_s: float) -> Row:
    from scipy import fft

    spectrum = fft.rfft(row)
    hz = np.arange(spectrum.size) / (row.size * step_s)
    quick: Row = fft.irfft(spectrum * np.clip(hz / SLOWEST_HZ - 1.0, 0.0, 1.0), row.size)
    return quick


def _phase(spectrum: npt.NDArray[np.complex128], hz: Row, middle_hz: float, size: int) -> Row:
    from scipy import fft

    band = np.sqrt(np.clip(1.0 - np.abs(hz - middle_hz) / (NARROW * middle_hz), 0.0, None))
    whole = np.zeros(size, dtype=np.complex128)
    whole[: spectrum.size] = spectrum * band
    phase: Row = np.unwrap(np.angle(fft.ifft(whole)))
    return phase


def line_turns(row: Row, step_s: float, line_hz: float) -> Row:
    """Turns of a row's strongest line near a frequency, followed through a speed that sways.

    Parameters
    ----------
    row : ndarray, shape (n,)
        Volts; what is not finite counts as none.
    step_s : float
        Sample spacing, seconds.
    line_hz : float
        About where the line is.

    Returns
    -------
    ndarray, shape (n,)
        Turns of the line at each sample, from any begin.
    """
    from scipy import fft

    known = np.isfinite(row)
    level = _without_slow(np.where(known, row - row[known].mean(), 0.0), step_s)
    spectrum = fft.rfft(level)
    hz = np.arange(spectrum.size) / (row.size * step_s)
    near = (hz > 0.6 * line_hz) & (hz < 1.5 * line_hz)
    power = np.where(near, np.abs(spectrum) ** 2, 0.0)
    middle_hz = float(hz @ power / power.sum()) if power.sum() > 0 else line_hz
    return _phase(spectrum, hz, middle_hz, row.size) / (2.0 * np.pi)


def mean_cycle(row: Row, turns: Row, known: npt.NDArray[np.bool_]) -> Row:
    """Mean of the samples at each of `POINTS` places of the cycle."""
    place = np.floor(np.mod(turns, 1.0) * POINTS).astype(np.int64) % POINTS
    count = np.bincount(place[known], minlength=POINTS)
    total = np.bincount(place[known], weights=row[known], minlength=POINTS)
    mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    if not np.isfinite(mean).all():
        some = np.flatnonzero(np.isfinite(mean))
        mean = np.interp(np.arange(POINTS), some, mean[some], period=POINTS) if some.size else np.zeros(POINTS)
    return mean


@cache
def _expected_spectra(fault: RectifierFault) -> npt.NDArray[np.complex128]:
    """Of all expected cycles of a fault, one a row, conjugate: ready to be correlated."""
    return np.conj(np.fft.rfft(np.array([one.shape for one in cycle_models() if one.fault == fault]), axis=1))


def _likeness(cycle: Row, fault: RectifierFault) -> float:
    """Greatest correlation with any expected cycle of a fault, over all shifts."""
    cycle = cycle - cycle.mean()
    size = float(np.sqrt(cycle @ cycle))
    if size <= 0:
        return 0.0
    shifted = np.fft.irfft(np.fft.rfft(cycle) * _expected_spectra(fault), POINTS, axis=1)
    return float(shifted.max()) / size


def _matches(
    likeness: list[dict[tuple[RectifierFault, int], float]], hz: float, expected_hz: float | None
) -> tuple[CycleMatch, ...]:
    found: list[CycleMatch] = []
    for fault in FAULTS:
        orders = [one for one in ORDERS[fault] if _is_near(hz / one, expected_hz)]
        each = [CycleMatch(fault, one, float(np.median([row[fault, one] for row in likeness]))) for one in orders]
        if each:
            found.append(max(each, key=lambda one: one.likeness))
    return tuple(sorted(found, key=lambda one: -one.likeness))


def _is_near(hz: float, expected_hz: float | None) -> bool:
    return hz >= LOWEST_HZ and (expected_hz is None or expected_hz / 1.75 <= hz <= expected_hz * 1.75)


def _over_time(channel: Channel, hz: float, progress: Progress) -> tuple[Row, Row]:
    """Frequency of the strongest line in short windows, half overlapping where the capture is short enough."""
    from scipy import fft

    assert channel.step_s is not None
    length = max(64, min(channel.intervals, round(max(WINDOW_S, 16.0 / hz) / channel.step_s)))
    many = int(np.clip(2 * channel.intervals / length - 1, 1, MOST_WINDOWS))
    times_s, found = np.empty(many), np.full(many, np.nan)
    for place, first in enumerate(np.linspace(0, channel.intervals - length, many).astype(np.int64).tolist()):
        progress(0.7 + 0.3 * place / many)
        row, step_s = _row(channel, first, length)
        times_s[place] = channel.start_s + (first + 0.5 * length) * channel.step_s
        if not np.isfinite(row).all():
            continue
        size = fft.next_fast_len(4 * row.size, real=True)
        at = np.arange(row.size) - 0.5 * (row.size - 1)
        row = row - row.mean()
        row = row - at * float((at @ row) / (at @ at))
        power = np.abs(fft.rfft(row * np.hanning(row.size), size)) ** 2
        each_hz = np.arange(power.size) / (size * step_s)
        inside = (each_hz > 0.45 * hz) & (each_hz < 1.6 * hz)
        if not inside.any():
            continue
        peak = int(np.argmax(np.where(inside, power, 0.0)))
        # An engine that is revved takes the line out of the band: what is left inside is none, or a multiple.
        beyond = power[
            ((each_hz >= 1.6 * hz) & (each_hz < 3.2 * hz)) | ((each_hz > 0.15 * hz) & (each_hz <= 0.45 * hz))
        ]
        if power[peak] > max(6.0 * float(np.median(power[inside])), float(beyond.max(initial=0.0))):
            found[place] = each_hz[peak]
    return times_s, found
