"""How events recur that can only be seen at times: at random, in clusters, evenly, or with a period.

Time is counted only while an event could be seen. Each figure is held against events thrown at random into that same time
(a Monte Carlo test), so that the pauses in which nothing can be seen make no pattern of their own.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.spans import Spans, covered, total

FEWEST = 6
"""Fewer events tell nothing about how they recur (common practice, no source)."""
MOST = 2000
THROWN = 199
"""Sets of random events; the smallest p-value is then 0.005."""
SURE_P = 0.01
FINEST_S, MOST_BINS = 2.5e-3, 65_536
NEARLY = 0.8
LEAST_TURNS = 3
"""A period has to be seen this many times."""
SEED = 1946

Times = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Recurrence:
    """How some events recur.

    Attributes
    ----------
    count : int
        Events that were looked at.
    spread : float
        Greenwood's statistic over what it is on average at random: 1 at random, below for even gaps, above for clusters.
    p_even, p_clustered : float
        Share of random sets that are at least as even, and at least as clustered.
    period_s : float
        The period that fits best, seconds.
    p_period : float
        Share of random sets that some period fits at least as well.
    """

    count: int
    spread: float
    p_even: float
    p_clustered: float
    period_s: float
    p_period: float

    @property
    def is_clustered(self) -> bool:
        """Whether chance is ruled out, towards clusters."""
        return self.p_clustered <= SURE_P

    @property
    def is_periodic(self) -> bool:
        """Whether chance is ruled out by a period, or by gaps too even for it."""
        return self.p_period <= SURE_P or self.p_even <= SURE_P


def recurrence(events_s: Times, seen: Spans) -> Recurrence | None:
    """Test events for clusters, evenness and a period.

    Parameters
    ----------
    events_s : ndarray, shape (n,)
        In order, seconds.
    seen : ndarray, shape (m, 2)
        When an event could be seen, in order and without overlaps.

    Returns
    -------
    Recurrence or None
        None with fewer than `FEWEST` events, or where nothing could be seen.

    Notes
    -----
    Gaps by the sum of their squares over the time in which events could be seen [1]_; periods by the Rayleigh test's
    resultant length [2]_ over a comb of periods, from two bins to a third of the capture; p-values by counting random sets
    [3]_.

    References
    ----------
    .. [1] M. Greenwood, "The statistical study of infectious diseases", Journal of the Royal Statistical Society 109
           (1946), pp. 85-110.
    .. [2] K. V. Mardia, P. E. Jupp, "Directional Statistics", Wiley, 2000 (Rayleigh test of uniformity).
    .. [3] A. C. Davison, D. V. Hinkley, "Bootstrap Methods and their Application", Cambridge, 1997 (Monte Carlo tests).
    """
    length = total(seen)
    if events_s.size < FEWEST or length <= 0:
        return None
    events_s = events_s[:MOST]
    rng = np.random.default_rng(SEED)
    own = covered(np.column_stack([np.full(events_s.size, seen[0, 0]), events_s]), seen) / length
    thrown = np.sort(rng.uniform(0.0, 1.0, (THROWN, events_s.size)), axis=1)
    squares, others = float(_squares(own[np.newaxis])[0]), _squares(thrown)
    when = _when(thrown * length, seen)
    best, period_s = _best_period(events_s[np.newaxis], seen)
    by_chance, _ = _best_period(when, seen)
    average = 2.0 / (events_s.size + 2.0)  # the mean of the sum over n + 1 gaps of n random events
    return Recurrence(
        count=events_s.size,
        spread=squares / average,
        p_even=_p(others <= squares),
        p_clustered=_p(others >= squares),
        period_s=float(period_s[0]),
        p_period=_p(by_chance >= best[0]),
    )


def _p(as_extreme: npt.NDArray[np.bool_]) -> float:
    return float((1 + np.count_nonzero(as_extreme)) / (1 + as_extreme.size))


def _squares(places: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Greenwood's statistic: the sum of the squared gaps, both ends of 0 to 1 included; shape (sets,)."""
    gaps = np.diff(places, axis=1, prepend=0.0, append=1.0)
    squares: npt.NDArray[np.float64] = (gaps**2).sum(axis=1)
    return squares


def _when(elapsed: npt.NDArray[np.float64], seen: Spans) -> npt.NDArray[np.float64]:
    """Times at which so much of the seen time has passed."""
    ends = np.cumsum(seen[:, 1] - seen[:, 0])
    place = np.minimum(np.searchsorted(ends, elapsed, side="left"), len(seen) - 1)
    times: npt.NDArray[np.float64] = seen[place, 1] - (ends[place] - elapsed)
    return times


def _best_period(sets: npt.NDArray[np.float64], seen: Spans) -> tuple[Times, Times]:
    """Largest resultant length, squared and over the number of events, and its period; shape (sets,) each."""
    start_s, span_s = float(seen[0, 0]), float(seen[-1, 1] - seen[0, 0])
    width_s = max(FINEST_S, span_s / MOST_BINS)
    bins = int(span_s / width_s) + 1
    padded = 2 * bins  # a comb twice as fine: no period falls between two of its teeth
    first = 2 * LEAST_TURNS
    if padded // 2 <= first:
        return np.zeros(len(sets)), np.full(len(sets), np.nan)
    best, period_s = np.zeros(len(sets)), np.zeros(len(sets))
    for number, times in enumerate(sets):
        counts = np.bincount(np.clip(((times - start_s) / width_s).astype(np.int64), 0, bins - 1), minlength=bins)
        power = np.abs(np.fft.rfft(counts, padded)) ** 2 / times.size
        place = _fundamental(power, first, first + int(np.argmax(power[first:])))
        best[number], period_s[number] = power[place], padded * width_s / place
    return best, period_s


def _fundamental(power: npt.NDArray[np.float64], first: int, place: int) -> int:
    """The lowest tooth that fits nearly as well, where the best one is its multiple: sharp events have many overtones."""
    for divisor in range(place // first, 1, -1):
        near = slice(max(round(place / divisor) - 1, first), round(place / divisor) + 2)
        if power[near].max() >= NEARLY * power[place]:
            return near.start + int(np.argmax(power[near]))
    return place
