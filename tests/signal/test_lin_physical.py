"""The physical layer held to made lines whose figures are known, and to the tables of the standard."""

from collections.abc import Sequence

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions
from loomlight.signal.lin_examination import read_line
from loomlight.signal.lin_physical import physical_layer
from loomlight.signal.lin_words import header_stretches, protected_identifier, response_stretches
from loomlight.signal.measure import Measure
from loomlight.signal.progress import unwatched
from loomlight.signal.samples import FloatSamples

LOW_V, HIGH_V, SUPPLY_V = 1.0, 11.0, 12.0
DATA = bytes([0x3F, 0x00, 0x12])


def ramped(corners: Sequence[tuple[float, bool]], stop_s: float, *, step_s: float, ramp_s: float) -> Channel:
    """A line that starts recessive and moves in straight ramps centred on each corner."""
    time = np.arange(round(stop_s / step_s)) * step_s
    volts = np.full(time.size, HIGH_V)
    for at_s, recessive in corners:
        share = np.clip((time - at_s) / ramp_s + 0.5, 0.0, 1.0)
        after = time >= at_s - ramp_s / 2
        start, stop = (LOW_V, HIGH_V) if recessive else (HIGH_V, LOW_V)
        volts[after] = start + (stop - start) * share[after]
    noisy = volts + np.random.default_rng(1).normal(0.0, 0.004, volts.size)
    return Channel("LIN", "V", FloatSamples(noisy.astype(np.float32)), 0.0, step_s)


def bus(
    *,
    bit_s: float = 52e-6,
    break_bits: float = 13.0,
    space_bits: float = 2.0,
    between: float = 0.0,
    ramp_s: float = 5e-6,
) -> Channel:
    """Six frames with identifier 0x21."""
    corners: list[tuple[float, bool]] = []
    at_s = 3e-3
    state = True
    for _ in range(6):
        stretches = [
            *header_stretches(0x21, break_bits=break_bits),
            (False, space_bits),
            *response_stretches(DATA, protected=protected_identifier(0x21), between_bits=between),
        ]
        for dominant, bits in stretches:
            if dominant == state:
                corners.append((at_s, not dominant))
                state = not dominant
            at_s += bits * bit_s
        at_s += 5e-3
    return ramped(corners, at_s, step_s=0.5e-6, ramp_s=ramp_s)


def measured(channel: Channel) -> dict[str, Measure]:
    conditions = Conditions(supply_v=SUPPLY_V + 0.7)
    return {one.name: one for one in physical_layer(channel, read_line(channel, conditions, unwatched))}


def value(found: dict[str, Measure], name: str) -> float:
    got = found[name].value
    assert got is not None
    return got


def test_levels_stand_against_the_supply() -> None:
    found = measured(bus())
    assert value(found, "supply of the node") == pytest.approx(SUPPLY_V)
    assert value(found, "dominant at or below") == pytest.approx(0.4 * SUPPLY_V)
    assert value(found, "recessive") == pytest.approx(HIGH_V, abs=0.02)
    for talker in ("commander", "response 0x21"):
        assert value(found, f"dominant, {talker}") == pytest.approx(LOW_V, abs=0.02)
        assert found[f"dominant, {talker}"].kept


@pytest.mark.parametrize("ramp_s", [5e-6, 12e-6, 20e-6])
def test_the_slew_of_a_ramp_is_its_height_over_its_time(ramp_s: float) -> None:
    """IEEE 181: the 20 % to 80 % transition of a ramp takes 0.6 of its whole time."""
    found = measured(bus(ramp_s=ramp_s))
    for name in ("falling edge, slew", "rising edge, slew"):
        assert value(found, name) == pytest.approx((HIGH_V - LOW_V) / ramp_s, rel=0.03)
    assert value(found, "rise longer than fall by") == pytest.approx(0.0, abs=0.3e-6)


def test_edges_faster_than_the_samples_are_not_given_a_figure() -> None:
    found = measured(bus(ramp_s=0.5e-6))
    assert found["falling edge, slew"].value is None
    assert "may be faster" in found["falling edge, slew"].note


