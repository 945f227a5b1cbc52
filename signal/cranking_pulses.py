"""The pulses that compressions make in starter current or battery voltage: speed, and cylinder against cylinder."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Row = npt.NDArray[np.float64]

SLOWEST_HZ, FASTEST_HZ = 1.0, 45.0
"""One cylinder at 120 rpm; eight at 600 rpm and some room."""
FEWEST = 4
FEWEST_CYCLES = 3
SMOOTHED = 0.22
"""Of a period: what is averaged before a peak is looked for."""
LONG = 1.55
"""Times the usual interval: a pulse was too small to be seen as one, and is put in between."""
BETWEEN = 0.1
"""Of the swing: a peak between two pulses that is one itself, and no shoulder of theirs."""
REGULAR = 0.35
"""Intervals may differ by this share from their median before nothing can be made of them."""
STANDS_OUT = 25.0
"""Times the median power of the band: noise alone reaches ten."""
LEAST_OVER_NOISE = 4.0
ROWS = 2, 3, 4, 5, 6, 8
"""Cylinders of usual engines, and what they have in common."""
EXPLAINED = 0.7
"""A row half as long as the true one explains less than a half (arithmetic)."""


@dataclass(frozen=True, eq=False)
class Pulses:
    """Compression pulses, in order.

    Attributes
    ----------
    at_s : ndarray, shape (n,)
        Peak of each, seconds on the channel's axis; one that could not be seen stands where it should be.
    heights : ndarray, shape (n,)
        From the valleys on either side to the peak, in the row's unit.
    hz : float
        Pulses a second, median.
    """

    at_s: Row
    heights: Row
    hz: float

    def rpm(self, cylinders: int) -> Row:
        """Engine speed between neighbouring pulses; four strokes."""
        found: Row = 120.0 / (cylinders * np.diff(self.at_s))
        return found


@dataclass(frozen=True)
class Cylinder:
    """One cylinder's compression against the others'.

    Attributes
    ----------
    number : int or None
        Which after the sync mark, from 1; None without a mark.
    share, low, high : float
        Its pulse over the median of the stronger half of the other cylinders' pulses, with two standard errors either way.
    at_s : tuple of float
        Its pulses, seconds on the channel's axis.
    """

    number: int | None
    share: float
    low: float
    high: float
    at_s: tuple[float, ...] = field(repr=False)

    @property
    def pulses(self) -> int:
        """How many pulses it comes from."""
        return len(self.at_s)


def find_pulses(times_s: Row, row: Row, noise: float) -> Pulses | None:
    """Find the pulses of a row that rises with each compression.

    Parameters
    ----------
    times_s, row : ndarray, shape (n,)
        Even; starter current, or battery voltage upside down, while the engine is turned.
    noise : float
        Standard deviation of the row's own scatter.

    Returns
    -------
    Pulses or None
        None where there are none: the engine does not turn, or too short a stretch.
    """
    from scipy import signal

    step_s = float(times_s[1] - times_s[0]) if times_s.size > 1 else 0.0
    if times_s.size < 64 or not np.isfinite(row).all():
        return None
    period_s = _period(row, step_s)
    if period_s is None or (times_s[-1] - times_s[0]) < FEWEST * period_s:
        return None
    if _has_pulses_between(row, step_s, period_s):
        period_s *= 0.5
    width = max(1, round(SMOOTHED * period_s / step_s))
    smooth = _smoothed(row, width)
    swing = float(np.median(_ranges(smooth, max(4, round(1.5 * period_s / step_s)))))
    if swing < LEAST_OVER_NOISE * noise / np.sqrt(max(width, 1)):
        return None
    apart = max(1, round(0.55 * period_s / step_s))
    peaks, _ = signal.find_peaks(smooth, distance=apart, prominence=0.15 * swing)
    if peaks.size < FEWEST:
        return None
    places = _completed(peaks.astype(np.float64))
    intervals = np.diff(places)
    usual = float(np.median(intervals))
    if float(np.median(np.abs(intervals / usual - 1.0))) > REGULAR:
        return None
    heights = _heights(smooth, places, usual)
    return Pulses(times_s[0] + places * step_s, heights, 1.0 / (usual * step_s))


def _period(row: Row, step_s: float) -> float | None:
    """Period at which the row repeats, by its own likeness one pulse on."""
    from scipy import fft

    at = np.arange(row.size) - 0.5 * (row.size - 1)
    level = row - row.mean()
    level = level - at * float((at @ level) / (at @ at))
    spectrum = fft.rfft(level * np.hanning(row.size), fft.next_fast_len(4 * row.size, real=True))
    hz = np.arange(spectrum.size) / (fft.next_fast_len(4 * row.size, real=True) * step_s)
    power = np.where((hz >= SLOWEST_HZ) & (hz <= FASTEST_HZ), np.abs(spectrum) ** 2, 0.0)
    peak = int(np.argmax(power))
    inside = power[power > 0]
    if not inside.size or power[peak] < STANDS_OUT * float(np.median(inside)):
        return None
    # A weak cylinder repeats once a cycle and puts power below; its harmonics do not reach the pulses' own line.
    return 1.0 / float(hz[peak])


def _smoothed(row: Row, width: int) -> Row:
    """Twice a running mean is a triangle: it leaves no teeth on a pulse."""
    from scipy import ndimage

    half = max(1, width // 2)
    found: Row = ndimage.uniform_filter1d(ndimage.uniform_filter1d(row, half), half)
    return found


def _has_pulses_between(row: Row, step_s: float, period_s: float) -> bool:
    """Whether every second pulse is a weak one: a lower peak stands in the middle between almost all the others."""
    from scipy import signal

    half = 0.5 * period_s
    if 1.0 / half > FASTEST_HZ or half < 8 * step_s:
        return False
    smooth = _smoothed(row, max(1, round(SMOOTHED * half / step_s)))
    swing = float(np.median(_ranges(smooth, max(4, round(1.5 * period_s / step_s)))))
    apart = max(1, round(0.55 * half / step_s))
    peaks, seen = signal.find_peaks(smooth, distance=apart, prominence=BETWEEN * swing)
    high = peaks[seen["prominences"] > 0.5 * float(np.percentile(seen["prominences"], 90))] if peaks.size else peaks
    if peaks.size < 2 * FEWEST or high.size < FEWEST or high.size > 0.7 * peaks.size:
        return False
    share = (peaks[None, :] - high[:-1, None]) / np.diff(high)[:, None]
    there = (np.abs(share - 0.5) < 0.14).any(axis=1)
    return float(there.mean()) > 0.8


def _ranges(row: Row, length: int) -> Row:
    count = max(1, row.size // length)
    parts = row[: count * length].reshape(count, -1) if row.size >= length else row[None, :]
    ranges: Row = np.ptp(parts, axis=1)
    return ranges


def _completed(peaks: Row) -> Row:
    """Peaks with those put in that were too small to be one."""
    usual = float(np.median(np.diff(peaks)))
    found = [float(peaks[0])]
    for one in peaks[1:].tolist():
        gap = one - found[-1]
        missing = round(gap / usual) - 1 if gap > LONG * usual else 0
        found += [found[-1] + gap * (n + 1) / (missing + 1) for n in range(missing)]
        found.append(one)
    return np.array(found)


def _heights(smooth: Row, places: Row, usual: float) -> Row:
    """Peak over the mean of the valleys on either side."""
    half = max(1, round(0.5 * usual))
    found = np.empty(places.size)
    for n, place in enumerate(np.round(places).astype(int).tolist()):
        before = smooth[max(0, place - half) : place + 1]
        after = smooth[place : place + half + 1]
        near = max(1, half // 4)
        peak = float(smooth[max(0, place - near) : place + near + 1].max())
        found[n] = peak - 0.5 * float(before.min() + after.min())
    return found


def cylinders_of(pulses: Pulses, count: int, marks_s: Row) -> tuple[Cylinder, ...]:
    """Each cylinder's pulse against those of the others.

    Parameters
    ----------
    pulses : Pulses
        In order.
    count : int
        Cylinders; each gives one pulse in two turns.
    marks_s : ndarray
        Sync marks, one each turn of the cam; empty without them.

    Returns
    -------
    tuple of Cylinder
        In the order of firing, from the sync mark on; empty where there are fewer than three cycles. The pulses at either end
        are left out: one of their valleys is missing.
    """
    if count < 2 or pulses.at_s.size < count * FEWEST_CYCLES + 2:
        return ()
    place = np.arange(pulses.at_s.size)
    first = _first_after(pulses, count, marks_s)
    inner = slice(1, pulses.at_s.size - 1)
    slot = np.mod(place - (first if first is not None else 0), count)[inner]
    heights = pulses.heights[inner]
    # The engine speeds up while it is cranked, and its pulses grow or shrink: each is held against its own cycle.
    shares = heights / _around(heights, count)
    middles = np.array([np.median(shares[slot == one]) for one in range(count)])
    found: list[Cylinder] = []
    for one in range(count):
        own = shares[slot == one]
        at_s = tuple(pulses.at_s[inner][slot == one].tolist())
        others = _sound(np.delete(middles, one))
        spread = 1.4826 * float(np.median(np.abs(own - np.median(own)))) + 0.01
        room = 2.0 * 1.253 * spread / np.sqrt(own.size) / others
        share = float(middles[one]) / others
        found.append(
            Cylinder(one + 1 if first is not None else None, share, max(share - room, 0.0), share + room, at_s)
        )
    return tuple(found)


def _sound(others: Row) -> float:
    """What a sound one of them gives: median of their upper half, so that a second weak one does not lower it."""
    return float(np.median(others[others >= np.median(others)]))


def _around(heights: Row, count: int) -> Row:
    """Upper quarter's bound over the cycle around each pulse: several weak ones do not lower it."""
    padded = np.pad(heights, count // 2, mode="reflect" if heights.size > count // 2 else "edge")
    rows = np.lib.stride_tricks.sliding_window_view(padded, 2 * (count // 2) + 1)
    around: Row = np.quantile(rows, 0.75, axis=1)[: heights.size]
    return np.maximum(around, 1e-12)


def recurring_weak(pulses: Pulses, weak: float) -> tuple[Cylinder, ...]:
    """Compressions that are weak again and again, where nobody said how many cylinders there are.

    Parameters
    ----------
    pulses : Pulses
        In order.
    weak : float
        Share of the others below which one is weak.

    Returns
    -------
    tuple of Cylinder
        One for each place in the shortest row that comes again and again and explains most of what the pulses differ by; empty
        where there is none with a weak one. An engine has as many cylinders as the row is long, or a multiple.
    """
    for count in ROWS:
        each = cylinders_of(pulses, count, np.empty(0))
        if any(one.high < weak for one in each) and _explained(pulses, count) > EXPLAINED:
            return each
    return ()


def _explained(pulses: Pulses, count: int) -> float:
    """Share of the heights' variance, each against its neighbours', that the place in a row of ``count`` explains."""
    heights = pulses.heights[1:-1]
    shares = heights / _around(heights, count)
    slot = np.mod(np.arange(shares.size), count)
    middles = np.array([shares[slot == one].mean() for one in range(count)])
    return 1.0 - float(np.var(shares - middles[slot]) / max(float(np.var(shares)), 1e-24))


def _first_after(pulses: Pulses, count: int, marks_s: Row) -> int | None:
    """Which pulse is number 1, modulo the count: what most marks say; None where they do not agree."""
    inside = marks_s[(marks_s >= pulses.at_s[0]) & (marks_s < pulses.at_s[-1])]
    if inside.size < 2:
        return None
    slots = np.mod(np.searchsorted(pulses.at_s, inside), count)
    votes = np.bincount(slots, minlength=count)
    best = int(np.argmax(votes))
    return best if votes[best] > 0.6 * inside.size else None


def counted_cylinders(pulses: Pulses, marks_s: Row) -> int | None:
    """Pulses from one sync mark to the next: as many as there are cylinders."""
    inside = marks_s[(marks_s >= pulses.at_s[0]) & (marks_s < pulses.at_s[-1])]
    if inside.size < 3:
        return None
    counts = np.diff(np.searchsorted(pulses.at_s, inside))
    usual = int(np.median(counts))
    return usual if usual >= 1 and float(np.mean(counts == usual)) > 0.6 else None
