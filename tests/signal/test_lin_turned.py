"""A line recorded upside down is recognised, whatever the offset, and said with what to do."""

from typing import Any

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.channel_setup import ChannelSetup, set_up
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples


def turned(channel: Channel, offset_v: float) -> Channel:
    values = offset_v - channel.samples.block(0, channel.samples.size)
    return Channel(channel.name, "V", FloatSamples(values.astype(np.float32)), channel.start_s, channel.step_s)


@pytest.mark.parametrize("offset_v", [0.0, 13.0, 6.5], ids=["below 0 V", "within the supply", "across 0 V"])
def test_upside_down_is_recognised_by_the_frames_in_it(healthy: Any, offset_v: float) -> None:
    found = check(turned(healthy.near, offset_v), kind="lin", conditions=Conditions())
    assert found.verdict.state == "cannot tell"
    assert "upside down" in found.verdict.reasons[0]
    assert "set-up" in found.verdict.next_step
    assert found.looked is not None
    assert [one.about for one in found.looked.doubts] == ["upside down"]


def test_the_set_up_that_is_advised_mends_it(healthy: Any) -> None:
    mended = set_up(turned(healthy.near, 0.0), ChannelSetup(invert=True))
    assert check(mended, kind="lin", conditions=Conditions()).verdict.state == "clean"


def test_a_line_that_is_no_bus_is_not_called_upside_down() -> None:
    rng = np.random.default_rng(1)
    square = np.where(np.sin(2 * np.pi * 800 * np.arange(60_000) * 2e-6) > 0, 11.5, 1.0) + rng.normal(0, 0.02, 60_000)
    found = check(Channel("x", "V", FloatSamples(square), 0.0, 2e-6), kind="lin", conditions=Conditions())
    assert not any("upside down" in reason for reason in found.verdict.reasons)
