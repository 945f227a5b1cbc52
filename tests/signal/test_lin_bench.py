"""Speed and memory of the LIN verdict on a long capture."""

import tracemalloc
from typing import Any

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import compare
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import CountSamples

pytestmark = pytest.mark.bench

SAMPLES = 10_000_000
LONGEST_S, MOST_BYTES = 60.0, 600e6


def long_channel(made: Any, side: str) -> Channel:
    """Ten million samples: one bus recorded again and again, held as counts like a file's."""
    short = getattr(made, side)
    counts = np.round(short.samples.block(0, short.samples.size) / 0.01).astype(np.int16)
    return Channel(side, "V", CountSamples(np.resize(counts, SAMPLES), scale=0.01, offset=0.0), 0.0, short.step_s)


def test_ten_million_samples_beside_each_other(benchmark: Any, make_bus: Any) -> None:
    made = make_bus(41, series_ohm=1800.0, bursts_per_s=60.0)
    far, near = long_channel(made, "far"), long_channel(made, "near")
    found = benchmark.pedantic(
        compare, (far, near), {"kind": "lin", "conditions": Conditions(same_moment=True)}, rounds=1
    )
    assert (found.verdict.state, found.verdict.fault) == ("faulty", "resistive")
    assert benchmark.stats["max"] < LONGEST_S


def test_memory_of_ten_million_samples(make_bus: Any) -> None:
    made = make_bus(41, series_ohm=1800.0, bursts_per_s=60.0)
    far, near = long_channel(made, "far"), long_channel(made, "near")
    tracemalloc.start()
    try:
        compare(far, near, kind="lin", conditions=Conditions(same_moment=True))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < MOST_BYTES, f"{peak / 1e6:.0f} MB"
