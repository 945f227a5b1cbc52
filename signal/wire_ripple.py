"""The even ripple on a supply: how many humps a second, how high, and how unlike each other."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.wire_sight import Sight

Row = npt.NDArray[np.float64]

SLOWEST_HZ, FASTEST_HZ = 100.0, 9e3
"""Six humps a turn of seven pole pairs at 13 000 turns a minute, as an engine gives them at 4500 (arithmetic)."""
STANDS_OUT = 8.0
"""Times the greater of what lies below and above it; loads and noise alone reach about 3 (tried on made supplies)."""
SLOW_LOAD_HZ, FAST_HZ = 300.0, 900.0
"""A load that is switched slowly may be stronger than an alternator's ripple."""
MOST, ENOUGH_RATE = 1 << 18, 45e3
"""Samples that are looked at, and how many a second are enough."""
LENGTHS = (8192, 2048, 1024)
"""Samples of a spectrum: an engine that changes its speed shows only in short ones."""


@dataclass(frozen=True)
class Ripple:
    """What repeats.

    Attributes
    ----------
    hz : float
        Of the strongest line.
    height : float
        Peak to peak, but for a hundredth at either end, in the channel's unit.
    second : float
        Amplitude of the line at twice that, as a share.
    skew : float
        Third moment by the standard deviation's cube, noise taken off: below zero where tops are broad and bottoms sharp.
    third_part : float
        Amplitude at a third of it, as a share: a rectifier's phases are never quite alike, and three humps make one turn of them.
    """

    hz: float
    height: float
    second: float
    skew: float
    third_part: float


def ripple_of(sight: Sight) -> Ripple | None:
    """The ripple, where a line stands far out of the spectrum around it (mean over stretches, Welch 1967).

    Parameters
    ----------
    sight : Sight
        Of a supply.
    """
    step_s, size = sight.channel.step_s, sight.channel.samples.size
    assert step_s is not None
    # A finer step than the fastest ripple needs is averaged: else a spectrum is too short to tell slow humps apart.
    wide = max(int(1.0 / (step_s * ENOUGH_RATE)), 1)
    count = min(size, MOST * wide) // wide
    first = (size - count * wide) // 2
    rows = sight.channel.samples.block(first, first + count * wide).reshape(count, wide)
    values, step_s, noise = rows.mean(axis=1, dtype=np.float64), step_s * wide, sight.noise / float(np.sqrt(wide))
    if values.size < 2048 or not np.all(np.isfinite(values)):
        return None
    best: tuple[float, float] | None = None
    for length in LENGTHS:
        hz, power = _spectrum(values, step_s, min(length, values.size // 4))
        found = _line(hz, power)
        if found is not None and (best is None or found[0] > 3.0 * best[0]):
            best = found
    return _measured(values, step_s, best[1], noise) if best is not None else None


def _spectrum(values: Row, step_s: float, length: int) -> tuple[Row, Row]:
    """Frequencies and power: the mean over stretches that overlap by half, each under a Hann window (Welch 1967)."""
    firsts = np.arange(0, values.size - length + 1, max(length // 2, 1))
    rows = np.lib.stride_tricks.sliding_window_view(values, length)[firsts]
    rows = (rows - rows.mean(axis=1, keepdims=True)) * np.hanning(length)
    power = (np.abs(np.fft.rfft(rows, axis=1)) ** 2).mean(axis=0).astype(np.float64)
    return np.fft.rfftfreq(length, step_s).astype(np.float64), power


def _line(hz: Row, power: Row) -> tuple[float, float] | None:
    """How far the strongest clear line stands out, and its frequency; of two the fast one, if it is no multiple of the slow."""
    out = power / np.maximum(_beside(hz, power), 1e-300)
    clear = np.where((hz > max(SLOWEST_HZ, 8.0 * float(hz[1]))) & (hz < FASTEST_HZ) & (out >= STANDS_OUT), power, 0.0)
    place = int(np.argmax(clear))
    if clear[place] <= 0:
        return None
    if hz[place] < SLOW_LOAD_HZ:
        multiple = hz / hz[place]
        odd = np.abs(multiple - np.round(multiple)) * hz[place] > 3.0 * hz[1]
        faster = np.where((hz > FAST_HZ) & odd, clear, 0.0)
        other = int(np.argmax(faster))
        place = other if faster[other] > 0 else place
    return float(out[place]), float(hz[place])


def _beside(hz: Row, power: Row) -> Row:
    """The greater mean of what lies a little below and a little above each frequency: a slope is no line."""
    running = np.concatenate([[0.0], np.cumsum(power)])
    place = np.arange(hz.size)

    def mean(low: float, high: float) -> Row:
        first = np.clip(np.minimum(low * place, place - 4 if high < 1 else low * place), 0, hz.size - 1).astype(
            np.int64
        )
        last = np.clip(np.maximum(high * place, first + 2), 0, hz.size).astype(np.int64)
        last = np.maximum(last, first + 1)
        found: Row = (running[last] - running[first]) / (last - first)
        return found

    return np.maximum(mean(0.7, 0.88), mean(1.13, 1.4))


def _measured(values: Row, step_s: float, hz: float, noise: float) -> Ripple:
    line, power = _spectrum(values, step_s, min(16384, values.size))

    # Short spectra find it, a long one tells where it is.
    around = np.abs(line - hz) <= 0.1 * hz
    hz = float(line[around][np.argmax(power[around])]) if around.any() else hz

    def near(times: float) -> float:
        reach = max(0.015 * hz * times, 2.0 * float(line[1]))
        inside = np.abs(line - times * hz) <= reach
        return float(power[inside].max()) if inside.any() else 0.0

    whole = max(near(1.0), 1e-30)
    # Half a turn of the humps beside it tells what of the line at a third is only the spectrum's floor.
    floor = min(near(0.28), near(0.42))
    third = max(near(1.0 / 3.0) - floor, 0.0)
    width = max(round(2.0 / hz / step_s), 3)
    running = np.concatenate([[0.0], np.cumsum(values)])
    slow = (running[width:] - running[:-width]) / width
    apart = values[width // 2 : width // 2 + slow.size] - slow
    low, high = np.percentile(apart, (1.0, 99.0))
    variance = float(np.var(apart))
    own = max(variance - noise**2, 0.2 * variance, 1e-30)
    skew = float(np.mean((apart - apart.mean()) ** 3)) / own**1.5
    return Ripple(hz, float(high - low), float(np.sqrt(near(2.0) / whole)), skew, float(np.sqrt(third / whole)))
