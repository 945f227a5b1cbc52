"""Verdicts on buses solved by an independent circuit simulator (ngspice): its own diodes, switches and steps.

The deck is built here from the LIN 2.x values (1 kΩ and 30 kΩ pull-ups behind diodes); none of it comes from the circuit
model in `loomlight.signal.circuit`. Only the order of bits in a frame is shared, which the standard's own vectors hold.
"""

import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.beside import Beside
from loomlight.signal.bus_traffic import COMMANDER, Slot, Traffic, traffic
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import compare
from loomlight.signal.examination import Conditions
from loomlight.signal.lin_ground import ROLE
from loomlight.signal.samples import FloatSamples
from loomlight.signal.verdict import Verdict

NGSPICE = shutil.which("ngspice")
pytestmark = [pytest.mark.outside, pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed")]

STEP_S, STOP_S = 2e-6, 0.07
CONVERTER_V = 0.01
SCHEDULE = (
    Slot(0x10, COMMANDER, lambda number: bytes([0x40 + number % 16, 0x6C, 0x00, 0xFF])),
    Slot(0x21, "far", lambda number: bytes([0x80 | number % 16, 0x6A, 0x31])),
    Slot(0x22, "near", lambda number: bytes([0x24, 0x8F, 0x55, 0x0E])),
)


def pwl(spans: list[tuple[float, float]]) -> str:
    """Control voltage of a driver: 1 V where it pulls, with edges of 4 µs."""
    points = ["0 0"]
    for start_s, stop_s in sorted(spans):
        points += [f"{start_s:.9g} 0", f"{start_s + 4e-6:.9g} 1", f"{stop_s:.9g} 1", f"{stop_s + 4e-6:.9g} 0"]
    return "\n+ ".join(points)


@dataclass(frozen=True)
class Rest:
    """What else of the bus may be other than usual."""

    commander_ohm: float = 1000.0
    near_f: float = 2e-9
    far_ground_ohm: float = 1e-3
    schedule: tuple[Slot, ...] = SCHEDULE
    bit_rate: float = 19_200.0
    slot_s: float = 8e-3


USUAL = Rest()


def deck(sent: Traffic, wire: str, out: Path, rest: Rest) -> str:
    """Commander and one responder on the near side, one responder on the far side of ``wire``."""
    return f"""LIN bus with a joint
.model pull d(is=1e-12 n=1.1)
.model drive sw(vt=0.5 vh=0.1 ron=25 roff=1e9)
.model joint sw(vt=0.5 vh=0.1 ron=0.05 roff=1e9)
vsup sup 0 12.5
rc sup c1 {rest.commander_ohm}
dc c1 near pull
rn sup n1 30k
dn n1 near pull
cn near 0 {rest.near_f}
rf sup f1 30k
df f1 far pull
cf far 0 330p
rpn near 0 10meg
rpf far 0 10meg
{wire}
v1 low1 0 0.7
v2 low2 0 0.9
v3 low3 fgnd 0.8
rg fgnd 0 {rest.far_ground_ohm}
s1 near low1 k1 0 drive
s2 near low2 k2 0 drive
s3 far low3 k3 0 drive
vk1 k1 0 pwl({pwl(sent.spans[COMMANDER])})
vk2 k2 0 pwl({pwl(sent.spans.get("near", []))})
vk3 k3 0 pwl({pwl(sent.spans.get("far", []))})
.options reltol=1e-4 rshunt=1e12
.tran {STEP_S} {STOP_S} 0 {STEP_S}
.control
set wr_singlescale
run
linearize v(near) v(far) v(fgnd)
wrdata {out} v(near) v(far) v(fgnd)
quit
.endc
.end
"""


def solved(folder: Path, wire: str, *, far_talks: bool = True, rest: Rest = USUAL) -> tuple[Channel, Channel, Channel]:
    """Far and near channel, and the far node's ground, as a 10 mV converter with 15 mV of noise sees them."""
    sent = traffic(
        rest.schedule,
        bit_rate=rest.bit_rate,
        slot_s=rest.slot_s,
        start_s=2e-3,
        stop_s=STOP_S,
        hears=lambda talker, _start_s, _stop_s: far_talks or talker != "far",
    )
    file, out = folder / "bus.cir", folder / "out.txt"
    file.write_text(deck(sent, wire, out, rest))
    assert NGSPICE is not None
    subprocess.run([NGSPICE, "-b", str(file)], check=True, capture_output=True, timeout=120)
    time_s, near, far, ground = np.loadtxt(out).T
    assert np.allclose(np.diff(time_s), STEP_S, rtol=1e-3)
    rng = np.random.default_rng(1)

    def channel(name: str, volts: np.ndarray) -> Channel:
        seen = np.round((volts + rng.normal(0.0, 0.015, volts.size)) / CONVERTER_V) * CONVERTER_V
        return Channel(name, "V", FloatSamples(seen.astype(np.float32)), 0.0, STEP_S)

    return channel("far", far), channel("near", near), channel("ground", ground)


def judged(
    folder: Path, wire: str, *, far_talks: bool = True, rest: Rest = USUAL, with_ground: bool = False
) -> Verdict:
    far, near, ground = solved(folder, wire, far_talks=far_talks, rest=rest)
    besides = (Beside(ROLE, ground),) if with_ground else ()
    conditions = Conditions(supply_v=13.2, same_moment=True, besides=besides)
    return compare(far, near, kind="lin", conditions=conditions).verdict


@pytest.mark.parametrize("ohm", [300.0, 1000.0, 2200.0, 5000.0, 10_000.0, 20_000.0])
def test_series_resistance_within_a_tenth_and_inside_its_interval(tmp_path: Path, ohm: float) -> None:
    found = judged(tmp_path, f"rj near far {ohm}")
    assert found.fault == "resistive"
    assert found.series_ohm is not None
    assert found.series_ohm_low is not None
    assert found.series_ohm == pytest.approx(ohm, rel=0.1)
    assert found.series_ohm_low <= ohm
    assert found.series_ohm_high is None or ohm <= found.series_ohm_high


def test_a_sound_wire_is_clean(tmp_path: Path) -> None:
    found = judged(tmp_path, "rj near far 0.05")
    assert found.state == "clean"


def test_an_open_wire_is_open(tmp_path: Path) -> None:
    assert judged(tmp_path, "rj near far 1e11", far_talks=False).fault == "open"


def test_a_short_to_ground_holds_both(tmp_path: Path) -> None:
    found = judged(tmp_path, "rj near far 0.05\nrs far 0 2", far_talks=False)
    assert (found.fault, found.short_to) == ("short", "ground")


def test_a_short_to_battery_holds_both(tmp_path: Path) -> None:
    found = judged(tmp_path, "rj near far 0.05\nvb bat 0 13.2\nrs bat far 0.5", far_talks=False)
    assert (found.fault, found.short_to) == ("short", "battery")


OTHER_SCHEDULE = (
    Slot(0x05, COMMANDER, lambda number: bytes([number % 256, 0x11, 0xA0])),
    Slot(0x2A, "near", lambda number: bytes([0x01, number * 7 % 256])),
    Slot(0x31, "far", lambda _number: bytes([0x00, 0x13, 0x37])),
)


def test_another_clean_bus_is_clean(tmp_path: Path) -> None:
    other = Rest(near_f=3.5e-9, schedule=OTHER_SCHEDULE, bit_rate=10_417.0, slot_s=14e-3)
    assert judged(tmp_path, "rj near far 0.05", rest=other).state == "clean"


def intermittent(steady_ohm: float) -> str:
    """A joint that opens for 300 µs, every 900 µs, in two bursts of 5 ms."""
    starts = [at_s + number * 900e-6 for at_s in (18e-3, 50e-3) for number in range(6)]
    return (
        f"rj near mid {steady_ohm}\ns4 mid far k4 0 joint\nvk4 k4 0 pwl(0 1"
        + "".join(f" {at_s:.9g} 1 {at_s + 1e-7:.9g} 0 {at_s + 3e-4:.9g} 0 {at_s + 3.001e-4:.9g} 1" for at_s in starts)
        + ")"
    )


def test_an_intermittent_joint_is_one_and_its_dropouts_stand_where_it_opened(tmp_path: Path) -> None:
    far, near, _ = solved(tmp_path, intermittent(0.05))
    found = compare(far, near, kind="lin", conditions=Conditions(supply_v=13.2, same_moment=True))
    assert (found.verdict.state, found.verdict.fault, found.verdict.intermittent) == ("faulty", "open", True)
    opened = np.array([at_s + number * 900e-6 for at_s in (18e-3, 50e-3) for number in range(6)])
    dropouts = [one for one in found.findings if one.kind == "dropout"]
    assert len(dropouts) >= 6
    for one in dropouts:
        # None invented, each inside an opening to within 10 µs.
        inside = (opened - 10e-6 <= one.start_s) & (one.stop_s <= opened + 3e-4 + 10e-6)
        assert inside.any(), f"{one.channel}: {one.start_s * 1e6:.0f} to {one.stop_s * 1e6:.0f} µs"


def test_an_intermittent_joint_with_a_steady_part_gives_both(tmp_path: Path) -> None:
    found = judged(tmp_path, intermittent(2200.0))
    assert (found.fault, found.intermittent) == ("resistive", True)
    assert found.series_ohm_low is not None
    assert found.series_ohm_low <= 2200.0 <= (found.series_ohm_high or np.inf)


def test_the_repaired_wire_is_proven(tmp_path: Path) -> None:
    far, near, _ = solved(tmp_path, "rj near far 2200")
    mended_far, mended_near, _ = solved(tmp_path, "rj near far 0.05")
    conditions = Conditions(supply_v=13.2, same_moment=True)
    before, after = (
        compare(*pair, kind="lin", conditions=conditions).verdict for pair in ((far, near), (mended_far, mended_near))
    )
    assert (before.state, after.state) == ("faulty", "clean")


@pytest.mark.parametrize(("near_f", "tau_s"), [(2e-9, 35e-6), (4e-9, 65e-6)])
def test_a_lost_commander_pull_up_is_named(tmp_path: Path, near_f: float, tau_s: float) -> None:
    """Two responders of 30 kΩ are left: τ = 15 kΩ times the bus's capacitance (330 pF on the far side)."""
    assert tau_s == pytest.approx(15e3 * (near_f + 330e-12), rel=0.01)
    lost = Rest(commander_ohm=1e9, near_f=near_f, bit_rate=9600.0, slot_s=16e-3)
    found = judged(tmp_path, "rj near far 0.05", rest=lost)
    assert (found.state, found.fault, found.picture) == ("faulty", "open", "lost commander pull-up")


@pytest.mark.parametrize(("ohm", "with_ground"), [(330.0, True), (470.0, True), (470.0, False)])
def test_a_bad_ground_of_the_far_node(tmp_path: Path, ohm: float, with_ground: bool) -> None:
    found = judged(tmp_path, "rj near far 0.05", rest=Rest(far_ground_ohm=ohm), with_ground=with_ground)
    if not with_ground:
        assert (found.state, found.fault) == ("cannot tell", "unknown")
        assert "own ground" in found.next_step
        return
    assert (found.state, found.fault, found.picture) == ("faulty", "resistive", "bad ground of a responder")
    assert found.series_ohm_low is not None
    assert found.series_ohm_low <= ohm <= (found.series_ohm_high or np.inf)


def test_a_leak_to_ground_is_a_leak(tmp_path: Path) -> None:
    found = judged(tmp_path, "rj near far 0.05\nrs far 0 3300")
    assert (found.fault, found.short_to, found.picture) == ("short", "ground", "leak to ground")
