"""One-channel files of one recording, joined; what is not of one recording stays apart."""

import numpy as np
import pytest

from loomlight.signal.capture import Capture, Channel, Form
from loomlight.signal.channel_setup import ChannelSetup, set_up, stored_of
from loomlight.signal.errors import CannotUse
from loomlight.signal.joined import groups_to_join, joined
from loomlight.signal.samples import FloatSamples

STEP_S = 1e-5


def capture(
    file: str,
    name: str = "Voltage",
    *,
    size: int = 100,
    start_s: float = -2e-4,
    step_s: float = STEP_S,
    form: Form = "even",
) -> Capture:
    channel = Channel(name, "V", FloatSamples(np.arange(size)), start_s, step_s, form, history=(f"read from {file}",))
    return Capture(file, "columns divided by commas", (channel,), ("the unit is from the header",))


def test_channels_come_in_order_with_where_they_came_from() -> None:
    whole = joined([capture("run7_1.csv", "supply"), capture("run7_2.csv", "LIN")])
    assert [one.name for one in whole.channels] == ["supply", "LIN"]
    assert [one.history[-1] for one in whole.channels] == ["joined from run7_1.csv", "joined from run7_2.csv"]
    assert whole.notes == ("run7_1.csv: the unit is from the header", "run7_2.csv: the unit is from the header")
    assert whole.layout == "joined from 2 files: run7_1.csv, run7_2.csv"
    assert whole.source_name == "run7_1 joined"
    assert whole.channels[1].samples.size == 100


def test_names_that_repeat_give_way_to_the_files() -> None:
    same = joined([capture("run7_1.csv"), capture("run7_2.csv"), capture("else.csv", "LIN")])
    assert [one.name for one in same.channels] == ["run7_1", "run7_2", "LIN"]
    even_so = joined([capture("a.csv"), capture("a.txt"), capture("a.tsv")])
    assert len({one.name for one in even_so.channels}) == 3


@pytest.mark.parametrize(
    ("other", "words"),
    [
        (capture("b.csv", size=98), "100 samples and 98"),
        (capture("b.csv", step_s=1.001e-5), "their steps are 1e-05 s and 1.001e-05 s"),
        (capture("b.csv", start_s=-1e-4), "they start at -0.0002 s and -0.0001 s"),
        (capture("b.csv", form="pairs"), "samples are even in one and pairs in the other"),
    ],
)
def test_other_recordings_are_refused_and_what_differs_is_told(other: Capture, words: str) -> None:
    with pytest.raises(CannotUse, match=words):
        joined([capture("a.csv"), other])
    assert groups_to_join([capture("a.csv"), other]) == ()


def test_one_alone_is_nothing_to_join() -> None:
    with pytest.raises(CannotUse, match="nothing to join"):
        joined([capture("a.csv")])


def test_times_that_were_rounded_in_the_text_are_still_the_same() -> None:
    assert groups_to_join([capture("a.csv"), capture("b.csv", start_s=-2e-4 + 5e-8)]) == ((0, 1),)
    # A hundredth of a step over the whole length: 100 samples of a step that differs by a twenty-thousandth.
    assert groups_to_join([capture("a.csv"), capture("b.csv", step_s=STEP_S * (1 + 5e-5))]) == ((0, 1),)
    assert groups_to_join([capture("a.csv"), capture("b.csv", step_s=STEP_S * (1 + 2e-4))]) == ()


def test_groups_leave_out_captures_of_several_channels() -> None:
    two = joined([capture("x.csv"), capture("y.csv")])
    files = [capture("a.csv"), two, capture("b.csv", size=50), capture("c.csv"), capture("d.csv", size=50)]
    assert groups_to_join(files) == ((0, 3), (2, 4))


def test_a_set_up_channel_stays_one_that_can_be_changed() -> None:
    one = capture("a.csv")
    with_setup = Capture("a.csv", one.layout, (set_up(one.channels[0], ChannelSetup(factor=10)),))
    whole = joined([with_setup, capture("b.csv")])
    stored, setup = stored_of(whole.channels[0])
    assert setup.factor == 10
    assert whole.channels[0].name == "a"
    assert stored.history[-1] == "joined from a.csv"
    assert whole.channels[0].samples.block(0, 3).tolist() == [0.0, 10.0, 20.0]
    named = Capture("a.csv", one.layout, (set_up(one.channels[0], ChannelSetup(name="supply")),))
    assert [channel.name for channel in joined([named, capture("b.csv")]).channels] == ["supply", "Voltage"]
