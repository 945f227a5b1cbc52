"""The difference lane: as measured, on the suspect's axis, nothing smoothed over."""

import numpy as np
import pytest

from loomlight.signal.align import line_up
from loomlight.signal.capture import Channel
from loomlight.signal.difference import difference
from loomlight.signal.errors import CannotUse
from loomlight.signal.lineup import LineUp
from loomlight.signal.samples import FloatSamples


def channel(values: object, *, start_s: float = 0.0, step_s: float = 1.0, name: str = "x") -> Channel:
    return Channel(name, "V", FloatSamples(values), start_s, step_s)  # type: ignore[arg-type]


def lined(lag_s: float) -> LineUp:
    return LineUp(True, "shape", lag_s, 1.0, 1.0, 1.0, 1, 1.0, None, 1.0, 0.0, "")


def test_a_dropout_put_in_stands_in_the_difference_where_it_was_put() -> None:
    rng = np.random.default_rng(41)
    good = np.convolve(rng.normal(size=9000), np.hanning(30), mode="same")
    suspect = good[1000:8000].copy()
    suspect[3000:3040] += 5.0
    one, other = channel(suspect, start_s=0.2, step_s=1e-6), channel(good, step_s=1e-6)
    found = difference(one, other, line_up(one, other))
    values = found.samples.block(0, found.samples.size)
    times = found.start_s + np.arange(values.size) * 1e-6
    marked = times[np.abs(values) > 2.5]
    assert (marked[0], marked[-1]) == (pytest.approx(0.203, abs=1.5e-6), pytest.approx(0.203039, abs=1.5e-6))
    assert found.name == "difference"
    assert found.history


@pytest.mark.parametrize("lag_s", [-30.5, -7.0, 0.0, 12.25])
def test_it_covers_the_overlap_and_nothing_else(lag_s: float) -> None:
    suspect, good = channel(np.zeros(50), start_s=2.0), channel(np.ones(41), start_s=-4.0)
    found = difference(suspect, good, lined(lag_s))
    times = found.start_s + np.arange(found.samples.size)
    assert ((times - suspect.start_s) % 1.0 == 0).all()
    values = found.samples.block(0, found.samples.size)
    # Only the last step of the known-good, after its last sample, has nothing to take off.
    assert np.isfinite(values[:-1]).all()
    assert (values[np.isfinite(values)] == -1.0).all()
    assert times[0] + lag_s >= good.start_s
    assert times[-1] + lag_s < good.stop_s


def test_a_gain_that_is_off_is_shown_and_not_fitted_away() -> None:
    levels = np.tile([0.0, 12.0], 100)
    lineup = LineUp(True, "shape", 0.0, 1.0, 1.0, 1.0, 1, 200.0, None, 0.5, 3.0, "")
    found = difference(channel(0.5 * levels + 3.0), channel(levels), lineup)
    assert found.samples.block(0, 4).tolist() == [3.0, -3.0, 3.0, -3.0]


def test_gaps_of_either_are_not_acquired_in_the_difference() -> None:
    one, other = np.zeros(20), np.zeros(20)
    one[5], other[9] = np.nan, np.nan
    values = difference(channel(one), channel(other), lined(0.0)).samples.block(0, 20)
    assert np.flatnonzero(np.isnan(values)).tolist() == [5, 9]


def test_a_suspect_without_a_step_is_refused() -> None:
    made = Channel("x", "V", FloatSamples([0.0, 1.0]), 0.0, None, "changes", times_s=np.array([0.0, 1.0]))
    with pytest.raises(CannotUse, match="no even step"):
        difference(made, channel(np.zeros(9)), lined(0.0))
