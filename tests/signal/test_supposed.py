"""What is supposed looks like what the circuit makes of that fault, and is judged as that fault."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from loomlight.signal.comparison import compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.lin import LIN
from loomlight.signal.lin_examination import LinExamination
from loomlight.signal.supposal import SupposedFault
from loomlight.signal.supposed import FAULTS, supposed, talkers_of

MakeBus = Callable[..., Any]
BLOWER = ("response 0x21",)
SPAN_S = (0.012, 0.1)


@pytest.fixture
def good(make_bus: MakeBus) -> LinExamination:
    return LIN.examine(make_bus(11).near, Conditions())


def judged(good: LinExamination, fault: SupposedFault) -> Any:
    found = supposed(good, fault, *SPAN_S)
    return compare(found, good.channel, kind="lin", conditions=Conditions(same_moment=True)).verdict


@pytest.mark.parametrize("ohm", [1000.0, 2200.0, 5000.0])
def test_a_supposed_resistance_is_judged_as_that_resistance(good: LinExamination, ohm: float) -> None:
    verdict = judged(good, SupposedFault("series resistance", ohm))
    assert verdict.fault == "resistive"
    assert verdict.series_ohm_low <= ohm <= verdict.series_ohm_high


def test_it_agrees_with_the_recorded_far_end_of_a_faulty_bus(make_bus: MakeBus) -> None:
    """The same bus with 2.2 kΩ, as it was sent, beside the one supposed from its clean twin."""
    twin = LIN.examine(make_bus(12).near, Conditions())
    faulty = make_bus(12, series_ohm=2200.0).far
    found = supposed(twin, SupposedFault("series resistance", 2200.0, BLOWER), *SPAN_S)
    times = np.linspace(SPAN_S[0] + 1e-4, SPAN_S[1] - 1e-4, 4000)
    volts = [
        np.interp(times, one.start_s + np.arange(one.samples.size) * one.step_s, one.samples.block(0, one.samples.size))
        for one in (found, faulty)
    ]
    assert np.corrcoef(*volts)[0, 1] > 0.97
    assert np.median(np.abs(volts[0] - volts[1])) < 0.1


def test_an_open_wire_rests_at_its_own_pull_up(good: LinExamination) -> None:
    found = supposed(good, SupposedFault("open", beyond=BLOWER), *SPAN_S)
    values = found.samples.block(0, found.samples.size)
    assert np.ptp(values) < 0.05
    assert values.mean() == pytest.approx(good.line.recessive_v, abs=0.2)
    assert judged(good, SupposedFault("open", beyond=BLOWER)).fault == "open"


@pytest.mark.parametrize(("kind", "low", "high"), [("short to ground", 0.0, 0.4), ("short to battery", 11.0, 14.0)])
def test_a_short_holds_the_line(good: LinExamination, kind: Any, low: float, high: float) -> None:
    found = supposed(good, SupposedFault(kind, 0.5), *SPAN_S)
    values = found.samples.block(0, found.samples.size)
    assert low <= np.median(values) <= high


def test_a_small_resistance_changes_nothing(good: LinExamination) -> None:
    assert judged(good, SupposedFault("series resistance", 0.1)).state == "clean"


def test_what_cannot_be_supposed_is_told(good: LinExamination) -> None:
    with pytest.raises(CannotUse, match="Zoom in"):
        supposed(good, SupposedFault("open"), 0.0, 1.0)
    with pytest.raises(CannotUse, match="above 0"):
        supposed(good, SupposedFault("short to ground", 0.0), *SPAN_S)


def test_words_and_talkers(good: LinExamination) -> None:
    assert [SupposedFault(one.name, 2200.0 if one.unit else None, unit=one.unit).in_words() for one in FAULTS] == [
        "series resistance of 2.2 kΩ",
        "open",
        "short to ground of 2.2 kΩ",
        "short to battery of 2.2 kΩ",
        "lost commander pull-up",
        "bad ground of a responder of 2.2 kΩ",
    ]
    assert "commander" not in talkers_of(good)
    assert "response 0x21" in talkers_of(good)
