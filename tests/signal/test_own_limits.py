"""Own limits on every form of samples, and what the verdict owns up to."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.own_limits import MOST_FINDINGS
from loomlight.signal.samples import BLOCK, FloatSamples


def channel(values: np.ndarray, **others: object) -> Channel:
    return replace(Channel("x", "V", FloatSamples(values), 0.0, 1e-3), **others)  # type: ignore[arg-type]


def judged(one: Channel, **limits: float) -> Comparison:
    return check(one, kind="own-limits", conditions=Conditions(**limits))


def stretches(found: Comparison) -> list[tuple[str, float, float]]:
    return [(one.kind, round(one.start_s, 9), round(one.stop_s, 9)) for one in found.findings]


def text(found: Comparison) -> str:
    return " ".join(found.verdict.reasons)


def test_of_pairs_the_one_that_matters_is_judged() -> None:
    pairs = np.tile([1.0, 5.0], 100)
    pairs[41:61:2] = 9.0  # the maxima of intervals 20 to 29
    pairs[100] = -3.0  # the minimum of interval 50
    found = judged(channel(pairs, form="pairs"), upper_v=8.0, lower_v=0.0)
    assert stretches(found) == [("too high", 0.02, 0.03), ("too low", 0.05, 0.051)]


def test_a_run_of_pairs_over_the_blocks_border_is_one() -> None:
    pairs = np.zeros(2 * BLOCK)
    pairs[BLOCK - 19 : BLOCK + 20 : 2] = 5.0
    found = judged(channel(pairs, form="pairs"), upper_v=2.0)
    assert stretches(found) == [("too high", (BLOCK // 2 - 10) * 1e-3, (BLOCK // 2 + 10) * 1e-3)]


def test_a_value_that_changes_holds_until_the_next() -> None:
    times = np.array([0.0, 1.0, 2.5, 7.0])
    changes = channel(np.array([1.0, 9.0, 2.0, 3.0]), step_s=None, form="changes", times_s=times)
    found = judged(changes, upper_v=5.0)
    assert stretches(found) == [("too high", 1.0, 2.5)]


def test_what_was_not_acquired_was_not_judged() -> None:
    values = np.full(1000, 5.0)
    values[100:200] = np.nan
    found = judged(channel(values, gaps=((100, 200),)), upper_v=8.0)
    assert found.verdict.state == "clean"
    assert "100 of 1000 samples were not acquired" in text(found)
    assert "that could be judged" in text(found)


@pytest.mark.parametrize(("share", "state"), [(0.4, "clean"), (0.6, "cannot tell")])
def test_mostly_gaps_cannot_be_told(share: float, state: str) -> None:
    values = np.full(1000, 5.0)
    values[: round(1000 * share)] = np.nan
    found = judged(channel(values, gaps=((0, round(1000 * share)),)), upper_v=8.0)
    assert found.verdict.state == state


def test_nothing_finite_cannot_be_told() -> None:
    found = judged(channel(np.full(100, np.nan)), upper_v=8.0)
    assert (found.verdict.state, found.findings) == ("cannot tell", ())
    assert found.verdict.next_step


def test_a_sample_beyond_the_instrument_is_beyond_the_limit() -> None:
    values = np.full(1000, 5.0)
    values[10] = np.inf
    found = judged(channel(values, clipped=((10, 11),)), upper_v=8.0)
    assert found.verdict.state == "faulty"
    assert "out of the instrument's range" in text(found)


def test_thousands_are_joined_at_the_narrowest_gaps_and_the_verdict_says_so() -> None:
    values = np.zeros(100_000)
    values[: 4 * 10_000 : 4] = 5.0
    values[90_000] = 7.0
    found = judged(channel(values), upper_v=1.0)
    assert len(found.findings) == MOST_FINDINGS
    assert found.findings[-1].start_s == pytest.approx(90.0)
    assert found.findings[-2].stop_s == pytest.approx(39.997)
    assert f"At least {MOST_FINDINGS}" in text(found)
    assert "shown as one" in text(found)
    assert "6 V beyond" in text(found)


def test_a_known_good_that_covers_a_part_only_is_told() -> None:
    rng = np.random.default_rng(3)
    base = np.convolve(rng.normal(size=8000), np.hanning(20), mode="same")
    conditions = Conditions(within_v=2.0)
    found = compare(channel(base), channel(base[:5000]), kind="own-limits", conditions=conditions)
    assert found.verdict.state == "clean"
    assert "covers 5 s of the suspect's 8 s" in text(found)


@pytest.mark.parametrize("spike", [0.0, 9.0])
def test_a_known_good_that_breaks_the_limits_itself_decides_nothing(spike: float) -> None:
    good = np.convolve(np.random.default_rng(3).normal(size=4000), np.hanning(20), mode="same")
    good[2000:2010] = 20.0
    suspect = good.copy()
    suspect[2000:2010] = spike
    found = compare(channel(suspect), channel(good), kind="own-limits", conditions=Conditions(upper_v=15.0 - spike))
    assert (found.verdict.state, found.verdict.fault) == ("cannot tell", "unknown")
    assert "breaks the same limits" in found.verdict.reasons[0]
    assert bool(found.findings) == bool(spike)
    assert "known-good is good" in found.verdict.next_step


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_upper_and_lower_mirror_each_other(sign: float) -> None:
    values = np.random.default_rng(4).normal(0.0, 1.0, 5000)
    limit = {"upper_v": 1.5} if sign > 0 else {"lower_v": -1.5}
    found = judged(channel(sign * values), **limit)
    assert [one.start_s for one in found.findings] == [
        one.start_s for one in judged(channel(values), upper_v=1.5).findings
    ]
    assert {one.kind for one in found.findings} == {"too high" if sign > 0 else "too low"}
