"""Verdicts on buses solved by an independent circuit simulator (ngspice): its own diodes, switches and steps.

The deck is built here from the LIN 2.x values (1 kΩ and 30 kΩ pull-ups behind diodes); none of it comes from the circuit
model in `loomlight.signal.circuit`. Only the order of bits in a frame is shared, which the standard's own vectors hold.
"""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.bus_traffic import COMMANDER, Slot, Traffic, traffic
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import compare
from loomlight.signal.examination import Conditions
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


def deck(sent: Traffic, wire: str, out: Path) -> str:
    """Commander and one responder on the near side, one responder on the far side of ``wire``."""
    return f"""LIN bus with a joint
.model pull d(is=1e-12 n=1.1)
.model drive sw(vt=0.5 vh=0.1 ron=25 roff=1e9)
vsup sup 0 12.5
rc sup c1 1000
dc c1 near pull
rn sup n1 30k
dn n1 near pull
cn near 0 2n
rf sup f1 30k
df f1 far pull
cf far 0 330p
rpn near 0 10meg
rpf far 0 10meg
{wire}
v1 low1 0 0.7
v2 low2 0 0.9
v3 low3 0 0.8
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
linearize v(near) v(far)
wrdata {out} v(near) v(far)
quit
.endc
.end
"""


def solved(folder: Path, wire: str, *, far_talks: bool = True) -> tuple[Channel, Channel]:
    """Far and near channel as a 10 mV converter with 15 mV of noise sees them."""
    sent = traffic(
        SCHEDULE,
        bit_rate=19_200.0,
        slot_s=8e-3,
        start_s=2e-3,
        stop_s=STOP_S,
        hears=lambda talker, _start_s, _stop_s: far_talks or talker != "far",
    )
    file, out = folder / "bus.cir", folder / "out.txt"
    file.write_text(deck(sent, wire, out))
    assert NGSPICE is not None
    subprocess.run([NGSPICE, "-b", str(file)], check=True, capture_output=True, timeout=120)
    time_s, near, far = np.loadtxt(out).T
    assert np.allclose(np.diff(time_s), STEP_S, rtol=1e-3)
    rng = np.random.default_rng(1)

    def channel(name: str, volts: np.ndarray) -> Channel:
        seen = np.round((volts + rng.normal(0.0, 0.015, volts.size)) / CONVERTER_V) * CONVERTER_V
        return Channel(name, "V", FloatSamples(seen.astype(np.float32)), 0.0, STEP_S)

    return channel("far", far), channel("near", near)


def judged(folder: Path, wire: str, *, far_talks: bool = True) -> Verdict:
    far, near = solved(folder, wire, far_talks=far_talks)
    conditions = Conditions(supply_v=13.2, same_moment=True)
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
