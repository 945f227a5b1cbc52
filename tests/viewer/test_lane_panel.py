"""The panel around the lanes: readings under way, what is remembered, menus, the list of keys, the row of tools."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QMenu, QToolButton
from pytestqt.qtbot import QtBot

from loomlight.signal.capture import Channel
from loomlight.signal.finding import Finding
from loomlight.signal.pyramid import build_pyramid
from loomlight.signal.samples import FloatSamples
from loomlight.viewer.bounds_dialog import BoundsDialog
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.lanes.lane_menu import lane_menu
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.settings import Settings
from loomlight.viewer.theme import DAYLIGHT

SLOW_MS = 20_000


def lane(key: str, *, count: int = 50_000) -> Lane:
    samples = FloatSamples(np.where(np.arange(count) % 100 < 30, 12.0, 1.0))
    return Lane(key, (Trace(Channel(key, "V", samples, 0.0, 1e-6), build_pyramid(samples), "suspect", key),))


LANES = (lane("blower LIN"), lane("flap LIN"), lane("supply"))


@pytest.fixture
def settings(own_home) -> Settings:
    return Settings(own_home / "loomlight.ini")


@pytest.fixture
def panel(qtbot: QtBot, settings: Settings) -> Iterator[LanePanel]:
    made = LanePanel(DAYLIGHT, memory=settings, notes=True)
    qtbot.addWidget(made)
    made.resize(1000, 700)
    made.show_lanes(LANES, {}, name="captures a.csv")
    made.show()
    yield made
    made.close_work()


def text_of(panel: LanePanel) -> str:
    (label,) = [one for one in panel.findChildren(QLabel) if one.accessibleName() == "Readings of the cursors"]
    return label.text() if label.isVisible() else ""


def tool(panel: LanePanel, name: str) -> QToolButton:
    (found,) = [one for one in panel.findChildren(QToolButton) if one.accessibleName() == name]
    return found


def test_times_are_told_at_once_and_pulses_follow(qtbot: QtBot, panel: LanePanel) -> None:
    panel.lanes.set_cursors(0.010, 0.012)
    assert "Δt 2 ms" in text_of(panel)
    qtbot.waitUntil(lambda: text_of(panel).count("duty 30 %") == 3, timeout=SLOW_MS)
    panel.lanes.set_cursors(None, None)
    assert text_of(panel) == ""


def test_only_the_newest_place_is_told(qtbot: QtBot, panel: LanePanel) -> None:
    for number in range(30):
        panel.lanes.set_cursors(0.001 * number, 0.001 * number + 0.002)
    panel.lanes.set_cursors(0.010, 0.0105)
    qtbot.waitUntil(lambda: "rate" in text_of(panel), timeout=SLOW_MS)
    assert text_of(panel).count("edges 10") == 3


def test_level_cursors_alone_are_told_and_need_no_reading(panel: LanePanel) -> None:
    qt_wait = QApplication.processEvents
    panel.lanes.set_level_cursors("flap LIN", 12.0, 1.0)
    qt_wait()
    assert text_of(panel) == "flap LIN:  C 12 V   D 1 V   ΔV -11 V"


def test_the_arrangement_is_remembered_for_what_it_shows(panel: LanePanel, settings: Settings, qtbot: QtBot) -> None:
    panel.lanes.arranging.place("supply", 0)
    panel.lanes.arranging.scale("supply", "set", (0.0, 16.0))
    panel.show_lanes((lane("other"),), {}, name="captures b.csv")
    again = LanePanel(DAYLIGHT, memory=settings)
    qtbot.addWidget(again)
    again.show_lanes(LANES, {}, name="captures b.csv")
    assert [one.key for one in again.lanes.lanes] == ["blower LIN", "flap LIN", "supply"]
    again.show_lanes(LANES, {}, name="captures a.csv")
    assert [one.key for one in again.lanes.lanes] == ["supply", "blower LIN", "flap LIN"]
    assert again.lanes.value_range("supply") == (0.0, 16.0)
    again.close_work()


def test_undoing_it_is_remembered_too(panel: LanePanel, settings: Settings) -> None:
    panel.lanes.arranging.hide("supply")
    assert settings.arrangement("captures a.csv") is not None
    QTest.keyClick(panel.lanes, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert settings.arrangement("captures a.csv") is None


def test_the_uppermost_lane_is_the_one_in_the_overview(panel: LanePanel) -> None:
    seen: list[object] = []
    original = panel.overview.show_trace
    panel.overview.show_trace = lambda trace, full: (seen.append(trace), original(trace, full))  # type: ignore[method-assign,assignment]
    panel.lanes.arranging.place("supply", 0)
    assert seen[-1] is LANES[2].traces[0]


def test_every_tool_is_large_enough_and_does_its_work(panel: LanePanel) -> None:
    """WCAG 2.2, 2.5.5 (AAA): 44 by 44 CSS pixels."""
    for button in panel.tools.findChildren(QToolButton):
        assert button.toolTip()
        assert button.accessibleName()
        if button.isVisible():
            assert button.width() >= 44
    tool(panel, "Zoom in").click()
    tool(panel, "View before").click()
    assert panel.lanes.view() == panel.lanes.full()
    assert not tool(panel, "View before").isEnabled()
    assert tool(panel, "View after").isEnabled()
    tool(panel, "Levels").click()
    assert set(panel.lanes.level_cursors()) == {"blower LIN"}


def menu_of(panel: LanePanel, key: str, asked: list[str] | None = None) -> QMenu:
    return lane_menu(panel.lanes.arranging, key, (asked if asked is not None else []).append, panel)


def act(menu: QMenu, begin: str) -> None:
    menus = [menu, *menu.findChildren(QMenu)]
    (found,) = [one for each in menus for one in each.actions() if one.text().startswith(begin) and not one.menu()]
    assert found.isEnabled(), begin
    found.trigger()


def test_the_lanes_menu_does_what_it_says(panel: LanePanel) -> None:
    keys = lambda: [tuple(layer.key for layer in one.layers) for one in panel.lanes.lanes]  # noqa: E731
    act(menu_of(panel, "blower LIN"), "Move down")
    assert keys()[1] == ("blower LIN",)
    act(menu_of(panel, "supply"), "flap LIN")
    assert ("flap LIN", "supply") in keys()
    act(menu_of(panel, "flap LIN"), "Take apart")
    act(menu_of(panel, "flap LIN"), "Hide")
    assert keys() == [("blower LIN",), ("supply",)]
    act(menu_of(panel, "supply"), "Show again: flap LIN")
    act(menu_of(panel, "supply"), "mV")
    assert panel.lanes.arranging.arrangement.of("supply").prefix == "m"
    act(menu_of(panel, "supply"), "Scale: shared")
    asked: list[str] = []
    act(menu_of(panel, "supply", asked), "Scale: set")
    assert asked == ["supply"]
    act(menu_of(panel, "supply"), "All lanes as they were")
    assert keys() == [("blower LIN",), ("flap LIN",), ("supply",)]


def test_what_is_not_possible_is_not_offered(panel: LanePanel) -> None:
    offered = {one.text().split("  ")[0] for one in menu_of(panel, "blower LIN").actions()}
    assert "Move down" in offered
    assert not {"Move up", "Take apart", "All lanes as they were at first"} & offered
    assert not any(one.startswith("Show again") for one in offered)


@pytest.mark.parametrize(
    ("low", "high", "wanted"),
    [
        ("-1", "16", (-1.0, 16.0)),
        ("-0,5", "3,25 V", (-0.5, 3.25)),
        ("200 mV", "1 kV", (0.2, 1000.0)),
        ("5", "5", None),
        ("6", "5", None),
        ("", "5", None),
        ("nan", "5", None),
        ("-inf", "5", None),
        ("low", "5", None),
    ],
)
def test_the_ends_of_a_scale_are_checked_as_they_are_typed(qtbot: QtBot, low: str, high: str, wanted) -> None:
    dialog = BoundsDialog("blower LIN", "V", (0.0, 12.0))
    qtbot.addWidget(dialog)
    assert dialog.bounds() == (0.0, 12.0)
    dialog.low.setText(low)
    dialog.high.setText(high)
    assert dialog.bounds() == (pytest.approx(wanted) if wanted is not None else None)
    ok = dialog.findChild(type(dialog._buttons)).buttons()[0]
    assert ok.isEnabled() is (wanted is not None)


def test_setting_a_scale_by_its_dialog(panel: LanePanel, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(BoundsDialog, "exec", lambda self: (self.low.setText("-3"), self.high.setText("18"), 1)[2])
    panel._ask_bounds("flap LIN")
    assert panel.lanes.value_range("flap LIN") == (-3.0, 18.0)
    assert panel.lanes.scales()[1].high == 18.0


def test_the_keys_are_listed_beside_the_work(panel: LanePanel) -> None:
    panel.show_keys()
    assert panel._keys is not None
    assert panel._keys.isVisible()
    QTest.keyClick(panel._keys, Qt.Key.Key_Escape)
    assert not panel._keys.isVisible()


def test_a_narrow_row_goes_on_in_the_next_line(qtbot: QtBot, panel: LanePanel) -> None:
    row = panel.tools.layout()
    assert isinstance(row, FlowRow)
    one_line = row.sizeHint()
    assert row.heightForWidth(one_line.width() + 1) == one_line.height()
    assert row.heightForWidth(one_line.width() // 2) >= 2 * one_line.height()
    panel.resize(560, 700)
    QApplication.processEvents()
    buttons = [one for one in panel.tools.findChildren(QToolButton) if one.isVisible()]
    for button in buttons:
        assert panel.tools.rect().contains(button.geometry()), button.text()
    for one in buttons:
        for other in buttons:
            assert one is other or not one.geometry().intersects(other.geometry())


def test_findings_are_stepped_through_from_the_tools(qtbot: QtBot, panel: LanePanel) -> None:
    found = Finding("dropout", "blower LIN", 0.01, 0.0101, 9.5, "V", "rule", "severe")
    panel.show_lanes(LANES, {"blower LIN": (found,)})
    with qtbot.waitSignal(panel.finding_step, timeout=1000) as told:
        tool(panel, "The next finding").click()
    assert told.args == [1]
    panel.show_lanes((replace(LANES[0]),), {})
    assert not tool(panel, "The next finding").isVisible()


def test_what_was_hidden_or_laid_over_is_said_with_the_way_back(panel: LanePanel) -> None:
    told: list[str] = []
    panel.undo_offered.connect(told.append)
    panel.lanes.setFocus()
    QTest.keyClick(panel.lanes, Qt.Key.Key_H)
    QTest.keyClick(panel.lanes, Qt.Key.Key_O)
    assert len(told) == 2
    assert "Shift+H" in told[0]
    assert "Shift+O" in told[1]


def test_long_reading_says_how_far_it_is(qtbot: QtBot, panel: LanePanel) -> None:
    panel.show_lanes((lane("long", count=6_000_000),), {})
    seen: list[str] = []
    panel.lanes.set_cursors(0.0, 6.0)
    qtbot.waitUntil(lambda: (seen.append(text_of(panel)), "duty" in text_of(panel))[1], timeout=SLOW_MS)
    assert any("Reading what lies between A and B" in one for one in seen)
    assert "Reading" not in text_of(panel)
