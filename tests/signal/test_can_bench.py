"""Speed and memory of the CAN verdict on a long capture."""

import time
import tracemalloc
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from loomlight.sample_captures.makers import can
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import CountSamples

pytestmark = pytest.mark.bench

SAMPLES = 10_000_000
LONGEST_S, MOST_BYTES = 3.0, 900e6


def long_channels(samples: int, recorded: can.Recorded = "difference") -> tuple[Channel, ...]:
    """A bus at 500 kbit/s with 20 samples a bit, recorded again and again, held as counts like a file's."""
    rng = np.random.default_rng(2)
    case = can.healthy(rng, fd=False)
    case = replace(case, recorded=recorded, plan=replace(case.plan, bit_s=2e-6), step_s=1e-7, count=200_000)
    channels = can.recording(case, rng).capture.channels
    found = []
    for one in channels:
        assert isinstance(one.samples, CountSamples)
        counts = np.resize(one.samples.counts, samples)
        own = CountSamples(counts, scale=one.samples.scale, offset=one.samples.offset)
        found.append(Channel(one.name, "V", own, 0.0, 1e-7))
    return tuple(found)


def test_ten_million_samples(benchmark: Any) -> None:
    (channel,) = long_channels(SAMPLES)
    found = benchmark.pedantic(check, (channel,), {"kind": "can", "conditions": Conditions()}, rounds=1)
    assert found.bus is not None
    assert found.bus.frames > 4000
    assert benchmark.stats["max"] < LONGEST_S


def test_time_grows_as_the_samples_do() -> None:
    spent = []
    for samples in (2_500_000, SAMPLES):
        (channel,) = long_channels(samples)
        begin = time.perf_counter()
        check(channel, kind="can", conditions=Conditions())
        spent.append(time.perf_counter() - begin)
    assert spent[1] < 6.0 * spent[0]


def test_memory_of_both_wires() -> None:
    channel, other = long_channels(SAMPLES, "both wires")
    conditions = Conditions(besides=(Beside(can.OTHER_WIRE, other),))
    tracemalloc.start()
    try:
        check(channel, kind="can", conditions=conditions)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < MOST_BYTES, f"{peak / 1e6:.0f} MB"
