"""SENT's check against printed values and plain polynomial division, and an edge solved by a circuit simulator (ngspice)."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from loomlight.sample_captures.makers.sent import remainder, sum_of
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.sent import SENT
from loomlight.signal.samples import FloatSamples
from loomlight.signal.sent_words import FORMS, TABLE, check_of

NGSPICE = shutil.which("ngspice")
pytestmark = pytest.mark.outside


def test_the_table_as_printed() -> None:
    # SAE J2716, as printed in sensors' user manuals: polynomial x⁴ + x³ + x² + 1, seed 0101, table of sixteen values.
    assert TABLE.tolist() == [0, 13, 7, 10, 14, 3, 9, 4, 1, 12, 6, 11, 15, 2, 8, 5]
    # Each entry is four shifts of its place by the polynomial.
    assert TABLE.tolist() == [remainder([place], seed=0) for place in range(16)]


@pytest.mark.parametrize(
    ("data", "recommended", "legacy"),
    [
        # The example input of a sensor's user manual (7 4 8 7 4 8), and zeros; worked by hand with the printed table.
        ([7, 4, 8, 7, 4, 8], 3, 5),
        ([0, 0, 0, 0, 0, 0], 5, 15),
    ],
)
def test_checks_of_the_printed_example(data: list[int], recommended: int, legacy: int) -> None:
    assert (check_of(data, "recommended"), check_of(data, "legacy")) == (recommended, legacy)


@pytest.mark.parametrize("form", FORMS)
def test_all_three_forms_against_polynomial_division(form: str) -> None:
    rng = np.random.default_rng(1)
    for _ in range(200):
        status, data = int(rng.integers(16)), rng.integers(0, 16, int(rng.integers(1, 7))).tolist()
        assert check_of(data, form, status=status) == sum_of(status, data, form)  # type: ignore[arg-type]


def test_limits_as_published() -> None:
    # SAE J2716 by a public encyclopaedia (levels) and a controller's reference manual (ticks).
    published = {
        ("low level at most", 0.5),
        ("high level at least", 4.1),
        ("tick at least", 3e-6),
        ("tick at most", 90e-6),
    }
    published |= {("tick off its nominal by at most", 0.2), ("pause at least", 12.0), ("pause at most", 768.0)}
    assert published <= {(one.name, one.value) for one in SENT.limits}


def solved(folder: Path, *, series_ohm: float, farad: float) -> Channel:
    """A push-pull sensor of 80 Ω behind ``series_ohm``, before a receiver's pull-up of 33 kΩ and a capacitance."""
    tick_s, points, at_s = 5e-6, ["0 5"], 20e-6
    rng = np.random.default_rng(2)
    for _ in range(12):
        data = rng.integers(0, 16, 6).tolist()
        for ticks in (56, 12, *(12 + one for one in data), 12 + check_of(data, "recommended")):
            low_s, high_s = at_s, at_s + 5 * tick_s
            points += [f"{low_s:.9g} 5", f"{low_s + 1e-6:.9g} 0", f"{high_s:.9g} 0", f"{high_s + 1e-6:.9g} 5"]
            at_s += ticks * tick_s
    points += [f"{at_s:.9g} 5", f"{at_s + 1e-6:.9g} 0", f"{at_s + 25e-6:.9g} 0", f"{at_s + 26e-6:.9g} 5"]
    wave = "\n+ ".join(points)
    file, out = folder / "s.cir", folder / "out.txt"
    file.write_text(f"""SENT
vs src 0 pwl({wave})
ro src sensor 80
rx sensor pin {series_ohm}
cp pin 0 {farad}
vp vcc 0 5
rp vcc pin 33k
rm pin 0 10meg
.options reltol=1e-4
.tran 0.5u {at_s + 100e-6:.9g} 0 0.5u
.control
set wr_singlescale
run
linearize v(pin)
wrdata {out} v(pin)
quit
.endc
.end
""")
    assert NGSPICE is not None
    subprocess.run([NGSPICE, "-b", str(file)], check=True, capture_output=True, timeout=120)
    _, volts = np.loadtxt(out).T
    seen = np.round((volts + np.random.default_rng(1).normal(0, 0.01, volts.size)) / 0.01) * 0.01
    return Channel("S", "V", FloatSamples(seen.astype(np.float32)), 0.0, 0.5e-6)


@pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed")
def test_edges_of_a_solved_wire(tmp_path: Path) -> None:
    # 3.8 V to 1.1 V of a fall from 5 V to about 0 V through R and C takes R·C·ln(3.8/1.1).
    healthy = check(solved(tmp_path, series_ohm=0.1, farad=2.2e-9), kind="sent", conditions=Conditions())
    assert healthy.verdict.state == "clean", healthy.verdict.reasons
    for ohm in (2700.0, 3900.0):
        found = check(solved(tmp_path, series_ohm=ohm, farad=2.2e-9), kind="sent", conditions=Conditions())
        assert found.verdict.picture.startswith("edges slow"), found.verdict.reasons
        assert found.looked is not None
        [fall] = [one for one in found.looked.measures if one.name.startswith("fall")]
        assert fall.value == pytest.approx((ohm + 80.0) * 2.2e-9 * np.log(3.8 / 1.1), rel=0.3)
