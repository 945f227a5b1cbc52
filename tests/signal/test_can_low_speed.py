"""Low-speed fault-tolerant CAN: which wire it is, one wire alone, both together, and what a technician is told."""

import numpy as np
import pytest

from loomlight.sample_captures.makers import can_low_speed as maker
from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.can_low_speed import CAN_LOW_SPEED
from loomlight.signal.lscan_reading import LsExamination, LsReading
from loomlight.signal.samples import FloatSamples


def made(fault: str, seed: int = 1) -> Made:
    return maker.made(fault, np.random.default_rng((seed, 12)))


def judged(one: Made, *, alone: bool = False) -> Comparison:
    return check(one.suspect, kind="can-low-speed", conditions=Conditions() if alone else one.conditions)


def reading(found: Comparison) -> LsReading:
    assert isinstance(found.looked, LsExamination)
    return found.looked.line


@pytest.mark.parametrize("wire", ["CANH", "CANL"])
@pytest.mark.parametrize("alone", [False, True])
def test_either_wire_is_known_by_its_checksums(wire: str, alone: bool) -> None:
    one = made("")
    other = "CANL" if wire == "CANH" else "CANH"
    besides = () if alone else (Beside("other wire", one.capture.channel(other)),)
    found = check(one.capture.channel(wire), kind="can-low-speed", conditions=Conditions(besides=besides))
    assert found.verdict.state == "clean", found.verdict.reasons
    line = reading(found)
    assert line.name == wire
    assert found.bus is not None
    assert found.bus.bit_rate == pytest.approx(one.truth["bit rate"], rel=2e-3)
    assert found.bus.errors == 0
    assert any("not recorded" in reason for reason in found.verdict.reasons) == alone
    assert found.looked is not None
    assert all(one.kept is not False for one in found.looked.measures)
    assert any(one.name == "difference, dominant" for one in found.looked.measures) != alone


@pytest.mark.parametrize("fault", [one for one in maker.FAULTS if one[:4] in ("CANH", "CANL")])
def test_the_bus_goes_on_with_the_other_wire_and_that_is_said(fault: str) -> None:
    found = judged(made(fault))
    assert found.verdict.state == "faulty"
    assert found.verdict.picture.startswith(fault[:4])
    other = "CANL" if fault[:4] == "CANH" else "CANH"
    assert any(f"goes on with {other} alone" in reason for reason in found.verdict.reasons)
    # Its frames are still shown, read from the wire that is left.
    assert found.looked is not None
    assert sum(row.state == "good" for row in found.looked.frames) >= 8


def test_alone_a_dead_wire_cannot_be_told() -> None:
    for fault in ("CANH short to ground", "CANL short to supply"):
        assert judged(made(fault), alone=True).verdict.state == "cannot tell"


def test_a_moved_ground_needs_both_wires() -> None:
    one = made("ground offset", 3)
    assert judged(one).verdict.picture == "ground offset at one node"
    alone = judged(one, alone=True).verdict
    assert alone.picture != "ground offset at one node"


def test_a_series_resistance_lies_in_its_interval() -> None:
    for seed in range(6):
        one = made("series resistance", seed)
        verdict = judged(one).verdict
        assert verdict.fault == "resistive"
        assert verdict.series_ohm_low is not None
        assert verdict.series_ohm_low <= one.truth["ohm"] <= (verdict.series_ohm_high or 0.0)


def test_few_samples_a_bit_are_said() -> None:
    one = maker.made("", np.random.default_rng(2), samples_per_s=6 * 100_000.0)
    verdict = judged(one).verdict
    assert verdict.state == "cannot tell"
    assert "samples a bit" in verdict.reasons[0]


def test_a_capture_that_begins_inside_a_frame_reads_the_rest() -> None:
    one = made("", 4)
    for first in (900, 2000):
        cut = [
            Channel(wire.name, "V", FloatSamples(wire.samples.block(first, wire.samples.size)), 0.0, wire.step_s)
            for wire in one.capture.channels
        ]
        conditions = Conditions(besides=(Beside("other wire", cut[1]),))
        found = check(cut[0], kind="can-low-speed", conditions=conditions)
        assert found.verdict.state == "clean", found.verdict.reasons
        assert not found.findings


def test_asleep_and_nonsense_beside() -> None:
    flat = [
        Channel(name, "V", FloatSamples(np.full(4000, volts)), 0.0, 1e-6) for name, volts in (("H", 0.02), ("L", 12.6))
    ]
    asleep = check(flat[0], kind="can-low-speed", conditions=Conditions(besides=(Beside("other wire", flat[1]),)))
    assert asleep.verdict.state == "cannot tell"
    assert "sleeps" in asleep.verdict.reasons[0]
    current = Channel("I", "A", FloatSamples(np.zeros(4000)), 0.0, 1e-6)
    with pytest.raises(CannotUse, match="judges volts"):
        check(flat[0], kind="can-low-speed", conditions=Conditions(besides=(Beside("other wire", current),)))


def test_limits_are_those_printed() -> None:
    # Levels of ISO 11898-3 as a transceiver's data sheet prints them.
    printed = {("CANH recessive at most", 0.2), ("CANL dominant at most", 1.4)}
    printed |= {("on CANH alone dominant above", 1.7), ("on CANL alone dominant below", 3.3)}
    assert printed <= {(one.name, one.value) for one in CAN_LOW_SPEED.limits}
