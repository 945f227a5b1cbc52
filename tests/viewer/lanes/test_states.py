"""Gaps, clipped samples and forms: drawn as what they are, and told by a word."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from loomlight.signal.capture import Channel
from loomlight.signal.pyramid import build_pyramid
from loomlight.signal.samples import FloatSamples
from loomlight.viewer.lanes.paint_states import paint_clipped, paint_gaps
from loomlight.viewer.lanes.paint_trace import paint_trace
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Trace, laid_over
from loomlight.viewer.lanes.states import rails_of, spans_of
from loomlight.viewer.theme import DAYLIGHT

pytestmark = pytest.mark.usefixtures("qapp")
LEFT, TOP, WIDTH, HEIGHT = 80, 10, 800, 200
INK = "#c24f00"


def square(*, low: float = 0.0, high: float = 10.0) -> np.ndarray:
    return np.where(np.arange(10_000) % 1000 < 500, high, low)


@pytest.mark.parametrize("view", [(0.0, 0.01), (0.004, 0.0055)], ids=["whole", "near"])
def test_a_gap_is_marked_where_it_is_and_nowhere_else(make_trace, draw, inked, view) -> None:
    values = np.full(10_000, 5.0)
    values[5000:5400] = np.nan
    trace = make_trace(values, gaps=((5000, 5400),))
    picture = inked(
        draw(lambda painter, scale: paint_gaps(painter, trace, scale, DAYLIGHT), view, (0.0, 10.0)), DAYLIGHT.rule
    )
    used = np.flatnonzero(picture.any(axis=0)) - LEFT
    ends = (np.array([4999.5, 5399.5]) * 1e-6 - view[0]) / (view[1] - view[0]) * WIDTH
    assert used.min() == pytest.approx(ends[0], abs=2)
    assert used.max() == pytest.approx(ends[1], abs=2)
    # The lines fall, where those of a finding rise.
    rows, columns = np.nonzero(picture[TOP + 10 : TOP + 40, LEFT + int(ends[0]) + 4 : LEFT + int(ends[1]) - 4])
    at = set(zip(rows.tolist(), columns.tolist(), strict=True))
    inner = [(row, column) for row, column in at if 0 < row < 28 and 0 < column < columns.max()]
    assert inner
    assert all((row + 1, column + 1) in at for row, column in inner)


def test_the_shortest_gap_is_still_seen(make_trace, draw, inked) -> None:
    values = np.full(1_000_000, 5.0)
    values[500_000] = np.nan
    trace = make_trace(values, gaps=((500_000, 500_001),))
    picture = draw(lambda painter, scale: paint_gaps(painter, trace, scale, DAYLIGHT), (0.0, 1.0), (0.0, 10.0))
    used = np.flatnonzero(inked(picture, DAYLIGHT.rule).any(axis=0))
    assert np.ptp(used) >= 3
    assert used.mean() == pytest.approx(LEFT + WIDTH / 2, abs=2)


@pytest.mark.parametrize(("rail", "above"), [(10.0, True), (0.0, False)])
def test_clipped_samples_have_a_bar_outside_their_rail(make_trace, draw, inked, rail: float, above: bool) -> None:
    values = square()
    ranges = tuple((at, at + 500) for at in range(0 if above else 500, 10_000, 1000))
    trace = make_trace(values, clipped=ranges)
    picture = draw(lambda painter, scale: paint_clipped(painter, trace, scale, DAYLIGHT), (0.0, 0.01), (-5.0, 15.0))
    pixels = inked(picture, DAYLIGHT.text)
    rail_row = round(TOP + HEIGHT - (rail + 5.0) / 20.0 * HEIGHT)
    rows = slice(rail_row - 12, rail_row - 3) if above else slice(rail_row + 3, rail_row + 12)
    barred = pixels[rows].any(axis=0)[LEFT : LEFT + WIDTH]
    wanted = np.zeros(WIDTH, bool)
    for start, stop in ranges:
        wanted[round(start * WIDTH / 10_000) : round(stop * WIDTH / 10_000)] = True
    assert (barred != wanted).mean() < 0.05
    other = slice(rail_row + 3, rail_row + 12) if above else slice(rail_row - 12, rail_row - 3)
    assert not pixels[other, LEFT : LEFT + 20].all(axis=1).any()


def test_a_rail_outside_the_view_is_still_told(make_trace, draw, inked) -> None:
    trace = make_trace(square(), clipped=((0, 500),))
    picture = draw(lambda painter, scale: paint_clipped(painter, trace, scale, DAYLIGHT), (0.0, 4e-4), (2.0, 6.0))
    assert inked(picture, DAYLIGHT.text)[TOP : TOP + 6, LEFT + 300].any()


@given(seed=st.integers(0, 500))
def test_rails_are_told_apart_sample_by_sample(seed: int) -> None:
    rng = np.random.default_rng(seed)
    values = rng.choice([-3.0, 0.0, 7.0], 5000).astype(np.float32)
    at = np.sort(rng.choice(np.flatnonzero(values != 0.0), 40, replace=False)).tolist()
    samples = FloatSamples(values)
    channel = Channel("a", "V", samples, 0.0, 1e-6, clipped=tuple((one, one + 1) for one in at))
    found = rails_of(channel, build_pyramid(samples), -3.0, 7.0)
    assert found.at_high.tolist() == [bool(values[one] == 7.0) for one in at]
    assert found.at_low.tolist() == [bool(values[one] == -3.0) for one in at]


def test_a_trace_turned_upside_down_has_its_rails_turned_too(make_trace) -> None:
    made = make_trace(square(low=-2.0), clipped=((0, 500),))
    turned = Trace(made.channel, made.pyramid, "suspect", "x", upside_down=True)
    ((_, rail, above),) = made.clipped
    assert (rail, above) == (10.0, True)
    ((_, rail, above),) = turned.clipped
    assert (rail, above) == (-10.0, False)


def test_ranges_stand_at_their_samples_whatever_the_form() -> None:
    even = Channel("a", "V", FloatSamples(np.zeros(100)), 1.0, 0.1)
    np.testing.assert_allclose(spans_of(even, [(10, 12)]), [[1.95, 2.15]])
    pairs = Channel("a", "V", FloatSamples(np.zeros(100)), 1.0, 0.1, "pairs")
    np.testing.assert_allclose(spans_of(pairs, [(10, 14)]), [[1.5, 1.7]])
    timed = Channel("a", "V", FloatSamples(np.zeros(4)), 0.0, None, "uneven", times_s=np.array([0.0, 1.0, 5.0, 6.0]))
    np.testing.assert_allclose(spans_of(timed, [(1, 3)]), [[1.0, 5.0]])
    assert spans_of(even, []).shape == (0, 2)


def test_gaps_of_a_laid_over_trace_move_with_it(make_trace) -> None:
    made = make_trace(np.zeros(1000), gaps=((100, 200),))
    moved = Trace(made.channel, made.pyramid, "known-good", "x", lag_s=5e-4)
    view = Scale(QRectF(0, 0, 800, 100), -1e-3, 1e-3, 0.0, 1.0)
    here, there = (one.gaps.groups(view, 800, least=1).left[0] for one in (made, moved))
    assert here - there == pytest.approx(200, abs=1)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "■ suspect: blower LIN"),
        ({"form": "pairs"}, "■ suspect: blower LIN, least and greatest of each interval"),
        (
            {"gaps": ((0, 2),), "clipped": ((2, 3),)},
            "■ suspect: blower LIN, clipped in places, not acquired in places",
        ),
        (
            {"form": "changes", "step_s": None, "times_s": np.arange(4.0)},
            "■ suspect: blower LIN, level held from change to change",
        ),
        (
            {"form": "uneven", "step_s": None, "times_s": np.arange(4.0)},
            "■ suspect: blower LIN, unevenly timed samples",
        ),
    ],
)
def test_the_head_says_how_a_line_is_to_be_read(make_trace, fields, words) -> None:
    assert make_trace([0.0, 1.0, 2.0, 3.0], **fields).heading == words


def test_wide_intervals_are_a_half_tone_between_two_lines(make_trace, draw, inked) -> None:
    trace = make_trace([2.0, 8.0] * 4, form="pairs", step_s=1e-3)

    def paint(painter: QPainter, scale: Scale) -> None:
        paint_trace(painter, trace, scale, colour=INK, width=1.0, marker="")

    pixels = inked(draw(paint, (0.0, 4e-3), (0.0, 10.0)), INK)
    least, greatest = (round(TOP + HEIGHT - volts / 10 * HEIGHT) for volts in (2.0, 8.0))
    for row in (least, greatest):
        assert pixels[row - 1 : row + 2, LEFT + 3 : LEFT + WIDTH - 3].any(axis=0).all()
    between = pixels[greatest + 5 : least - 5, LEFT + 5 : LEFT + WIDTH - 5]
    assert between.mean() == pytest.approx(0.5, abs=0.02)
    assert not pixels[: greatest - 3].any()


def test_an_interval_reaches_over_its_whole_time(make_trace, draw, inked) -> None:
    trace = make_trace([1.0, 2.0, 8.0, 9.0, 1.0, 2.0], form="pairs", step_s=1.0)

    def paint(painter: QPainter, scale: Scale) -> None:
        paint_trace(painter, trace, scale, colour=INK, width=1.0, marker="")

    upper = inked(draw(paint, (0.0, 3.0), (0.0, 10.0)), INK)[: TOP + HEIGHT // 2].any(axis=0)
    used = np.flatnonzero(upper) - LEFT
    assert used.min() == pytest.approx(WIDTH / 3, abs=2)
    assert used.max() == pytest.approx(2 * WIDTH / 3, abs=2)


def test_a_refused_line_up_keeps_the_words(make_trace) -> None:
    made = make_trace([0.0, 1.0], form="pairs")
    assert "each interval" in laid_over(made.channel, made.pyramid, None, role="known-good", label="good").heading
