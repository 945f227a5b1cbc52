"""Several good captures become a band: what leaves it is found, another good one stays inside, an odd one is pointed out."""

import tracemalloc

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import compare
from loomlight.signal.envelope import Members, envelope_of, laid_on_first
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.samples import FloatSamples
from loomlight.signal.widening import odd_one, widened_by

COUNT, STEP_S = 20_000, 1e-5
KIND = {"kind": "own-limits", "conditions": Conditions()}
LIMITS = Conditions(upper_v=20.0, lower_v=-20.0)


def captured(
    seed: int, *, shift: int = 0, gain: float = 1.0, noise: float = 0.02, bump: float = 0.0, count: int = COUNT
) -> Channel:
    """A curve with pulses on it, a dip or bump of 2 ms in the middle where wanted."""
    at_s = (np.arange(count) + shift) * STEP_S
    curve = np.interp(at_s, np.linspace(-0.05, 0.3, 200), np.random.default_rng(7).uniform(0, 5, 200))
    values = gain * (curve + 2.0 * ((at_s * 37.0) % 1.0 < 0.4))
    values += bump * np.exp(-(((at_s - 0.1) / 0.002) ** 2))
    values += np.random.default_rng(seed).normal(0, noise, count)
    return Channel("sensor", "V", FloatSamples(values), 0.0, STEP_S)


def some(count: int, *, scatter: float = 0.01) -> Members:
    rng = np.random.default_rng(count)
    others = [
        captured(seed, shift=int(rng.integers(-1500, 1500)), gain=1.0 + rng.normal(0, scatter))
        for seed in range(1, count)
    ]
    return laid_on_first([captured(0), *others], **KIND)


@pytest.fixture(scope="module")
def five() -> Members:
    return some(5)


def row(channel: Channel) -> np.ndarray:
    return channel.samples.block(0, channel.samples.size)


def test_the_band_lies_around_the_captures_and_says_on_how_many_it_rests(five: Members) -> None:
    found = envelope_of(five)
    low, middle, high = row(found.lower), row(found.middle), row(found.upper)
    known = np.isfinite(low)
    assert known.mean() > 0.95
    assert (low[known] < middle[known]).all()
    assert (middle[known] < high[known]).all()
    assert found.captures == int(row(found.count).max()) == 5
    assert "5 good captures" in found.told
    assert found.noise == pytest.approx(0.02, rel=0.1)
    # A gain that varies by 1 % spreads the highest values most.
    top = np.quantile(middle[known], 0.95)
    spread = row(found.spread)
    assert np.nanmedian(spread[middle > top]) == pytest.approx(0.01 * top, rel=0.9)


def test_a_band_of_few_captures_is_wide_and_says_so(five: Members) -> None:
    two, many = envelope_of(some(2)), envelope_of(five)
    widths = [float(np.nanmedian(row(one.upper) - row(one.lower))) for one in (two, many)]
    assert widths[0] > 2.0 * widths[1]
    assert "2 are few" in two.told
    assert "few" not in many.told


def test_another_good_capture_stays_inside_and_one_with_a_bump_does_not(five: Members) -> None:
    envelope, good = envelope_of(five), five.channels[0]

    def away(suspect: Channel) -> list[Finding]:
        found = compare(suspect, good, kind="own-limits", conditions=LIMITS, envelope=envelope)
        return [one for one in found.findings if one.kind == "out of band"]

    assert away(captured(50, shift=700, gain=1.008)) == []
    bumped = captured(51, shift=700, bump=1.5)
    out = away(bumped)
    assert out
    assert all(0.09 < one.start_s < 0.11 for one in out)
    assert out[0].rule == "out of the envelope of 5 good captures"
    verdict = compare(bumped, good, kind="own-limits", conditions=LIMITS, envelope=envelope).verdict
    assert verdict.state == "cannot tell"
    assert "out of the envelope of 5 good captures" in verdict.reasons[0]


def test_without_an_envelope_nothing_is_different(five: Members) -> None:
    found = compare(captured(51, shift=700, bump=1.5), five.channels[0], kind="own-limits", conditions=LIMITS)
    assert found.verdict.state == "clean"
    assert found.findings == ()


