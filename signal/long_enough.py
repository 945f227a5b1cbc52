"""How long a capture has to be before its silence means something, for a fault that comes and goes.

Dropouts come in bursts, so what is counted are episodes that came independently of each other.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.spans import Spans, joined

CHANCE = 0.05
"""How often a fault that is still there may be taken for mended."""
FEWEST_EPISODES = 3
"""Fewer say too little about how often a fault comes (common practice, no source)."""
MOST_IN_ALL = 40
"""At most one episode is counted in this part of the capture, so that one burst is not taken for many."""
QUIET_TIMES = 2.0
"""The capture after lasts at least this many times the longest quiet stretch of the one before (tried on made bursts)."""
CLUSTERED_AT = 0.05
"""Below this chance the episodes are too uneven to have come independently: they are counted over longer stretches."""
WIDER = 1.5
DRAWS = 1999
SEED = 1946


@dataclass(frozen=True)
class Recurrence:
    """How often a fault came in one capture.

    Attributes
    ----------
    groups : int
        Groups of dropouts, as they lie closer together than the kind's own gap.
    episodes : int
        How many of them can be taken to have come independently.
    length_s : float
        Of the capture.
    quiet_s : float
        Longest stretch without any, both ends of the capture included.
    """

    groups: int
    episodes: int
    length_s: float
    quiet_s: float

    @property
    def needed_s(self) -> float:
        """Length of a later capture without any that speaks against a fault as frequent as before; infinite with none."""
        if not self.episodes:
            return math.inf
        return max(needed_s(self.episodes, self.length_s), QUIET_TIMES * self.quiet_s)


def needed_s(episodes: int, before_s: float) -> float:
    """Length of a capture without any episode that a fault as frequent as before leaves 5 % for.

    Parameters
    ----------
    episodes : int
        In the capture before, at least 1.
    before_s : float
        Its length, seconds.

    Notes
    -----
    With the same rate in both, each of the n episodes falls into the first capture with the chance T0 / (T0 + T1), so all
    of them with its n-th power: the exact conditional test of two Poisson rates.

    References
    ----------
    .. [1] J. Przyborowski and H. Wilenski, "Homogeneity of results in testing samples from Poisson series", Biometrika 31
       (1940), 313-323.
    """
    return before_s * math.expm1(-math.log(CHANCE) / episodes)


def recurrence(spans: Spans, start_s: float, stop_s: float, *, gap_s: float) -> Recurrence:
    """Count what came independently.

    Parameters
    ----------
    spans : ndarray, shape (n, 2)
        Start and stop of each dropout, seconds, in order.
    start_s, stop_s : float
        Of the capture.
    gap_s : float
        Dropouts closer than this belong together.

    Notes
    -----
    Groups are counted as a counter with a dead time would: after the start of one, nothing new is counted for a fortieth
    of the capture. The stretches between those are tested for being as even as chance makes them (Greenwood's statistic);
    as long as they are not, the dead time is made longer.

    References
    ----------
    .. [1] M. Greenwood, "The statistical study of infectious diseases", Journal of the Royal Statistical Society 109
       (1946), 85-110.
    """
    length_s = stop_s - start_s
    groups = joined(spans, gap_s)
    if not len(groups) or length_s <= 0:
        return Recurrence(0, 0, max(length_s, 0.0), max(length_s, 0.0))
    quiet_s = float(np.diff(np.concatenate([[start_s], groups.ravel(), [stop_s]]))[::2].max())
    dead_s = length_s / MOST_IN_ALL
    while True:
        counted = _counted(groups, dead_s)
        if len(counted) < FEWEST_EPISODES or _is_even(counted, dead_s, start_s, stop_s):
            return Recurrence(len(groups), len(counted), length_s, quiet_s)
        dead_s = WIDER * max(dead_s, gap_s)


def _counted(groups: Spans, dead_s: float) -> Spans:
    """Groups as a counter with a dead time after each start sees them; what falls into it belongs to the one before."""
    kept = [groups[0].tolist()]
    for begin_s, end_s in groups[1:].tolist():
        if begin_s >= kept[-1][0] + dead_s:
            kept.append([begin_s, end_s])
        else:
            kept[-1][1] = max(kept[-1][1], end_s)
    return np.array(kept, np.float64)


def _is_even(counted: Spans, dead_s: float, start_s: float, stop_s: float) -> bool:
    """Whether the free stretches between episodes are as even as chance makes them."""
    free_from = np.concatenate([[start_s], np.maximum(counted[:, 1], counted[:, 0] + dead_s)])
    free = np.maximum(np.concatenate([counted[:, 0], [stop_s]]) - free_from, 0.0)
    whole = float(free.sum())
    if whole <= 0:
        return True
    return clustering_chance(free / whole) > CLUSTERED_AT


def clustering_chance(shares: npt.NDArray[np.float64]) -> float:
    """Chance that points thrown at random leave stretches at least as uneven as these; always the same for the same input.

    Parameters
    ----------
    shares : ndarray, shape (n + 1,)
        Lengths of the stretches that n points leave, as shares of the whole.
    """
    thrown = np.random.default_rng(SEED).exponential(size=(DRAWS, shares.size))
    thrown /= thrown.sum(axis=1, keepdims=True)
    beyond = int(np.count_nonzero((thrown**2).sum(axis=1) >= (shares**2).sum()))
    return (1 + beyond) / (1 + DRAWS)
