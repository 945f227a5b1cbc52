"""The whole capture in one strip: the frame follows the view, and asks for another one."""

from collections.abc import Callable

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QImage, QMouseEvent
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.overview import Overview
from loomlight.viewer.lanes.specs import Trace
from loomlight.viewer.theme import DAYLIGHT, NIGHT

NONE = Qt.KeyboardModifier.NoModifier
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def overview(qtbot: QtBot, bus_trace: Trace) -> Overview:
    """100 ms in 1008 pixels, the strip itself 1000 wide from pixel 4 on: 10 pixels a millisecond."""
    made = Overview(DAYLIGHT)
    qtbot.addWidget(made)
    made.resize(1008, 56)
    made.show_trace(bus_trace, (0.0, 0.1))
    made.show_view(0.04, 0.06)
    made.view_wanted.connect(made.show_view)  # as the lanes do
    made.show()
    return made


def x_of(at_s: float) -> int:
    return round(4 + 10_000 * at_s)


def drag(overview: Overview, begin_x: int, *steps_x: int) -> list[tuple[float, float]]:
    wanted: list[tuple[float, float]] = []
    overview.view_wanted.connect(lambda start_s, stop_s: wanted.append((start_s, stop_s)))
    QTest.mousePress(overview, LEFT, NONE, QPoint(begin_x, 30))
    for x in steps_x:
        place = QPointF(x, 30)
        overview.mouseMoveEvent(QMouseEvent(QEvent.Type.MouseMove, place, place, Qt.MouseButton.NoButton, LEFT, NONE))
    QTest.mouseRelease(overview, LEFT, NONE, QPoint(steps_x[-1] if steps_x else begin_x, 30))
    return wanted


def test_the_frame_goes_with_the_hand_and_keeps_its_length(overview: Overview) -> None:
    wanted = drag(overview, x_of(0.05), x_of(0.06), x_of(0.07))
    assert wanted[-1] == pytest.approx((0.06, 0.08), abs=1e-4)


def test_a_click_beside_the_frame_brings_it_there(overview: Overview) -> None:
    assert drag(overview, x_of(0.09))[-1] == pytest.approx((0.08, 0.10), abs=1e-4)


@pytest.mark.parametrize(
    ("edge_s", "to_s", "wanted"),
    [(0.04, 0.02, (0.02, 0.06)), (0.06, 0.075, (0.04, 0.075)), (0.04, 0.055, (0.055, 0.06))],
)
def test_dragging_an_edge_zooms(overview: Overview, edge_s: float, to_s: float, wanted: tuple[float, float]) -> None:
    assert drag(overview, x_of(edge_s), x_of(to_s))[-1] == pytest.approx(wanted, abs=1.5e-4)


def test_an_edge_dragged_past_the_other_does_not_turn_the_view_round(overview: Overview) -> None:
    for start_s, stop_s in drag(overview, x_of(0.04), x_of(0.059), x_of(0.08)):
        assert start_s < stop_s


def test_a_narrow_frame_can_still_be_moved(overview: Overview) -> None:
    overview.show_view(0.050, 0.0501)
    wanted = drag(overview, x_of(0.05005), x_of(0.07))
    assert wanted[-1][0] == pytest.approx(0.07, abs=2e-4)
    assert wanted[-1][1] - wanted[-1][0] == pytest.approx(1e-4)


# WCAG 2.2, 2.5.5 (AAA): a target is at least 44 CSS pixels wide.
@pytest.mark.parametrize("off", [-20, 0, 20])
def test_a_frame_of_one_pixel_is_taken_by_a_cold_finger(overview: Overview, off: int) -> None:
    overview.show_view(0.050, 0.0501)
    wanted = drag(overview, x_of(0.05005) + off, x_of(0.05005) + off + 100)
    assert wanted[-1] == pytest.approx((0.060, 0.0601), abs=2e-4), "it goes with the hand and does not jump to it"


@pytest.mark.parametrize("off", [-12, 0, 12])
@pytest.mark.parametrize(("side", "wanted"), [(-1, (0.045, 0.0501)), (1, (0.050, 0.0551))])
def test_a_narrow_frame_is_made_wider_by_the_handles_beside_it(overview: Overview, off: int, side: int, wanted) -> None:
    overview.show_view(0.050, 0.0501)
    at = x_of(0.05005) + side * 40 + off
    assert drag(overview, at, at + side * 50)[-1] == pytest.approx(wanted, abs=1.5e-4)


def test_a_press_beside_a_narrow_frame_goes_there(overview: Overview) -> None:
    overview.show_view(0.050, 0.0501)
    wanted = drag(overview, x_of(0.05005) + 15)
    assert wanted[-1] == pytest.approx((0.0515, 0.0516), abs=2e-4)