def test_duty_cycles_of_ramps_by_hand() -> None:
    """LIN 2.2, parameters 27 to 30: recessive time between two levels of the supply, over two bits.

    A ramp crosses a level v at (v − middle) / slew after its middle when it rises, and as much before it when it falls;
    so a recessive bit of 52 µs lasts 52 µs − (rise level + fall level − 2 · middle) / slew between the two.
    """
    bit_s, ramp_s = 52e-6, 10e-6
    found = measured(bus(bit_s=bit_s, ramp_s=ramp_s))
    slew, middle = (HIGH_V - LOW_V) / ramp_s, (HIGH_V + LOW_V) / 2
    for name, rise, fall in (("D1", 0.744, 0.581), ("D2", 0.422, 0.284), ("D3", 0.778, 0.616), ("D4", 0.389, 0.251)):
        expected = (bit_s - (rise * SUPPLY_V + fall * SUPPLY_V - 2 * middle) / slew) / (2 * bit_s)
        assert value(found, f"duty cycle {name}") == pytest.approx(expected, abs=0.002)
        assert found[f"duty cycle {name}"].kept is None


@pytest.mark.parametrize(
    ("bit_s", "usual", "off"), [(104.17e-6, "9600", -0.0003), (52.6e-6, "19200", -0.98), (96e-6, "10417", 0.0)]
)
def test_the_bit_rate_and_how_far_it_is_off(bit_s: float, usual: str, off: float) -> None:
    """Bit times of the usual rates: 104.17 µs, 96.00 µs, 52.08 µs."""
    found = measured(bus(bit_s=bit_s))
    assert value(found, "bit rate") == pytest.approx(1 / bit_s, rel=1e-3)
    away = found["bit rate, away from the nearest usual one"]
    assert value(found, away.name) == pytest.approx(off, abs=0.06)
    assert usual in away.note
    assert away.kept is (None if abs(off) > 0.5 else True)


def test_break_pauses_and_frame_against_the_standard() -> None:
    """LIN 2.2A, section 2.3: break of 13 bits, delimiter of 1, header 34 bits, response 10 bits a byte, each up to 1.4 times."""
    found = measured(bus(break_bits=13.0, space_bits=3.0, between=1.0))
    assert value(found, "break, shortest") == pytest.approx(13.0, abs=0.05)
    assert value(found, "break delimiter, shortest") == pytest.approx(1.0, abs=0.05)
    assert value(found, "header, longest") == pytest.approx(1.0, abs=0.01)
    assert value(found, "response space, longest") == pytest.approx(3.0, abs=0.05)
    assert value(found, "space between bytes, longest") == pytest.approx(1.0, abs=0.05)
    assert value(found, "response, longest") == pytest.approx((40 + 3) / 40, abs=0.01)
    assert value(found, "frame, longest") == pytest.approx((34 + 3 + 43) / 74, abs=0.01)
    assert all(one.kept is not False for one in found.values())


def test_a_short_break_and_a_long_frame_are_told() -> None:
    found = measured(bus(break_bits=11.5))
    assert found["break, shortest"].kept is False
    found = measured(bus(between=6.0))
    assert found["response, longest"].kept is False


def test_wake_up_pulse_and_quiet() -> None:
    """LIN 2.2A, section 2.6.2: dominant for 250 µs to 5 ms."""
    frames = bus()
    corners = [(0.2, False), (0.2 + 1e-3, True)]
    wake = ramped(corners, 0.25, step_s=0.5e-6, ramp_s=5e-6)
    values = np.concatenate([frames.samples.block(0, frames.samples.size), wake.samples.block(0, wake.samples.size)])
    found = measured(Channel("LIN", "V", FloatSamples(values), 0.0, 0.5e-6))
    assert value(found, "wake-up pulses") == 1
    assert value(found, "longest dominant stretch") == pytest.approx(1e-3, abs=1e-5)
    assert value(found, "longest quiet stretch") > 0.2


def test_a_line_that_does_not_talk_has_no_table() -> None:
    flat = Channel("LIN", "V", FloatSamples(np.full(5000, 11.0, np.float32)), 0.0, 1e-6)
    assert physical_layer(flat, read_line(flat, Conditions(), unwatched)) == ()
