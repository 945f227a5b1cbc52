"""The delay between two channels to a fraction of a sample, and how it drifts: the slope of the cross-spectrum's phase.

Both channels are cut into short stretches laid on each other by what is known so far. Each channel's own samples are used,
whatever the two steps: the stretches are equally long in time, so equal bins are equal frequencies, and what a stretch
begins off its place, by less than a sample, is turned back in the phase. Nothing is interpolated, which would cost
accuracy near half the sample rate.
"""

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.correlate import Row
from loomlight.signal.progress import Progress
from loomlight.signal.resample import instants
from loomlight.signal.samples import Wave

Spectra = npt.NDArray[np.complex64]
Spectrum = TypeVar("Spectrum", Row, npt.NDArray[np.complex128])

GROUPS = 16
"""Parts of the overlap whose delays are looked at one by one: a clock that runs off shows as a line through them."""
LEAST_A_GROUP = 4
"""Stretches; of fewer nothing is known of the coherence."""
LEAST_POINTS, MOST_POINTS = 64, 4096
"""Length of a stretch, in samples of the coarser channel."""
STRETCHES_WANTED = 16
MOST_SAMPLES = 2_000_000
"""Of each channel; longer overlaps are looked at in as many samples, evenly spread."""
FULL_OVERLAP = 400_000
"""Up to here stretches overlap by half, so that no sample counts for less."""
FINER = 6.0
"""A channel more than this much finer than the other is averaged down first."""
MOST_MISMATCH = 0.02
"""By how much of a bin the two stretches' highest frequencies may be apart."""
SPILLED = 1e-6
"""Of the strongest bin's power: the window's own doing."""
LEAST_COHERENT = 40.0
"""Stretches times bins that have to agree; by chance a few always do."""
LEAST_TRUST, LEAST_GROUPS = 0.25, 6
"""A group counts from this height of its peak on, of 1 where all its bins agree."""
LEAST_GROWTH, SURE_GROWTH, MOST_SCATTER, LEAST_AGREEING = 0.1, 6.0, 0.1, 0.7
"""A drift is told from a tenth of a sample on, six deviations, and seven groups in ten within a tenth of it."""
SMOOTHED = 100
"""The spectrum's coherence is averaged over this share of its bins."""
LOWEST_BIN = 2
"""Bins below hold the level, and what the window makes of it."""


@dataclass(frozen=True)
class Delay:
    """How far a line-up is off.

    Attributes
    ----------
    late_s : float
        To be added to ``lag_s``, seconds, at the middle of the overlap.
    deviation_s : float
        Its standard deviation by the coherence that was found (Knapp and Carter 1976), seconds.
    drift : float
        Seconds that the delay grows by a second; 0 where the parts do not say so together.
    step_s : float
        The coarser step, seconds.
    """

    late_s: float
    deviation_s: float
    drift: float
    step_s: float


@dataclass(frozen=True)
class _Side:
    """One channel's samples, averaged down by a whole number where they are much finer than the other's."""

    channel: Channel
    average: int

    @property
    def first_s(self) -> float:
        assert self.channel.step_s is not None
        return self.channel.start_s + 0.5 * (self.average - 1) * self.channel.step_s

    @property
    def step_s(self) -> float:
        assert self.channel.step_s is not None
        return self.channel.step_s * self.average

    @property
    def size(self) -> int:
        return self.channel.intervals // self.average

    def row(self, start: int, stop: int) -> Wave:
        values = instants(self.channel, start * self.average, stop * self.average)
        if not np.isfinite(values.sum()):
            known = np.isfinite(values)
            values = np.where(known, values, values[known].mean() if known.any() else np.float32(0))
        if self.average == 1:
            return values
        averaged: Wave = values.reshape(-1, self.average).mean(axis=1)
        return averaged


@dataclass(frozen=True, eq=False)
class _Plan:
    """Where the stretches stand: starts in both, and how far from the known-good's start the suspect's first sample lies."""

    one: _Side
    other: _Side
    lengths: tuple[int, int]
    starts: npt.NDArray[np.int64]
    there: npt.NDArray[np.int64]
    off: Row
    middles_s: Row


