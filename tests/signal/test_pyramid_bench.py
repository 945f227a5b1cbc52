"""What a pyramid costs to build, against the least that any way would cost (``pytest -m bench``)."""

import time
from collections.abc import Callable

import numpy as np
import pytest

from loomlight.signal.pyramid import build_pyramid
from loomlight.signal.samples import BLOCK, CountSamples, FloatSamples, Samples

pytestmark = pytest.mark.bench
SIZE = 50_000_000


def floats() -> FloatSamples:
    return FloatSamples(np.random.default_rng(6).normal(0.0, 1.0, SIZE).astype(np.float32))


def counts() -> CountSamples:
    values = np.random.default_rng(6).normal(0.0, 900.0, SIZE).astype(np.int16)
    return CountSamples(values, scale=1e-3, offset=2.5)


def least_and_greatest(samples: Samples) -> None:
    """A plain pass over the same blocks: nothing less tells a spike."""
    for start in range(0, samples.size, BLOCK):
        values = samples.block(start, min(start + BLOCK, samples.size))
        values.min()
        values.max()


def seconds(act: Callable[[], object]) -> float:
    begin = time.process_time()
    act()
    return time.process_time() - begin


@pytest.mark.parametrize(("make", "most"), [(floats, 5.0), (counts, 4.0)], ids=["float32", "int16"])
def test_a_pyramid_costs_a_few_plain_passes(benchmark, make: Callable[[], Samples], most: float) -> None:
    samples = make()
    benchmark.pedantic(build_pyramid, args=(samples,), rounds=2)
    pairs = [(seconds(lambda: build_pyramid(samples)), seconds(lambda: least_and_greatest(samples))) for _ in range(5)]
    built, passed = (min(side) for side in zip(*pairs, strict=True))
    benchmark.extra_info["plain passes"] = round(built / passed, 2)
    assert built < most * passed, f"{built / passed:.1f} plain passes"


def test_a_pyramid_takes_a_small_part_of_the_samples(benchmark) -> None:
    samples = counts()
    pyramid = benchmark.pedantic(build_pyramid, args=(samples,), rounds=1)
    held = sum(level.low.nbytes + level.high.nbytes for level in pyramid.levels)
    assert held < 0.08 * samples.counts.nbytes
