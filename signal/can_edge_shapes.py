"""Edges of a CAN pair laid over one another: their times finer than the sample step, overshoot, and the tail after release."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.can_decode import CanTraffic
from loomlight.signal.can_words import CHECK, FORMAT
from loomlight.signal.samples import Samples

MOST_EDGES = 600
FINER = 6
"""Bins a sample step: edges fall anywhere between two samples, so many of them show more than one does."""
BEFORE_BITS, AFTER_BITS = 0.35, 0.95
Volts = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class EdgeShape:
    """The mean edge of one direction.

    Attributes
    ----------
    times_s, shares : ndarray of float64, shape (n,)
        Seconds from the crossing of the middle; 0 before the edge, 1 where the level has settled.
    time_s : float
        From 10 % to 90 %, seconds; NaN where it was not crossed.
    overshoot : float
        Greatest share beyond 1.
    lag_s : float
        Area between the settled level and the edge, from the middle on, over its height: seconds. A pole's time constant and
        half the driver's slope add to it; ringing cancels in it.
    edges : int
        How many were laid over one another.
    """

    times_s: Volts = field(repr=False)
    shares: Volts = field(repr=False)
    time_s: float
    overshoot: float
    lag_s: float
    edges: int


@dataclass(frozen=True)
class EdgeShapes:
    """Both directions; None where too few edges stand alone."""

    to_dominant: EdgeShape | None
    to_recessive: EdgeShape | None


def edge_shapes(
    traffic: CanTraffic,
    samples: Samples,
    start_s: float,
    step_s: float,
    *,
    frames: npt.NDArray[np.bool_] | None = None,
    most: int = MOST_EDGES,
) -> EdgeShapes:
    """Mean edges of frames' bodies, where one talker drives and two equal bits stand on either side.

    Parameters
    ----------
    traffic : CanTraffic
        What was read.
    samples : Samples
        The voltage that frames are read from: rests low.
    start_s, step_s : float
        Where its samples lie.
    frames : ndarray of bool, shape (n,), optional
        Only these of the frames.
    most : int
        Edges of each direction, evenly over the capture.
    """
    bits = traffic.read.bits
    bit_s = traffic.rates.clock.bit_s
    body = (bits.part >= FORMAT) & (bits.part <= CHECK) & (bits.length_s == bit_s)
    if frames is not None:
        body &= frames[bits.frame]
    middle = np.flatnonzero(body[1:-2] & body[2:-1]) + 1
    same = bits.frame[middle - 1] == bits.frame[np.minimum(middle + 2, bits.frame.size - 1)]
    middle = middle[same]
    before, here = bits.recessive[middle - 1], bits.recessive[middle]
    after = bits.recessive[middle + 1]
    found: dict[bool, EdgeShape | None] = {}
    for rises in (True, False):
        # "rises": towards dominant, as the differential voltage does. The edge lies at the start of bit ``middle``.
        at = middle[(before == rises) & (here != rises) & (after == here)]
        if at.size < 6:
            at = middle[(before == rises) & (here != rises)]
        found[rises] = (
            _laid(_fewer(bits.start_s[at], most), samples, start_s, step_s, bit_s, rises) if at.size >= 4 else None
        )
    return EdgeShapes(found[True], found[False])


def _fewer(at_s: Volts, most: int) -> Volts:
    return at_s if at_s.size <= most else at_s[np.linspace(0, at_s.size - 1, most).astype(np.int64)]


def _laid(at_s: Volts, samples: Samples, start_s: float, step_s: float, bit_s: float, rises: bool) -> EdgeShape | None:
    reach = (int(BEFORE_BITS * bit_s / step_s) + 1, int(AFTER_BITS * bit_s / step_s) + 1)
    places = np.rint((at_s - start_s) / step_s).astype(np.int64)
    places = places[(places >= reach[0]) & (places + reach[1] < samples.size)]
    if places.size < 4:
        return None
    rows = np.stack([samples.block(one - reach[0], one + reach[1] + 1) for one in places.tolist()]).astype(np.float64)
    rows = rows[np.isfinite(rows).all(axis=1)]  # edges beside a hole tell nothing
    if len(rows) < 4:
        return None
    rows = rows if rises else -rows
    third = max(reach[0] // 2, 1)
    base = rows[:, :third].mean(axis=1)
    top = rows[:, -max(reach[1] // 4, 1) :].mean(axis=1)
    height = top - base
    usual = float(np.median(height))
    good = (height > 0.5 * usual) & (usual > 0)
    if good.sum() < 4:
        return None
    shares = (rows[good] - base[good, None]) / height[good, None]
    crossed = _crossings(shares, 0.5)
    kept = np.isfinite(crossed)
    if kept.sum() < 4:
        return None
    offsets = (np.arange(rows.shape[1]) - crossed[kept, None]) * step_s
    return _shape(offsets, shares[kept], step_s, BEFORE_BITS * bit_s, AFTER_BITS * bit_s)


def _crossings(shares: Volts, level: float) -> Volts:
    """First crossing of each row, in samples."""
    above = shares > level
    first = np.argmax(above[:, 1:] & ~above[:, :-1], axis=1)
    rows = np.arange(shares.shape[0])
    low, high = shares[rows, first], shares[rows, first + 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        at: Volts = first + (level - low) / (high - low)
    at[~(above[rows, first + 1] & ~above[rows, first])] = np.nan
    return at


def _shape(offsets: Volts, shares: Volts, step_s: float, before_s: float, after_s: float) -> EdgeShape:
    fine = step_s / FINER
    bins = np.floor((offsets + 0.7 * before_s) / fine).astype(np.int64)
    count = int((0.7 * before_s + 0.85 * after_s) / fine)
    inside = (bins >= 0) & (bins < count) & np.isfinite(shares)
    sizes = np.bincount(bins[inside], minlength=count)[:count]
    sums = np.bincount(bins[inside], weights=shares[inside], minlength=count)[:count]
    some = sizes > 0
    times: Volts = (np.arange(count, dtype=np.float64)[some] + 0.5) * fine - 0.7 * before_s
    mean: Volts = sums[some] / sizes[some]
    lows, highs = _first_above(times, mean, 0.1), _first_above(times, mean, 0.9)
    later = times > 0
    lag = float(np.trapezoid(1.0 - mean[later], times[later])) if later.sum() > 1 else float("nan")
    # Overshoot from the rows themselves would count noise; the mean edge has little.
    return EdgeShape(times, mean, highs - lows, float(max(mean.max() - 1.0, 0.0)), lag, offsets.shape[0])


def _first_above(times: Volts, shares: Volts, level: float) -> float:
    above = np.flatnonzero(shares > level)
    if not above.size or above[0] == 0:
        return float("nan")
    at = int(above[0])
    low, high = shares[at - 1], shares[at]
    return float(times[at - 1] + (level - low) / (high - low) * (times[at] - times[at - 1]))
