"""Findings by the thousand: their places, their profile and their number, whatever there is of them."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.paint_findings import (
    LEAST_FINDING_PIXELS,
    PROFILE_SHARE,
    paint_brackets,
    paint_findings,
    place_findings,
)
from loomlight.viewer.lanes.paint_lane import paint_lane
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.lanes.stretches import Stretches
from loomlight.viewer.theme import DAYLIGHT

pytestmark = pytest.mark.usefixtures("qapp")
LEFT, TOP, WIDTH, HEIGHT = 80, 10, 800, 200
LANE = Scale(QRectF(0, 0, 400, 100), 2.0, 6.0, 0.0, 1.0)


def findings_at(places_s: np.ndarray, *, length_s: float = 1e-5, severity: str = "severe") -> list[Finding]:
    base = ("dropout", "blower LIN")
    return [Finding(*base, at_s, at_s + length_s, 9.0, "V", "rule", severity) for at_s in places_s.tolist()]  # type: ignore[arg-type]


def marked(findings: list[Finding]) -> Callable[[QPainter, Scale], None]:
    def draw(painter: QPainter, scale: Scale) -> None:
        placed = place_findings(painter, scale, findings)
        paint_findings(painter, DAYLIGHT, placed)
        paint_brackets(painter, scale, DAYLIGHT, placed)

    return draw


@settings(deadline=None, max_examples=200)
@given(spans=st.lists(st.tuples(st.floats(0, 8), st.floats(0, 3)), min_size=1, max_size=80), least=st.integers(1, 9))
def test_groups_cover_every_stretch_and_are_apart(spans: list[tuple[float, float]], least: int) -> None:
    ends = np.array([(start, start + length) for start, length in spans])
    found = Stretches(ends).groups(LANE, 400, least=least)
    assert (found.left[1:] - found.right[:-1] >= 2).all()
    assert (found.right - found.left >= least).all()
    seen = ends[(ends[:, 1] > 2.0) & (ends[:, 0] <= 6.0)]
    for start, stop in ((np.clip(seen, 2.0, 6.0) - 2.0) * 100).tolist():
        # A thousandth of a pixel either way is rounding.
        first = min(int(start + 1e-3), 399)
        last = max(min(int(np.ceil(stop - 1e-3)), 400), first)
        assert any(left <= first and last <= right for left, right in zip(found.left, found.right, strict=True))
    # Nothing is marked where there is nothing, but for the least width.
    for left, right in zip(found.left.tolist(), found.right.tolist(), strict=True):
        assert (((ends[:, 0] - 2.0) * 100 <= right + 1e-3) & ((ends[:, 1] - 2.0) * 100 >= left - 1e-3)).any()
    at_edge = (ends[:, 0] == ends[:, 1]) & (ends[:, 0] == 2.0)
    assert found.begun.sum() == seen.shape[0] + at_edge.sum()


def test_a_stretch_that_goes_on_outside_has_its_edge_there() -> None:
    found = Stretches(np.array([[1.0, 7.0]])).groups(LANE, 400, least=4)
    assert found.left[0] < 0
    assert found.right[0] > 400
    assert found.begun.tolist() == [1]


def test_none_in_sight_gives_no_group() -> None:
    for ends in (np.empty((0, 2)), np.array([[0.0, 1.0]]), np.array([[7.0, 8.0]])):
        assert not Stretches(ends).groups(LANE, 400, least=4).left.size


def test_a_crowd_leaves_the_lane_free_for_its_trace(draw, inked) -> None:
    picture = draw(marked(findings_at(np.linspace(0.1, 0.9, 5000))), (0.0, 1.0), (0.0, 1.0))
    hatch = np.flatnonzero(inked(picture, DAYLIGHT.finding).any(axis=1))
    assert hatch.size
    assert hatch.min() >= TOP + (1 - PROFILE_SHARE) * HEIGHT - 1


def test_the_profile_is_higher_where_more_begin(draw, inked) -> None:
    few, many = np.linspace(0.0, 0.5, 300), np.linspace(0.5, 1.0, 30_000)
    picture = inked(draw(marked(findings_at(np.concatenate([few, many]))), (0.0, 1.0), (0.0, 1.0)), DAYLIGHT.finding)

    def height(columns: slice) -> int:
        rows = np.flatnonzero(picture[:, columns].any(axis=1))
        return TOP + HEIGHT - int(rows.min())

    assert height(slice(LEFT + 450, LEFT + 700)) > 1.5 * height(slice(LEFT + 100, LEFT + 350))


def test_a_few_findings_close_together_stay_boxes_of_full_height(draw, inked) -> None:
    picture = draw(marked(findings_at(np.array([0.5, 0.501, 0.502]))), (0.0, 1.0), (0.0, 1.0))
    assert inked(picture, DAYLIGHT.finding)[TOP + 20 : TOP + 60].any()


def test_the_number_of_a_crowd_is_counted_and_written(qapp, draw, inked) -> None:
    findings = findings_at(np.linspace(0.0, 1.0, 4321)) + findings_at(np.linspace(0.0, 1.0, 99), severity="mild")

    class Listening:
        begun: list[int]

    def listen(painter: QPainter, scale: Scale) -> None:
        Listening.begun = [int(one.groups.begun.sum()) for one in place_findings(painter, scale, findings)]

    draw(listen, (0.0, 1.0), (0.0, 1.0))
    assert sorted(Listening.begun) == [99, 4321]
    plain = inked(draw(marked(findings), (0.0, 1.0), (0.0, 1.0)), DAYLIGHT.text)
    assert plain[TOP + 100 : TOP + 150, LEFT + 350 : LEFT + 450].any()


def test_where_findings_are_is_seen_over_a_trace_that_fills_the_lane(bus_trace, draw, inked) -> None:
    lane, findings = Lane("a", (bus_trace,)), findings_at(np.array([0.05]))
    picture = inked(
        draw(lambda painter, scale: paint_lane(painter, lane, scale, DAYLIGHT, findings), (0.0, 0.1), (5.0, 6.0)),
        DAYLIGHT.text,
    )
    middle = slice(LEFT + WIDTH // 2 - 4, LEFT + WIDTH // 2 + 5)
    assert picture[TOP + 1 : TOP + 4, middle].any(axis=0).sum() >= LEAST_FINDING_PIXELS - 1