def test_handles_are_drawn_on_the_edges_or_beside_a_narrow_frame(overview: Overview, inked) -> None:
    def handles() -> list[int]:
        picture = overview.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
        columns = inked(picture, DAYLIGHT.text)[20:36].sum(axis=0)
        return np.flatnonzero(columns >= 15).tolist()

    wide = handles()
    assert min(wide) == pytest.approx(x_of(0.04), abs=4)
    assert max(wide) == pytest.approx(x_of(0.06), abs=4)
    overview.show_view(0.050, 0.0501)
    narrow = handles()
    assert max(narrow) - min(narrow) == pytest.approx(60, abs=8)


def test_the_pointer_says_what_can_be_taken(overview: Overview) -> None:
    for at_s, shape in (
        (0.05, Qt.CursorShape.OpenHandCursor),
        (0.04, Qt.CursorShape.SizeHorCursor),
        (0.09, Qt.CursorShape.ArrowCursor),
    ):
        place = QPointF(x_of(at_s), 30)
        nothing = Qt.MouseButton.NoButton
        overview.mouseMoveEvent(QMouseEvent(QEvent.Type.MouseMove, place, place, nothing, nothing, NONE))
        assert overview.cursor().shape() == shape


def test_a_hundred_findings_stand_higher_than_ten(overview: Overview, inked) -> None:
    few, many = 0.02, 0.07
    overview.show_findings([finding(few)] * 10 + [finding(many)] * 100)
    heights = ticks_at(overview, inked)
    assert heights[x_of(many) - 10] > heights[x_of(few) - 10]


def test_a_moved_pointer_with_no_button_changes_nothing(overview: Overview) -> None:
    wanted = drag(overview, x_of(0.05))
    QTest.mouseMove(overview, QPoint(x_of(0.09), 30))
    assert wanted == []


@pytest.mark.parametrize(
    ("key", "wanted"),
    [
        (Qt.Key.Key_Left, (0.035, 0.055)),
        (Qt.Key.Key_Right, (0.045, 0.065)),
        (Qt.Key.Key_Up, (0.043, 0.057)),
        (Qt.Key.Key_Down, (0.036, 0.064)),
    ],
)
def test_keys(qtbot: QtBot, overview: Overview, key: Qt.Key, wanted: tuple[float, float]) -> None:
    with qtbot.waitSignal(overview.view_wanted, timeout=1000) as told:
        QTest.keyClick(overview, key)
    assert told.args == pytest.approx(list(wanted))


def finding(at_s: float) -> Finding:
    return Finding("dropout", "blower LIN", at_s, at_s, 9.0, "V", "rule", "severe")


def ticks_at(overview: Overview, inked: Callable[[QImage, str], np.ndarray]) -> np.ndarray:
    """Height of the tick in each column of pixels."""
    overview.show_view(0.0, 0.1)
    picture = overview.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    return inked(picture, DAYLIGHT.text)[3:13, 10:-10].sum(axis=0)


def test_each_finding_has_its_tick_and_a_crowd_a_taller_one(overview: Overview, inked) -> None:
    alone, crowd = 0.02, 0.07
    overview.show_findings([finding(alone), *[finding(crowd + 1e-6 * number) for number in range(6)]])
    heights = ticks_at(overview, inked)
    columns = np.flatnonzero(heights) + 10
    assert {round((column - 4) / 100) for column in columns.tolist()} == {2, 7}
    assert heights[x_of(crowd) - 10] > heights[x_of(alone) - 10] > 3


def test_ten_thousand_findings_are_drawn_in_no_more_lines_than_pixels(overview: Overview, inked) -> None:
    overview.show_findings([finding(at_s) for at_s in np.linspace(0.0, 0.1, 10_000).tolist()])
    assert (ticks_at(overview, inked) > 0).all()


def test_nothing_to_show_is_drawn_too(qtbot: QtBot) -> None:
    empty = Overview(DAYLIGHT)
    qtbot.addWidget(empty)
    assert not empty.grab().isNull()
    empty.show_trace(None, (0.0, 0.0))
    assert not empty.grab().isNull()


def test_the_strip_is_drawn_again_only_when_it_is_another(overview: Overview, bus_trace: Trace) -> None:
    def strip() -> object:
        overview.grab()
        return overview._strip

    first = strip()
    overview.show_view(0.01, 0.02)
    assert strip() is first
    for change in (
        lambda: overview.show_findings([finding(0.02)]),
        lambda: overview.show_trace(bus_trace, (0.0, 0.2)),
        lambda: overview.set_theme(NIGHT),
        lambda: overview.resize(700, 56),
    ):
        change()
        assert strip() is not first
        first = strip()
