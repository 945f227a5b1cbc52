"""Laws of the line-up: shift, swap, gain, steps, polarity, periods; and that it refuses what it should."""

import numpy as np
import pytest

from loomlight.signal.align import line_up
from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.progress import Cancelled
from loomlight.signal.samples import FloatSamples


def smooth(rng: np.random.Generator, count: int, width: int = 8) -> np.ndarray:
    return np.convolve(rng.normal(size=count + 4 * width), np.hanning(2 * width), mode="same")[
        2 * width : count + 2 * width
    ]


def channel(values: np.ndarray, *, start_s: float = 0.0, step_s: float = 1e-6, unit: str = "V") -> Channel:
    return Channel("x", unit, FloatSamples(values), start_s, step_s)


@pytest.fixture
def base() -> np.ndarray:
    return smooth(np.random.default_rng(1), 40_000)


@pytest.mark.parametrize("count", [5000, 5001])
@pytest.mark.parametrize("shift", [-1200, 0, 777])
def test_sign_of_the_lag(base: np.ndarray, count: int, shift: int) -> None:
    suspect, good = base[20_000 : 20_000 + count], base[20_000 - shift : 26_000 - shift]
    found = line_up(channel(suspect), channel(good))
    # The suspect's time t is the known-good's t + shift.
    assert found.lag_s == pytest.approx(shift * 1e-6, abs=2e-9)
    assert found.accepted
    assert found.fit == pytest.approx(1.0, abs=1e-3)


def test_starts_of_both_axes_are_in_the_lag(base: np.ndarray) -> None:
    suspect, good = channel(base[5000:15_000], start_s=-0.5), channel(base[4000:16_000], start_s=3.25)
    found = line_up(suspect, good)
    assert found.lag_s == pytest.approx(3.25 + 0.5 + 1000e-6, abs=1e-8)
    assert found.on_suspect(found.on_good(0.123)) == pytest.approx(0.123)


def test_swapping_negates_the_lag(base: np.ndarray) -> None:
    one, other = channel(base[5000:15_000]), channel(base[4300:13_001])
    there, back = line_up(one, other), line_up(other, one)
    assert there.lag_s == pytest.approx(-back.lag_s, abs=2e-9)
    assert there.fit == pytest.approx(back.fit, abs=1e-3)


@pytest.mark.parametrize(("gain", "offset"), [(3.0, 0.0), (0.01, 5.0), (1.0, -40.0)])
def test_gain_and_offset_change_nothing_but_the_value_fit(base: np.ndarray, gain: float, offset: float) -> None:
    suspect, good = base[5000:15_000], base[4000:16_000]
    found = line_up(channel(gain * suspect + offset), channel(good))
    assert found.lag_s == pytest.approx(1000e-6, abs=2e-9)
    assert found.gain == pytest.approx(gain, rel=1e-2)
    assert found.offset == pytest.approx(offset, abs=0.02 * max(1.0, gain))


def test_upside_down_is_told(base: np.ndarray) -> None:
    found = line_up(channel(-base[5000:15_000]), channel(base[4000:16_000]))
    assert (found.accepted, found.polarity) == (True, -1)
    assert found.lag_s == pytest.approx(1000e-6, abs=2e-9)


@pytest.mark.parametrize("ratio", [2.0, 2.5, 3.0, np.pi, 0.4])
def test_any_two_steps(base: np.ndarray, ratio: float) -> None:
    whole = np.arange(base.size) * 1e-6
    times = np.arange(0.004, 0.034, ratio * 1e-6)
    suspect = channel(np.interp(times, whole, base), start_s=0.0, step_s=ratio * 1e-6)
    found = line_up(suspect, channel(base))
    assert found.accepted
    assert found.lag_s == pytest.approx(0.004, abs=0.05 * max(ratio, 1.0) * 1e-6)


def test_a_long_one_is_refined_at_full_rate() -> None:
    rng = np.random.default_rng(2)
    base = smooth(rng, 700_000, 4)
    suspect = base[100_123:600_123] + rng.normal(0, 0.1, 500_000)
    found = line_up(channel(suspect), channel(base))
    assert found.accepted
    assert found.lag_s == pytest.approx(100_123e-6, abs=0.05e-6)


def test_gaps_do_not_spoil_it(base: np.ndarray) -> None:
    suspect = base[5000:15_000].copy()
    suspect[2000:3500] = np.nan
    found = line_up(channel(suspect), channel(base[4000:16_000]))
    assert found.accepted
    assert found.lag_s == pytest.approx(1000e-6, abs=5e-9)


def test_pairs_are_lined_up_by_their_middle(base: np.ndarray) -> None:
    lows, highs = base[5000:15_000].reshape(-1, 4).min(axis=1), base[5000:15_000].reshape(-1, 4).max(axis=1)
    pairs = Channel("p", "V", FloatSamples(np.column_stack([lows, highs]).reshape(-1)), 0.0, 4e-6, "pairs")
    found = line_up(pairs, channel(base[4000:16_000]))
    assert found.accepted
    assert found.lag_s == pytest.approx(1000e-6, abs=4e-6)


def test_a_square_wave_repeats_and_says_so() -> None:
    rng = np.random.default_rng(3)
    square = (np.arange(30_000) // 250 % 2).astype(float) + rng.normal(0, 0.02, 30_000)
    found = line_up(channel(square[3000:20_000]), channel(square))
    assert found.repeats_s == pytest.approx(500e-6, rel=0.01)
    assert found.accepted
    assert (found.lag_s * 1e6 - 3000) % 500 == pytest.approx(0, abs=2) or (found.lag_s * 1e6 - 3000) % 500 > 498


def test_recorded_together_is_a_line_up_whatever_the_fit(base: np.ndarray) -> None:
    flat = channel(np.full(10_000, 4.0), start_s=0.5)
    found = line_up(flat, channel(base[:10_000], start_s=0.5), same_moment=True)
    assert (found.accepted, found.lag_s, found.fit) == (True, 0.0, 0.0)
    assert found.overlap_s == pytest.approx(0.01)


def test_nothing_to_line_up_is_refused(base: np.ndarray) -> None:
    found = line_up(channel(np.full(5000, 3.3)), channel(base[:5000]))
    assert not found.accepted
    assert "no signal" in found.reason


@pytest.mark.parametrize(
    ("suspect", "good", "about"),
    [
        (channel(np.zeros(49)), channel(np.zeros(500)), "at least 50"),
        (channel(np.zeros(500)), channel(np.zeros(500), unit="A"), "same unit"),
        (
            Channel("x", "V", FloatSamples(np.zeros(60)), 0.0, None, "uneven", times_s=np.geomspace(1, 2, 60)),
            channel(np.zeros(500)),
            "no even time step",
        ),
    ],
)
def test_what_cannot_be_worked_on_is_refused_with_a_reason(suspect: Channel, good: Channel, about: str) -> None:
    with pytest.raises(CannotUse, match=about):
        line_up(suspect, good)


def test_it_can_be_given_up(base: np.ndarray) -> None:
    def stop(share: float) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        line_up(channel(base), channel(base), progress=stop)
