"""Toothed wheels are told by gaps that come back; lost pulses, sines and loads are not taken for one."""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.samples import FloatSamples
from loomlight.signal.wire_guess import Guesses, guess

STEP_S = 1e-5


def _guess(values: np.ndarray, unit: str = "V", step_s: float = STEP_S) -> Guesses:
    noise = 1e-3 * float(np.ptp(values)) * np.random.default_rng(2).normal(size=values.size)
    return guess(Channel("x", unit, FloatSamples((values + noise).astype(np.float32)), 0.0, step_s))


def _switched(present: np.ndarray, width: int = 80) -> np.ndarray:
    """5 V for half of each present place, ``width`` samples a place."""
    values = np.full(present.size * width, 0.2)
    for place in np.flatnonzero(present).tolist():
        values[place * width : place * width + width // 2] = 5.0
    return values


def _wheel(teeth: int, absent: tuple[int, ...], places: int) -> np.ndarray:
    return ~np.isin(np.arange(7, 7 + places) % teeth, absent)


@pytest.mark.parametrize(
    ("teeth", "absent"), [(60, (58, 59)), (36, (35,)), (36, (13, 14, 16, 17, 34, 35))], ids=["60-2", "36-1", "36-2-2-2"]
)
def test_gaps_that_come_back(teeth: int, absent: tuple[int, ...]) -> None:
    sure = _guess(_switched(_wheel(teeth, absent, 300))).sure
    assert sure is not None
    assert sure.kind == "toothed-wheel"


def test_lost_teeth_do_not_hide_the_gap() -> None:
    present = _wheel(60, (58, 59), 420)
    for first in (20, 91, 150, 222, 301):
        present[first : first + 3] = False
    sure = _guess(_switched(present)).sure
    assert sure is not None
    assert sure.kind == "toothed-wheel"
    assert "60 places" in sure.reason


def test_pulses_lost_here_and_there_are_no_gaps() -> None:
    present = np.ones(200, bool)
    present[[20, 80, 93, 131, 160]] = False
    sure = _guess(_switched(present)).sure
    assert sure is not None
    assert sure.kind == "pwm"


def test_a_wheel_that_goes_dead_is_told_by_what_was_before() -> None:
    values = np.concatenate([_switched(_wheel(60, (58, 59), 200)), np.full(14_000, 13.6)])
    sure = _guess(values).sure
    assert sure is not None
    assert sure.kind == "toothed-wheel"


T = np.arange(40_000)


@pytest.mark.parametrize(
    "values",
    [
        5.0 * np.sin(2 * np.pi * T / 2000.0),
        2.5 + 2.0 * np.sin(2 * np.pi * T / 300.0),
        4.0 * np.abs((T / 900.0) % 2 - 1),
        np.interp(T, [0, 9000, 15_000, 30_000, 40_000], [0.6, 0.6, 3.9, 1.2, 0.6]),
        5.0 * (np.searchsorted(np.cumsum(np.random.default_rng(4).exponential(150.0, 600)), T) % 2),
    ],
    ids=["hum", "sine", "triangle", "pedal", "random switching"],
)
def test_nothing_is_sure_of_what_is_no_kind(values: np.ndarray) -> None:
    assert _guess(values).sure is None


@pytest.mark.parametrize(
    "amperes",
    [
        np.where((T // 5000) % 2, 18.0, 0.3),
        np.where(T > 5000, 8.0 + 4.0 * np.exp(-(T - 5000) / 2000.0) + 0.6 * np.sin(T / 25.0), 0.0),
    ],
    ids=["lamps", "a motor"],
)
def test_a_load_is_no_coil(amperes: np.ndarray) -> None:
    assert _guess(amperes, "A", 5e-5).sure is None
