"""Speed and memory of the pulsed kinds on ten million samples."""

import tracemalloc
from typing import Any

import numpy as np
import pytest
from kind_tables import maker_of

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.samples import CountSamples

pytestmark = pytest.mark.bench

SAMPLES = 10_000_000
LONGEST_S, MOST_BYTES = 6.0, 400e6
CASES = [
    ("toothed-wheel", 3),
    ("toothed-wheel", 4),
    ("pwm", 1),
    ("pwm", 2),
    ("coil", 4),
    ("coil", 3),
    ("wheel-speed", 1),
    ("wheel-speed", 5),
]


def long_channel(kind: str, seed: int) -> tuple[Channel, Any]:
    """One made capture again and again, held as counts like a file's."""
    made = maker_of(kind).made("", np.random.default_rng(seed))
    short = made.suspect
    values = short.samples.block(0, short.samples.size)
    scale = float(np.abs(values).max()) / 30_000
    counts = np.round(values / scale).astype(np.int16)
    channel = Channel(
        short.name, short.unit, CountSamples(np.resize(counts, SAMPLES), scale=scale, offset=0.0), 0.0, short.step_s
    )
    return channel, made.conditions


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_ten_million_samples(benchmark: Any, kind: str, seed: int) -> None:
    channel, conditions = long_channel(kind, seed)
    benchmark.pedantic(check, (channel,), {"kind": kind, "conditions": conditions}, rounds=1)
    assert benchmark.stats["max"] < LONGEST_S


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_memory_of_ten_million_samples(kind: str, seed: int) -> None:
    channel, conditions = long_channel(kind, seed)
    tracemalloc.start()
    try:
        check(channel, kind=kind, conditions=conditions)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < MOST_BYTES, f"{peak / 1e6:.0f} MB"
