"""Single-wire and low-speed CAN as solved by an independent circuit simulator (ngspice): drivers, loads, a joint.

The bits of a frame are spelt by the maker's encoder, which CRC catalogue values hold elsewhere; all levels come from the circuit.
"""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from loomlight.sample_captures.makers.can_frames import Frame, sent_bits
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples
from loomlight.signal.verdict import Verdict

NGSPICE = shutil.which("ngspice")
pytestmark = [pytest.mark.outside, pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed")]


def controls(bit_s: float, count: int) -> tuple[str, str, float]:
    """Control voltages of two nodes that send in turn, each acknowledging the other; and when they end."""
    points: list[list[str]] = [["0 0"], ["0 0"]]
    at_s = 15 * bit_s
    for number in range(count):
        bits = list(sent_bits(Frame(0x100 + 0x40 * (number % 2), bytes([number, 0x3C, 0xA5]))).bits)
        spans = []
        start = None
        for place, bit in enumerate([*bits, 1]):
            if bit == 0 and start is None:
                start = place
            if bit == 1 and start is not None:
                spans.append((number % 2, start, place))
                start = None
        spans.append((1 - number % 2, len(bits) - 9, len(bits) - 8))
        for node, first, last in spans:
            on_s, off_s = at_s + first * bit_s, at_s + last * bit_s
            edge_s = bit_s / 40
            points[node] += [f"{on_s:.9g} 0", f"{on_s + edge_s:.9g} 1", f"{off_s:.9g} 1", f"{off_s + edge_s:.9g} 0"]
        at_s += (len(bits) + 13) * bit_s
    return "\n+ ".join(points[0]), "\n+ ".join(points[1]), at_s


def solved(folder: Path, body: str, outputs: list[str], *, bit_s: float, count: int = 8) -> list[Channel]:
    one, two, stop_s = controls(bit_s, count)
    step_s = bit_s / 20
    file, out = folder / "c.cir", folder / "out.txt"
    names = " ".join(f"v({name})" for name in outputs)
    file.write_text(f"""one wire
.model drive sw(vt=0.5 vh=0.1 ron=20 roff=1e9)
{body}
vk1 k1 0 pwl({one})
vk2 k2 0 pwl({two})
.options reltol=1e-4 rshunt=1e12
.tran {step_s:.9g} {stop_s:.9g} 0 {step_s:.9g}
.control
set wr_singlescale
run
linearize {names}
wrdata {out} {names}
quit
.endc
.end
""")
    assert NGSPICE is not None
    subprocess.run([NGSPICE, "-b", str(file)], check=True, capture_output=True, timeout=120)
    _, *rows = np.loadtxt(out).T
    rng = np.random.default_rng(1)
    return [
        Channel(name, "V", FloatSamples(np.round((row + rng.normal(0, 0.02, row.size)) / 0.02) * 0.02), 0.0, step_s)
        for name, row in zip(outputs, rows, strict=True)
    ]


def single(folder: Path, *, joint_ohm: float, load_ohm: float = 9.09e3 / 12) -> Verdict:
    # Drivers of 4.2 V, loads of 9.09 kΩ divided by the nodes (SAE J2411, from memory), node 2 behind a joint.
    body = f"""
v1 hi 0 4.2
s1 hi bus k1 0 drive
s2 hi far k2 0 drive
rj far bus {joint_ohm}
rl bus 0 {load_ohm}
cb bus 0 2.2n
"""
    [channel] = solved(folder, body, ["bus"], bit_s=30e-6)
    return check(channel, kind="can-single-wire", conditions=Conditions(supply_v=13.0)).verdict


def test_single_wire_a_joint_weakens_one_node(tmp_path: Path) -> None:
    assert single(tmp_path, joint_ohm=0.1).state == "clean"
    weak = single(tmp_path, joint_ohm=330.0)
    assert weak.picture.startswith("weak level of one node"), weak.reasons
    assert "0x140" in weak.reasons[0]


def test_single_wire_lost_loads_slow_the_falls(tmp_path: Path) -> None:
    assert single(tmp_path, joint_ohm=0.1, load_ohm=9.09e3).picture.startswith("falls slow")


def low_speed(folder: Path, *, joint_ohm: float = 0.1, high_leak: str = "", suspect: str = "canh") -> Verdict:
    # 100 Ω of termination a wire, to ground for CANH and to 5 V for CANL (ISO 11898-3, from memory); node 2's CANH behind a
    # joint.
    body = f"""
vcc vcc 0 5
vh hi 0 4.5
vl lo 0 0.5
s1 hi canh k1 0 drive
s2 hi far k2 0 drive
rj far canh {joint_ohm}
s3 lo canl k1 0 drive
s4 lo canl k2 0 drive
rh canh 0 100
rl canl vcc 100
ch canh 0 1n
cl canl 0 1n
{high_leak}
"""
    channels = {one.name: one for one in solved(folder, body, ["canh", "canl"], bit_s=8e-6)}
    other = "canl" if suspect == "canh" else "canh"
    conditions = Conditions(besides=(Beside("other wire", channels[other]),))
    return check(channels[suspect], kind="can-low-speed", conditions=conditions).verdict


@pytest.mark.parametrize("ohm", [68.0, 150.0, 270.0])
def test_low_speed_series_resistance_in_its_interval(tmp_path: Path, ohm: float) -> None:
    found = low_speed(tmp_path, joint_ohm=ohm)
    assert found.picture == "series resistance in CANH", found.reasons
    assert (found.series_ohm_low or 0.0) <= ohm <= (found.series_ohm_high or np.inf)


def test_low_speed_clean_and_shorted(tmp_path: Path) -> None:
    assert low_speed(tmp_path).state == "clean"
    assert low_speed(tmp_path, suspect="canl").state == "clean"
    assert low_speed(tmp_path, high_leak="rx canh 0 0.5").picture == "CANH short to ground"
