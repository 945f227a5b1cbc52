"""A fault supposed on a known-good looks as the maker's circuit, which shares no code with it, makes that fault look."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers import can
from loomlight.sample_captures.makers.can_bus import Bus, Node
from loomlight.signal.beside import Beside
from loomlight.signal.can_circuit import (
    Driver,
    across,
    behind_stub,
    high_at_battery,
    into_short,
    low_at_ground,
    over_trunk,
)
from loomlight.signal.can_supposed import FAULTS, supposed
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions, Examination
from loomlight.signal.supposal import Supposal, SupposedFault

DRIVER = Driver(2.0, 2.5)
NODES = (Node("near"), Node("far"), Node("stub"))


@pytest.mark.parametrize("ohm", [20.0, 60.0, 150.0])
@pytest.mark.parametrize("leg", ["high", "low"])
def test_the_closed_form_agrees_with_the_makers_circuit(ohm: float, leg: str) -> None:
    legs = {"high": (ohm, 0.0), "low": (0.0, ohm)}[leg]
    stub = Bus(NODES, **{f"{leg}_stub_ohm": ohm + 0.05}).steady(4)[0]  # type: ignore[arg-type]
    difference, common = behind_stub(DRIVER, *legs)
    assert stub[0] - stub[1] == pytest.approx(difference, abs=0.02)
    assert stub.mean() == pytest.approx(common, abs=0.02)
    trunk = Bus(NODES, **{f"{leg}_joint_ohm": ohm + 0.05}).steady(2)[0]  # type: ignore[arg-type]
    difference, common = over_trunk(DRIVER, *legs, is_beyond=True)
    assert trunk[0] - trunk[1] == pytest.approx(difference, abs=0.02)
    assert trunk.mean() == pytest.approx(common, abs=0.02)


def test_termination_and_shorts_agree_with_the_makers_circuit() -> None:
    one = Bus(NODES, terminators=(("near", 120.0),)).steady(1)[0]
    assert one[0] - one[1] == pytest.approx(across(DRIVER, 120.0), abs=0.02)
    three = Bus(NODES, terminators=(("near", 120.0), ("far", 120.0), ("far", 120.0))).steady(1)[0]
    assert three[0] - three[1] == pytest.approx(across(DRIVER, 40.0), abs=0.02)
    ground = Bus(NODES, shorts=(can.Short("near", "low", can.GROUND, 0.01),)).steady(1)[0]
    assert ground == pytest.approx(low_at_ground(DRIVER), abs=0.03)
    battery = Bus(NODES, shorts=(can.Short("near", "high", can.BATTERY, 0.01),)).steady(1)[0]
    assert battery == pytest.approx(high_at_battery(DRIVER, 13.0), abs=0.06)  # the receivers' bias is left out
    together = Bus(NODES, shorts=(can.Short("near", "high", "other", 3.0),)).steady(1)[0]
    assert together[0] - together[1] == pytest.approx(into_short(DRIVER, 3.0), abs=0.02)
    high = Bus(NODES, shorts=(can.Short("near", "high", can.GROUND, 3.0),)).steady(1)[0]
    assert high[0] == pytest.approx(into_short(DRIVER, 3.0, volts=0.0), abs=0.03)


@pytest.fixture(scope="module")
def good() -> Examination:
    rng = np.random.default_rng(3)
    case = replace(can.healthy(rng, fd=False), recorded="both wires")
    capture = can.recording(case, rng).capture
    found = check(capture.channels[0], kind="can", conditions=Conditions(besides=can.besides(capture)))
    assert found.looked is not None
    return found.looked


@pytest.mark.parametrize("fault", FAULTS, ids=lambda one: one.name)
def test_each_supposed_fault_is_named_as_that_fault(good: Examination, fault: Supposal) -> None:
    """Both wires with the fault are judged again: they get the name of what was supposed, or of what looks the same."""
    wanted = SupposedFault(fault.name, fault.usual)
    span = good.channel.start_s, good.channel.stop_s
    high, low = (supposed(own, wanted, *span) for own in (good, _other_side(good)))
    high, low = replace(high, name="CAN-H"), replace(low, name="CAN-L")
    conditions = Conditions(besides=(Beside(can.OTHER_WIRE, low),))
    verdict = check(high, kind="can", conditions=conditions).verdict
    alike = {
        "one terminator missing": ("", "one terminator missing"),
        "one terminator too many": ("", "one terminator too many"),
        "series resistance in a stub": ("weak node", "series resistance in a stub"),
        "series resistance in CAN-H of a stub": ("series resistance in a stub",),
        "series resistance in CAN-L of a stub": ("series resistance in a stub",),
        "series resistance in the trunk": ("weak node", "series resistance in the trunk"),
        "CAN-L shorted to battery": ("CAN-L shorted to battery", "CAN-H or CAN-L shorted to battery"),
    }
    assert verdict.picture in alike.get(fault.name, (fault.name,))


def _other_side(good: Examination) -> Examination:
    """The same pair, CAN-L being the judged channel."""
    low = good.pair.wires.low  # type: ignore[attr-defined]
    channel = replace(good.channel, name="CAN-L", samples=low)
    return replace(good, channel=channel)  # type: ignore[type-var]
