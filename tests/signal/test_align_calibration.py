"""How often unrelated pairs are taken and related ones refused, on made signals of many kinds.

The bars of the line-up are set on this table. Single events that look alike (bumps, wandering levels) are no proof of
each other however well they fit; for these a refusal is right, and only the false ones are held down.
"""

from collections.abc import Callable
from itertools import combinations_with_replacement

import numpy as np
import pytest

from loomlight.signal.align import line_up
from loomlight.signal.capture import Channel
from loomlight.signal.samples import FloatSamples

Maker = Callable[[np.random.Generator, int], np.ndarray]
SEED = 20


def channel(values: np.ndarray) -> Channel:
    return Channel("x", "V", FloatSamples(values), 0.0, 1.0)


def bits(rng: np.random.Generator, count: int) -> np.ndarray:
    width = int(rng.integers(8, 60))
    return 12.0 * np.repeat(rng.integers(0, 2, count // width + 2), width)[:count]


def manchester(rng: np.random.Generator, count: int) -> np.ndarray:
    width = int(rng.integers(5, 20))
    chosen = rng.integers(0, 2, count // (2 * width) + 2)
    return 12.0 * np.repeat(np.stack([chosen, 1 - chosen], axis=1).reshape(-1), width)[:count]


def frames(rng: np.random.Generator, count: int) -> np.ndarray:
    """Break, sync and bytes at a bit width of its own, idle between."""
    width, levels = int(rng.integers(10, 30)), list[int]()
    while len(levels) * width < count:
        levels += [0] * 13 + [1]
        for byte in [0x55, *rng.integers(0, 256, int(rng.integers(3, 9))).tolist()]:
            levels += [0] + [(byte >> place) & 1 for place in range(8)] + [1]
        levels += [1] * int(rng.integers(20, 80))
    return 12.0 * np.repeat(levels, width)[:count]


def duty(rng: np.random.Generator, count: int) -> np.ndarray:
    """A fixed period whose share of on-time changes from period to period."""
    period, levels = int(rng.integers(40, 120)), list[int]()
    while len(levels) < count:
        on = int(period * rng.uniform(0.1, 0.9))
        levels += [1] * on + [0] * (period - on)
    return 12.0 * np.array(levels[:count], dtype=float)


def banded(rng: np.random.Generator, count: int) -> np.ndarray:
    spectrum = np.fft.rfft(rng.normal(size=count))
    spectrum[np.fft.rfftfreq(count) > 10 ** rng.uniform(-2.0, -0.4)] = 0
    return np.fft.irfft(spectrum, count)


def clipped(rng: np.random.Generator, count: int) -> np.ndarray:
    values = banded(rng, count)
    return np.clip(values, -0.7 * values.std(), 0.7 * values.std())


def drifting(rng: np.random.Generator, count: int) -> np.ndarray:
    return bits(rng, count) + np.linspace(0, rng.uniform(-6, 6), count)


def white(rng: np.random.Generator, count: int) -> np.ndarray:
    return rng.normal(size=count)


def bumps(rng: np.random.Generator, count: int) -> np.ndarray:
    values, at = np.zeros(count), np.arange(count)
    for _ in range(int(rng.integers(4, 12))):
        values += rng.uniform(0.5, 2) * np.exp(-(((at - rng.integers(0, count)) / 30) ** 2))
    return values


def wander(rng: np.random.Generator, count: int) -> np.ndarray:
    return np.cumsum(rng.normal(size=count))


TELLING: tuple[Maker, ...] = (bits, manchester, frames, duty, banded, clipped, drifting, white)
ALL: tuple[Maker, ...] = (*TELLING, bumps, wander)


def taken_among_unrelated(makers: tuple[Maker, ...], rounds: int) -> tuple[int, int]:
    rng = np.random.default_rng(SEED)
    taken = tried = 0
    for one, other in combinations_with_replacement(makers, 2):
        for _ in range(rounds):
            lengths = rng.integers(1500, 12_000, 2).tolist()
            taken += line_up(channel(one(rng, lengths[0])), channel(other(rng, lengths[1]))).accepted
            tried += 1
    return taken, tried


def related(make: Maker, rng: np.random.Generator, snr_db: float) -> tuple[Channel, Channel, int, int]:
    """Two noisy looks at one signal that overlap by half or more, gain, level and sense of their own."""
    count = int(rng.integers(2000, 12_000))
    size = int(rng.integers(count // 2, count + 1))
    base = make(rng, 3 * count)
    start = int(rng.integers(-size // 2, count - size // 2))
    good, suspect = base[count : 2 * count], base[count + start : count + start + size]
    noise = good.std() * 10 ** (-snr_db / 20)
    sense = int(rng.choice([-1, 1]))
    suspect = sense * rng.uniform(0.2, 3) * (suspect + rng.normal(0, noise, size)) + rng.normal(0, 20)
    return channel(suspect), channel(good + rng.normal(0, noise, count)), start, sense


def right_and_taken(rounds: int, snr_db: float) -> tuple[int, int, int]:
    """Related pairs put right and taken, put wrong and taken, tried."""
    rng = np.random.default_rng(SEED + 1)
    right = wrong = tried = 0
    for make in TELLING:
        for _ in range(rounds):
            suspect, good, start, sense = related(make, rng, snr_db)
            found = line_up(suspect, good)
            # Noise moves the top of a slow signal's broad peak by a few samples; a wrong place is far off.
            placed = abs(found.lag_s - start) < (1.5 if snr_db >= 10 else 12.0) and found.polarity == sense
            right += found.accepted and placed
            wrong += found.accepted and not placed
            tried += 1
    return right, wrong, tried


def test_unrelated_pairs_are_refused_seeded_tenth() -> None:
    taken, tried = taken_among_unrelated(TELLING, 2)
    assert taken <= 1, f"{taken} of {tried}"


@pytest.mark.parametrize("snr_db", [20.0, 10.0, 3.0])
def test_related_pairs_are_put_right_seeded_tenth(snr_db: float) -> None:
    right, wrong, tried = right_and_taken(4, snr_db)
    assert right >= 0.9 * tried
    assert wrong <= 1


@pytest.mark.long
def test_unrelated_pairs_full_table() -> None:
    taken, tried = taken_among_unrelated(TELLING, 25)
    assert taken <= 0.01 * tried, f"{taken} of {tried}"
    taken, tried = taken_among_unrelated(ALL, 25)
    assert taken <= 0.02 * tried, f"{taken} of {tried}"


@pytest.mark.long
@pytest.mark.parametrize(("snr_db", "least"), [(20.0, 0.97), (10.0, 0.95), (3.0, 0.9)])
def test_related_pairs_full_table(snr_db: float, least: float) -> None:
    right, wrong, tried = right_and_taken(40, snr_db)
    assert right >= least * tried, f"{right} of {tried}"
    assert wrong <= 0.02 * tried, f"{wrong} of {tried}"
