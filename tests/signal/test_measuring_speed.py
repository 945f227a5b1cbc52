"""How long measuring takes, as ratios to one plain pass over the same samples (``pytest -m bench``)."""

import time
import tracemalloc

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.crossings import MOST_SEARCHED, levels_between, nearest_crossing, next_crossing
from loomlight.signal.pulses import pulses
from loomlight.signal.samples import BLOCK, CountSamples, blocks

pytestmark = pytest.mark.bench
SIZE = 20_000_000


@pytest.fixture(scope="module")
def channel() -> Channel:
    """A line at 19 200 bit/s with a little noise, 1 µs a sample."""
    rng = np.random.default_rng(2)
    bits = rng.integers(0, 2, 20_000)
    tile = np.repeat(np.where(bits, 12_000, 1_000), 52) + rng.normal(0.0, 30.0, 52 * bits.size)
    return Channel("bus", "V", CountSamples(np.resize(tile.astype(np.int16), SIZE), scale=1e-3, offset=0.0), 0.0, 1e-6)


def plain_pass_s(channel: Channel, size: int) -> float:
    """Least and greatest of some samples, block by block."""
    begin = time.process_time()
    for start, values in blocks(channel.samples):
        if start >= size:
            break
        values.min()
        values.max()
    return time.process_time() - begin


def test_pulses_take_a_few_plain_passes_and_no_more_memory_than_blocks(channel: Channel, benchmark) -> None:  # type: ignore[no-untyped-def]
    plain = min(plain_pass_s(channel, SIZE) for _ in range(3))
    tracemalloc.start()
    begin = time.process_time()
    found = benchmark.pedantic(lambda: pulses(channel, 0.0, 1e9), rounds=1)
    took = time.process_time() - begin
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    benchmark.extra_info["times a plain pass"] = took / plain
    benchmark.extra_info["peak MB"] = most / 1e6
    assert found.edges is not None
    assert took < 150 * plain
    # Edges are kept, a few words each; samples are not.
    assert most < 64 * BLOCK + 200 * found.edges


def test_a_snap_fits_between_two_frames(channel: Channel, benchmark) -> None:  # type: ignore[no-untyped-def]
    plain = min(plain_pass_s(channel, BLOCK) for _ in range(5))
    levels = levels_between(channel, 0.0, 20.0)
    assert levels is not None
    found = benchmark(lambda: nearest_crossing(channel, 6.5, 10.0, 0.5))
    benchmark.extra_info["times a plain pass over a block"] = benchmark.stats["median"] / plain
    assert found == pytest.approx(10.0, abs=1e-3)
    assert benchmark.stats["median"] < 100 * plain


def test_the_next_edge_is_found_within_a_key_press(channel: Channel, benchmark) -> None:  # type: ignore[no-untyped-def]
    plain = min(plain_pass_s(channel, MOST_SEARCHED) for _ in range(3))
    found = benchmark(lambda: next_crossing(channel, 6.5, 10.0, forward=True))
    assert found is not None
    assert benchmark.stats["median"] < 100 * plain
