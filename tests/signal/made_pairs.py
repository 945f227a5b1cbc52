"""Made pairs of channels for calibrating the line-up: related and unrelated, of many kinds.

All that is random comes from the generator handed in, so that a seed names a set of pairs.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.samples import FloatSamples

Maker = Callable[[np.random.Generator, int], np.ndarray]


def bits(rng: np.random.Generator, count: int) -> np.ndarray:
    """Random bits without frames."""
    width = int(rng.integers(6, 60))
    return 12.0 * np.repeat(rng.integers(0, 2, count // width + 2), width)[:count]


def manchester(rng: np.random.Generator, count: int) -> np.ndarray:
    width = int(rng.integers(5, 20))
    chosen = rng.integers(0, 2, count // (2 * width) + 2)
    return 12.0 * np.repeat(np.stack([chosen, 1 - chosen], axis=1).reshape(-1), width)[:count]


def serial_frames(rng: np.random.Generator, count: int, width: int | None = None) -> np.ndarray:
    """Break, sync and bytes with start and stop bits, idle between; any data, any bit width unless one is given."""
    width, levels = width or int(rng.integers(6, 25)), [1] * int(rng.integers(5, 60))
    while len(levels) * width < count:
        levels += [0] * 13 + [1]
        for byte in [0x55, *rng.integers(0, 256, int(rng.integers(3, 10))).tolist()]:
            levels += [0] + [(byte >> place) & 1 for place in range(8)] + [1] * int(rng.integers(1, 3))
        levels += [1] * int(rng.integers(8, 90))
    return 12.0 * np.repeat(levels, width)[:count]


def stuffed_frames(rng: np.random.Generator, count: int) -> np.ndarray:
    """Frames of random bits of which never more than five in a row are the same, recessive between."""
    width, levels = int(rng.integers(6, 20)), [1] * 11
    while len(levels) * width < count:
        run, last = 0, 1
        for bit in [0, *rng.integers(0, 2, int(rng.integers(44, 108))).tolist()]:
            run = run + 1 if bit == last else 1
            levels.append(bit)
            last = bit
            if run == 5:
                last = 1 - bit
                levels.append(last)
                run = 1
        levels += [1] * int(rng.integers(10, 60))
    return 2.0 + 1.5 * (1 - np.repeat(levels, width)[:count])


def duty(rng: np.random.Generator, count: int) -> np.ndarray:
    """A fixed period whose share of on-time changes from period to period."""
    period = int(rng.integers(40, 120))
    on = (period * rng.uniform(0.1, 0.9, count // period + 1)).astype(int)
    return 12.0 * (np.arange(period)[None, :] < on[:, None]).reshape(-1)[:count]


def pulses_at_odd_times(rng: np.random.Generator, count: int) -> np.ndarray:
    """Pulses whose spacing wanders from one to the next."""
    lengths = rng.integers(8, 120, count // 30 + 4)
    return 5.0 * np.repeat(np.arange(lengths.size) % 2, lengths)[:count]


def run_up(rng: np.random.Generator, count: int) -> np.ndarray:
    """A toothed wheel that speeds up or slows down unevenly: no two teeth are equally long."""
    teeth = max(30, count // 60)
    speed = np.exp(np.cumsum(rng.normal(0, 0.06, teeth)))
    lengths = np.maximum(4, np.round(count / teeth * speed / speed.mean())).astype(int)
    values = np.concatenate([np.sin(2 * np.pi * np.arange(size) / size) for size in lengths.tolist()])
    return np.resize(values, max(count, values.size))[:count]


def banded(rng: np.random.Generator, count: int) -> np.ndarray:
    """Noise of a bandwidth of 0.01 to 0.4 of the sample rate."""
    spectrum = np.fft.rfft(rng.normal(size=count))
    spectrum[np.fft.rfftfreq(count) > 10 ** rng.uniform(-2.0, -0.4)] = 0
    return np.fft.irfft(spectrum, count)


def clipped(rng: np.random.Generator, count: int) -> np.ndarray:
    values = banded(rng, count)
    return np.clip(values, -0.7 * values.std(), 0.7 * values.std())


def drifting(rng: np.random.Generator, count: int) -> np.ndarray:
    """Bits on a level that runs off."""
    return bits(rng, count) + np.linspace(0, rng.uniform(-6, 6), count)


def white(rng: np.random.Generator, count: int) -> np.ndarray:
    return rng.normal(size=count)


def flat(rng: np.random.Generator, count: int) -> np.ndarray:
    """A quiet line: noise, the converter's steps, perhaps a slow drift or nothing at all."""
    kind, noise = int(rng.integers(0, 4)), rng.normal(0, 0.01, count)
    if kind == 0:
        return np.full(count, rng.uniform(0, 14))
    if kind == 1:
        return 5.0 + noise
    if kind == 2:
        return 12.0 + np.linspace(0, rng.uniform(-1, 1), count) + noise
    return np.round((3.0 + noise) / 0.02) * 0.02


TELLING: tuple[Maker, ...] = (
    bits,
    manchester,
    serial_frames,
    stuffed_frames,
    pulses_at_odd_times,
    run_up,
    banded,
    clipped,
    drifting,
    white,
)
UNRELATED: tuple[Maker, ...] = (*TELLING, duty, flat)


@dataclass(frozen=True, eq=False)
class Pair:
    """Two channels, what they were made as, and for related ones where they belong."""

    suspect: Channel
    good: Channel
    kinds: tuple[str, str]
    lag: float = 0.0
    sense: int = 1


def channel(values: np.ndarray) -> Channel:
    return Channel("x", "V", FloatSamples(values), 0.0, 1.0)


def _size(rng: np.random.Generator) -> int:
    """2 000 to 200 000 samples, each decade as often."""
    return int(2000 * 100 ** rng.uniform(0, 1))


def unrelated(rng: np.random.Generator) -> Pair:
    """Two signals that have nothing to do with each other; one bus in four has the other's bit width too."""
    one, other = (UNRELATED[int(rng.integers(len(UNRELATED)))] for _ in range(2))
    sizes = [_size(rng), _size(rng)]
    if one is other is serial_frames and rng.uniform() < 0.5:
        width = int(rng.integers(6, 25))
        values = [serial_frames(rng, size, width) for size in sizes]
    else:
        values = [make(rng, size) for make, size in zip((one, other), sizes, strict=True)]
    noisy = [row + rng.normal(0, max(row.std(), 1e-3) * rng.choice([0.0, 0.03, 0.1, 0.3]), row.size) for row in values]
    return Pair(channel(noisy[0]), channel(noisy[1]), (one.__name__, other.__name__))


def related(rng: np.random.Generator, snr_db: float) -> Pair:
    """Two noisy looks at one signal that overlap by half or more, with a gain, level and sense of their own."""
    make = TELLING[int(rng.integers(len(TELLING)))]
    count = _size(rng)
    size = int(rng.integers(max(2000, count // 2), max(2001, count + 1)))
    count = max(count, size)
    base = make(rng, 3 * count)
    start = int(rng.integers(-size // 2, count - size // 2))
    good, suspect = base[count : 2 * count], base[count + start : count + start + size]
    noise = good.std() * 10 ** (-snr_db / 20)
    sense = int(rng.choice([-1, 1]))
    suspect = sense * rng.uniform(0.2, 3) * (suspect + rng.normal(0, noise, size)) + rng.normal(0, 20)
    good = good + rng.normal(0, noise, count)
    return Pair(channel(suspect), channel(good), (make.__name__, make.__name__), float(start), sense)
