"""What a verdict's figures predict lies on the capture that they were read from."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.circuit import OPEN_OHM, LinBus
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.lin_fitted import SUPPOSER
from loomlight.signal.lin_ground import ROLE
from loomlight.signal.samples import FloatSamples
from loomlight.signal.supposal import Fitted

MakeBus = Callable[..., Any]
SPAN_S = (0.02, 0.1)


def fitted(found: Comparison) -> Fitted:
    assert SUPPOSER.fitted is not None
    assert found.looked is not None
    made = SUPPOSER.fitted(found.looked, found.good_looked, found.lineup, found.verdict)
    assert made is not None
    return made


def agreement(found: Comparison) -> tuple[float, float]:
    """Correlation, and the median distance in volts while the line is driven, of the prediction and the capture."""
    predicted, times = fitted(found).picture(*SPAN_S), np.linspace(SPAN_S[0], SPAN_S[1] - 1e-5, 20_000)

    def at(channel: Channel) -> np.ndarray:
        own = channel.start_s + np.arange(channel.samples.size) * channel.step_s
        return np.interp(times, own, channel.samples.block(0, channel.samples.size))

    one, other = at(predicted), at(found.suspect)
    low = other < 0.7 * other.max()  # at rest any two agree
    return float(np.corrcoef(one, other)[0, 1]), float(np.median(np.abs(one - other)[low]))


@pytest.mark.parametrize(("series_ohm", "apart_most_v"), [(470.0, 0.12), (2200.0, 0.12), (10e3, 0.5)])
@pytest.mark.parametrize("side", ["far", "near"])
def test_a_series_resistance_lies_on_the_capture(
    make_bus: MakeBus, series_ohm: float, apart_most_v: float, side: str
) -> None:
    """As near as the best value of the interval is to the truth: a tenth of 10 kΩ is some 0.3 V behind it."""
    made = make_bus(51, series_ohm=series_ohm)
    pair = (made.far, made.near) if side == "far" else (made.near, made.far)
    correlation, apart_v = agreement(compare(*pair, kind="lin", conditions=Conditions(same_moment=True)))
    assert correlation > 0.97
    assert apart_v < apart_most_v


def test_a_lost_pull_up_lies_on_the_capture(make_bus: MakeBus) -> None:
    lost = replace(LinBus(), commander_ohm=1e9, near_f=3e-9)
    found = check(make_bus(52, bus=lost).near, kind="lin", conditions=Conditions(supply_v=lost.battery_v))
    correlation, apart_v = agreement(found)
    assert correlation > 0.97
    assert apart_v < 0.3


def test_another_days_known_good_lends_its_levels(make_bus: MakeBus) -> None:
    made = make_bus(53, series_ohm=470.0)
    found = compare(made.near, make_bus(54).near, kind="lin", conditions=Conditions())
    assert fitted(found).fault.before
    correlation, apart_v = agreement(found)
    assert correlation > 0.97
    assert apart_v < 0.2


def test_an_open_wire_is_predicted_at_its_own_pull_up(make_bus: MakeBus) -> None:
    made = make_bus(55, series_ohm=OPEN_OHM)
    found = compare(made.far, made.near, kind="lin", conditions=Conditions(same_moment=True))
    values = fitted(found).picture(*SPAN_S).samples.block(0, 10_000)
    assert values.mean() == pytest.approx(made.bus.top_v, abs=0.3)


def test_a_bad_ground_is_predicted_at_the_weak_talker(make_bus: MakeBus) -> None:
    made = make_bus(56, grounds={"blower": 470.0})
    rows = check(made.near, kind="lin", conditions=Conditions()).looked
    assert rows is not None
    ground = np.zeros(made.near.samples.size, dtype=np.float32)
    line = made.near.samples.block(0, made.near.samples.size)
    for row in (one for one in rows.frames if one.identifier == "0x21"):
        part = slice(made.near.index_at(row.words[3].start_s), made.near.index_at(row.stop_s))
        ground[part] = np.where(line[part] < 8.0, (line[part] - 1.02) * 470.0 / 495.0, 0.0)
    beside = Beside(ROLE, Channel("g", "V", FloatSamples(ground), 0.0, made.near.step_s))
    found = check(made.near, kind="lin", conditions=Conditions(supply_v=13.2, besides=(beside,)))
    assert found.verdict.series_ohm_low is not None
    assert found.verdict.series_ohm_low <= 470.0 <= (found.verdict.series_ohm_high or np.inf)
    correlation, apart_v = agreement(found)
    assert correlation > 0.97
    assert apart_v < 0.3


def test_a_clean_bus_has_nothing_to_draw_and_too_long_a_stretch_is_said(healthy: Any, make_bus: MakeBus) -> None:
    found = compare(healthy.far, healthy.near, kind="lin", conditions=Conditions(same_moment=True))
    assert SUPPOSER.fitted is not None
    assert found.looked is not None
    assert SUPPOSER.fitted(found.looked, found.good_looked, found.lineup, found.verdict) is None
    made = make_bus(57, series_ohm=2200.0)
    faulty = compare(made.far, made.near, kind="lin", conditions=Conditions(same_moment=True))
    with pytest.raises(CannotUse, match="Zoom in"):
        fitted(faulty).picture(0.0, 0.14)