def delay_between(suspect: Channel, good: Channel, *, lag_s: float, polarity: int, progress: Progress) -> Delay | None:
    """How far a line-up that is right to about a sample is off.

    Parameters
    ----------
    suspect, good : Channel
        Form ``even`` or ``pairs``.
    lag_s : float
        ``t_good = lag_s + t_suspect``.
    polarity : {1, -1}
        -1 where one of them is upside down.
    progress : Progress
        0 to 1.

    Returns
    -------
    Delay or None
        None where the overlap is too short, or nothing in the two is coherent.

    Notes
    -----
    The delay that makes Σ W cos(φ - ωd) largest, φ being the phase of the cross-spectrum averaged over the stretches and
    W = γ²/(1 - γ²): the maximum likelihood estimate (Knapp and Carter, "The generalized correlation method for estimation
    of time delay", IEEE Trans. ASSP 24, 1976).
    """
    plan = _plan(suspect, good, lag_s)
    if plan is None:
        return None
    own, others, both, number = _spectra(plan, polarity, progress)
    coarser = max(range(2), key=lambda side: -plan.lengths[side])
    step_s = plan.one.step_s if coarser == 0 else plan.other.step_s
    turns = 2.0 * np.pi * np.arange(both.shape[1]) / plan.lengths[coarser]
    drift, weights, late = _running_off(own, others, both, number, turns, plan)
    if drift == 0.0:
        coherence = _coherence(own.sum(axis=0), others.sum(axis=0), both.sum(axis=0), float(number.sum()))
        if float(coherence.sum() * number.sum()) < LEAST_COHERENT:
            return None
        weights = _capped(coherence)
        late = _steepest(both.sum(axis=0), weights, turns)
    information = 2.0 * float(number.sum()) * float((weights * turns**2).sum())
    return Delay(
        late_s=late * step_s,
        deviation_s=step_s / math.sqrt(information),
        drift=drift * step_s,
        step_s=step_s,
    )


def _plan(suspect: Channel, good: Channel, lag_s: float) -> _Plan | None:
    assert suspect.step_s is not None
    assert good.step_s is not None
    ratio = good.step_s / suspect.step_s
    one = _Side(suspect, max(1, math.floor(ratio / FINER * 2)) if ratio > FINER else 1)
    other = _Side(good, max(1, math.floor(2 / (ratio * FINER))) if ratio < 1 / FINER else 1)
    # Places in the known-good of the suspect's samples: at + slope · index.
    slope = one.step_s / other.step_s
    at = (lag_s + one.first_s - other.first_s) / other.step_s
    first = max(0, math.ceil(-at / slope))
    last = min(one.size, math.floor((other.size - 1 - at) / slope) + 1)
    shared = (last - first) * min(1.0, slope)
    points = 1 << max(0, math.floor(math.log2(max(shared / (STRETCHES_WANTED), 1))))
    points = min(points, MOST_POINTS)
    if points < LEAST_POINTS:
        return None
    lengths = _lengths(points, slope)
    count = last - first - lengths[0] - 2
    hop = lengths[0] // 2 if last - first <= FULL_OVERLAP else lengths[0]
    many = count // hop + 1
    if count <= 0 or many < 4:
        return None
    most = max(4, int(MOST_SAMPLES / max(lengths)))
    starts = first + 1 + np.round(np.linspace(0, (many - 1) * hop, min(many, most))).astype(np.int64)
    starts += (count - (many - 1) * hop) // 2
    # Laid centre on centre: the two are not quite equally long.
    wanted = at + slope * (starts + 0.5 * (lengths[0] - 1)) - 0.5 * (lengths[1] - 1)
    there = np.round(wanted).astype(np.int64)
    inside = (there >= 0) & (there + lengths[1] <= other.size)
    starts, there = starts[inside], there[inside]
    if starts.size < 4:
        return None
    middles_s: Row = one.first_s + (starts.astype(np.float64) + 0.5 * (lengths[0] - 1)) * one.step_s
    off: Row = at + slope * starts.astype(np.float64) - there
    return _Plan(one, other, lengths, starts, there, off, middles_s)


