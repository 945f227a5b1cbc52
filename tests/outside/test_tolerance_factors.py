"""Factors of tolerance intervals against published values, and against drawing samples."""

import numpy as np
import pytest

from loomlight.signal.tolerance import tolerance_factor

# ISO 16269-6:2014, exact two-sided factors, both parameters unknown: count, coverage, confidence, factor (from memory).
ISO = [
    (2, 0.95, 0.95, 36.5192),
    (3, 0.95, 0.95, 9.7888),
    (4, 0.95, 0.95, 6.3411),
    (5, 0.95, 0.95, 5.0769),
]
# The classical table (Bowker 1946, in Eisenhart, Hastay and Wallis 1947), which is an approximation (from memory).
CLASSICAL = [
    (10, 0.95, 0.95, 3.379),
    (20, 0.95, 0.95, 2.752),
    (30, 0.95, 0.95, 2.549),
    (50, 0.95, 0.95, 2.379),
    (100, 0.95, 0.95, 2.233),
    (10, 0.99, 0.95, 4.433),
    (20, 0.99, 0.95, 3.615),
    (50, 0.99, 0.95, 3.126),
]


@pytest.mark.outside
@pytest.mark.parametrize(("count", "coverage", "confidence", "published"), ISO)
def test_as_published(count: int, coverage: float, confidence: float, published: float) -> None:
    assert tolerance_factor(count, coverage, confidence) == pytest.approx(published, abs=6e-5)


@pytest.mark.outside
@pytest.mark.parametrize(("count", "coverage", "confidence", "published"), CLASSICAL)
def test_near_the_classical_table(count: int, coverage: float, confidence: float, published: float) -> None:
    assert tolerance_factor(count, coverage, confidence) == pytest.approx(published, rel=5e-3)


@pytest.mark.outside
def test_the_handbooks_worked_example() -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3: 43 measurements, 90 % at 99 %; Howe's approximation (from memory).
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(2.217, rel=5e-3)


@pytest.mark.outside
@pytest.mark.parametrize("count", [3, 6, 12])
def test_drawn_samples_are_covered_as_often_as_said(count: int) -> None:
    from scipy import stats

    drawn = np.random.default_rng(count).normal(size=(40_000, count))
    mean, half = drawn.mean(axis=1), tolerance_factor(count, 0.99, 0.95) * drawn.std(axis=1, ddof=1)
    held = stats.norm.cdf(mean + half) - stats.norm.cdf(mean - half)
    # Four standard errors of a share of 0.95 in 40 000.
    assert (held >= 0.99).mean() == pytest.approx(0.95, abs=0.0044)


@pytest.mark.parametrize("wrong", [(1, 0.9, 0.9), (5, 1.0, 0.9), (5, 0.9, 0.0)])
def test_what_has_no_factor(wrong: tuple[int, float, float]) -> None:
    with pytest.raises(ValueError, match=r"at least 2|between 0 and 1"):
        tolerance_factor(*wrong)
