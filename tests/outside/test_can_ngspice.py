"""Verdicts on CAN pairs solved by an independent circuit simulator (ngspice): its own diodes, switches and steps.

The deck is built here from data-sheet values (two stages behind diodes, receivers that bias both wires to 2.5 V, terminators of
120 Ω, line capacitance); none of it comes from the makers' circuit or from the closed form. Only the order of bits in a frame is
shared, which published frames hold.
"""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from loomlight.sample_captures.makers.can_bus import Bus, Node
from loomlight.sample_captures.makers.can_frames import Frame
from loomlight.sample_captures.makers.can_traffic import Plan, traffic
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

NGSPICE = shutil.which("ngspice")
pytestmark = [pytest.mark.outside, pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed")]

STEP_S, STOP_S, BIT_S = 1e-7, 3.2e-3, 2e-6
SPOTS = ("near", "near", "far")
SAYS = tuple([Frame(0x111 * (node + 1), bytes([0x5A + node, 0x0F, 0xC3]))] for node in range(3))


def pwl(stretches: list[tuple[float, float]]) -> str:
    """Control voltage of a driver: 1 V where it pulls, with edges of 40 ns."""
    points = ["0 0"]
    for start_s, stop_s in sorted(stretches):
        points += [f"{start_s:.10g} 0", f"{start_s + 4e-8:.10g} 1", f"{stop_s:.10g} 1", f"{stop_s + 4e-8:.10g} 0"]
    return "\n+ ".join(points)


def merged(stretches: list[tuple[float, float]]) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for start, stop in sorted(stretches):
        if found and start <= found[-1][1] + 1e-7:
            found[-1] = found[-1][0], max(stop, found[-1][1])
        else:
            found.append((start, stop))
    return found


def deck(far_wire: str, far_end: str, out: Path) -> str:
    """Two nodes on the near side, one on the far side of ``far_wire``; ``far_end`` is what stands across its end."""
    plan = Plan(BIT_S, BIT_S, SAYS, gap_bits=15.0, rivals=0.0)
    drive, _ = traffic(
        Bus(tuple(Node("near") for _ in SPOTS)), plan, np.random.default_rng(4), start_s=3e-5, stop_s=STOP_S
    )
    nodes = ""
    for node, spot in enumerate(SPOTS):
        own = merged([(start, stop) for one, start, stop in drive if one == node and stop < STOP_S])
        # 5 V less a diode and the stage's resistance on top, the same below: about 2 V at 60 Ω.
        nodes += f"""
vk{node} k{node} 0 pwl({pwl(own)})
sh{node} v5 h{node} k{node} 0 drive
dh{node} h{node} {spot}h stage
dl{node} {spot}l l{node} stage
sl{node} l{node} 0 k{node} 0 drive
rbh{node} {spot}h v25 25k
rbl{node} {spot}l v25 25k
"""
    return f"""CAN pair
.model drive sw(vt=0.5 vh=0.1 ron=20 roff=1e9)
.model stage d(is=1e-14 n=1)
vsup v5 0 5
vbias v25 0 2.5
rt nearh nearl 120
{far_end}
{far_wire}
cn nearh nearl 300p
cf farh farl 300p
cnh nearh 0 200p
cnl nearl 0 200p
rph nearh 0 10meg
rpl nearl 0 10meg
{nodes}
.options reltol=1e-4 rshunt=1e12
.tran {STEP_S} {STOP_S} 0 {STEP_S}
.control
set wr_singlescale
run
linearize v(nearh) v(nearl)
wrdata {out} v(nearh) v(nearl)
quit
.endc
.end
"""


JOINED, TERMINATED = "rjh nearh farh 0.05\nrjl nearl farl 0.05", "rt2 farh farl 120"


def solved(folder: Path, far_wire: str = JOINED, far_end: str = TERMINATED) -> tuple[Channel, Channel]:
    """CAN-H and CAN-L at the near side as a converter of 10 mV with 10 mV of noise sees them."""
    file, out = folder / "bus.cir", folder / "out.txt"
    file.write_text(deck(far_wire, far_end, out))
    assert NGSPICE is not None
    subprocess.run([NGSPICE, "-b", str(file)], check=True, capture_output=True, timeout=120)
    time_s, high, low = np.loadtxt(out).T
    assert np.allclose(np.diff(time_s), STEP_S, rtol=1e-3)
    rng = np.random.default_rng(1)

    def channel(name: str, volts: np.ndarray) -> Channel:
        seen = np.round((volts + rng.normal(0.0, 0.01, volts.size)) / 0.01) * 0.01
        return Channel(name, "V", FloatSamples(seen.astype(np.float32)), 0.0, STEP_S)

    return channel("CAN-H", high), channel("CAN-L", low)


def conditions(low: Channel) -> Conditions:
    return Conditions(besides=(Beside("other wire", low),))


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> tuple[Channel, Channel]:
    return solved(tmp_path_factory.mktemp("good"))


def against(found: tuple[Channel, Channel], good: tuple[Channel, Channel]) -> Comparison:
    return compare(
        found[0], good[0], kind="can", conditions=conditions(found[1]), good_besides=(Beside("other wire", good[1]),)
    )


def test_a_sound_pair_is_clean(good: tuple[Channel, Channel]) -> None:
    found = check(good[0], kind="can", conditions=conditions(good[1]))
    assert found.verdict.state == "clean"
    assert found.bus is not None
    assert found.bus.identifiers == (0x111, 0x222, 0x333)
    assert found.bus.bit_rate == pytest.approx(500e3, rel=2e-3)


def test_one_terminator_missing(tmp_path: Path, good: tuple[Channel, Channel]) -> None:
    found = against(solved(tmp_path, far_end=""), good).verdict
    assert (found.state, found.picture) == ("faulty", "one terminator missing")


def test_one_terminator_too_many(tmp_path: Path, good: tuple[Channel, Channel]) -> None:
    found = against(solved(tmp_path, far_end="rt2 farh farl 60"), good).verdict
    assert (found.state, found.picture) == ("faulty", "one terminator too many")


@pytest.mark.parametrize("ohm", [90.0])
@pytest.mark.parametrize("leg", ["CAN-H", "CAN-L"])
def test_resistance_in_one_wire_of_a_stub(tmp_path: Path, good: tuple[Channel, Channel], ohm: float, leg: str) -> None:
    high, low = (ohm, 0.05) if leg == "CAN-H" else (0.05, ohm)
    # The far node hangs on a stub: both terminators stand on the near side.
    found = against(
        solved(tmp_path, f"rjh nearh farh {high}\nrjl nearl farl {low}", "rt2 nearh nearl 120"), good
    ).verdict
    assert (found.state, found.picture) == ("faulty", "series resistance in a stub")
    assert any(f"the loss is in {leg} alone" in one for one in found.reasons)
    assert found.series_ohm_low is not None
    assert found.series_ohm_high is not None
    assert found.series_ohm_low <= ohm <= found.series_ohm_high


@pytest.mark.parametrize("ohm", [110.0])
def test_resistance_in_the_trunk(tmp_path: Path, good: tuple[Channel, Channel], ohm: float) -> None:
    found = against(solved(tmp_path, f"rjh nearh farh {ohm}\nrjl nearl farl 0.05"), good).verdict
    assert found.state == "faulty"
    assert found.picture in ("series resistance in the trunk", "series resistance in a stub")


@pytest.mark.parametrize(
    ("wire", "picture"),
    [
        ("rjh nearh farh 1e9\nrjl nearl farl 0.05", "CAN-H open"),
        ("rjh nearh farh 0.05\nrjl nearl farl 1e9", "CAN-L open"),
    ],
)
def test_an_open_wire(tmp_path: Path, good: tuple[Channel, Channel], wire: str, picture: str) -> None:
    assert against(solved(tmp_path, wire), good).verdict.picture == picture


def test_swapped_wires(tmp_path: Path, good: tuple[Channel, Channel]) -> None:
    found = against(solved(tmp_path, "rjh nearh farl 0.05\nrjl nearl farh 0.05", "rt2 nearh nearl 120"), good).verdict
    assert found.picture == "wires swapped"


def test_can_l_at_ground(tmp_path: Path, good: tuple[Channel, Channel]) -> None:
    found = against(solved(tmp_path, f"{JOINED}\nrs nearl 0 0.5"), good).verdict
    assert (found.picture, found.short_to) == ("CAN-L shorted to ground", "ground")


def test_can_h_at_battery(tmp_path: Path, good: tuple[Channel, Channel]) -> None:
    found = against(solved(tmp_path, f"{JOINED}\nvb bat 0 13\nrs nearh bat 0.5"), good).verdict
    assert (found.picture, found.short_to) == ("CAN-H shorted to battery", "battery")