def test_more_noise_on_the_suspect_is_no_finding(five: Members) -> None:
    loud = captured(52, shift=300, noise=0.1)
    found = compare(loud, five.channels[0], kind="own-limits", conditions=LIMITS, envelope=envelope_of(five))
    assert [one for one in found.findings if one.kind == "out of band"] == []


def test_what_was_given_bounds_how_far_a_band_of_two_captures_reaches() -> None:
    members = some(2, scatter=0.05)
    suspect = captured(53, shift=-400, bump=1.0)
    tight = Conditions(within_v=0.3)
    found = compare(suspect, members.channels[0], kind="own-limits", conditions=tight, envelope=envelope_of(members))
    assert any(0.09 < one.start_s < 0.12 for one in found.findings)


def test_an_odd_capture_is_pointed_out(five: Members) -> None:
    assert odd_one(five) is None
    worn = captured(60, shift=200, gain=0.6)
    found = odd_one(laid_on_first([*five.channels, worn], **KIND))
    assert found is not None
    assert found.index == 5
    assert found.times > 3


def test_a_capture_of_something_else_is_left_out(five: Members) -> None:
    other = Channel("sensor", "V", FloatSamples(np.random.default_rng(3).normal(size=COUNT)), 0.0, STEP_S)
    members = laid_on_first([*five.channels, other], **KIND)
    envelope, found = envelope_of(members), odd_one(members)
    assert envelope.captures == 5
    assert [one.index for one in envelope.left_out] == [5]
    assert found is not None
    assert (found.index, found.times) == (5, float("inf"))
    with pytest.raises(CannotUse, match="needs two good captures"):
        envelope_of(laid_on_first([captured(0), other], **KIND))


def test_of_two_captures_neither_is_the_odd_one() -> None:
    assert odd_one(laid_on_first([captured(0), captured(1, gain=0.5)], **KIND)) is None


def test_what_one_more_capture_would_change_is_told_before_it_is_kept(five: Members) -> None:
    kept = five.channels
    inside = widened_by(five, captured(70, shift=-300, gain=1.003), **KIND)
    assert inside.outside_share < 0.005
    assert inside.odd is None
    assert inside.envelope is not None
    assert inside.envelope.captures == 6
    odd = widened_by(five, captured(71, shift=-300, gain=0.6), **KIND)
    assert odd.outside_share > 0.5
    assert odd.wider_share > 1.0
    assert odd.odd is not None
    assert odd.odd.index == 5
    assert "looks odd" in odd.told
    assert five.channels is kept


def test_the_first_two_make_the_first_envelope() -> None:
    found = widened_by(laid_on_first([captured(0)], **KIND), captured(1), **KIND)
    assert found.envelope is not None
    assert found.told.startswith("The first envelope of this entry.")


def test_cycles_at_another_speed_are_laid_too() -> None:
    def turning(seed: int, hertz: float) -> Channel:
        rng = np.random.default_rng(seed)
        at = np.cumsum(hertz * (1 + 0.02 * np.sin(np.arange(COUNT) / 3000)) * STEP_S)
        values = np.sin(2 * np.pi * at) + 0.4 * np.sin(4 * np.pi * at) + rng.normal(0, 0.02, COUNT)
        return Channel("wheel", "V", FloatSamples(values), 0.0, STEP_S)

    members = laid_on_first([turning(1, 300.0), turning(2, 340.0), turning(3, 270.0)], **KIND)
    assert [one.by for one in members.lineups[1:]] == ["cycle", "cycle"]
    found = envelope_of(members)
    assert np.isfinite(row(found.lower)).mean() > 0.9


def test_an_envelope_of_a_long_recording_has_fewer_points_and_still_holds_every_capture() -> None:
    rng = np.random.default_rng(9)
    base = np.repeat(rng.uniform(0, 5, 1_300), 1_000).astype(np.float32)
    channels = [
        Channel("long", "V", FloatSamples(base + rng.normal(0, 0.01, base.size).astype(np.float32)), 0.0, 1e-6)
        for _ in range(3)
    ]
    members = laid_on_first(channels, **KIND)
    tracemalloc.start()
    found = envelope_of(members)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert found.lower.samples.size == 650_000
    low, high = found.ends_at(np.arange(base.size) * 1e-6)
    values = row(channels[1])
    known = np.isfinite(low)
    assert known.mean() > 0.999
    assert (values >= low - 0.05)[known].all()
    assert (values <= high + 0.05)[known].all()
    assert peak < 300e6
