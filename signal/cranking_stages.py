"""The stages of a start: at rest, starter in, turning, over."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Row = npt.NDArray[np.float64]

LOAD_V = 0.12
"""A step down by this much, for each 12 V, is a load: the starter's solenoid at least."""
CRANK_V = 0.5
"""A dip by this much, for each 12 V, is a starter at work."""
HELD_S = 0.15
SETTLED_S = 0.45
"""After the starter has come in its first rush of current is over."""
RECOVERED_SHARE = 0.01
OVER_SHARE = 0.55
"""Of the dip while turning: back by that much, it is over."""


@dataclass(frozen=True)
class Stages:
    """When what happened; seconds on the channel's axis.

    Attributes
    ----------
    rest_v : float or None
        Before the key was turned; None where the capture begins later.
    in_s : float
        The starter comes in, or the capture's begin.
    over_s : float
        The starter lets go, or the capture's end.
    dip_v : float
        Lowest voltage.
    turning_v : float
        Median while it turns.
    after_v : float or None
        Afterwards; None where the capture ends before.
    recovery_s : float or None
        From the starter's letting go until the voltage stays within 1 % of that; None where the capture ends before.
    is_crank : bool
        False where only a small load came on: the starter took no current.
    """

    rest_v: float | None
    in_s: float
    over_s: float
    dip_v: float
    turning_v: float
    after_v: float | None
    recovery_s: float | None
    is_crank: bool

    @property
    def turning_s(self) -> tuple[float, float]:
        """The stretch in which it turns evenly, if it does."""
        return self.in_s + SETTLED_S, self.over_s - 0.1


def stages_of(times_s: Row, volts: Row, twelves: float) -> Stages | None:
    """Find the stages on an averaged row of battery voltage.

    Parameters
    ----------
    times_s, volts : ndarray, shape (n,)
        Even, a few milliseconds apart at most.
    twelves : float
        1 for 12 V, 2 for 24 V.

    Returns
    -------
    Stages or None
        None where nothing comes on in this capture.
    """
    if volts.size < 40 or not np.isfinite(volts).all():
        volts = np.where(np.isfinite(volts), volts, np.nanmedian(volts) if np.isfinite(volts).any() else 0.0)
        if volts.size < 40:
            return None
    step_s = float(times_s[1] - times_s[0])
    held = max(2, round(HELD_S / step_s))
    slow = _running_mean(volts, max(1, round(0.03 / step_s)))
    lead = float(np.median(slow[: max(3, round(0.08 / step_s))]))
    high = float(np.percentile(slow, 98))
    starts_low = lead < high - CRANK_V * twelves and lead < 11.5 * twelves
    for depth, is_crank in ((CRANK_V, True), (LOAD_V, False)):
        begin = 0 if starts_low and is_crank else _first_held(slow < lead - depth * twelves, held)
        if begin is None:
            continue
        return _from(times_s, volts, slow, begin, None if starts_low else lead, is_crank=is_crank)
    return None


def _from(times_s: Row, volts: Row, slow: Row, begin: int, rest: float | None, *, is_crank: bool) -> Stages:
    step_s = float(times_s[1] - times_s[0])
    settled = begin + round(SETTLED_S / step_s)
    body = volts[settled : settled + max(4, round(1.0 / step_s))] if settled < volts.size - 4 else volts[begin:]
    turning = float(np.median(body))
    top = rest if rest is not None else float(np.percentile(slow, 98))
    back = slow[settled:] > turning + max(OVER_SHARE * (top - turning), 0.05)
    over = _first_held(back, max(2, round(0.08 / step_s)))
    stop = volts.size if over is None else settled + over
    inner = volts[settled:stop]
    after = volts[min(stop + round(0.1 / step_s), volts.size) :]
    after_v = float(np.median(after)) if after.size > 4 else None
    recovered = None
    if after_v is not None:
        recovered = _first_held(slow[stop:] > (1.0 - RECOVERED_SHARE) * after_v, max(2, round(0.08 / step_s)))
    return Stages(
        rest_v=rest,
        in_s=float(times_s[begin]),
        over_s=float(times_s[min(stop, times_s.size - 1)]),
        dip_v=float(_running_mean(volts[begin:stop], max(1, round(2e-3 / step_s))).min()),
        turning_v=float(np.median(inner)) if inner.size > 4 else turning,
        after_v=after_v,
        recovery_s=recovered * step_s if recovered is not None else None,
        is_crank=is_crank,
    )


def _first_held(true: npt.NDArray[np.bool_], held: int) -> int | None:
    """First index from which most of the next ``held`` are true."""
    if true.size < held:
        return None
    count = np.convolve(true, np.ones(held), mode="valid")
    places = np.flatnonzero((count >= 0.85 * held) & true[: count.size])
    return int(places[0]) if places.size else None


def _running_mean(row: Row, width: int) -> Row:
    from scipy import ndimage

    if width < 2:
        return row
    smooth: Row = ndimage.uniform_filter1d(row, width, mode="nearest")
    return smooth
