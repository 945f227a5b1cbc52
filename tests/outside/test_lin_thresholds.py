"""LIN levels are held against the shares of the supply that the published parameters give."""

import numpy as np
import pytest

from loomlight.sample_captures.make_samples import record
from loomlight.signal.capture import Channel
from loomlight.signal.circuit import LinBus
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.lin import LIN
from loomlight.signal.samples import FloatSamples

pytestmark = pytest.mark.outside

SUPPLY_V = 13.7
"""At the node for a battery of 14.4 V: one reverse-polarity diode of 0.7 V less."""


@pytest.fixture(scope="module")
def traffic() -> np.ndarray:
    near, _, _ = record(LinBus(), series_ohm=0.02, seconds=0.07, first_round=0)
    return near[::2]


def swing(volts: np.ndarray, low_v: float, high_v: float) -> Channel:
    """Healthy traffic with its states put where the test wants them."""
    state = np.clip((volts - 1.3) / (11.85 - 1.3), 0.0, 1.0)
    return Channel("bus", "V", FloatSamples(low_v + state * (high_v - low_v)), 0.0, 2e-6)


def kinds_found(channel: Channel) -> set[tuple[str, str]]:
    found = check(channel, kind="lin", conditions=Conditions(supply_v=14.4))
    return {(one.kind, one.severity) for one in found.findings if one.kind.startswith("weak")}


@pytest.mark.parametrize(
    # Receiver: LIN 2.2 parameters 17 and 18 (ISO 17987-4): 40 and 60 %. Transmitter: 20 and 80 % (data sheets to LIN 2.x).
    ("low_share", "high_share", "expected"),
    [
        (0.10, 0.95, set()),
        (0.19, 0.81, set()),
        (0.22, 0.95, {("weak dominant", "mild")}),
        (0.38, 0.95, {("weak dominant", "mild")}),
        (0.42, 0.95, {("weak dominant", "severe")}),
        (0.10, 0.78, {("weak recessive", "mild")}),
        (0.10, 0.62, {("weak recessive", "mild")}),
        (0.10, 0.57, {("weak recessive", "severe")}),
    ],
)
def test_levels_either_side_of_each_limit(
    traffic: np.ndarray, low_share: float, high_share: float, expected: set[tuple[str, str]]
) -> None:
    assert kinds_found(swing(traffic, low_share * SUPPLY_V, high_share * SUPPLY_V)) == expected


def test_size_of_a_finding_is_the_volts_beyond_its_limit(traffic: np.ndarray) -> None:
    found = check(swing(traffic, 0.30 * SUPPLY_V, 0.95 * SUPPLY_V), kind="lin", conditions=Conditions(supply_v=14.4))
    sizes = [one.size for one in found.findings if one.kind == "weak dominant"]
    assert sizes
    assert sizes == pytest.approx([0.10 * SUPPLY_V] * len(sizes), abs=0.15)


@pytest.mark.parametrize(
    ("value", "source"),
    [(0.40, "parameters 17"), (0.60, "parameters 17 and 18"), (0.20, "ISO 17987-4"), (0.80, "ISO 17987-4")],
)
def test_limits_name_their_source(value: float, source: str) -> None:
    limit = next(one for one in LIN.limits if one.value == value)
    assert limit.unit == "× supply"
    assert source in limit.source


def test_highest_rate_is_the_standards() -> None:
    # ISO 17987-4, scope: up to 20 kbit/s.
    assert any(one.value == 20_000.0 and one.unit == "bit/s" for one in LIN.limits)
