"""Carriers, repeats, differing clocks, gaps and levels: the cases where a line-up goes wrong quietly."""

import numpy as np
import pytest

from loomlight.signal.align import line_up
from loomlight.signal.capture import Channel
from loomlight.signal.samples import CountSamples, FloatSamples


def channel(values: np.ndarray, *, start_s: float = 0.0, step_s: float = 1e-6) -> Channel:
    return Channel("x", "V", FloatSamples(values), start_s, step_s)


def frames(rng: np.random.Generator, count: int, bit: int) -> np.ndarray:
    """Bytes with start and stop bits, frames with idle between: the look of a serial bus, 0 to 12 V."""
    levels: list[int] = []
    while len(levels) * bit < count:
        levels += [0] * 13 + [1]
        for byte in rng.integers(0, 256, 6).tolist():
            levels += [0] + [(byte >> place) & 1 for place in range(8)] + [1]
        levels += [1] * int(rng.integers(20, 60))
    return 12.0 * np.repeat(levels, bit)[:count]


def schedule(rng: np.random.Generator, rounds: int, bit: int) -> np.ndarray:
    """The same identifiers in every round, two data bytes that differ from round to round."""
    levels: list[int] = []
    for _ in range(rounds):
        for identifier in (0x80, 0xC1, 0x42):
            levels += [0] * 13 + [1]
            for byte in [0x55, identifier, *rng.integers(0, 256, 2).tolist()]:
                levels += [0] + [(byte >> place) & 1 for place in range(8)] + [1]
            levels += [1] * 40
    return 12.0 * np.repeat(levels, bit).astype(float)


def test_a_carrier_that_a_mean_wipes_out_is_found_by_its_bursts() -> None:
    rng = np.random.default_rng(21)
    count, factor = 1_200_000, 16
    envelope = np.repeat(rng.integers(0, 2, count // 3000), 3000)
    phase = np.cumsum(2 * np.pi * (2.0 / factor) * (1 + 0.2 * np.repeat(rng.uniform(-1, 1, count // 1000), 1000)))
    base = envelope * np.sin(phase)
    suspect = base[70_001:1_070_001] + rng.normal(0, 0.05, 1_000_000)
    found = line_up(channel(suspect), channel(base))
    assert found.accepted
    assert found.lag_s == pytest.approx(70_001e-6, abs=0.05e-6)


@pytest.mark.parametrize("cycles_a_sample", [0.11, 0.31, 0.43])
def test_a_burst_of_carrier_does_not_land_half_a_period_off(cycles_a_sample: float) -> None:
    times = np.arange(6000.0)

    def burst(centre: float) -> np.ndarray:
        late = times - centre
        return np.exp(-((late / 9.0) ** 2)) * np.cos(2 * np.pi * cycles_a_sample * late)

    noise = np.random.default_rng(22).normal(0, 0.002, (2, times.size))
    found = line_up(channel(burst(2500.0) + noise[0]), channel(burst(3000.37) + noise[1]))
    assert found.lag_s == pytest.approx(500.37e-6, abs=0.03e-6)
    assert found.polarity == 1


def test_a_repeating_schedule_with_other_data_comes_out_right() -> None:
    rng = np.random.default_rng(23)
    base = schedule(rng, 9, 10) + 0.0
    round_s = base.size / 9
    start = int(2 * round_s) + 137
    suspect = base[start : start + int(5 * round_s)] + rng.normal(0, 0.2, int(5 * round_s))
    found = line_up(channel(suspect), channel(base))
    assert found.accepted
    assert found.lag_s == pytest.approx(start * 1e-6, abs=0.1e-6)


def test_two_buses_of_other_bit_rates_are_refused() -> None:
    rng = np.random.default_rng(24)
    for _ in range(10):
        found = line_up(channel(frames(rng, 20_000, 10)), channel(frames(rng, 20_000, 19)))
        assert not found.accepted


def test_the_reason_counts_the_equal_places() -> None:
    square = (np.arange(10_000) // 500 % 2).astype(float)
    found = line_up(channel(square), channel(square))
    assert found.accepted
    assert found.repeats_s == pytest.approx(1e-3, rel=1e-3)
    # Ten periods on ten: shifts of -9 to 9 periods, of which those with a tenth of overlap or more count.
    assert "19 equally good places" in found.reason or "17 equally good places" in found.reason
    assert found.lag_s == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("offset", [0.0, 14.0, 4000.0])
def test_offset_and_gain_change_neither_lag_nor_fit(offset: float) -> None:
    rng = np.random.default_rng(27)
    base = np.convolve(rng.normal(size=12_000), np.hanning(20), mode="same")
    suspect = base[2000:9000] + rng.normal(0, 0.3, 7000)
    plain, shifted = line_up(channel(suspect), channel(base)), line_up(channel(3.0 * suspect + offset), channel(base))
    assert shifted.lag_s == pytest.approx(plain.lag_s, abs=1e-9)
    assert shifted.fit == pytest.approx(plain.fit, abs=1e-3)
    assert shifted.accepted


def test_a_flat_suspect_recorded_together_has_no_gain() -> None:
    rng = np.random.default_rng(28)
    found = line_up(channel(np.full(5000, 4.5)), channel(frames(rng, 5000, 10)), same_moment=True)
    assert (found.accepted, found.gain) == (True, 0.0)
    assert found.offset == pytest.approx(4.5)
    assert "together" in found.reason


def test_recorded_together_but_apart_in_time_is_refused() -> None:
    values = np.random.default_rng(29).normal(size=100)
    found = line_up(channel(values), channel(values, start_s=1.0), same_moment=True)
    assert (found.accepted, found.overlap_s) == (False, 0.0)


def test_gaps_in_both_long_channels_do_not_spoil_it() -> None:
    rng = np.random.default_rng(30)
    base = np.repeat(rng.integers(0, 2, 8000), 60) * 12.0
    suspect, good = base[50_000:450_000].copy(), base.copy()
    suspect[100_000:180_000] = np.nan
    good[200_000:230_000] = np.nan
    good[:1000] = np.nan
    found = line_up(channel(suspect), channel(good))
    assert found.accepted
    assert found.lag_s == pytest.approx(0.05, abs=1e-8)
    assert found.fit == pytest.approx(1.0, abs=1e-6)


def test_only_gaps_is_no_signal() -> None:
    found = line_up(channel(np.full(5000, np.nan)), channel(np.random.default_rng(0).normal(size=5000)))
    assert (found.accepted, found.fit) == (False, 0.0)
    assert "no signal" in found.reason


def test_a_constant_of_one_count_is_no_signal() -> None:
    flat = Channel("x", "V", CountSamples(np.full(300_000, 117, np.int16), scale=0.0137, offset=-0.3), 0.0, 1e-6)
    found = line_up(flat, channel(np.random.default_rng(0).normal(size=300_000)))
    assert (found.accepted, found.fit) == (False, 0.0)


def test_a_shorter_overlap_than_a_tenth_is_not_looked_at() -> None:
    rng = np.random.default_rng(31)
    base = np.convolve(rng.normal(size=20_000), np.hanning(10), mode="same")
    found = line_up(channel(base[:10_000]), channel(base[9500:19_500]))
    assert found.overlap_s >= 0.099 * 0.01
