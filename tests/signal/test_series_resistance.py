"""Series resistance from levels: Ohm's law forward and back, and intervals that hold the truth whatever was assumed."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.series_resistance import (
    COMMANDER_SIDE,
    NO_KNEE,
    RESPONDER_SIDE,
    Ohms,
    agreed,
    behind_pull_up,
    leak_beside,
)

# Supply, pull-up's top, and the level that 1.0 V becomes behind each resistance and 1 kΩ: recomputed from Ohm's law.
WORKED = [
    (13.0, 100.0, 2.09),
    (13.0, 470.0, 4.84),
    (13.0, 1000.0, 7.00),
    (13.0, 4700.0, 10.89),
    (11.2, 220.0, 2.84),
    (11.2, 680.0, 5.13),
]
ohms = st.floats(1.0, 1e5)


def lifted_level(series_ohm: float, *, source_v: float, top_v: float, pull_ohm: float) -> float:
    """Level behind a series resistance by Ohm's law, volts."""
    return source_v + (top_v - source_v) * series_ohm / (series_ohm + pull_ohm)


exact = Ohms(1000.0, 1000.0, 1000.0)


@pytest.mark.parametrize(("top_v", "series_ohm", "level_v"), WORKED)
def test_worked_levels(top_v: float, series_ohm: float, level_v: float) -> None:
    found = behind_pull_up(level_v, source_v=1.0, top_v=top_v, pull=exact, doubt_v=0.006, knee=NO_KNEE)
    assert found.low <= series_ohm <= found.high
    assert found.best == pytest.approx(series_ohm, rel=0.02)


@given(series_ohm=ohms, source_v=st.floats(0.5, 2.0), top_v=st.floats(6.0, 30.0))
def test_forward_and_back(series_ohm: float, source_v: float, top_v: float) -> None:
    level = lifted_level(series_ohm, source_v=source_v, top_v=top_v, pull_ohm=1000.0)
    assert source_v < level < top_v
    found = behind_pull_up(level, source_v=source_v, top_v=top_v, pull=exact, doubt_v=0.0, knee=NO_KNEE)
    assert found.best == pytest.approx(series_ohm, rel=1e-6)
    assert found.low == pytest.approx(found.best)


@given(
    series_ohm=ohms,
    pull_share=st.floats(0.0, 1.0),
    error_share=st.floats(-1.0, 1.0),
    pull=st.sampled_from([COMMANDER_SIDE, RESPONDER_SIDE]),
)
def test_truth_lies_inside_for_any_pull_up_and_error_allowed(
    series_ohm: float, pull_share: float, error_share: float, pull: Ohms
) -> None:
    true_pull = pull.low + pull_share * (pull.high - pull.low)
    level = lifted_level(series_ohm, source_v=1.1, top_v=12.0, pull_ohm=true_pull)
    found = behind_pull_up(level + error_share * 0.05, source_v=1.1, top_v=12.0, pull=pull, doubt_v=0.05, knee=NO_KNEE)
    assert found.low <= series_ohm * (1 + 1e-9)
    assert found.high >= series_ohm * (1 - 1e-9)


def test_a_level_at_the_top_has_no_upper_bound() -> None:
    found = behind_pull_up(11.99, source_v=1.0, top_v=12.0, pull=exact, doubt_v=0.05, knee=NO_KNEE)
    assert math.isinf(found.high)
    assert found.low > 0.0
    assert found.low > 1e5


def test_no_lift_is_nothing_known() -> None:
    found = behind_pull_up(1.01, source_v=1.0, top_v=12.0, pull=exact, doubt_v=0.05, knee=NO_KNEE)
    assert found.low == 0.0
    assert found.low == 0.0


@pytest.mark.parametrize(
    # 967.7 Ω of pull-up to 13.0 V (1 kΩ beside 30 kΩ) and a leak to ground: the divider's level, recomputed.
    ("leak_ohm", "level_v"),
    [(470.0, 4.25), (1000.0, 6.61), (2200.0, 9.03), (10_000.0, 11.85)],
)
def test_a_leak_is_read_back_from_the_resting_level(leak_ohm: float, level_v: float) -> None:
    pull = Ohms(967.7, 967.7, 967.7)
    found = leak_beside(level_v, top_v=13.0, pull=pull, doubt_v=0.02)
    assert found.best == pytest.approx(leak_ohm, rel=0.02)
    assert found.low < leak_ohm < found.high


def test_estimates_that_agree_are_cut_and_others_leave_the_narrowest() -> None:
    wide, narrow, apart = Ohms(500.0, 10.0, 4000.0), Ohms(900.0, 800.0, 1000.0), Ohms(9e3, 8e3, 5e4)
    assert agreed([wide, narrow]) == narrow
    both = agreed([wide, Ohms(5000.0, 2000.0, 9000.0)])
    assert both is not None
    assert (both.low, both.high) == (2000.0, 4000.0)
    assert both.low <= both.best <= both.high
    assert agreed([narrow, apart]) == narrow
    assert agreed([]) is None


def test_pull_ups_assumed_are_those_of_the_specification() -> None:
    # LIN 2.x: commander 900 to 1100 Ω, responder 20 to 60 kΩ (parameters 25 and 26; the former from memory).
    assert COMMANDER_SIDE.high == 1100.0
    assert COMMANDER_SIDE.low == pytest.approx(1 / (1 / 900 + 5 / 20e3))
    assert RESPONDER_SIDE.high == 60e3
    assert RESPONDER_SIDE.low == pytest.approx(20e3 / 3)


def test_a_diode_that_drops_more_under_load_makes_the_resistance_larger_and_surer_bounded_below() -> None:
    """Shockley's law: some 60 mV for each tenfold current, so a hard diode and a soft one both lie inside the interval."""
    pull = Ohms(1000.0, 900.0, 1100.0)
    for knee_v in (0.0, 0.1, 0.2, 0.28):
        level = lifted_level(8000.0, source_v=1.0, top_v=12.0 - knee_v, pull_ohm=1000.0)
        found = behind_pull_up(level, source_v=1.0, top_v=12.0, pull=pull, doubt_v=0.02)
        assert found.low < 8000.0 < found.high
    hard = behind_pull_up(level, source_v=1.0, top_v=12.0, pull=pull, doubt_v=0.02, knee=NO_KNEE)
    assert hard.best < found.best
