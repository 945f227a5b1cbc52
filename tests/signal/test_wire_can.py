"""Which CAN a wire is: by the rates and levels that the standards give, whatever a fault has made of them."""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.samples import FloatSamples
from loomlight.signal.wire_bits import clocked
from loomlight.signal.wire_can import told_apart
from loomlight.signal.wire_frames import Frames
from loomlight.signal.wire_looks import Look, Looks
from loomlight.signal.wire_sight import sight_of

EMPTY = Look(0.0, 1.0, np.empty(0), np.empty(0, bool), 0.0)


def _first(rate: float, rest: float, active: float) -> tuple[str, float]:
    told = told_apart(Frames("can", 5, 0.9, 1.0 / rate, rest, active, active, EMPTY))
    assert sum(likely for likely, _ in told.values()) == pytest.approx(1.0)
    key = max(told, key=lambda one: told[one][0])
    return key, told[key][0]


@pytest.mark.parametrize(
    ("rate", "rest", "active", "kind"),
    [
        # ISO 11898-2, nominal: 2.5 V at rest, CAN-H 3.5 V, CAN-L 1.5 V, the difference from 0 V to 2 V.
        (500e3, 2.5, 3.5, "can"),
        (125e3, 2.5, 1.5, "can"),
        (125e3, 0.0, 2.0, "can"),
        (1e6, 0.02, 3.4, "can"),
        # ISO 11898-3: CANH from 0 V to VCC - 1.4 V at least, CANL from VCC to 1.4 V at most; up to 125 kbit/s.
        (125e3, 0.05, 4.2, "can-low-speed"),
        (100e3, 4.9, 0.9, "can-low-speed"),
        (125e3, 1.1, 4.2, "can-low-speed"),
        # SAE J2411: 33.333 and 83.333 kbit/s, from ground to 4.1 V, or nearly to the battery's volts to wake.
        (33_333.0, 0.05, 4.1, "can-single-wire"),
        (83_333.0, 0.05, 4.1, "can-single-wire"),
        (33_333.0, 0.05, 12.5, "can-single-wire"),
        (33_333.0, 0.02, 0.8, "can-single-wire"),
    ],
)
def test_told_by_rate_and_levels(rate: float, rest: float, active: float, kind: str) -> None:
    found, likely = _first(rate, rest, active)
    assert found == kind
    assert likely > 0.85


def test_no_low_speed_bus_is_fast() -> None:
    assert told_apart(Frames("can", 5, 0.9, 2e-6, 0.0, 4.2, 4.2, EMPTY))["can-low-speed"][0] < 0.01


def test_what_two_may_be_is_not_sure() -> None:
    """A shorted wire at a rate that both have, and hardly moving."""
    assert _first(125e3, 0.0, 0.1)[1] < 0.75


def _pulses(lengths_s: np.ndarray, pauses_s: np.ndarray, low_v: float, high_v: float) -> Channel:
    step_s = 0.1e-6
    runs = np.column_stack([pauses_s, lengths_s]).ravel()
    values = np.repeat(np.tile([low_v, high_v], lengths_s.size), np.round(runs / step_s).astype(int))
    noise = np.random.default_rng(3).normal(0.0, 0.004, values.size)
    return Channel("x", "V", FloatSamples((values + noise).astype(np.float32)), 0.0, step_s)


def test_nodes_that_do_not_hear_themselves_send_flags_of_seven_bits() -> None:
    """ISO 11898-1: the start bit is not read back, and an error flag is six dominant bits."""
    rng = np.random.default_rng(5)
    channel = _pulses(np.full(20, 14e-6), rng.uniform(40e-6, 300e-6, 20), 0.0, 0.3)
    sight = sight_of(channel)
    assert sight is not None
    found = clocked(Looks(sight))
    assert max(found, key=lambda key: found[key][0]) == "can"
    assert "seven bits at 500 kbit/s" in found["can"][1]


@pytest.mark.parametrize("even", [True, False], ids=["even pauses", "no length of a flag"])
def test_other_pulses_are_no_flags(even: bool) -> None:
    rng = np.random.default_rng(5)
    pauses = np.full(20, 120e-6) if even else rng.uniform(40e-6, 300e-6, 20)
    sight = sight_of(_pulses(np.full(20, 14e-6 if even else 19e-6), pauses, 0.0, 0.3))
    assert sight is not None
    assert not clocked(Looks(sight))
