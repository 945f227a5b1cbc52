"""Wheel speed: the currents that a rotational speed sensor's data sheet prints, across the two usual shunts, by Ohm's law.

Sheet: 5.88 / 7.0 / 8.4 mA, 11.7 / 14.0 / 16.8 mA and 23.5 / 28.0 / 33.6 mA (least, typical, most).
"""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

pytestmark = pytest.mark.outside
PRINTED_MA = {"lower level": (5.88, 7.0, 8.4), "upper level": (11.7, 14.0, 16.8)}


@pytest.mark.parametrize("shunt", [75.0, 115.0])
@pytest.mark.parametrize("name", list(PRINTED_MA))
@pytest.mark.parametrize(
    ("place", "share", "kept"), [(0, 1.02, True), (0, 0.97, False), (1, 1.0, True), (2, 0.98, True), (2, 1.03, False)]
)
def test_each_limit_as_printed(shunt: float, name: str, place: int, share: float, kept: bool) -> None:
    milliamperes = {one: row[1] for one, row in PRINTED_MA.items()}
    milliamperes[name] = share * PRINTED_MA[name][place]
    time_s = np.arange(40_000) * 20e-6
    is_high = (time_s * 150.0) % 1.0 < 0.5
    volts = shunt * 1e-3 * np.where(is_high, milliamperes["upper level"], milliamperes["lower level"])
    volts += 2e-3 * np.random.default_rng(1).normal(size=volts.size)
    channel = Channel("wheel", "V", FloatSamples(volts), 0.0, 20e-6)
    found = check(channel, kind="wheel-speed", conditions=Conditions(settings=(("shunt", shunt),)))
    assert found.looked is not None
    measure = next(one for one in found.looked.measures if one.name == name)
    assert measure.value == pytest.approx(1e-3 * milliamperes[name], rel=0.01)
    assert measure.kept is kept
    assert found.verdict.state == ("clean" if kept else "faulty")
