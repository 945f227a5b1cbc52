"""Channel set-up: what it does to each sample, and that the stored ones stay as they are."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.capture import Capture, Channel, Form
from loomlight.signal.channel_setup import (
    ChannelSetup,
    channel_key,
    pyramid_with,
    set_up,
    stored_of,
    with_setups,
)
from loomlight.signal.errors import CannotUse
from loomlight.signal.pyramid import build_pyramid
from loomlight.signal.samples import CountSamples, FloatSamples, blocks

VOLTS = (0.1, -0.2, float("nan"), 1.5)


def channel(
    values: npt.ArrayLike = VOLTS, *, name: str = "CH1", unit: str | None = "V", form: Form = "even"
) -> Channel:
    return Channel(name, unit, FloatSamples(values), 0.0, 1e-5, form, history=("read from a.csv, column 2",))


def values(of: Channel) -> npt.NDArray[np.float32]:
    return of.samples.block(0, of.samples.size)


@pytest.mark.parametrize(
    ("setup", "unit", "expected"),
    [
        (ChannelSetup(), "V", VOLTS),
        (ChannelSetup(factor=10), "V", (1.0, -2.0, float("nan"), 15.0)),
        (ChannelSetup(factor=0.1), "V", (0.01, -0.02, float("nan"), 0.15)),
        # A clamp of 100 mV an ampere: 0.1 V are 1 A.
        (ChannelSetup(clamp_mv_per_a=100), "A", (1.0, -2.0, float("nan"), 15.0)),
        # The same clamp on a channel that was set to ×10: its volts are ten times too many.
        (ChannelSetup(factor=0.1, clamp_mv_per_a=100), "A", (0.1, -0.2, float("nan"), 1.5)),
        (ChannelSetup(invert=True), "V", (-0.1, 0.2, float("nan"), -1.5)),
        (ChannelSetup(factor=10, invert=True, offset=0.5), "V", (-0.5, 2.5, float("nan"), -14.5)),
        (ChannelSetup(offset=-0.25), "V", (-0.15, -0.45, float("nan"), 1.25)),
    ],
)
def test_what_a_setup_does(setup: ChannelSetup, unit: str, expected: tuple[float, ...]) -> None:
    shown = set_up(channel(), setup)
    np.testing.assert_allclose(values(shown), np.float32(expected), rtol=3e-7)
    assert shown.unit == unit
    np.testing.assert_array_equal(values(stored_of(shown)[0]), np.float32(VOLTS))


def test_name_and_history_say_what_was_done() -> None:
    shown = set_up(channel(), ChannelSetup(name="blower LIN", factor=10, invert=True, offset=-0.02))
    assert shown.name == "blower LIN"
    assert shown.history == (
        "read from a.csv, column 2",
        "set up by hand: named 'blower LIN', multiplied by 10, upside down, offset −20 mV",
    )
    assert stored_of(shown)[0].name == "CH1"


def test_gaps_and_clipped_ranges_stay() -> None:
    read = Channel("CH1", "V", FloatSamples(VOLTS), 0.0, 1e-5, gaps=((2, 3),), clipped=((3, 4),))
    shown = set_up(read, ChannelSetup(factor=10))
    assert (shown.gaps, shown.clipped) == (((2, 3),), ((3, 4),))


def test_another_setup_takes_the_place_of_the_first_and_a_plain_one_gives_the_channel_as_it_was_read() -> None:
    read = channel()
    once = set_up(read, ChannelSetup(factor=10))
    np.testing.assert_allclose(values(set_up(once, ChannelSetup(factor=100)))[3], 150.0)
    assert set_up(once, ChannelSetup(channel="CH1")) is read


def test_a_clamp_needs_volts() -> None:
    for unit in ("A", "counts"):
        with pytest.raises(CannotUse, match="a current clamp gives volts"):
            set_up(channel(unit=unit), ChannelSetup(clamp_mv_per_a=10))
    assert set_up(channel(unit=None), ChannelSetup(clamp_mv_per_a=10)).unit == "A"


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"factor": 0.0}, "the probe factor"),
        ({"factor": float("nan")}, "the probe factor"),
        ({"factor": -10.0}, "the probe factor"),
        ({"clamp_mv_per_a": 0.0}, "the clamp"),
        ({"offset": float("inf")}, "the offset"),
        ({"offset": float("nan")}, "the offset"),
    ],
)
def test_what_cannot_be_is_refused(wrong: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        ChannelSetup(**wrong)  # type: ignore[arg-type]


FACTORS = st.sampled_from([0.1, 1.0, 7.5, 10.0, 100.0])


@given(
    values=st.lists(st.floats(-50, 50, width=32) | st.just(float("nan")), min_size=2, max_size=40),
    factor=FACTORS,
    invert=st.booleans(),
    offset=st.floats(-5, 5),
    data=st.data(),
)
def test_pairs_keep_their_minimum_first_in_any_block(
    values: list[float], factor: float, invert: bool, offset: float, data: st.DataObject
) -> None:
    pairs = np.sort(np.float32(values[: len(values) // 2 * 2]).reshape(-1, 2), axis=1).reshape(-1)
    setup = ChannelSetup(factor=factor, invert=invert, offset=offset)
    shown = set_up(channel(pairs, form="pairs"), setup)
    scaled = pairs * np.float32(setup.gain) + np.float32(setup.offset)
    expected = np.sort(scaled.reshape(-1, 2), axis=1)
    whole = shown.samples.block(0, pairs.size).reshape(-1, 2)
    np.testing.assert_array_equal(np.sort(whole, axis=1), expected)
    full = np.isfinite(whole).all(axis=1)
    assert (whole[full, 0] <= whole[full, 1]).all()
    start = data.draw(st.integers(0, pairs.size))
    stop = data.draw(st.integers(start, pairs.size))
    np.testing.assert_array_equal(shown.samples.block(start, stop), whole.reshape(-1)[start:stop])


@pytest.mark.parametrize("invert", [False, True])
def test_the_pyramid_is_the_one_that_the_samples_would_give(invert: bool) -> None:
    generator = np.random.default_rng(5)
    counts = CountSamples(generator.integers(-3000, 3000, 10_007).astype(np.int16), scale=1e-3, offset=0.2)
    read = Channel("CH1", "V", counts, 0.0, 1e-5)
    setup = ChannelSetup(factor=10, invert=invert, offset=0.3)
    made = pyramid_with(build_pyramid(counts), setup)
    anew = build_pyramid(set_up(read, setup).samples)
    assert len(made.levels) == len(anew.levels) > 1
    for one, other in zip(made.levels, anew.levels, strict=True):
        np.testing.assert_array_equal(one.low, other.low)
        np.testing.assert_array_equal(one.high, other.high)


def test_blocks_are_scaled_one_by_one() -> None:
    shown = set_up(channel(np.arange(1000)), ChannelSetup(factor=10))
    for start, block in blocks(shown.samples, length=64):
        np.testing.assert_array_equal(block, np.arange(start, start + block.size) * np.float32(10))


def test_set_up_channels_are_found_again_by_the_files_own_names() -> None:
    capture = Capture("a.csv", "columns", (channel(), channel(name="CH2"), channel(name="CH2")))
    assert [channel_key(capture, place) for place in range(3)] == ["CH1", "#2", "#3"]
    wanted = (ChannelSetup("CH1", name="supply"), ChannelSetup("#3", factor=10))
    shown = with_setups(capture, wanted)
    assert [one.name for one in shown.channels] == ["supply", "CH2", "CH2"]
    # A renamed channel is still found by the name that the file gives.
    assert with_setups(shown, wanted).channels[0].name == "supply"


def test_a_setup_that_does_not_fit_is_told_and_the_rest_is_used() -> None:
    capture = Capture("a.csv", "columns", (channel(unit="A"), channel(name="CH2")), ("a note",))
    setups = (
        ChannelSetup("CH1", clamp_mv_per_a=10),
        ChannelSetup("CH9", factor=10),
        ChannelSetup("CH2", factor=10),
    )
    shown = with_setups(capture, setups)
    assert [stored_of(one)[1].factor for one in shown.channels] == [1.0, 10.0]
    assert len(shown.notes) == 3
    assert "current clamp" in shown.notes[1]
    assert "'CH9'" in shown.notes[2]


def test_a_unit_can_be_said_only_where_the_file_gives_none() -> None:
    assert set_up(channel(unit=None), ChannelSetup(unit="bar")).unit == "bar"
    assert set_up(channel(unit="A"), ChannelSetup(unit="V")).unit == "A"
    assert "the numbers are in bar" in set_up(channel(unit=None), ChannelSetup(unit="bar")).history[-1]
    with pytest.raises(CannotUse, match="this channel is in bar"):
        set_up(channel(unit=None), ChannelSetup(unit="bar", clamp_mv_per_a=10))
