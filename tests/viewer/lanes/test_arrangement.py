"""Order, heights, hiding, overlay and scale of the lanes, without a window."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.capture import Channel
from loomlight.signal.pyramid import build_pyramid
from loomlight.signal.samples import FloatSamples
from loomlight.viewer.lanes.arrangement import Arrangement, LaneSettings, arranged, as_plain, from_plain
from loomlight.viewer.lanes.arranging import Arranging
from loomlight.viewer.lanes.specs import Lane, Trace

KEYS = ("a", "b", "c", "d")


def lane(key: str, *, high: float = 10.0, unit: str = "V") -> Lane:
    samples = FloatSamples(np.linspace(0.0, high, 100))
    channel = Channel(key, unit, samples, 0.0, 1e-3)
    return Lane(key, (Trace(channel, build_pyramid(samples), "other", f"{KEYS.index(key) + 1}: {key}"),), unit=unit)


LANES = tuple(lane(key, high=10.0 * (number + 1)) for number, key in enumerate(KEYS))


def shown(arranging: Arranging) -> list[tuple[str, ...]]:
    return [tuple(layer.key for layer in one.layers) for one in arranging.shown]


@pytest.fixture
def arranging() -> Arranging:
    made = Arranging()
    made.begin(LANES)
    return made


def test_as_given_at_first(arranging: Arranging) -> None:
    assert shown(arranging) == [("a",), ("b",), ("c",), ("d",)]
    assert arranging.chosen == "a"


@given(key=st.sampled_from(KEYS), place=st.integers(0, 3))
def test_a_lane_stands_where_it_was_put_and_the_others_keep_their_order(key: str, place: int) -> None:
    arranging = Arranging()
    arranging.begin(LANES)
    arranging.place(key, place)
    found = [one[0] for one in shown(arranging)]
    assert found.index(key) == place
    assert [one for one in found if one != key] == [one for one in KEYS if one != key]


def test_past_the_ends_nothing_moves(arranging: Arranging) -> None:
    arranging.move("a", -1)
    arranging.move("d", 1)
    assert shown(arranging) == [("a",), ("b",), ("c",), ("d",)]


def test_a_lane_moves_past_hidden_ones(arranging: Arranging) -> None:
    arranging.hide("b")
    arranging.move("a", 1)
    assert shown(arranging) == [("c",), ("a",), ("d",)]
    arranging.show_all()
    assert set(KEYS) == {one[0] for one in shown(arranging)}


def test_the_last_lane_cannot_be_hidden(arranging: Arranging) -> None:
    for key in KEYS:
        arranging.hide(key)
    assert shown(arranging) == [("d",)]
    assert arranging.hidden() == ("a", "b", "c")


def test_a_hidden_lane_is_no_longer_the_chosen_one(arranging: Arranging) -> None:
    arranging.hide("a")
    assert arranging.chosen == "b"
    arranging.step(-1)
    assert arranging.chosen == "d"


def test_laid_over_and_taken_apart(arranging: Arranging) -> None:
    arranging.lay_over("b", "a")
    assert shown(arranging) == [("a", "b"), ("c",), ("d",)]
    arranging.lay_over("a", "c")
    assert shown(arranging) == [("c", "a", "b"), ("d",)], "what lay over it goes along"
    arranging.take_apart("c")
    assert shown(arranging) == [("a",), ("b",), ("c",), ("d",)]


def test_laid_over_its_neighbour(arranging: Arranging) -> None:
    arranging.lay_over_next("c")
    assert shown(arranging) == [("a",), ("b", "c"), ("d",)]
    arranging.lay_over_next("a")
    assert shown(arranging) == [("b", "a", "c"), ("d",)]


def test_over_a_lane_that_is_hidden_it_stands_alone(arranging: Arranging) -> None:
    arranging.lay_over("b", "a")
    arranging.hide("a")
    assert shown(arranging) == [("b",), ("c",), ("d",)]


def test_one_scale_for_one_unit(arranging: Arranging) -> None:
    arranging.lay_over("b", "a")
    both = arranging.shown[0]
    assert both.value_range() == pytest.approx((-0.08 * 20, 20 * 1.22)), "reaches over both"
    current = lane("d", high=1.0, unit="A")
    arranging.begin((*LANES[:3], current))
    arranging.lay_over("d", "c")
    assert arranging.shown[-1].value_range() == pytest.approx(LANES[2].value_range()), "amperes do not stretch volts"
    assert not arranging.shown[-1].shares_scale(current)


def test_shared_scale_reaches_over_all_of_the_unit(arranging: Arranging) -> None:
    arranging.begin((*LANES[:3], lane("d", high=1.0, unit="A")))
    arranging.share_scales()
    ranges = [one.value_range() for one in arranging.shown]
    assert ranges[0] == ranges[1] == ranges[2] == pytest.approx((-0.08 * 30, 30 * 1.22))
    assert ranges[3] == pytest.approx((-0.08, 1.22))
    arranging.share_scales()
    assert arranging.shown[0].value_range() == pytest.approx((-0.8, 12.2))


def test_set_bounds_and_unit(arranging: Arranging) -> None:
    arranging.scale("a", "set", (-2.0, 16.0))
    arranging.prefix("a", "m")
    assert arranging.shown[0].value_range() == (-2.0, 16.0)
    assert arranging.shown[0].scale.prefix == "m"
    arranging.scale("a", "own")
    assert arranging.shown[0].value_range() == pytest.approx((-0.8, 12.2))


STEPS = st.lists(
    st.tuples(st.sampled_from(["move", "hide", "lay", "apart", "taller", "share", "all"]), st.sampled_from(KEYS)),
    max_size=15,
)


@given(steps=STEPS)
def test_undoing_all_and_redoing_all_ends_where_it_was(steps: list[tuple[str, str]]) -> None:
    arranging, count = Arranging(), []
    arranging.begin(LANES)
    arranging.edited.connect(lambda: count.append(1))
    for what, key in steps:
        {
            "move": lambda one: arranging.move(one, 1),
            "hide": arranging.hide,
            "lay": arranging.lay_over_next,
            "apart": arranging.take_apart,
            "taller": arranging.taller,
            "share": lambda _: arranging.share_scales(),
            "all": lambda _: arranging.show_all(),
        }[what](key)
        assert {layer.key for one in arranging.shown for layer in one.layers} | set(arranging.hidden()) == set(KEYS)
        assert arranging.shown
    end = arranging.arrangement
    for _ in count:
        arranging.undo()
    assert arranging.arrangement == Arrangement()
    for _ in count:
        arranging.redo()
    assert arranging.arrangement == end


def test_other_lanes_begin_afresh_and_the_same_keep_theirs(arranging: Arranging) -> None:
    arranging.place("d", 0)
    arranging.begin(LANES)
    assert shown(arranging)[0] == ("d",)
    arranging.begin(LANES[:2])
    assert shown(arranging) == [("a",), ("b",)]


@given(
    st.builds(
        Arrangement,
        st.lists(st.sampled_from(KEYS), unique=True).map(tuple),
        st.dictionaries(
            st.sampled_from(KEYS),
            st.builds(
                LaneSettings,
                st.none() | st.floats(0.1, 9.0),
                st.booleans(),
                st.sampled_from(("", *KEYS)),
                st.sampled_from(("own", "set", "shared")),
                st.none() | st.floats(-5, 5),
                st.none() | st.floats(-5, 5),
                st.sampled_from((None, "", "m", "k")),
            ),
        ),
    )
)
def test_kept_as_plain_text_and_read_back(arrangement: Arrangement) -> None:
    assert from_plain(json.loads(json.dumps(as_plain(arrangement)))) == arrangement
    found = arranged(LANES, arrangement)
    assert found, "whatever was kept, something is shown"
    keys = [layer.key for one in found for layer in one.layers]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize(
    "spoilt",
    [
        None,
        [],
        "x",
        {"order": 3},
        {"order": [1], "lanes": []},
        {"lanes": {"a": {"weight": "wide", "scale": "odd", "x": 1}}},
    ],
)
def test_what_was_spoilt_is_left_out(spoilt: object) -> None:
    assert arranged(LANES, from_plain(spoilt)) == pytest.approx(LANES) or len(arranged(LANES, from_plain(spoilt))) == 4


def test_wrong_bounds_are_left_out() -> None:
    upside_down = Arrangement(lanes={"a": LaneSettings(scale="set", low=5.0, high=1.0)})
    assert arranged(LANES, upside_down)[0].value_range() == LANES[0].value_range()
    assert replace(LANES[0]).scale.bounds is None
