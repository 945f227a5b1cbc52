"""Figures over time: listed, and drawn under the capture when one is picked; the known-good's under the suspect's."""

from pathlib import Path

import numpy as np
import pytest

from loomlight import sample_captures
from loomlight.signal.comparison import check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.track import Track
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.pages.track_lane import track_lane
from loomlight.viewer.table_words import track_cells

SAMPLES = Path(str(sample_captures.__path__[0]))


def test_a_track_as_cells() -> None:
    track = Track("ripple", "V", np.arange(4.0), np.array([0.1, np.nan, 0.3, 0.2]))
    assert track_cells(track) == ("ripple", "100 mV", "200 mV", "300 mV", "3")
    nothing = Track("ripple", "V", np.arange(1.0), np.array([np.nan]))
    assert track_cells(nothing)[1] == "cannot tell"


def test_the_known_goods_track_is_laid_under_the_suspects() -> None:
    bad = open_capture(SAMPLES / "supply_voltage_drop.h5").channels[0]
    good = open_capture(SAMPLES / "supply_good.h5").channels[0]
    alone = check(bad, kind="supply", conditions=Conditions())
    assert alone.looked is not None
    level = next(one for one in alone.looked.tracks if one.name == "level")
    lane = track_lane(alone, level)
    assert [trace.role for trace in lane.traces] == ["suspect"]
    assert lane.unit == "V"
    assert "uneven" not in lane.traces[0].heading
    both = compare(bad, good, kind="supply", conditions=Conditions(), by="shape")
    assert both.looked is not None
    assert both.lineup is not None
    roles = [trace.role for trace in track_lane(both, level).traces]
    assert roles == (["known-good", "suspect"] if both.lineup.accepted else ["suspect"])
    assert lane.traces[0].channel.samples.size == level.values.size == pytest.approx(level.times_s.size)
