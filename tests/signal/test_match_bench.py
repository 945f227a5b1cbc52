"""Time of a match among ten thousand, and of a fingerprint of ten million samples with its memory."""

import tracemalloc

import made_library
import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from loomlight.signal.capture import Channel
from loomlight.signal.fingerprint import fingerprint
from loomlight.signal.match import matches
from loomlight.signal.samples import CountSamples

SEED, MADE_ENTRIES, TIMES = 70_002, 480, 21


@pytest.mark.bench
def test_among_ten_thousand(benchmark: BenchmarkFixture) -> None:
    entries = [made_library.entry(SEED, number) for number in range(MADE_ENTRIES)]
    once = np.array([fingerprint(one).vector for one in entries])
    rng = np.random.default_rng(1)
    # The others are the same ones a little off: as many to be told apart, and nearer than others would be.
    others = [once * (1.0 + rng.normal(0, 0.02, once.shape)).astype(np.float32) for _ in range(TIMES - 1)]
    table = np.vstack([once, *others])
    assert len(table) >= 10_000
    queries = [made_library.query(SEED, number) for number in range(32)]
    turn = iter(range(10**6))

    def one() -> None:
        matches(queries[next(turn) % len(queries)], table, lambda index: entries[index % MADE_ENTRIES])

    benchmark.pedantic(one, rounds=32, warmup_rounds=2)
    assert benchmark.stats.stats.median < 1.0


@pytest.mark.bench
def test_fingerprint_of_ten_million(benchmark: BenchmarkFixture) -> None:
    rng = np.random.default_rng(2)
    counts = (np.repeat(rng.integers(0, 2, 40_000), 250) * 1200 + rng.integers(-40, 40, 10_000_000)).astype(np.int16)
    long = Channel("x", "V", CountSamples(counts, scale=0.01, offset=0.0), 0.0, 1e-6)
    benchmark.pedantic(fingerprint, (long,), rounds=3)
    assert benchmark.stats.stats.min < 1.0
    tracemalloc.start()
    fingerprint(long)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    benchmark.extra_info["peak MB"] = peak / 1e6
    assert peak < 60e6
