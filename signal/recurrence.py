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
FINEST_S, MOST_BINS = 2.5e-3, 16_384
NEARLY, MOST_OVERTONES = 0.8, 12
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
    comb = _Comb(seen)
    best, period_s = comb.best_period(events_s)
    by_chance = np.array([comb.highest(times) for times in when]) if np.isfinite(period_s) else np.full(THROWN, np.inf)
    average = 2.0 / (events_s.size + 2.0)  # the mean of the sum over n + 1 gaps of n random events
    return Recurrence(
        count=events_s.size,
        spread=squares / average,
        p_even=_p(others <= squares),
        p_clustered=_p(others >= squares),
        period_s=period_s,
        p_period=_p(by_chance >= best),
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


class _Comb:
    """Periods to try: a comb twice as fine as the capture's length, so that none falls between two of its teeth."""

    def __init__(self, seen: Spans) -> None:
        self._start_s = float(seen[0, 0])
        span_s = float(seen[-1, 1]) - self._start_s
        self._width_s = max(FINEST_S, span_s / MOST_BINS)
        self._bins = int(span_s / self._width_s) + 1
        self._first = 2 * LEAST_TURNS

    def _power(self, times_s: Times) -> Times:
        """Resultant length squared over the number of events, at each tooth from the first that is tried."""
        places = np.clip(((times_s - self._start_s) / self._width_s).astype(np.int64), 0, self._bins - 1)
        counts = np.bincount(places, minlength=self._bins)
        power: Times = np.abs(np.fft.rfft(counts, 2 * self._bins)[self._first :]) ** 2 / times_s.size
        return power

    def highest(self, times_s: Times) -> float:
        """The best tooth's power; 0 where the capture is too short for any."""
        power = self._power(times_s)
        return float(power.max()) if power.size else 0.0

    def best_period(self, times_s: Times) -> tuple[float, float]:
        """The best tooth's power, and its period in seconds; not-a-number where the capture is too short for any."""
        power = self._power(times_s)
        if not power.size:
            return 0.0, float("nan")
        place = self._fundamental(power, int(np.argmax(power)))
        return float(power.max()), 2 * self._bins * self._width_s / (place + self._first)

    def _fundamental(self, power: Times, place: int) -> int:
        """The lowest tooth that fits nearly as well, where the best one is its multiple: sharp events have many overtones."""
        for divisor in range(MOST_OVERTONES, 1, -1):
            near = round((place + self._first) / divisor) - self._first
            if near >= 0:
                around = power[max(near - 1, 0) : near + 2]
                if around.max() >= NEARLY * power[place]:
                    return max(near - 1, 0) + int(np.argmax(around))
        return place
