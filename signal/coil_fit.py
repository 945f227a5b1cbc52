"""Resistance and inductance of a coil from the way its current rises."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Row = npt.NDArray[np.float64]

TRIED = 80
CHI_95 = 3.84
"""95 % point of chi-squared with one degree of freedom: the profile of the time constant."""
LEAST_DOUBT = 0.01
DROP_V, DROP_DOUBT_V = 0.5, 0.5
"""What the switch leaves, and how far that may be off, where the voltage across the coil was not measured."""


@dataclass(frozen=True)
class Interval:
    """A value with its interval; ``high`` None: no upper bound."""

    value: float
    low: float
    high: float | None


@dataclass(frozen=True)
class CoilFit:
    """i(t) = end · (1 - exp(-(t - zero) / tau)), by least squares.

    Attributes
    ----------
    end_a, tau_s, slope : Interval
        Where the current would end, its time constant, and its slope where it is zero (amperes a second).
    zero_s : float
        Where the curve passes zero, on the grid's time.
    worst : float
        Standard deviation of what is left, share of the highest current.
    """

    end_a: Interval
    tau_s: Interval
    slope: Interval
    zero_s: float
    worst: float

    def at(self, time_s: float) -> float:
        """The curve's current, amperes."""
        return float(self.end_a.value * (1.0 - np.exp(-(time_s - self.zero_s) / self.tau_s.value)))


def fit_rise(times_s: Row, amps: Row, *, samples: float) -> CoilFit | None:
    """Fit the rise by variable projection: each time constant tried has its best end and start by least squares.

    Parameters
    ----------
    times_s, amps : ndarray, shape (n,)
        Part of the rise, at least 8 points.
    samples : float
        How many samples of the recording they stand for, for the interval.

    Returns
    -------
    CoilFit or None
        None where the current does not rise.

    Notes
    -----
    Response of a resistance and an inductance in series to a step (Kirchhoff): i = V/R · (1 - exp(-t R/L)). Intervals: all
    time constants whose sum of squares is within the 95 % point of the profile likelihood.

    References
    ----------
    .. [1] G. H. Golub and V. Pereyra, "The differentiation of pseudo-inverses and nonlinear least squares problems whose
       variables separate", SIAM Journal on Numerical Analysis 10 (1973), 413-432.
    """
    long = float(times_s[-1] - times_s[0])
    if long <= 0 or amps[-1] <= amps[0]:
        return None
    tried = np.geomspace(0.03 * long, 60.0 * long, TRIED)
    rows = [_with(times_s, amps, tau) for tau in tried.tolist()]
    best = int(np.argmin([one[0] for one in rows]))
    around = np.geomspace(tried[max(best - 1, 0)], tried[min(best + 1, TRIED - 1)], TRIED)
    finer = [_with(times_s, amps, tau) for tau in around.tolist()]
    all_tau = np.concatenate([tried, around])
    all_rows = np.array([*rows, *finer])
    place = int(np.argmin(all_rows[:, 0]))
    rss, end, start = all_rows[place].tolist()
    tau = float(all_tau[place])
    if end <= 0 or start <= 0:
        return None
    floor = max(rss, amps.size * (LEAST_DOUBT * 0.2 * float(np.abs(amps).max())) ** 2)
    free = max(min(samples, amps.size) - 3.0, 3.0)
    inside = all_rows[:, 0] <= rss + floor * CHI_95 / free
    inside &= (all_rows[:, 1] > 0) & (all_rows[:, 2] > 0)
    taus, ends = all_tau[inside], all_rows[inside, 1]
    slopes = ends / taus
    bounded = bool(taus.max() < 0.9 * tried[-1])
    return CoilFit(
        end_a=Interval(end, float(ends.min()), float(ends.max()) if bounded else None),
        tau_s=Interval(tau, float(taus.min()), float(taus.max()) if bounded else None),
        slope=Interval(end / tau, float(slopes.min()), float(slopes.max())),
        zero_s=tau * float(np.log(start / end)) + float(times_s[0]),
        worst=float(np.sqrt(rss / amps.size)) / float(np.abs(amps).max()),
    )


def _with(times_s: Row, amps: Row, tau: float) -> tuple[float, float, float]:
    """Sum of squares, end, and factor of the exponential at one time constant."""
    fall = np.exp(-(times_s - times_s[0]) / tau)
    mean_f, mean_a = float(fall.mean()), float(amps.mean())
    away = fall - mean_f
    size = float(np.square(away).sum())
    factor = -float((away * (amps - mean_a)).sum()) / size if size > 0 else 0.0
    end = mean_a + factor * mean_f
    left = amps - end + factor * fall
    return float(np.square(left).sum()), end, factor


def ohms_of(fit: CoilFit, volts: float, *, measured: bool) -> Interval:
    """Resistance of coil, wires and switch together.

    Parameters
    ----------
    fit : CoilFit
        Of the current.
    volts : float
        Across the coil where ``measured``, else the supply's; the switch then leaves 0 to 1 V.
    measured : bool
        Whether the voltage across the coil itself is known.
    """
    low, value, high = _across(volts, measured=measured)
    top = fit.end_a.high
    return Interval(value / fit.end_a.value, low / top if top is not None else 0.0, high / max(fit.end_a.low, 1e-12))


def henries_of(fit: CoilFit, volts: float, *, measured: bool) -> Interval:
    """Inductance from the slope where the current is zero: L = V / (di/dt)."""
    low, value, high = _across(volts, measured=measured)
    return Interval(
        value / fit.slope.value, low / fit.slope.high if fit.slope.high else 0.0, high / max(fit.slope.low, 1e-12)
    )


def _across(volts: float, *, measured: bool) -> tuple[float, float, float]:
    if measured:
        return 0.99 * volts, volts, 1.01 * volts
    return volts - DROP_V - DROP_DOUBT_V, volts - DROP_V, volts
