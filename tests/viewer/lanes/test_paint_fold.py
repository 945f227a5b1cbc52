"""A folded view's picture: one stroke among thousands is seen, and more is darker."""

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from loomlight.signal.fold import Folded
from loomlight.viewer.lanes.paint_fold import STEPS, density_image, paint_fold, ramp
from loomlight.viewer.lanes.specs import Lane, LevelLine
from loomlight.viewer.theme import THEMES, Theme

pytestmark = [pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES.keys()), pytest.mark.usefixtures("qapp")]


def luminance(colour: QColor) -> float:
    """Relative luminance, WCAG 2.2, glossary."""
    shares = [one / 255 for one in (colour.red(), colour.green(), colour.blue())]
    red, green, blue = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: QColor, other: QColor) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_every_colour_of_the_ramp_is_a_mark(theme: Theme) -> None:
    """WCAG 2.2, 1.4.11: at least 3:1 against the ground; and each step further from it than the one before."""
    found = [contrast(QColor.fromRgb(int(one)), QColor(theme.ground)) for one in ramp(theme).tolist()]
    assert len(found) == STEPS
    assert min(found) >= 3.0
    assert found == sorted(found)


def test_one_passage_among_a_million_is_drawn_and_none_is_clear(theme: Theme) -> None:
    counts = np.array([[0, 1, 1_000_000]])
    image = density_image(counts, theme)
    assert image.pixelColor(0, 0).alpha() == 0
    assert image.pixelColor(1, 0).name() == theme.density[0]
    assert image.pixelColor(2, 0).name() == theme.density[1]


def test_low_values_stand_below(theme: Theme) -> None:
    counts = np.zeros((4, 2), np.int64)
    counts[0, 0] = 7
    image = density_image(counts, theme)
    assert image.pixelColor(0, 3).alpha() == 255
    assert image.pixelColor(0, 0).alpha() == 0


def test_nothing_folded_is_an_empty_frame(theme: Theme) -> None:
    image = density_image(np.zeros((3, 3), np.int64), theme)
    assert all(image.pixelColor(x, y).alpha() == 0 for x in range(3) for y in range(3))


def test_a_single_stroke_is_found_in_the_drawn_picture(theme: Theme) -> None:
    rect = QRectF(80, 10, 300, 200)
    counts = np.zeros((200, 300), np.int64)
    counts[:, 150] = 1
    counts[50, :] = 5000
    folded = Folded(counts, -1e-5, 2e-5, 0.0, 16.0, 5000)
    image = QImage(420, 260, QImage.Format.Format_RGB32)
    image.fill(QColor(theme.panel))
    painter = QPainter(image)
    lane = Lane("blower LIN", (), (LevelLine(5.0, "dominant below 5 V"),))
    paint_fold(painter, rect, lane, folded, theme, 1e-5)
    painter.end()
    stroke = [image.pixelColor(230, y).name() for y in range(20, 140)]
    assert stroke.count(theme.density[0]) > 100
    # From begin to end of the unit, marked by lines at a third and two thirds of the width.
    dashes = [image.pixelColor(80 + 200, y).name() for y in range(20, 140)]
    assert theme.text in dashes
