"""The view stays inside what there is, and every movement can be taken back."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.viewer.lanes.view_history import ViewHistory


def history(full: tuple[float, float] = (0.0, 10.0)) -> ViewHistory:
    made = ViewHistory()
    made.reset(full)
    return made


def test_back_and_forward_walk_the_same_way() -> None:
    views = history()
    for view in ((1.0, 2.0), (3.0, 4.0), (5.0, 5.5)):
        views.show(*view)
    views.back()
    assert views.view == (3.0, 4.0)
    views.back()
    views.back()
    views.back()
    assert views.view == (0.0, 10.0)
    for view in ((1.0, 2.0), (3.0, 4.0), (5.0, 5.5), (5.0, 5.5)):
        views.forward()
        assert views.view == view


def test_a_run_of_small_steps_is_one_step_back() -> None:
    views = history()
    views.show(2.0, 6.0)
    for _ in range(20):
        views.zoom(0.8, 4.0, moving=True)
    views.pan(0.1)
    views.back()
    assert views.view == (2.0, 6.0)
    views.zoom(0.8, 4.0, moving=True)
    views.back()
    assert views.view == (2.0, 6.0)


def test_two_deliberate_zooms_are_two_steps_back() -> None:
    views = history()
    views.zoom(0.5, 5.0)
    views.zoom(0.5, 5.0)
    views.back()
    assert views.view == (2.5, 7.5)


def test_a_new_movement_ends_the_way_forward() -> None:
    views = history()
    views.show(1.0, 2.0)
    views.back()
    views.show(6.0, 8.0)
    views.forward()
    assert views.view == (6.0, 8.0)


@given(
    low=st.floats(-1e6, 1e6),
    length=st.floats(1e-6, 1e6),
    moves=st.lists(st.tuples(st.floats(-3, 3), st.floats(-3, 3)), max_size=12),
)
def test_view_never_leaves_the_whole_and_never_vanishes(
    low: float, length: float, moves: list[tuple[float, float]]
) -> None:
    views = history((low, low + length))
    for start, stop in moves:
        views.show(low + start * length, low + stop * length)
        views.zoom(1e-7, low + start * length)
        begin, end = views.view
        whole = views.full[1] - views.full[0]
        slack = 0.1 * whole + 1e-6 * whole
        assert end > begin
        assert views.full[0] - slack <= begin
        assert end <= views.full[1] + slack
        assert (end - begin) / 100 > 0.0
        assert begin + (end - begin) / 100 > begin  # a hundredth of it can still be told apart


@pytest.mark.parametrize("wrong", [(math.nan, 1.0), (0.0, math.inf), (-math.inf, math.inf)])
def test_a_view_that_is_not_a_number_is_not_taken(wrong: tuple[float, float]) -> None:
    views = history()
    views.show(2.0, 3.0)
    views.show(*wrong)
    assert views.view == (2.0, 3.0)


def test_ends_given_the_wrong_way_round_show_the_same_stretch() -> None:
    views = history()
    views.show(4.0, 2.0)
    assert views.view == (2.0, 4.0)


def test_a_capture_of_one_instant_still_has_a_view() -> None:
    assert history((3.0, 3.0)).view == (3.0, 4.0)


def test_something_new_forgets_the_way_back() -> None:
    views = history()
    views.show(1.0, 2.0)
    views.reset((20.0, 30.0))
    views.back()
    assert views.view == (20.0, 30.0)


def test_only_the_last_hundred_views_are_kept() -> None:
    views = history()
    for number in range(300):
        views.show(number / 100, number / 100 + 1.0)
    for _ in range(400):
        views.back()
    assert views.view[0] == pytest.approx(1.99)
