"""Coils against their exact circuit, against SciPy's curve fit, and against an independent circuit simulator (ngspice).

Exact: a resistance R and an inductance L in series on a voltage V carry V/R · (1 - exp(-t R/L)) from the closing of the switch
on (Kirchhoff's voltage law); 63.2 % of the end after one time constant, slope V/L at the begin.
"""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import curve_fit

from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.coil_fit import fit_rise, henries_of, ohms_of
from loomlight.signal.comparison import Comparison, check
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

NGSPICE = shutil.which("ngspice")
pytestmark = pytest.mark.outside
STEP_S = 10e-6


def measured(found: Comparison, name: str):  # type: ignore[no-untyped-def]
    assert found.looked is not None
    return next(one for one in found.looked.measures if one.name.startswith(name))


@pytest.mark.parametrize(("ohm", "henry", "on_s"), [(12.0, 0.012, 5e-3), (0.6, 0.004, 3e-3), (1.5, 0.002, 2e-3)])
@pytest.mark.parametrize("noise_a", [0.0, 0.005])
def test_step_response_gives_resistance_and_inductance(ohm: float, henry: float, on_s: float, noise_a: float) -> None:
    time_s = np.arange(0.0, on_s, STEP_S)
    amps = 13.0 / ohm * (1.0 - np.exp(-time_s * ohm / henry))
    amps = amps + noise_a * amps.max() * np.random.default_rng(3).normal(size=amps.size)
    fit = fit_rise(time_s, amps, samples=time_s.size)
    assert fit is not None
    assert ohms_of(fit, 13.0, measured=True).value == pytest.approx(ohm, rel=0.03)
    assert henries_of(fit, 13.0, measured=True).value == pytest.approx(henry, rel=0.03)
    found = ohms_of(fit, 13.0, measured=True)
    assert found.low <= ohm <= (found.high or np.inf)
    # Peer: SciPy's nonlinear least squares on the same samples.
    (end, tau), _ = curve_fit(lambda t, a, b: a * (1 - np.exp(-t / b)), time_s, amps, p0=(amps.max(), on_s))
    assert fit.end_a.value == pytest.approx(end, rel=0.03)
    assert fit.tau_s.value == pytest.approx(tau, rel=0.03)


DECK = """A coil behind a switch with a clamp
.model drive sw(vt=0.5 vh=0.1 ron=0.15 roff=1e8)
.model zener d(is=1e-14 bv={clamp} ibv=1e-3 rs=0.05)
vsup sup 0 13.2
rc sup a {ohm}
lc a pin {henry}
rleak sup pin {shunt}
s1 pin 0 k 0 drive
dz 0 pin zener
vk k 0 pulse(0 1 2m 1u 1u {on_s} 25m)
.options reltol=1e-4
.tran {step} 0.3 0 {step}
.control
set wr_singlescale
run
linearize i(vsup) v(pin)
wrdata {out} i(vsup) v(pin)
quit
.endc
.end
"""


def solved(
    folder: Path, *, ohm: float, henry: float, on_s: float, clamp: float, shunt: float = 1e9
) -> tuple[Channel, Channel]:
    """Current and switched end as a converter with noise sees them."""
    file, out = folder / "coil.cir", folder / "out.txt"
    file.write_text(DECK.format(ohm=ohm, henry=henry, on_s=on_s, clamp=clamp, shunt=shunt, step=STEP_S, out=out))
    assert NGSPICE is not None
    subprocess.run([NGSPICE, "-b", str(file)], check=True, capture_output=True, timeout=120)
    _, amps, volts = np.loadtxt(out).T
    rng = np.random.default_rng(1)
    noisy = -amps + 0.004 * np.abs(amps).max() * rng.normal(size=amps.size)
    ends = volts + 0.03 * rng.normal(size=volts.size)
    return (
        Channel("coil", "A", FloatSamples(noisy), 0.0, STEP_S),
        Channel("switched end", "V", FloatSamples(ends), 0.0, STEP_S),
    )


needs_ngspice = pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed")


@needs_ngspice
@pytest.mark.parametrize(("ohm", "henry", "on_s"), [(14.0, 0.014, 5e-3), (0.7, 0.005, 3e-3)])
def test_a_simulated_coil_with_a_clamp(tmp_path: Path, ohm: float, henry: float, on_s: float) -> None:
    amps, volts = solved(tmp_path, ohm=ohm, henry=henry, on_s=on_s, clamp=60.0)
    conditions = Conditions(supply_v=13.2, besides=(Beside("voltage", volts),))
    found = check(amps, kind="coil", conditions=conditions)
    assert found.verdict.state == "clean", found.verdict.reasons
    ohms, henries = measured(found, "resistance"), measured(found, "inductance")
    # The switch's 0.15 Ω is beside the measured voltage for the most part, so within it.
    assert ohms.value == pytest.approx(ohm, rel=0.05, abs=0.15)
    assert ohms.low - 0.15 <= ohm <= ohms.high + 0.05
    assert henries.value == pytest.approx(henry, rel=0.08)
    as_volts = check(volts, kind="coil", conditions=Conditions(settings=(("clamp", 60.0),)))
    assert as_volts.verdict.state == "clean", as_volts.verdict.reasons
    assert measured(as_volts, "peak").value == pytest.approx(60.0, abs=2.5)
    assert measured(as_volts, "switched on for").value == pytest.approx(on_s, abs=3 * STEP_S)


@needs_ngspice
def test_a_simulated_coil_without_its_clamp_and_one_with_turns_shorted(tmp_path: Path) -> None:
    _, volts = solved(tmp_path, ohm=14.0, henry=0.014, on_s=5e-3, clamp=180.0)
    assert check(volts, kind="coil", conditions=Conditions(settings=(("clamp", 60.0),))).verdict.picture == "no clamp"
    amps, _ = solved(tmp_path, ohm=14.0, henry=0.004, on_s=5e-3, clamp=60.0, shunt=25.0)
    assert check(amps, kind="coil", conditions=Conditions(supply_v=13.2)).verdict.picture == "shorted turns"
