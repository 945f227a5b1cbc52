"""Pixels filled by numpy, against the same done one at a time; pictures that are kept; a canvas without a hole."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter, QTransform
from pytestqt.qtbot import QtBot

from loomlight.viewer.lanes.device import device_rect
from loomlight.viewer.lanes.kept_pictures import MOST_KEPT, KeptPictures
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.raster import Overlay, Patch, falling_lines, patch_of, rising_lines, thickened
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import DAYLIGHT

pytestmark = pytest.mark.usefixtures("qapp")
GROUND, FIRST, SECOND = "#ffffff", "#c24f00", "#000000"


def patch(width: int, height: int) -> Patch:
    return Patch(0, 0, width, height, 1.0, Scale(QRectF(0, 0, width, height), 0.0, 1.0, 0.0, 1.0))


def laid_down(overlay: Overlay, width: int, height: int) -> np.ndarray:
    image = QImage(width, height, QImage.Format.Format_RGB32)
    image.fill(QColor(GROUND))
    painter = QPainter(image)
    overlay.paint(painter)
    painter.end()
    raw = np.frombuffer(image.constBits(), np.uint32).reshape(height, image.bytesPerLine() // 4)
    return raw[:, :width] & 0xFFFFFF


@settings(deadline=None, max_examples=80)
@given(seed=st.integers(0, 10_000), height=st.sampled_from([1, 7, 200, 255, 256, 700]))
def test_strokes_fill_what_a_loop_would_fill(seed: int, height: int) -> None:
    rng, width = np.random.default_rng(seed), 60
    picture = np.full((height, width), int(GROUND[1:], 16))
    overlay = Overlay(patch(width, height))
    for colour in (FIRST, SECOND):
        top = rng.uniform(-0.5 * height, 1.5 * height, width)
        bottom = top + rng.uniform(-3, 0.8 * height, width)
        top[rng.random(width) < 0.2], bottom[rng.random(width) < 0.2] = np.nan, np.nan
        top[rng.random(width) < 0.05], bottom[rng.random(width) < 0.05] = -np.inf, np.inf
        overlay.strokes(top, bottom, colour)
        for column in range(width):
            if np.isnan(top[column]) or np.isnan(bottom[column]):
                continue
            first = int(np.floor(np.clip(top[column], 0, height)))
            stop = int(np.floor(np.clip(bottom[column], 0, height)))
            picture[first:stop, column] = int(colour[1:], 16)
    columns = np.flatnonzero(rng.random(width) < 0.3)
    first = int(rng.integers(-3, height))
    overlay.rows(first, first + 12, columns, FIRST)
    picture[max(first, 0) : max(first + 12, 0), columns] = int(FIRST[1:], 16)
    np.testing.assert_array_equal(laid_down(overlay, width, height), picture)


@settings(deadline=None, max_examples=60)
@given(seed=st.integers(0, 10_000), pixels=st.integers(1, 6))
def test_a_thick_line_reaches_over_its_neighbours_and_not_into_gaps(seed: int, pixels: int) -> None:
    rng = np.random.default_rng(seed)
    top = rng.uniform(0, 50, 40)
    bottom = top + rng.uniform(0, 20, 40)
    gap = rng.random(40) < 0.15
    top[gap], bottom[gap] = np.nan, np.nan
    wide_top, wide_bottom = thickened(top, bottom, pixels)
    before, after = pixels // 2, (pixels - 1) // 2
    for column in range(40):
        if gap[column]:
            assert np.isnan(wide_top[column])
            continue
        near = slice(max(column - before, 0), column + after + 1)
        assert wide_top[column] == np.nanmin(top[near]) - 0.5 * (pixels - 1)
        assert wide_bottom[column] - np.floor(np.nanmax(bottom[near]) - 0.5 * (pixels - 1)) == pixels


def test_an_overlay_with_nothing_on_it_changes_nothing() -> None:
    overlay = Overlay(patch(20, 20))
    overlay.strokes(np.full(20, np.nan), np.full(20, 5.0), FIRST)
    overlay.rows(30, 40, np.arange(20), FIRST)
    overlay.squares(np.array([500.0]), np.array([3.0]), 5, FIRST)
    assert (laid_down(overlay, 20, 20) == int(GROUND[1:], 16)).all()


def test_lines_rise_and_fall_and_stand_still_from_lane_to_lane() -> None:
    lines, rows = rising_lines(patch(40, 30), 8), np.arange(30)
    assert lines[rows, 32 - rows].all()
    assert not lines[rows, 33 - rows].any()
    falling = falling_lines(patch(40, 30), 8)
    first = int(np.flatnonzero(falling[0])[0])
    assert falling[rows[:20], first + rows[:20]].all()
    lower = rising_lines(Patch(3, 5, 40, 30, 1.0, patch(40, 30).scale), 8)
    np.testing.assert_array_equal(lower[:20, :30], rising_lines(patch(43, 35), 8)[5:25, 3:33])


@pytest.mark.parametrize("ratio", [1.0, 1.25, 1.5, 1.75, 2.0])
def test_a_patch_is_the_whole_pixels_under_a_lane(ratio: float) -> None:
    placed = QTransform.fromScale(ratio, ratio)
    scale = Scale(QRectF(81, 13, 700, 111), 1.0, 3.0, -1.0, 1.0)
    found = patch_of(placed, scale)
    rect = device_rect(placed, scale.rect)
    assert (found.left, found.top) == (rect.left(), rect.top())
    assert found.left <= 81 * ratio < found.left + 1
    assert found.left + found.width - 1 < 781 * ratio <= found.left + found.width
    # A time stands at the same place of the device either way.
    assert found.left + float(found.scale.x_of(2.2)) == pytest.approx(float(scale.x_of(2.2)) * ratio)
    assert found.top + float(found.scale.y_of(0.3)) == pytest.approx(float(scale.y_of(0.3)) * ratio)


def test_a_kept_picture_is_drawn_again_only_when_it_shows_something_else() -> None:
    kept, drawn = KeptPictures(), []
    image = QImage(100, 100, QImage.Format.Format_RGB32)
    painter = QPainter(image)

    def draw(on: QPainter) -> None:
        drawn.append(1)
        on.fillRect(QRectF(10, 10, 20, 20), QColor(FIRST))

    def paint(area: QRectF, shows: tuple[object, ...]) -> int:
        image.fill(QColor(GROUND))
        kept.paint(painter, area, draw, part="head", shows=shows)
        assert image.pixelColor(15, 15) == QColor(FIRST)
        assert image.pixelColor(45, 45) == QColor(GROUND)
        return len(drawn)

    area = QRectF(5, 5, 60, 60)
    assert [paint(area, (1,)), paint(area, (1,)), paint(area, (2,)), paint(area, (1,))] == [1, 1, 2, 3]
    assert paint(QRectF(4, 5, 60, 60), (1,)) == 4
    for number in range(2 * MOST_KEPT):
        kept.paint(painter, area, draw, part=number, shows=())
    assert len(kept._kept) <= MOST_KEPT
    painter.end()


@pytest.mark.parametrize("ratio", [1.0, 1.25, 1.5])
def test_no_pixel_of_the_canvas_is_left_unpainted(qtbot: QtBot, bus_lane: Lane, ratio: float) -> None:
    stack = LaneStack(DAYLIGHT)
    qtbot.addWidget(stack)
    stack.resize(700, 401)
    for lanes in ((), (bus_lane,), (bus_lane, Lane("other", bus_lane.traces, weight=0.3))):
        stack.show_lanes(lanes)
        image = QImage(round(700 * ratio), round(401 * ratio), QImage.Format.Format_RGB32)
        image.setDevicePixelRatio(ratio)
        image.fill(QColor("#ff00ff"))
        stack.render(image)
        raw = np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), image.bytesPerLine() // 4)
        assert not ((raw[:, : image.width()] & 0xFFFFFF) == 0xFF00FF).any()
