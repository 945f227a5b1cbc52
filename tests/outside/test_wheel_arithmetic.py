"""Toothed wheels against plain arithmetic and against SciPy's peak finder.

A wheel of 60 positions with two left out turns at as many turns a minute as teeth pass in a second away from the gap; like
edges over the gap are 3 pitches (18°) apart. A wheel of 36 with one left out: f · 60 / 36, and 2 pitches (20°). Exact, by
arithmetic. Volts of an inductive sensor are proportional to its speed (Faraday's law of induction).
"""

import numpy as np
import pytest
from scipy.signal import find_peaks

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

pytestmark = pytest.mark.outside

STEP_S = 10e-6


def square(positions: int, left_out: int, tooth_hz: float, seconds: float) -> Channel:
    """Teeth of half a pitch at an even speed, each edge a ramp of two samples at its exact time."""
    pitch = (np.arange(round(seconds / STEP_S)) * STEP_S * tooth_hz) % positions
    within = pitch % 1.0
    slope = 2 * STEP_S * tooth_hz
    volts = 5.0 * np.clip((0.25 - np.abs(within - 0.5)) / slope + 0.5, 0.0, 1.0)
    volts[pitch >= positions - left_out] = 0.0
    return Channel("crank", "V", FloatSamples(volts.astype(np.float32)), 0.0, STEP_S)


def swing(positions: int, left_out: int, rpm_of: np.ndarray) -> Channel:
    turned = np.cumsum(rpm_of / 60.0) * STEP_S
    pitch = (turned * positions) % positions
    volts = rpm_of / 1000.0 * 8.0 * np.sin(2 * np.pi * pitch)
    volts[pitch >= positions - left_out] = 0.0
    return Channel("crank", "V", FloatSamples(volts.astype(np.float32)), 0.0, STEP_S)


def measures(channel: Channel) -> dict[str, float | None]:
    found = check(channel, kind="toothed-wheel", conditions=Conditions())
    assert found.verdict.state == "clean", found.verdict.reasons
    assert found.looked is not None
    return {one.name: one.value for one in found.looked.measures}


@pytest.mark.parametrize(
    ("positions", "left_out", "tooth_hz", "rpm"),
    [(60, 2, 800.0, 800.0), (60, 2, 3000.0, 3000.0), (36, 1, 600.0, 1000.0), (36, 1, 1234.5, 2057.5)],
)
def test_speed_from_the_tooth_frequency(positions: int, left_out: int, tooth_hz: float, rpm: float) -> None:
    found = measures(square(positions, left_out, tooth_hz, 0.5))
    assert found["positions a turn"] == positions
    assert found["teeth left out by design"] == left_out
    assert found["speed"] == pytest.approx(rpm, rel=2e-3)


def test_height_follows_the_speed_and_agrees_with_peaks() -> None:
    channel = swing(60, 2, np.linspace(300.0, 900.0, 200_000))
    found = measures(channel)
    assert found["power of the speed that it follows"] == pytest.approx(1.0, abs=0.03)
    volts = channel.samples.block(0, channel.samples.size)
    peaks, _ = find_peaks(volts, height=0.5, distance=20)
    whole = np.searchsorted(peaks, [0, 20_000])
    assert found["weakest, peak to peak"] == pytest.approx(
        2 * float(np.median(volts[peaks[whole[0] : whole[1]]])), rel=0.15
    )
    teeth = peaks.size
    looked = check(channel, kind="toothed-wheel", conditions=Conditions()).looked
    assert looked is not None
    assert abs(looked.tracks[0].values.size - teeth) <= 2
