"""How often a fault came, and that an unrepaired one is seldom taken for mended: made bursts, seeded."""

import math

import numpy as np
import numpy.typing as npt
import pytest

from loomlight.signal.long_enough import CHANCE, clustering_chance, needed_s, recurrence
from loomlight.signal.spans import Spans, spans_of

GAP_S = 5e-3
VISITS = 300
LENGTHS_S = (0.3, 0.5, 1.0, 1.7, 2.0, 4.0)

# Bursts a second, dropouts a burst, mean distance of dropouts within a burst in seconds; the capture before lasts 1 s.
ALONE = [(rate, 1.0, 0.0) for rate in (1, 3, 6, 20)]
SHORT = [(rate, dropouts, apart_s) for rate in (2, 4, 8, 20) for dropouts, apart_s in ((5, 1e-3), (3, 6e-3), (2, 1e-2))]
LONG = [(rate, dropouts, apart_s) for rate in (2, 3, 8) for dropouts, apart_s in ((5, 1e-2), (3, 2e-2), (10, 2e-2))]


def bursts(rng: np.random.Generator, rate: float, dropouts: float, apart_s: float, length_s: float) -> Spans:
    """Dropouts of a fault whose bursts come independently of each other."""
    found: list[npt.NDArray[np.float64]] = [np.empty(0)]
    for start_s in rng.uniform(0.0, length_s, rng.poisson(rate * length_s)):
        count = 1 + rng.poisson(dropouts - 1)
        found.append(start_s + np.cumsum(rng.exponential(apart_s, count) if apart_s else np.zeros(count)))
    at_s = np.concatenate(found)
    at_s = np.sort(at_s[at_s < length_s])
    return spans_of(np.column_stack([at_s, at_s + 5e-5]))


def visits(rate: float, dropouts: float, apart_s: float, count: int) -> list[tuple[float, float]]:
    """For each visit the length asked for, and when the fault, which nobody mended, shows again."""
    rng = np.random.default_rng(round(1000 * rate + dropouts + 1e6 * apart_s))
    found = []
    for _ in range(count):
        came = recurrence(bursts(rng, rate, dropouts, apart_s, 1.0), 0.0, 1.0, gap_s=GAP_S)
        later = bursts(rng, rate, dropouts, apart_s, 6.0)
        again_s = float(later[0, 0]) if len(later) else math.inf
        if came.episodes >= 3:
            found.append((came.needed_s, again_s))
    return found


def wrongly_proven(found: list[tuple[float, float]], after_s: float | None) -> int:
    """Silent captures that are long enough; ``after_s`` None: recorded for just as long as was asked for."""
    return sum(needed <= (after_s or needed) < again for needed, again in found)


def most_by_chance(count: int) -> int:
    """What 5 % of ``count`` visits come to, three standard deviations of the counting itself allowed."""
    return math.floor(count * CHANCE + 3 * math.sqrt(count * CHANCE * (1 - CHANCE)))


def in_a_tenth(cases: list[tuple[float, float, float]]) -> list[object]:
    """Every third case by default, with `VISITS`; all of them with ten times as many where asked for."""
    marked: list[object] = [pytest.param(*one, VISITS) for one in cases[::3]]
    return marked + [pytest.param(*one, 10 * VISITS, marks=pytest.mark.long) for one in cases]


@pytest.mark.parametrize(("rate", "dropouts", "apart_s", "count"), in_a_tenth(ALONE + SHORT + LONG))
def test_an_unrepaired_fault_is_seldom_taken_for_mended(
    rate: float, dropouts: float, apart_s: float, count: int
) -> None:
    found = visits(rate, dropouts, apart_s, count)
    assert all(wrongly_proven(found, after_s) <= most_by_chance(count) for after_s in LENGTHS_S)


@pytest.mark.parametrize(("rate", "dropouts", "apart_s", "count"), in_a_tenth(ALONE + SHORT))
def test_also_where_recorded_for_just_as_long_as_asked(
    rate: float, dropouts: float, apart_s: float, count: int
) -> None:
    assert wrongly_proven(visits(rate, dropouts, apart_s, count), None) <= most_by_chance(count)


def test_counting_dropouts_instead_of_episodes_would_not_keep_it() -> None:
    """The check can fail: with each dropout taken for an event of its own, far too much would be called proven."""
    rng = np.random.default_rng(3)
    wrong = 0
    for _ in range(VISITS):
        before, after = (bursts(rng, 3, 5, 1e-2, length_s) for length_s in (1.0, 4.0))
        again_s = float(after[0, 0]) if len(after) else math.inf
        wrong += len(before) >= 3 and again_s > needed_s(len(before), 1.0)
    assert wrong > 3 * most_by_chance(VISITS)


def test_even_episodes_are_all_counted_and_crowded_ones_are_not() -> None:
    even = spans_of([(at, at + 1e-4) for at in np.linspace(0.05, 0.95, 10)])
    assert recurrence(even, 0.0, 1.0, gap_s=GAP_S).episodes == 10
    crowded = spans_of([(at + place, at + place + 1e-4) for at in (0.1, 0.5, 0.9) for place in (0.0, 0.01, 0.02)])
    came = recurrence(crowded, 0.0, 1.0, gap_s=GAP_S)
    assert (came.groups, came.episodes) == (9, 3)


def test_a_fault_in_every_frame_needs_little() -> None:
    always = spans_of([(at, at + 1e-4) for at in np.arange(0.004, 1.0, 0.008)])
    came = recurrence(always, 0.0, 1.0, gap_s=GAP_S)
    assert came.groups == 125
    assert 20 <= came.episodes <= 41
    assert came.needed_s < 0.2


def test_nothing_seen_asks_for_ever() -> None:
    came = recurrence(np.empty((0, 2)), 0.0, 1.0, gap_s=GAP_S)
    assert (came.groups, came.episodes, came.quiet_s, came.needed_s) == (0, 0, 1.0, math.inf)


def test_the_longest_quiet_stretch_is_waited_for_twice() -> None:
    came = recurrence(spans_of([(at, at + 1e-4) for at in (0.02, 0.12, 0.2, 0.31, 0.39)]), 0.0, 1.0, gap_s=GAP_S)
    assert came.quiet_s == pytest.approx(1.0 - 0.3901)
    assert came.needed_s >= 2 * came.quiet_s


def test_even_shares_are_likely_and_uneven_ones_are_not() -> None:
    assert clustering_chance(np.full(6, 1 / 6)) > 0.99
    assert clustering_chance(np.array([0.01, 0.01, 0.01, 0.01, 0.96])) < 0.01
    assert clustering_chance(np.array([0.3, 0.1, 0.25, 0.35])) == clustering_chance(np.array([0.3, 0.1, 0.25, 0.35]))
