"""Speed and memory of the LIN verdict on long captures: linear in their length, bounded by their findings."""

import time
import tracemalloc
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import valued

pytestmark = pytest.mark.bench

TEN_MILLION, HUNDRED_MILLION = 10_000_000, 100_000_000
LONGEST_ALONE_S, LONGEST_PAIR_S, MOST_BYTES = 20.0, 60.0, 600e6
"""Room for a slow machine; the figures that were measured stand in the benchmark's own output."""
MOST_GROWTH = 13.0
"""Ten times the samples may take this many times as long."""
SCALE_V = 0.01


class Repeated:
    """A short recording again and again, held once: 100 million samples without 400 MB."""

    def __init__(self, counts: npt.NDArray[np.int16], size: int) -> None:
        self._counts, self.size = counts, size

    def block(self, start: int, stop: int) -> npt.NDArray[np.float32]:
        """Samples ``start`` to ``stop``, volts."""
        return valued(self._counts[np.arange(start, stop) % self._counts.size], SCALE_V, 0.0)


def long_channel(made: Any, side: str, size: int) -> Channel:
    """One bus recorded again and again."""
    short = getattr(made, side)
    counts = np.round(short.samples.block(0, short.samples.size) / SCALE_V).astype(np.int16)
    return Channel(side, "V", Repeated(counts, size), 0.0, short.step_s)


def alone(channel: Channel) -> Comparison:
    return check(channel, kind="lin", conditions=Conditions(supply_v=13.2))


def beside(far: Channel, near: Channel) -> Comparison:
    return compare(far, near, kind="lin", conditions=Conditions(same_moment=True))


def test_ten_million_samples_by_themselves(benchmark: Any, make_bus: Any) -> None:
    channel = long_channel(make_bus(40), "near", TEN_MILLION)
    found = benchmark.pedantic(alone, (channel,), rounds=3)
    assert found.verdict.state == "clean"
    assert benchmark.stats["min"] < LONGEST_ALONE_S


def test_ten_million_samples_beside_each_other(benchmark: Any, make_bus: Any) -> None:
    made = make_bus(41, series_ohm=1800.0, bursts_per_s=60.0)
    found = benchmark.pedantic(beside, [long_channel(made, side, TEN_MILLION) for side in ("far", "near")], rounds=1)
    assert (found.verdict.state, found.verdict.fault) == ("faulty", "resistive")
    assert benchmark.stats["max"] < LONGEST_PAIR_S


def test_time_grows_with_the_length_alone(benchmark: Any, make_bus: Any) -> None:
    """Processor time from 10 to 100 million samples of a line that lets go all the time."""
    made = make_bus(42, series_ohm=0.05, bursts_per_s=30.0)
    took = []
    for size in (TEN_MILLION, HUNDRED_MILLION):
        channel, began_s = long_channel(made, "far", size), time.process_time()
        found = alone(channel)
        took.append(time.process_time() - began_s)
        assert found.bus is not None
    benchmark.extra_info["growth"] = took[1] / took[0]
    benchmark.pedantic(lambda: None, rounds=1)
    print(f"\n10 million: {took[0]:.2f} s, 100 million: {took[1]:.2f} s, growth {took[1] / took[0]:.2f}")
    assert took[1] / took[0] < MOST_GROWTH


def test_memory_of_ten_million_samples(make_bus: Any) -> None:
    made = make_bus(41, series_ohm=1800.0, bursts_per_s=60.0)
    far, near = (long_channel(made, side, TEN_MILLION) for side in ("far", "near"))
    tracemalloc.start()
    try:
        beside(far, near)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < MOST_BYTES, f"{peak / 1e6:.0f} MB"
