"""The length asked for after a repair, against general-purpose statistics."""

import numpy as np
import pytest
from scipy import optimize, stats

from loomlight.signal.long_enough import CHANCE, clustering_chance, needed_s


@pytest.mark.parametrize("episodes", [1, 2, 3, 5, 8, 20, 100])
@pytest.mark.parametrize("before_s", [0.02, 0.2, 3.0])
def test_length_is_where_the_exact_binomial_test_reaches_five_percent(episodes: int, before_s: float) -> None:
    def excess(after_s: float) -> float:
        share = before_s / (before_s + after_s)
        return float(stats.binomtest(episodes, episodes, share, alternative="greater").pvalue) - CHANCE

    root = optimize.brentq(excess, 1e-6 * before_s, 100.0 * before_s, xtol=1e-12)
    assert needed_s(episodes, before_s) == pytest.approx(root, rel=1e-6)


def test_one_episode_asks_for_nineteen_times_the_length() -> None:
    assert needed_s(1, 1.0) == pytest.approx(19.0)


def test_uneven_stretches_follow_the_published_moments() -> None:
    # Moran, "The random division of an interval", Suppl. J. Royal Statistical Society 9 (1947), 92-98: of n random points
    # the sum of squared stretches has the mean 2/(n + 2) and the variance 4n/((n + 2)^2 (n + 3)(n + 4)) (from memory).
    count, rng = 7, np.random.default_rng(5)
    thrown = np.diff(np.sort(rng.uniform(size=(4000, count))), axis=1, prepend=0.0, append=1.0)
    sums = (thrown**2).sum(axis=1)
    mean, variance = 2 / (count + 2), 4 * count / ((count + 2) ** 2 * (count + 3) * (count + 4))
    assert sums.mean() == pytest.approx(mean, abs=4 * np.sqrt(variance / 4000))
    assert sums.var() == pytest.approx(variance, rel=0.15)
    chances = np.array([clustering_chance(one) for one in thrown[:400]])
    assert stats.kstest(chances, "uniform").pvalue > 1e-3
