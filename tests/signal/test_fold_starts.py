"""Starts of what is laid over one another: from edges, and from the sample captures' LIN frames."""

import importlib.resources
from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers import can
from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.fold import fold
from loomlight.signal.fold_starts import FOLD_WAYS, fitting_starts, starts_of
from loomlight.signal.samples import FloatSamples
from loomlight.storage.open_capture import open_capture


@pytest.fixture(scope="module")
def bus(tmp_path_factory: pytest.TempPathFactory) -> Channel:
    """A healthy LIN bus at 19 200 bit/s, from the sample captures."""
    path = tmp_path_factory.mktemp("bus") / "known_good.h5"
    path.write_bytes(importlib.resources.files("loomlight.sample_captures").joinpath("known_good.h5").read_bytes())
    return open_capture(path).channels[0]


def square(**fields: object) -> Channel:
    values = np.where(np.arange(5000) % 100 < 30, 12.0, 1.0)
    return Channel("x", "V", FloatSamples(values), 5.0, 1e-3, **fields)  # type: ignore[arg-type]


def test_cycles_begin_at_the_middle_of_their_edge() -> None:
    rising, falling = (starts_of(square(), by) for by in ("rising edges", "falling edges"))
    assert rising.at_s == pytest.approx(5.0 + 1e-3 * (99.5 + 100 * np.arange(49)))
    assert falling.at_s == pytest.approx(5.0 + 1e-3 * (29.5 + 100 * np.arange(50)))
    assert rising.unit_s == pytest.approx(0.1)
    assert (rising.begin_s, rising.end_s) == pytest.approx((-0.01, 0.11))


def test_only_those_in_a_stretch_of_time() -> None:
    few = starts_of(square(), "rising edges").between(6.0, 6.5)
    assert few.at_s.size == 5


def test_a_bus_gives_frames_and_bits(bus: Channel) -> None:
    frames, bits = starts_of(bus, "LIN frames"), starts_of(bus, "LIN bits")
    assert bits.unit_s == pytest.approx(1 / 19_200, rel=0.02)
    assert frames.at_s.size >= 5
    # At least sync, identifier, one byte and the checksum, ten bits each.
    assert bits.at_s.size >= 40 * frames.at_s.size
    assert frames.end_s > 34 * bits.unit_s


def test_bits_laid_over_one_another_leave_the_eye_open(bus: Channel) -> None:
    # LIN Specification Package 2.2A: bits are sampled in their middle; on a healthy bus nothing crosses there.
    bits = starts_of(bus, "LIN bits")
    seen = fold(bus, bits.at_s, begin_s=bits.begin_s, end_s=bits.end_s, low=-2.0, high=16.0, columns=200, rows=90)
    assert seen.laid == bits.at_s.size
    centre = seen.counts[:, 100]
    assert centre.sum() > 0
    assert not centre[35:50].any(), "between 5 V and 8 V nothing stands in the middle of a bit"
    assert seen.counts[35:50].any(), "the edges do cross there"


@pytest.mark.parametrize("by", FOLD_WAYS)
def test_what_has_no_starts_says_why(by: str) -> None:
    for channel in (
        Channel("flat", "V", FloatSamples(np.full(1000, 5.0)), 0.0, 1.0),
        Channel("both", "V", FloatSamples([0.0, 9.0] * 500), 0.0, 1.0, "pairs"),
    ):
        with pytest.raises(CannotUse, match=channel.name):
            starts_of(channel, by)  # type: ignore[arg-type]


def test_a_signal_that_is_no_bus_has_no_frames() -> None:
    with pytest.raises(CannotUse, match="No LIN frame"):
        starts_of(square(), "LIN bits")


def test_one_edge_is_too_few() -> None:
    step = Channel("x", "V", FloatSamples([1.0] * 500 + [12.0] * 500), 0.0, 1.0)
    with pytest.raises(CannotUse, match="needs two"):
        starts_of(step, "rising edges")


def test_changes_and_uneven_begin_at_their_own_times() -> None:
    times = np.cumsum(np.tile([0.3, 0.7], 20))
    changes = Channel("x", "V", FloatSamples(np.tile([12.0, 1.0], 20)), 0.3, None, "changes", times_s=times)
    assert starts_of(changes, "rising edges").at_s == pytest.approx(times[2::2])
    uneven = Channel("x", "V", FloatSamples(np.tile([12.0, 1.0], 20)), 0.3, None, "uneven", times_s=times)
    assert starts_of(uneven, "falling edges").at_s == pytest.approx(0.5 * (times[0::2] + times[1::2]))


def test_can_bits_leave_the_eye_open_at_the_sample_point() -> None:
    # Common practice: CAN nodes read a bit at 80 %; on a sound bus nothing crosses there.
    case = replace(can.healthy(np.random.default_rng(3), fd=False), recorded="difference")
    (channel,) = can.recording(case, np.random.default_rng(4)).capture.channels
    bits = fitting_starts(channel)
    assert bits.by == "CAN bits"
    assert bits.sampled_s == pytest.approx(0.8 * bits.unit_s)
    seen = fold(channel, bits.at_s, begin_s=bits.begin_s, end_s=bits.end_s, low=-1.0, high=3.0, columns=200, rows=80)
    column = int((bits.sampled_s - bits.begin_s) / (bits.end_s - bits.begin_s) * 200)
    assert seen.counts[:, column].sum() > 0
    assert not seen.counts[32:44, column].any(), "between 0.6 V and 1.2 V nothing stands at the sample point"
    assert seen.counts[32:44].any(), "the edges do cross there"
    frames = starts_of(channel, "CAN frames")
    assert frames.at_s.size >= 8
