"""Axis ticks: steps of 1, 2 or 5, readable at any zoom, never two alike."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QRectF
from PySide6.QtGui import QFont, QFontMetricsF
from pytestqt.qtbot import QtBot

from loomlight.viewer.lanes.paint_lane import time_ticks
from loomlight.viewer.lanes.ticks import PREFIXES, ticks

# SI brochure, 9th edition (BIPM 2019), table 7: factors and symbols of the prefixes.
PUBLISHED = {"": 1.0, "m": 1e-3, "µ": 1e-6, "n": 1e-9}


def test_prefixes_as_published() -> None:
    assert {symbol: factor for factor, symbol in PREFIXES} == PUBLISHED


@pytest.mark.parametrize(
    ("low", "high", "most", "unit", "texts"),
    [
        (0.0, 1.0, 6, "s", ("0.0", "0.2", "0.4", "0.6", "0.8", "1.0")),
        (0.0, 0.2, 5, "ms", ("0", "50", "100", "150", "200")),
        (-2e-6, 2e-6, 5, "µs", ("-2", "-1", "0", "1", "2")),
        (0.0061, 0.0063, 4, "ms", ("6.10", "6.15", "6.20", "6.25", "6.30")),
        (3.0, 17.0, 3, "s", ("5", "10", "15")),
        (100.0, 4000.0, 4, "s", ("1000", "2000", "3000", "4000")),
    ],
)
def test_texts(low: float, high: float, most: int, unit: str, texts: tuple[str, ...]) -> None:
    found = ticks(low, high, most=most, unit="s", prefixed=True)
    assert (found.unit, found.texts) == (unit, texts)


@given(
    start=st.one_of(st.just(0.0), st.floats(-1e9, 1e9)),
    length=st.floats(-12, 6).map(lambda power: 10.0**power),
    most=st.integers(1, 30),
    prefixed=st.booleans(),
)
def test_ticks_are_regular_inside_the_axis_and_all_different(
    start: float, length: float, most: int, prefixed: bool
) -> None:
    low, high = start, start + length
    found = ticks(low, high, most=most, unit="s", prefixed=prefixed)
    assert len(found.places) <= most + 2
    assert len(set(found.texts)) == len(found.texts) == len(found.places)
    slack = 1e-6 * length + 16 * math.ulp(max(abs(low), abs(high)))
    assert all(low - slack <= place <= high + slack for place in found.places)
    factor = PUBLISHED[found.unit.removesuffix("s")]
    for place, text in zip(found.places, found.texts, strict=True):
        assert float(text) * factor == pytest.approx(place, rel=1e-9, abs=slack)
    steps = [b - a for a, b in zip(found.places, found.places[1:], strict=False)]
    if steps and min(steps) > 1e6 * math.ulp(max(abs(low), abs(high))):
        digit = round(min(steps) / 10 ** math.floor(math.log10(min(steps) * (1 + 1e-5))), 3)
        assert digit in (1.0, 2.0, 5.0)


@pytest.mark.parametrize(("low", "high"), [(1.0, 1.0), (2.0, 1.0), (math.nan, 1.0), (0.0, math.inf)])
def test_an_axis_without_length_has_no_ticks(low: float, high: float) -> None:
    assert ticks(low, high, most=5).places == ()


def test_no_tick_says_minus_zero() -> None:
    assert ticks(-1e-3, 1e-3, most=4, unit="V").texts[2] == "0.0000"


@pytest.mark.parametrize("start_s", [0.0, 0.12345, 86_399.5, 1.7e9])
def test_texts_of_the_time_axis_never_touch(qtbot: QtBot, start_s: float) -> None:
    font = QFont()
    font.setPixelSize(15)
    metrics = QFontMetricsF(font)
    for width in (120, 400, 1280, 3800):
        length_s = 100.0
        while length_s > max(1e-9, 512 * math.ulp(start_s)):
            found = time_ticks(QRectF(0, 0, width, 30), start_s, start_s + length_s, font)
            half = [metrics.horizontalAdvance(text) / 2 for text in found.texts]
            x = [(place - start_s) / length_s * width for place in found.places]
            for number in range(len(x) - 1):
                assert x[number] + half[number] + 4 < x[number + 1] - half[number + 1], (found, width)
            length_s /= 3.7
