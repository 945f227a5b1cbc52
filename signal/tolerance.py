"""Factors of normal tolerance intervals: how far a few captures let one say where the others will lie."""

from functools import lru_cache

import numpy as np

COVERAGE, CONFIDENCE = 0.99, 0.95
"""Share of all good captures that are to lie inside, and how sure that is to be."""
NODES = 64


@lru_cache(maxsize=256)
def tolerance_factor(count: int, coverage: float = COVERAGE, confidence: float = CONFIDENCE) -> float:
    """Standard deviations either way of the mean that hold a share of a normal population, both of them estimated.

    Parameters
    ----------
    count : int
        Values that mean and deviation were taken from, at least 2.
    coverage, confidence : float
        Between 0 and 1.

    Raises
    ------
    ValueError
        If there are fewer than two values, or a share is not between 0 and 1.

    Notes
    -----
    The exact two-sided factor: the mean over where the estimated centre may lie of the chance that the estimated deviation
    is large enough there.

    References
    ----------
    .. [1] ISO 16269-6:2014, "Determination of statistical tolerance intervals": two-sided, both parameters unknown.
    .. [2] Wald and Wolfowitz, "Tolerance limits for a normal distribution", Annals of Mathematical Statistics 17, 1946.
    """
    if count < 2:
        raise ValueError(f"a deviation needs at least 2 values, got {count}")
    if not (0.0 < coverage < 1.0 and 0.0 < confidence < 1.0):
        raise ValueError(f"coverage and confidence lie between 0 and 1, got {coverage} and {confidence}")
    from scipy import optimize, stats

    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    reach = 8.0 / np.sqrt(count)
    offsets = 0.5 * reach * (nodes + 1.0)
    chances = weights * 0.5 * reach * 2.0 * stats.norm.pdf(offsets, scale=1.0 / np.sqrt(count))
    wanted = (count - 1) * stats.ncx2.ppf(coverage, 1, offsets**2)

    def short(factor: float) -> float:
        return float((chances * stats.chi2.sf(wanted / factor**2, count - 1)).sum()) - confidence

    return float(optimize.brentq(short, 0.05, 1e5, xtol=1e-9))


def settled_factor(count: int, coverage: float = COVERAGE) -> float:
    """The factor where the deviation is known well and only the centre comes from ``count`` values."""
    from scipy import stats

    return float(stats.norm.ppf(0.5 * (1.0 + coverage)) * np.sqrt(1.0 + 1.0 / count))
