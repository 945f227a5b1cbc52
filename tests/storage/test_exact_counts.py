"""Samples that are counts at heart are kept as such only where no bit changes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.samples import CountSamples, FloatSamples
from loomlight.storage.exact_counts import exact_counts, with_exact_counts


@pytest.mark.parametrize("scale", [0.04, 0.03125, 1e-3, 0.0048828125, 1.0, 2.5e-7, 20.0])
def test_a_converter_is_found_again(scale: float) -> None:
    counts = np.random.default_rng(1).integers(-128, 128, 300_000).astype(np.int16)
    before = CountSamples(counts, scale=scale, offset=0.0)
    found = exact_counts(FloatSamples(before.block(0, counts.size)))
    assert found is not None
    assert np.array_equal(found.block(0, counts.size), before.block(0, counts.size))


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.integers(-40_000, 40_000), min_size=0, max_size=60),
    st.sampled_from([0.04, 0.1, 1.0, 1e-3, 0.7]),
    st.lists(st.floats(-10, 10, width=32), max_size=2),
)
def test_never_a_bit_different(levels: list[int], scale: float, odd: list[float]) -> None:
    values = np.array([level * scale for level in levels] + odd, np.float32)
    found = exact_counts(FloatSamples(values))
    if found is not None:
        assert found.block(0, values.size).tobytes() == values.tobytes()


@pytest.mark.parametrize(
    "values", [[], [1.0], [0.5, np.nan, 1.0], [0.0, 1e-9, 5.0], [-0.0, 1.0, 2.0], np.linspace(0, 1, 9000) ** 2]
)
def test_what_is_no_converter_stays_as_it_is(values: object) -> None:
    assert exact_counts(FloatSamples(values)) is None  # type: ignore[arg-type]


def test_a_late_odd_sample_is_seen() -> None:
    values = (np.arange(600_000) % 100 * 0.5).astype(np.float32)
    assert exact_counts(FloatSamples(values)) is not None
    values[-1] = 0.51
    assert exact_counts(FloatSamples(values)) is None


def test_channels_with_gaps_and_counts_already_are_left_alone() -> None:
    counts = CountSamples(np.arange(100, dtype=np.int16), scale=0.3, offset=5.0)
    gapped = np.array([0.0, 1.0, np.nan, 2.0] * 25)
    capture = Capture(
        "m",
        "m",
        (Channel("a", "V", counts, 0.0, 1.0), Channel("b", "V", FloatSamples(gapped), 0.0, 1.0, gaps=((2, 3),))),
    )
    assert [one.samples for one in with_exact_counts(capture).channels] == [one.samples for one in capture.channels]
