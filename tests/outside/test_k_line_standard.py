"""K-line against what standards print, and against a wire solved by an independent circuit simulator (ngspice)."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.k_line import K_LINE
from loomlight.signal.kline_words import checksum, header_of
from loomlight.signal.samples import FloatSamples
from loomlight.signal.verdict import Verdict

NGSPICE = shutil.which("ngspice")
pytestmark = pytest.mark.outside
BIT_S = 1.0 / 10_400
REQUEST = bytes([0xC1, 0x33, 0xF1, 0x81, 0x66])
ANSWER = bytes([0x83, 0xF1, 0x11, 0xC1, 0x8F, 0xE9, 0xBE])


def test_start_communication_as_widely_printed() -> None:
    # ISO 14230-2's request to start communication, functional address 0x33 (from memory: C1 33 F1 81, checksum 66).
    assert checksum(REQUEST[:-1]) == REQUEST[-1]
    header = header_of(REQUEST)
    assert header is not None
    assert (header.target, header.source, header.length) == (0x33, 0xF1, 1)


def test_limits_as_the_standard_gives_them() -> None:
    # ISO 14230-1:2012, 8.2.2 to 8.2.4 (excerpt): below 10 % and above 90 % of V_B when a tester sends; ± 1 % where a bit
    # rate is measured; edges may shift by 30 % of a bit.
    printed = {("a tester brings the line to or below", 0.10), ("a tester lets the line rise to at least", 0.90)}
    printed |= {("a bit rate is off by at most", 0.01), ("an edge comes late by at most", 0.30)}
    assert printed <= {(one.name, one.value) for one in K_LINE.limits if one.source.startswith("ISO 14230-1:2012")}


def pwl(values: bytes, at_s: float, gap_s: float) -> str:
    """Control voltage of a driver: 1 V where it pulls, with edges of 1 µs."""
    points = ["0 0"]
    for value in values:
        levels = [0, *((value >> bit) & 1 for bit in range(8)), 1]
        last = 1
        for place, level in enumerate(levels):
            if level != last:
                edge_s = at_s + place * BIT_S
                points += [f"{edge_s:.9g} {last ^ 1}", f"{edge_s + 1e-6:.9g} {level ^ 1}"]
            last = level
        at_s += 10 * BIT_S + gap_s
    return "\n+ ".join(points)


def solved(folder: Path, *, joint_ohm: float, leak_ohm: float, pull_ohm: float, farad: float) -> Channel:
    """The tester's end of a K-line: its pull-up, a joint of ``joint_ohm`` towards the unit, a leak to ground."""
    file, out = folder / "k.cir", folder / "out.txt"
    file.write_text(f"""K-line
.model drive sw(vt=0.5 vh=0.1 ron=12 roff=1e9)
vb vb 0 13.2
rp vb near {pull_ohm}
c1 near 0 {farad}
rl near 0 {leak_ohm}
rj near far {joint_ohm}
c2 far 0 470p
ru vb far 47k
v1 low1 0 0.3
v2 low2 0 0.5
s1 near low1 k1 0 drive
s2 far low2 k2 0 drive
vk1 k1 0 pwl({pwl(REQUEST, 0.01, 5.2e-3)})
vk2 k2 0 pwl({pwl(ANSWER, 0.075, 0.0)})
rx near 0 10meg
.options reltol=1e-4
.tran 4u 0.1 0 4u
.control
set wr_singlescale
run
linearize v(near)
wrdata {out} v(near)
quit
.endc
.end
""")
    assert NGSPICE is not None
    subprocess.run([NGSPICE, "-b", str(file)], check=True, capture_output=True, timeout=120)
    time_s, volts = np.loadtxt(out).T
    assert np.allclose(np.diff(time_s), 4e-6, rtol=1e-3)
    seen = np.round((volts + np.random.default_rng(1).normal(0, 0.02, volts.size)) / 0.02) * 0.02
    return Channel("K", "V", FloatSamples(seen.astype(np.float32)), 0.0, 4e-6)


def judged(
    folder: Path, *, joint: float = 0.05, leak: float = 1e9, pull: float = 510.0, farad: float = 1e-9
) -> Verdict:
    channel = solved(folder, joint_ohm=joint, leak_ohm=leak, pull_ohm=pull, farad=farad)
    return check(channel, kind="k-line", conditions=Conditions(supply_v=13.2)).verdict


needs_ngspice = pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed")


@needs_ngspice
@pytest.mark.parametrize("ohm", [220.0, 470.0, 1000.0])
def test_series_resistance_in_its_interval(tmp_path: Path, ohm: float) -> None:
    found = judged(tmp_path, joint=ohm)
    assert (found.state, found.fault) == ("faulty", "resistive"), found.reasons
    assert found.series_ohm == pytest.approx(ohm, rel=0.2)
    assert (found.series_ohm_low or 0.0) <= ohm <= (found.series_ohm_high or np.inf)


@needs_ngspice
def test_a_healthy_line_is_left_in_peace(tmp_path: Path) -> None:
    assert judged(tmp_path).state == "clean"
    assert judged(tmp_path, joint=20.0, farad=5e-9).state == "clean"


@needs_ngspice
def test_leak_weak_pull_up_and_capacitance_by_their_names(tmp_path: Path) -> None:
    assert judged(tmp_path, leak=1500.0).picture == "leak to ground"
    assert judged(tmp_path, pull=20e3, farad=2e-9).picture == "pull-up weak, or too much capacitance"
    assert judged(tmp_path, farad=80e-9).picture == "pull-up weak, or too much capacitance"
