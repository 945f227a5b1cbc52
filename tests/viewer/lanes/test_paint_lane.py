"""Findings, limits, heads and axes of a lane, pixel by pixel."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QFont, QFontMetricsF, QImage, QPainter

from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.marks import Marks
from loomlight.viewer.lanes.paint_findings import (
    LEAST_FINDING_PIXELS,
    STRIP_PIXELS,
    paint_brackets,
    paint_findings,
    paint_picked,
    place_findings,
)
from loomlight.viewer.lanes.paint_lane import (
    axis_width,
    paint_lane,
    paint_time_axis,
    text_places,
    time_ticks,
)
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane, LevelLine
from loomlight.viewer.lanes.ticks import PREFIXED_UNITS, ticks
from loomlight.viewer.theme import DAYLIGHT, NIGHT, Theme

pytestmark = pytest.mark.usefixtures("qapp")
LEFT, TOP, WIDTH, HEIGHT = 80, 10, 800, 200


def finding(start_s: float, stop_s: float, **changes: object) -> Finding:
    base = Finding("dropout", "blower LIN", start_s, stop_s, 9.5, "V", "rule", "severe")
    return replace(base, **changes)  # type: ignore[arg-type]


def marked(findings: list[Finding], *, picked: Finding | None = None) -> Callable[[QPainter, Scale], None]:
    def draw(painter: QPainter, scale: Scale) -> None:
        placed = place_findings(painter, scale, findings)
        paint_findings(painter, DAYLIGHT, placed)
        paint_brackets(painter, scale, DAYLIGHT, placed)
        if picked is not None:
            paint_picked(painter, scale, DAYLIGHT, picked)

    return draw


def test_severe_is_outlined_and_hatched_and_mild_outlined_only(draw, inked) -> None:
    for severity, hatched in (("severe", True), ("mild", False)):
        picture = draw(marked([finding(0.25, 0.75, severity=severity)]), (0.0, 1.0), (0.0, 1.0))
        outline, hatch = inked(picture, DAYLIGHT.text), inked(picture, DAYLIGHT.finding)
        assert outline[TOP + 20 : TOP + 180, LEFT + WIDTH // 4].all()
        assert outline[TOP + 20 : TOP + 180, LEFT + 3 * WIDTH // 4 - 1].all()
        assert hatch.any() == hatched


def test_the_shortest_finding_is_still_seen(draw, inked) -> None:
    picture = draw(marked([finding(0.5, 0.5 + 1e-9)]), (0.0, 1.0), (0.0, 1.0))
    used = np.flatnonzero(inked(picture, DAYLIGHT.text).any(axis=0))
    assert np.ptp(used) >= LEAST_FINDING_PIXELS - 1
    assert used.mean() == pytest.approx(LEFT + WIDTH / 2, abs=2)


def test_a_finding_wider_than_the_view_shows_no_false_edge(draw, inked) -> None:
    picture = draw(marked([finding(0.0, 1.0)]), (0.4, 0.6), (0.0, 1.0))
    inside = inked(picture, DAYLIGHT.text)[TOP + 20 : TOP + 180, LEFT : LEFT + WIDTH]
    assert not inside.any()
    assert inked(picture, DAYLIGHT.finding).any()


def test_what_lasts_a_whole_frame_is_a_strip_at_the_foot(draw, inked) -> None:
    picture = draw(marked([finding(0.2, 0.8, kind="frame error")]), (0.0, 1.0), (0.0, 1.0))
    rows = np.flatnonzero(inked(picture, DAYLIGHT.text).any(axis=1))
    assert rows.min() >= TOP + HEIGHT - STRIP_PIXELS - 3


def test_the_last_of_ten_thousand_findings_is_drawn(draw, inked) -> None:
    many = [finding(at_s, at_s + 1e-6) for at_s in np.linspace(0.0, 0.5, 10_000).tolist()] + [finding(0.9, 0.9001)]
    picture = draw(marked(many), (0.0, 1.0), (0.0, 1.0))
    assert inked(picture, DAYLIGHT.text)[TOP + 100, LEFT + 9 * WIDTH // 10 - 3 : LEFT + 9 * WIDTH // 10 + 4].any()


def test_the_picked_one_stands_out(draw, inked) -> None:
    both = [finding(0.2, 0.3), finding(0.6, 0.7)]
    plain = inked(draw(marked(both), (0.0, 1.0), (0.0, 1.0)), DAYLIGHT.text)
    picked = inked(draw(marked(both, picked=both[1]), (0.0, 1.0), (0.0, 1.0)), DAYLIGHT.text)
    added = np.flatnonzero((picked & ~plain).any(axis=0))
    assert added.min() > LEFT + 0.58 * WIDTH
    assert added.max() < LEFT + 0.72 * WIDTH


def test_marks_find_the_nearest_of_several() -> None:
    wide, narrow, far = finding(0.1, 0.5), finding(0.19, 0.21), finding(0.8, 0.9)
    marks = Marks([wide, narrow, far])
    assert marks.near(0.2, 0.0) is narrow
    assert marks.near(0.45, 0.0) is wide
    assert marks.near(0.79, 0.02) is far
    assert marks.near(0.7, 0.02) is None
    assert Marks([]).near(0.0, 1.0) is None
    assert list(marks) == [wide, narrow, far]


def lane_painter(lane: Lane, theme: Theme = DAYLIGHT) -> Callable[[QPainter, Scale], None]:
    return lambda painter, scale: paint_lane(painter, lane, scale, theme, ())


def test_a_limit_is_a_line_at_its_level_with_its_words_above(bus_trace, draw, inked) -> None:
    bare, limited = (
        draw(lane_painter(Lane("a", (bus_trace,), lines)), (0.2, 0.3), (0.0, 14.0))
        for lines in ((), (LevelLine(7.0, "dominant below 7.0 V"),))
    )
    row = TOP + HEIGHT // 2
    assert inked(limited, DAYLIGHT.rule)[row - 1 : row + 2, LEFT + 20 : LEFT + 500].any(axis=0).all()
    words = inked(limited, DAYLIGHT.text) & ~inked(bare, DAYLIGHT.text)
    assert words[row - 22 : row, LEFT + 600 :].sum() > 10  # smooth letters have few pixels of the full colour


def test_two_limits_close_together_never_write_over_each_other(bus_trace, draw, inked) -> None:
    def words(*lines: LevelLine) -> int:
        return int(inked(draw(lane_painter(Lane("a", (bus_trace,), lines)), (0.2, 0.3), (0.0, 14.0)), "#000000").sum())

    upper, lower = LevelLine(7.05, "recessive above"), LevelLine(7.0, "dominant below")
    assert words(upper, lower) == pytest.approx(words(upper), abs=4)


@pytest.mark.parametrize(
    ("role", "wanted"),
    [
        ("known-good", "● known-good: LIN"),
        ("suspect", "■ suspect: LIN"),
        ("after repair", "▲ after repair: LIN"),
        ("difference", "◆ difference: LIN"),
        ("other", "LIN"),
    ],
)
def test_headings(make_trace, role, wanted) -> None:
    assert make_trace([0.0, 1.0], role=role, name="LIN").heading == wanted


@pytest.mark.parametrize("theme", [DAYLIGHT, NIGHT], ids=["daylight", "night"])
def test_a_long_head_stays_inside_its_lane(make_trace, draw, inked, theme) -> None:
    long = "the blower's wire behind the bulkhead connector, measured at the motor side " * 3
    lane = Lane("a", (make_trace([0.0, 0.0], role="known-good", name=long), make_trace([0.0, 0.0], name=long)))
    picture = draw(lane_painter(lane, theme), (5.0, 6.0), (1.0, 2.0))
    assert not inked(picture, theme.text)[:, LEFT + WIDTH + 2 :].any()


def test_a_band_is_drawn_around_zero(make_trace, draw, inked) -> None:
    lane = Lane("difference", (make_trace([np.nan], role="difference"),), band=2.0)
    edges = inked(draw(lane_painter(lane), (5.0, 6.0), (-10.0, 10.0)), DAYLIGHT.rule)
    for volts in (2.0, -2.0):
        row = round(TOP + HEIGHT / 2 - volts / 20 * HEIGHT)
        assert edges[row - 1 : row + 2, LEFT + 5 : LEFT + WIDTH - 5].any(axis=0).all()


@pytest.mark.parametrize(
    ("values", "band", "wanted"),
    [
        ([0.0, 10.0], None, (-0.8, 12.2)),
        ([5.0, 5.0], None, (4.6, 6.1)),
        ([0.0, 0.0], None, (-0.08, 0.22)),
        ([np.nan], None, (0.0, 1.0)),
        ([0.1, -0.1], 1.0, (-1.16, 1.44)),
    ],
)
def test_own_scale_leaves_room_for_the_head(make_trace, values, band, wanted) -> None:
    assert Lane("a", (make_trace(values),), band=band).value_range() == pytest.approx(wanted)


@pytest.mark.parametrize("span", [1e-9, 3.3e-4, 0.02, 1.0, 13.0, 400.0, 90_000.0])
@pytest.mark.parametrize("middle", [0.0, 12.0, -48.0])
def test_texts_of_the_value_axis_fit_their_room(span: float, middle: float) -> None:
    font = QFont()
    font.setPixelSize(15)
    span = max(span, 1e-4 * abs(middle))  # no lane is zoomed deeper than that
    for unit in ("V", "counts"):
        found = ticks(middle - span / 2, middle + span / 2, most=8, unit=unit, prefixed=unit in PREFIXED_UNITS)
        for text in found.texts:
            if unit == "V" or span > 1e-3:
                assert QFontMetricsF(font).horizontalAdvance(text) <= axis_width(font) - 6, text


@pytest.mark.parametrize("view", [(0.0, 0.1), (0.0, 1e-7), (-3600.0, 3600.0), (1.7e9, 1.7e9 + 1e-3)])
def test_the_time_axis_stays_on_the_picture(draw, inked, view) -> None:
    def axis(painter: QPainter, scale: Scale) -> None:
        paint_time_axis(painter, QRectF(LEFT, TOP + HEIGHT, WIDTH, 30), *view, DAYLIGHT)

    picture: QImage = draw(axis, (0.0, 1.0), (0.0, 1.0))
    words = inked(picture, DAYLIGHT.text)
    assert words.any()
    assert not words[:, LEFT + WIDTH + 4 :].any()


@pytest.mark.parametrize("width", [150, 333, 840, 1500])
@pytest.mark.parametrize("view", [(0.044, 0.04406), (0.0435, 0.0447), (-0.05, 0.35), (-3600.0, 3600.0)])
def test_texts_held_on_the_axis_do_not_touch(width: int, view: tuple[float, float]) -> None:
    font = QFont()
    font.setPixelSize(15)
    rect = QRectF(60, 0, width, 30)
    found = time_ticks(rect, *view, font)
    places = [one for one in text_places(found, Scale(rect, *view, 0.0, 1.0), QFontMetricsF(font)) if one[1]]
    assert len(places) == len(found.texts) or width < 300
    for (left, text_width), (next_left, _) in zip(places, places[1:], strict=False):
        assert left + text_width + 8 <= next_left + 1e-6
    assert places[-1][0] + places[-1][1] <= rect.right() + 1e-6
