"""Own limits as curves: what leaves them is found where it does, nothing is held outside them, nonsense is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.limit_curve import LimitCurve, around
from loomlight.signal.samples import FloatSamples

STEP_S = 1e-3


def channel(values: np.ndarray, start_s: float = 0.0) -> Channel:
    return Channel("x", "V", FloatSamples(values.astype(np.float32)), start_s, STEP_S)


def held(values: np.ndarray, upper: LimitCurve | None, lower: LimitCurve | None = None) -> Comparison:
    conditions = Conditions(upper_curve=upper, lower_curve=lower)
    return check(channel(values), kind="own-limits", conditions=conditions)


RAMP = LimitCurve(((0.0, 1.0), (1.0, 3.0)))


def test_what_is_above_a_ramp_is_found_where_it_is() -> None:
    values = np.zeros(1000)
    values[500:510] = 2.5  # the ramp stands at 2.0 to 2.02 there
    values[900:910] = 2.5  # and at 2.8 here
    found = held(values, RAMP)
    (finding,) = found.findings
    assert (finding.kind, finding.rule, finding.severity) == ("too high", "above the upper limit curve", "severe")
    assert finding.start_s == pytest.approx(0.5)
    assert finding.stop_s == pytest.approx(0.51)
    assert finding.size == pytest.approx(0.5, abs=1e-3)
    assert found.verdict.state == "faulty"


def test_nothing_is_held_outside_and_that_is_said() -> None:
    values = np.full(1000, 9.0)
    found = held(values, LimitCurve(((0.2, 1.0), (0.4, 1.0))))
    assert [(one.start_s, one.stop_s) for one in found.findings] == [(pytest.approx(0.2), pytest.approx(0.401))]
    assert any("covers 200 ms of 1 s" in one for one in found.verdict.reasons)


def test_curves_beside_the_capture_tell_nothing() -> None:
    found = held(np.zeros(100), LimitCurve(((5.0, 1.0), (6.0, 1.0))))
    assert found.verdict.state == "cannot tell"
    assert any("beside the capture" in one for one in found.verdict.reasons)


@pytest.mark.parametrize(
    ("points", "about"),
    [(((0.0, 1.0),), "2 to 2000"), (((0.0, 1.0), (0.0, 2.0)), "rise"), (((0.0, 1.0), (1.0, np.nan)), "no number")],
)
def test_curves_that_make_no_sense_are_refused(points: tuple[tuple[float, float], ...], about: str) -> None:
    with pytest.raises(CannotUse, match=about):
        LimitCurve(points)


def test_curves_that_cross_are_refused_with_the_time() -> None:
    with pytest.raises(CannotUse, match=r"at 0\.75 s"):
        held(np.zeros(100), RAMP, LimitCurve(((0.0, 0.0), (0.75, 2.5), (1.0, 2.9))))


def test_curves_go_with_the_known_good() -> None:
    """The suspect is the known-good 0.3 s later, with one step too high: found there, by curves on the known-good's axis."""
    rng = np.random.default_rng(3)
    shape = np.repeat(rng.uniform(0, 10, 60), 25)
    good = channel(shape)
    values = np.concatenate([np.zeros(300), shape])[: shape.size] + 0.01 * rng.normal(size=shape.size)
    values[1000:1025] += 3.0
    upper, lower = around(good, 0.5)
    conditions = Conditions(upper_curve=upper, lower_curve=lower, curves_on_good=True)
    found = compare(channel(values), good, kind="own-limits", conditions=conditions, by="shape")
    assert found.lineup is not None
    assert found.lineup.accepted
    high = [one for one in found.findings if one.kind == "too high"]
    assert any(one.start_s <= 1.0126 <= one.stop_s for one in high)
    clean = np.concatenate([np.zeros(300), shape])[: shape.size]
    whole = compare(channel(clean), good, kind="own-limits", conditions=conditions, by="shape")
    assert whole.verdict.state == "clean"
    alone = check(channel(clean), kind="own-limits", conditions=conditions)
    assert alone.verdict.state == "cannot tell"
    assert any("there is no known-good" in one for one in alone.verdict.reasons)


@given(
    st.lists(st.floats(-5, 5), min_size=40, max_size=400),
    st.floats(0.01, 2.0),
    st.integers(2, 60),
)
def test_curves_around_a_channel_hold_it(values: list[float], within: float, stretches: int) -> None:
    one = channel(np.array(values), start_s=-0.1)
    upper, lower = around(one, within, stretches=stretches)
    times_s = one.start_s + STEP_S * np.arange(len(values))
    kept = np.array(values, np.float32)
    assert np.all(upper.at(times_s) >= kept + 0.99 * within)
    assert np.all(lower.at(times_s) <= kept - 0.99 * within)


def test_no_curve_around_what_has_no_step_or_no_numbers() -> None:
    with pytest.raises(CannotUse, match="too few"):
        around(channel(np.full(100, np.nan)), 1.0)
    with pytest.raises(CannotUse, match="above 0"):
        around(channel(np.zeros(100)), 0.0)