def _lengths(points: int, slope: float) -> tuple[int, int]:
    """Samples of each that are equally long in time: quick to transform, and their bins no more than a trifle apart."""
    from scipy import fft

    if abs(slope - 1.0) * points < MOST_MISMATCH:
        return points, points
    finer = max(slope, 1.0 / slope)
    coarse = np.arange(points, points + points // 4)
    fine = np.round(coarse * finer).astype(np.int64)
    mismatch = 0.5 * coarse * np.abs(coarse * finer - fine) / fine
    good_enough = coarse[mismatch < MOST_MISMATCH] if (mismatch < MOST_MISMATCH).any() else coarse[[mismatch.argmin()]]

    def slowness(size: int) -> float:
        many = round(size * finer)
        return (fft.next_fast_len(size, real=True) - size) / size + (fft.next_fast_len(many, real=True) - many) / many

    best = min(good_enough.tolist(), key=slowness)
    return (best, round(best * finer)) if slope >= 1.0 else (round(best * finer), best)


def _spectra(plan: _Plan, polarity: int, progress: Progress) -> tuple[Row, Row, npt.NDArray[np.complex128], Row]:
    """Power of each, their cross-spectrum, and the number of stretches, by groups in order of time."""
    bins = min(plan.lengths) // 2  # half the sample rate itself is left out: its phase says nothing
    windows = [_window(length) for length in plan.lengths]
    groups = max(1, min(GROUPS, plan.starts.size // LEAST_A_GROUP))
    own, others = np.zeros((groups, bins)), np.zeros((groups, bins))
    both = np.zeros((groups, bins), dtype=np.complex128)
    ends = np.linspace(0, plan.starts.size, groups + 1).astype(int)
    steady = float(np.ptp(plan.off)) < 1e-4
    for group, (begin, end) in enumerate(zip(ends[:-1], ends[1:], strict=True)):
        batch = max(1, 262_144 // max(plan.lengths))
        for first in range(begin, end, batch):
            progress((group + (first - begin) / (end - begin)) / groups)
            chosen = slice(first, min(first + batch, end))
            here = _transformed(plan.one, plan.starts[chosen], windows[0], bins)
            there = _transformed(plan.other, plan.there[chosen], windows[1], bins)
            if not steady:
                there *= _turned_back(plan.off[chosen], plan.lengths[1], bins)
            own[group] += _power(here)
            others[group] += _power(there)
            both[group] += (here * np.conj(there)).sum(axis=0)
    if steady:
        both *= np.conj(_turned_back(plan.off[:1], plan.lengths[1], bins))
    for row in (own, others, both):
        row[:, :LOWEST_BIN] = 0
    number = np.diff(ends) * (0.5 if np.diff(plan.starts)[0] < plan.lengths[0] else 0.85)
    return own, others, both * polarity, number


def _window(length: int) -> Wave:
    """Flat in the middle half, raised cosines to either side (Tukey 1967)."""
    at = np.minimum(np.arange(length), np.arange(length)[::-1]) / (0.25 * (length - 1))
    taper: Wave = (0.5 - 0.5 * np.cos(np.pi * np.minimum(at, 1.0))).astype(np.float32)
    return taper


def _transformed(side: _Side, starts: npt.NDArray[np.int64], window: Wave, bins: int) -> Spectra:
    from scipy import fft

    if (np.diff(starts) == window.size).all():
        rows = side.row(int(starts[0]), int(starts[-1]) + window.size).reshape(-1, window.size)
    else:
        rows = np.stack([side.row(start, start + window.size) for start in starts.tolist()])
    rows = rows - (np.einsum("ij->i", rows) / window.size)[:, np.newaxis]
    rows *= window
    spectra: Spectra = np.ascontiguousarray(fft.rfft(rows)[:, :bins])
    return spectra


def _turned_back(off: Row, length: int, bins: int) -> Spectra:
    turned: Spectra = np.exp(2j * np.pi * np.outer(off, np.arange(bins)) / length).astype(np.complex64)
    return turned


def _power(spectra: Spectra) -> Row:
    squares = np.square(spectra.view(np.float32)).sum(axis=0)
    power: Row = squares[0::2].astype(np.float64) + squares[1::2]
    return power


def _unbiased(coherence: Row, number: float, *, beyond: float = 4.0) -> Row:
    """Magnitude squared coherence of ``number`` stretches without its bias; 0 up to ``beyond`` times the bias above it."""
    floor = 1.0 / max(number, 1.5)
    unbiased: Row = np.where(coherence > (1.0 + beyond) * floor, (coherence - floor) / (1.0 - floor), 0.0)
    return np.clip(unbiased, 0.0, 1.0)


def _smoothed(spectrum: Spectrum, width: int) -> Spectrum:
    """Running mean over an odd number of bins."""
    return np.convolve(spectrum, np.full(width | 1, 1.0 / (width | 1)), mode="same")


def _capped(coherence: Row) -> Row:
    # Beyond this a bin's phase is limited by rounding and by the window, no longer by noise.
    coherence = np.minimum(coherence, 1.0 - 1e-5)
    weights: Row = coherence / (1.0 - coherence)
    return weights


def _coherence(own: Row, others: Row, both: npt.NDArray[np.complex128], number: float) -> Row:
    width = 1 + own.size // SMOOTHED | 1
    powers = _smoothed(own, width) * _smoothed(others, width)
    smoothed = np.abs(_smoothed(both, width)) ** 2 / np.maximum(powers, 1e-300)
    # Beside the edge of a band the mean is too high: its bins by themselves tell.
    alone = np.abs(both) ** 2 / np.maximum(own * others, 1e-300)
    # Far below the strongest bins there is only what the window spills over, and that lies still.
    own_there = (own > SPILLED * own.max()) & (others > SPILLED * others.max())
    return _unbiased(np.where(own_there, np.minimum(smoothed, 2.0 * alone), 0.0), number * width)


def _running_off(
    own: Row, others: Row, both: npt.NDArray[np.complex128], number: Row, turns: Row, plan: _Plan
) -> tuple[float, Row, float]:
    """Drift in samples a second, the weights by which it was found, and the delay at the middle; drift 0 for none."""
    # As if each group had a delay of its own: right also where a clock runs off.
    together = (np.abs(both) ** 2 / np.maximum(own * others, 1e-300)).mean(axis=0)
    many = max(float(number.mean()), 1.5)
    # By chance the coherence of n stretches is Beta(1, n - 1) distributed (Goodman 1957): three deviations of the mean.
    beyond = 3.0 * math.sqrt((many - 1.0) / ((many + 1.0) * own.shape[0]))
    weights = _capped(_unbiased(together, many, beyond=beyond))
    if own.shape[0] < LEAST_GROUPS or not weights.any():
        return 0.0, weights, 0.0
    delays, middles, trust = _of_groups(both, weights, turns, plan)
    deviation = 1.0 / math.sqrt(2.0 * float(number.mean()) * float((weights * turns**2).sum()))
    drift = _drift(delays, middles, trust, deviation)
    return drift, weights, float(np.median(delays - drift * (middles - plan.middles_s.mean())))


def _of_groups(both: npt.NDArray[np.complex128], weights: Row, turns: Row, plan: _Plan) -> tuple[Row, Row, Row]:
    """Delay of each group in samples of the coarser channel, the groups' middles in seconds, and the trust in each."""
    ends = np.linspace(0, plan.starts.size, both.shape[0] + 1).astype(int)
    middles = np.array([plan.middles_s[a:b].mean() for a, b in zip(ends[:-1], ends[1:], strict=True)])
    length = min(plan.lengths)
    delays, trust = np.zeros(both.shape[0]), np.zeros(both.shape[0])
    for group, row in enumerate(both):
        phases = np.where(np.abs(row) > 0, row / np.maximum(np.abs(row), 1e-300), 0.0) * weights
        peaks = np.fft.irfft(np.append(phases, 0.0), length)
        reach = length // 4
        near = np.concatenate([peaks[-reach:], peaks[: reach + 1]])
        top = int(np.argmax(near))
        delays[group] = -(top - reach)
        trust[group] = max(float(near[top]) * length / max(2.0 * float(weights.sum()), 1e-300), 0.0)
        shifted = row * np.exp(-1j * turns * delays[group])
        delays[group] += _steepest(shifted, weights, turns)
    return delays, middles, trust


def _drift(delays: Row, middles: Row, trust: Row, deviation: float) -> float:
    """Slope of the straight line through the groups' delays, in samples a second; 0 where they do not say so together."""
    chosen = trust > LEAST_TRUST
    if chosen.sum() < LEAST_GROUPS:
        return 0.0
    delays, middles = delays[chosen], middles[chosen]
    first, second = np.triu_indices(delays.size, 1)
    # Theil 1950, Sen 1968: the median of all slopes bears a quarter of the groups being wrong.
    slope = float(np.median((delays[second] - delays[first]) / (middles[second] - middles[first])))
    rest = delays - slope * middles
    rest -= np.median(rest)
    scatter = max(1.4826 * float(np.median(np.abs(rest))), deviation)
    growth = abs(slope) * float(np.ptp(middles))
    doubt = scatter * float(np.ptp(middles)) / (math.sqrt(delays.size) * float(np.std(middles)))
    agree = float(np.mean(np.abs(rest) < max(4.0 * deviation, MOST_SCATTER * growth)))
    told = growth > max(LEAST_GROWTH, SURE_GROWTH * doubt) and agree >= LEAST_AGREEING
    return slope if told else 0.0


def _steepest(spectrum: npt.NDArray[np.complex128], weights: Row, turns: Row) -> float:
    """The delay in samples, next to none, that makes Σ W cos(φ - ωd) largest."""
    chosen = weights > 0
    w, at = weights[chosen], turns[chosen]
    if not w.size:
        return 0.0
    z = w * spectrum[chosen] / np.maximum(np.abs(spectrum[chosen]), 1e-300)
    # Half a radian at the middle frequency: near enough not to step over into the next crest of a carrier.
    most = 0.5 * math.sqrt(float(w.sum()) / float((w * at**2).sum()))
    late = 0.0
    for _ in range(60):
        turned = z * np.exp(-1j * at * late)
        rise, bend = float((turned.imag * at).sum()), float((turned.real * at**2).sum())
        step = rise / bend if bend > 0 else math.copysign(most, rise)
        late += max(-most, min(most, step))
        if abs(step) < 1e-9:
            break
    return late
