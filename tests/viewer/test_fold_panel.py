"""The folded view in the window: real bits of the sample captures, side by side at one scale."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from loomlight.signal.capture import Channel
from loomlight.signal.finding import Finding
from loomlight.signal.pyramid import build_pyramid
from loomlight.signal.samples import FloatSamples
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.fold_canvas import fold_words
from loomlight.viewer.fold_work import FoldSource, find_starts, fold_all
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.lanes.specs import Lane, LevelLine, Trace
from loomlight.viewer.roles import RoleKey
from loomlight.viewer.theme import DAYLIGHT, NIGHT

SLOW_MS = 20_000


def trace_of(channel: Channel, role: RoleKey, **fields: object) -> Trace:
    return Trace(channel, build_pyramid(channel.samples), role, channel.name, **fields)  # type: ignore[arg-type]


@pytest.fixture
def lane(stick: Path) -> Lane:
    blower, flap = open_capture(stick / "before.csv").channels[:2]
    lines = (LevelLine(5.0, "dominant below 5.0 V"),)
    return Lane(blower.name, (trace_of(flap, "known-good"), trace_of(blower, "suspect")), lines)


@pytest.fixture
def panel(qtbot: QtBot, lane: Lane) -> Iterator[LanePanel]:
    made = LanePanel(DAYLIGHT)
    qtbot.addWidget(made)
    made.resize(1000, 600)
    made.show_lanes((lane,), {})
    made.show()
    yield made
    made.close_work()


def test_the_button_folds_and_brings_the_lanes_back(qtbot: QtBot, panel: LanePanel) -> None:
    qtbot.mouseClick(panel.fold_button, Qt.MouseButton.LeftButton)
    assert not panel.lanes.isVisible()
    qtbot.waitUntil(lambda: "bits" in panel.fold.canvas.accessibleDescription(), timeout=SLOW_MS)
    both = panel.fold.canvas.accessibleDescription()
    assert both.count("bits of 52.") == 2, both
    picture = panel.fold.canvas.grab().toImage()
    panel.set_theme(NIGHT)
    assert panel.fold.canvas.grab().toImage() != picture
    qtbot.mouseClick(panel.fold_button, Qt.MouseButton.LeftButton)
    assert panel.lanes.isVisible()
    assert not panel.fold.isVisible()


def test_another_way_to_fold_and_the_view_alone(qtbot: QtBot, panel: LanePanel) -> None:
    start, stop = panel.lanes.full()
    panel.lanes.set_view(start, start + (stop - start) / 4)
    panel.fold_button.setChecked(True)
    panel.fold.way.setCurrentIndex(panel.fold.way.findData("LIN frames"))
    words = panel.fold.canvas.accessibleDescription
    qtbot.waitUntil(lambda: "frames" in words(), timeout=SLOW_MS)
    whole = int(words().split()[0])
    qtbot.mouseClick(panel.fold.view_only, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "frames" in words() and int(words().split()[0]) < whole, timeout=SLOW_MS)
    assert int(words().split()[0]) >= whole // 8


def test_folds_share_one_scale(lane: Lane) -> None:
    sources = [FoldSource(trace, (), "V") for trace in lane.traces]
    known_good, suspect = fold_all(find_starts(sources, "LIN bits", lambda _: None), None, (200, 100), lambda _: None)
    assert known_good.folded is not None
    assert suspect.folded is not None
    for name in ("begin_s", "end_s", "low", "high"):
        assert getattr(known_good.folded, name) == getattr(suspect.folded, name)
    assert known_good.folded.counts.shape == suspect.folded.counts.shape == (100, 200)


def test_amperes_do_not_stretch_volts(lane: Lane) -> None:
    small = Channel("current", "A", FloatSamples(np.where(np.arange(50_000) % 100 < 30, 0.5, 0.0)), 0.0, 1e-6)
    sources = [FoldSource(lane.traces[1], (), "V"), FoldSource(trace_of(small, "other"), (), "A")]
    volts, amperes = fold_all(find_starts(sources, "rising edges", lambda _: None), None, (50, 50), lambda _: None)
    assert volts.folded is not None
    assert amperes.folded is not None
    assert amperes.folded.high < 1.0 < 10.0 < volts.folded.high


def test_what_cannot_be_folded_says_so_and_the_other_is_shown(lane: Lane) -> None:
    flat = Channel("flat", "V", FloatSamples(np.full(5000, 5.0)), 0.0, 1e-6)
    sources = [FoldSource(trace_of(flat, "known-good"), (), "V"), FoldSource(lane.traces[1], (), "V")]
    broken, whole = fold_all(find_starts(sources, "automatic", lambda _: None), None, (50, 50), lambda _: None)
    assert "does not go between two levels" in fold_words(broken)
    assert "bits" in fold_words(whole)


def test_a_trace_that_is_turned_over_is_folded_so(lane: Lane) -> None:
    plain = lane.traces[1]
    turned = trace_of(plain.channel, "suspect", upside_down=True)
    sources = [FoldSource(plain, (), "V"), FoldSource(turned, (), "V")]
    found = fold_all(find_starts(sources, "LIN bits", lambda _: None), None, (60, 90), lambda _: None)
    one, other = (each.folded for each in found)
    assert one is not None
    assert other is not None
    assert other.counts.any()
    rows = np.flatnonzero(other.counts.sum(axis=1))
    # 12 V up is 12 V down: all of it in the lower part of a scale that reaches over both.
    assert rows.max() < np.flatnonzero(one.counts.sum(axis=1)).min() + 10


def test_findings_are_stepped_through_on_the_lanes_alone(panel: LanePanel, lane: Lane) -> None:
    found = Finding("dropout", lane.key, 0.01, 0.0101, 9.5, "V", "rule", "severe")
    panel.show_lanes((lane,), {lane.key: (found,)})
    assert panel.steps.isVisible()
    panel.fold_button.setChecked(True)
    assert not panel.steps.isVisible()
    panel.fold_button.setChecked(False)
    assert panel.steps.isVisible()


def test_without_lanes_nothing_is_folded(qtbot: QtBot, panel: LanePanel) -> None:
    panel.fold_button.setChecked(True)
    panel.show_lanes((), {})
    panel.fold_button.setChecked(False)
    assert not panel.grab().isNull()


def test_leaving_it_gives_the_work_up_and_coming_back_begins_again(qtbot: QtBot, panel: LanePanel) -> None:
    panel.fold_button.setChecked(True)
    panel.fold_button.setChecked(False)
    assert not panel.fold._work.is_busy
    panel.fold_button.setChecked(True)
    qtbot.waitUntil(lambda: "bits" in panel.fold.canvas.accessibleDescription(), timeout=SLOW_MS)
