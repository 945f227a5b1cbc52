"""A three-phase rectifier on a battery solved by an independent circuit simulator (ngspice), one part of it broken.

The deck is built here: three sine sources in star with winding resistance and inductance, six exponential diodes, a battery with
its own resistance, a load. None of it comes from `loomlight.signal.rectifier_cycles` or from the makers.
"""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.charging_examination import ChargingExamination
from loomlight.signal.comparison import Comparison, check
from loomlight.signal.examination import Conditions
from loomlight.signal.rectifier_cycles import RectifierFault, charging_current
from loomlight.signal.samples import FloatSamples

NGSPICE = shutil.which("ngspice")
pytestmark = [pytest.mark.outside, pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed")]

HZ, STEP_S, STOP_S = 300.0, 2e-5, 0.22
SETTLED_S = 0.02
PARTS = {
    "": "",
    "open diode": "open",
    "shorted diode": "short",
    "lost phase": "lost",
}


def deck(fault: str, out: Path, *, peak: float, henry: float) -> str:
    """Phase a carries the fault: its upper diode open or shorted, or its winding open."""
    winding = "1e9" if fault == "lost phase" else "0.06"
    upper = {"open diode": "rdau ta bus 1e9", "shorted diode": "rdau ta bus 2m"}.get(fault, "dau ta bus rect")
    return f"""six diodes
.model rect d(is=1e-9 n=1.6 rs=2m cjo=1n)
va a0 star sin(0 {peak} {HZ} 0 0 0)
vb b0 star sin(0 {peak} {HZ} 0 0 120)
vc c0 star sin(0 {peak} {HZ} 0 0 240)
ra a0 a1 {winding}
rb b0 b1 0.06
rc c0 c1 0.06
la a1 ta {henry}
lb b1 tb {henry}
lc c1 tc {henry}
{upper}
dbu tb bus rect
dcu tc bus rect
dal 0 ta rect
dbl 0 tb rect
dcl 0 tc rect
rsa ta sa 20
rsb tb sb 20
rsc tc sc 20
csa sa 0 100n
csb sb 0 100n
csc sc 0 100n
rgnd star 0 1e4
rlead bus bat 1m
rbat bat cell 8m
vcell cell 0 13.9
iload bat 0 20
.options reltol=1e-4 abstol=1e-7 rshunt=1e9
.tran {STEP_S} {STOP_S} 0 {0.25 * STEP_S}
.control
set wr_singlescale
run
linearize v(bat)
wrdata {out} v(bat)
quit
.endc
.end
"""


def solved(folder: Path, fault: str, *, peak: float = 12.5, henry: float = 5e-6) -> Channel:
    """Battery voltage as a 12-bit converter over ±20 V with 3 mV of noise sees it."""
    file, out = folder / "charge.cir", folder / "out.txt"
    file.write_text(deck(fault, out, peak=peak, henry=henry), encoding="utf-8")
    assert NGSPICE is not None
    done = subprocess.run([NGSPICE, "-b", str(file)], check=True, capture_output=True, timeout=120, text=True)
    assert "aborted" not in done.stdout + done.stderr
    table = np.loadtxt(out)
    volts = table[table[:, 0] >= SETTLED_S, 1]
    step = 40.0 / 4096
    noisy = volts + np.random.default_rng(4).normal(0.0, 3e-3, volts.size)
    return Channel("battery", "V", FloatSamples(np.round(noisy / step) * step), 0.0, STEP_S)


def judged(channel: Channel) -> Comparison:
    # 16 electrical periods a turn at 1125 rpm are 300 Hz.
    return check(channel, kind="charging", conditions=Conditions(settings=(("engine-rpm", 1125.0),)))


@pytest.mark.parametrize("fault", PARTS)
def test_told_as_it_was_built(tmp_path: Path, fault: RectifierFault) -> None:
    found = judged(solved(tmp_path, fault))
    assert found.verdict.picture == fault
    assert found.verdict.state == ("faulty" if fault else "clean")


@pytest.mark.parametrize("henry", [30e-6, 100e-6])
def test_an_inductive_winding_does_not_hide_an_open_diode(tmp_path: Path, henry: float) -> None:
    assert judged(solved(tmp_path, "open diode", peak=14.0, henry=henry)).verdict.picture == "open diode"


def test_the_spectrum_of_an_open_diode_is_the_simulators(tmp_path: Path) -> None:
    channel = solved(tmp_path, "open diode", peak=12.5, henry=1e-7)
    volts = channel.samples.block(0, channel.samples.size).astype(np.float64)
    periods = int(volts.size * STEP_S * HZ)
    whole = volts[: round(periods / HZ / STEP_S)]
    orders = np.abs(np.fft.rfft(whole - whole.mean()))[periods : 7 * periods : periods]
    # Battery and two diodes (0.85 V each at these currents): peak of one phase as a share of that.
    model = np.abs(np.fft.rfft(charging_current("open diode", 12.5 / (14.1 + 1.7))))[1:7]
    assert orders / orders[0] == pytest.approx(model / model[0], abs=0.08)
    looked = judged(channel).looked
    assert isinstance(looked, ChargingExamination)
    assert looked.charge is not None
    assert looked.charge.cycle is not None
    assert looked.charge.cycle.hz == pytest.approx(HZ, rel=2e-3)
    assert looked.charge.cycle.peak_to_peak_v == pytest.approx(float(np.ptp(whole)), rel=0.05)
