"""Nine Manchester bits behind each speed pulse, as a rotational speed sensor's data sheet has them: read bit for bit."""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

BIT_S = 50e-6
LOW, HIGH, PEAK = 7e-3, 14e-3, 28e-3


def telegram(bits: list[int], *, bit_s: float = BIT_S) -> tuple[list[float], list[float]]:
    """Edges and levels of one pulse with its data, by hand."""
    at = [0.0, bit_s]
    to = [PEAK, LOW]
    for place, bit in enumerate(bits):
        begin = (1.5 + place) * bit_s
        at += [begin, begin + 0.5 * bit_s]
        to += [LOW, HIGH] if bit else [HIGH, LOW]
    return [*at, (1.5 + len(bits)) * bit_s], [*to, LOW]


def sensor(
    frames: list[list[int]], *, period_s: float = 1.3e-3, step_s: float = 4.3e-6, noise: float = 0.3e-3
) -> Channel:
    times_s = np.arange(int((len(frames) + 1) * period_s / step_s)) * step_s
    edges, levels = [-1.0], [LOW]
    for number, bits in enumerate(frames):
        at, to = telegram(bits)
        begin = (number + 0.6) * period_s
        kept = [place for place, one in enumerate(at) if one < period_s - 0.2 * BIT_S]
        edges += [begin + at[place] for place in kept]
        levels += [to[place] for place in kept]
    amps = np.asarray(levels)[np.searchsorted(edges, times_s, side="right") - 1]
    amps = amps + np.random.default_rng(4).normal(0, noise, times_s.size)
    return Channel("front left", "A", FloatSamples(amps.astype(np.float32)), 0.0, step_s)


def with_parity(rng: np.random.Generator, count: int, *, odd: int = 0) -> list[list[int]]:
    data = rng.integers(0, 2, (count, 8))
    return [[*row, (sum(row) + odd) % 2] for row in data.tolist()]


def judged(channel: Channel) -> Comparison:
    return check(channel, kind="wheel-speed", conditions=Conditions())


@pytest.mark.parametrize("step_s", [2.0e-6, 4.3e-6, 9.7e-6])
def test_every_bit_is_read(step_s: float) -> None:
    frames = with_parity(np.random.default_rng(1), 120)
    found = judged(sensor(frames, step_s=step_s))
    assert found.verdict.state == "clean"
    assert found.looked is not None
    rows = found.looked.frames
    assert [row.data for row in rows] == [" ".join(map(str, bits[:8])) for bits in frames]
    assert {row.state for row in rows} == {"good"}
    assert any("100.0% of 120 frames" in one for one in found.verdict.reasons)


def test_a_parity_that_breaks_is_told_and_marked_where_it_breaks() -> None:
    frames = with_parity(np.random.default_rng(2), 120)
    for place in (17, 60, 61, 90):
        frames[place][3] ^= 1
    found = judged(sensor(frames))
    assert found.verdict.picture == "data disturbed"
    assert found.verdict.intermittent
    marks = [one.start_s for one in found.findings if one.kind == "frame error"]
    assert np.round(np.array(marks) / 1.3e-3 - 0.6).tolist() == [17, 60, 61, 90]


def test_odd_parity_is_a_convention_and_no_fault() -> None:
    found = judged(sensor(with_parity(np.random.default_rng(3), 80, odd=1)))
    assert found.verdict.state == "clean"
    assert found.looked is not None
    assert found.looked.frames[0].check.endswith("odd")


def test_bits_without_a_parity_are_not_judged() -> None:
    rows = np.random.default_rng(5).integers(0, 2, (120, 9)).tolist()
    found = judged(sensor(rows))
    assert found.verdict.state == "clean"
    assert any("no parity" in one for one in found.verdict.reasons)


def test_at_speed_the_next_pulse_cuts_the_data_and_that_is_no_fault() -> None:
    found = judged(sensor(with_parity(np.random.default_rng(6), 200), period_s=6.3 * BIT_S))
    assert found.verdict.state == "clean"
    assert found.looked is not None
    assert {row.state for row in found.looked.frames} == {"cut short"}
    assert any("nine bits" in one for one in found.verdict.reasons)


def test_too_few_samples_a_bit_are_said() -> None:
    found = judged(sensor(with_parity(np.random.default_rng(7), 200), step_s=14e-6))
    assert found.verdict.picture != "data disturbed"
    assert any("were not read" in one for one in found.verdict.reasons)


def test_an_air_gap_that_warns_is_told_with_its_doubt() -> None:
    frames = [[1, *bits[1:8]] for bits in with_parity(np.random.default_rng(8), 80)]
    found = judged(sensor([[*bits, sum(bits) % 2] for bits in frames]))
    assert found.verdict.state == "clean"
    assert any("air gap" in one and "from memory" in one for one in found.verdict.reasons)
