"""The shape of one excursion of a supply: how high, how fast, how long, and whether it dies away by itself."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.outline import ends
from loomlight.signal.resample import averaged

Row = npt.NDArray[np.float64]

POINTS = 4096
GROWTHS = 5
RETURNED = 0.12
"""Share of the height within which it is back."""
FEWEST_ON_TAIL = 5
STRAIGHT = 0.95
"""Least coefficient of determination of a tail that is taken for exponential."""


@dataclass(frozen=True)
class ExcursionShape:
    """One excursion, measured.

    Attributes
    ----------
    start_s, stop_s : float
        Beyond half of its height, seconds on the channel's axis.
    begin_s, end_s : float
        From a tenth to a tenth of its height: its duration in the sense of ISO 7637-2.
    sign : {1.0, -1.0}
        Above or below.
    base_v : float
        Level before it.
    peak_v : float
        Farthest value.
    width_s : float
        Time beyond half of its height, seconds.
    fall_s, return_s : float
        Time from a tenth to nine tenths of its height on its way out and on its way back.
    top_share : float
        Share of the width spent above nine tenths of the height.
    tau_s, tau_low_s, tau_high_s : float or None
        Time constant of an exponential tail and its interval (two standard errors); None where the tail is none.
    instants : int
        Instants beyond half of its height: fewer than 3 do not show a shape.
    """

    start_s: float
    stop_s: float
    begin_s: float
    end_s: float
    sign: float
    base_v: float
    peak_v: float
    width_s: float
    fall_s: float
    return_s: float
    top_share: float
    tau_s: float | None
    tau_low_s: float | None
    tau_high_s: float | None
    instants: int

    @property
    def height_v(self) -> float:
        """From the level before it to its farthest value, volts, its sign included."""
        return self.peak_v - self.base_v

    @property
    def is_resolved(self) -> bool:
        """Whether the sample rate shows its shape."""
        return self.instants >= 3


def shape_of(channel: Channel, start_s: float, stop_s: float, sign: float, *, usual_v: float) -> ExcursionShape:
    """Measure one excursion.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    start_s, stop_s : float
        Where it lies, seconds.
    sign : {1.0, -1.0}
        Above or below.
    usual_v : float
        Taken for the level before it where the capture does not show that.

    References
    ----------
    .. [1] IEEE Std 181-2011, "Transitions, Pulses, and Related Waveforms": pulse duration at 50 %, transition from 10 to 90 %.
    .. [2] ISO 7637-2: pulses are described by their amplitude, rise time and duration from 10 % to 10 %.
    """
    assert channel.step_s is not None
    step_s = channel.step_s
    pad_s = max(0.5 * (stop_s - start_s), 24 * step_s)
    window = _window(channel, start_s - 0.5 * pad_s, stop_s + pad_s, sign)
    for _ in range(GROWTHS):
        if window.has_returned(start_s, stop_s, usual_v) or window.is_whole:
            break
        pad_s *= 3
        window = _window(channel, start_s - 0.5 * pad_s, stop_s + pad_s, sign)
    base = window.base(start_s, usual_v)
    farthest = window.farthest(start_s, stop_s, sign)
    if sign * (base - usual_v) > 0.25 * sign * (farthest - usual_v):
        base = usual_v  # what lies before it is an excursion itself
    return _measured(window, start_s, stop_s, sign, base, step_s)


@dataclass(frozen=True, eq=False)
class _Window:
    values: Row
    begin_s: float
    each_s: float
    is_whole: bool

    def place(self, time_s: float) -> int:
        return int((time_s - self.begin_s) / self.each_s)

    def base(self, start_s: float, usual_v: float) -> float:
        before = self.values[: max(self.place(start_s) - 1, 0)]
        before = before[np.isfinite(before)]
        # On a slow way out the part just before it is on its way too: the first half tells the level.
        return float(np.median(before[: max(before.size // 2, 4)])) if before.size >= 4 else usual_v

    def farthest(self, start_s: float, stop_s: float, sign: float) -> float:
        inner = sign * self.values[max(self.place(start_s), 0) : self.place(stop_s) + 2]
        return sign * float(np.nanmax(inner)) if np.isfinite(inner).any() else float("nan")

    def has_returned(self, start_s: float, stop_s: float, usual_v: float) -> bool:
        """Whether the last eighth is back within a tenth of the height."""
        base = self.base(start_s, usual_v)
        inner = self.values[max(self.place(start_s), 0) : self.place(stop_s) + 2]
        last = self.values[-max(self.values.size // 8, 3) :]
        if not np.isfinite(inner).any() or not np.isfinite(last).any():
            return True
        return abs(float(np.nanmedian(last)) - base) <= RETURNED * float(np.nanmax(np.abs(inner - base)))


def _window(channel: Channel, start_s: float, stop_s: float, sign: float) -> _Window:
    assert channel.step_s is not None
    step_s = channel.step_s
    first = max(0, int((start_s - channel.start_s) / step_s))
    last = min(channel.intervals, int((stop_s - channel.start_s) / step_s) + 1)
    low, high = ends(channel, first, last) if last - first <= POINTS else _coarse_ends(channel, first, last)
    values = (high if sign > 0 else low).astype(np.float64)
    is_whole = first == 0 and last == channel.intervals
    return _Window(values, channel.start_s + first * step_s, (last - first) * step_s / values.size, is_whole)


def _measured(
    window: _Window, start_s: float, stop_s: float, sign: float, base: float, step_s: float
) -> ExcursionShape:
    values, each_s, begin_s = window.values, window.each_s, window.begin_s
    first = max(window.place(start_s) - 1, 0)
    inner = slice(first, max(window.place(stop_s) + 2, first + 1))
    mean = _smoothed(values[inner])
    known = np.isfinite(mean).any()
    at = first + (int(np.nanargmax(sign * mean)) if known else 0)
    peak = float(mean[at - first]) if known else base
    share = np.where(np.isfinite(values), (values - base) / ((peak - base) or 1.0), 0.0)
    left, right = _reach(share >= 0.5, at)
    out, back = share[: at + 1][::-1], share[at:]
    tau, error = _tail(back, each_s)
    return ExcursionShape(
        start_s=begin_s + left * each_s,
        stop_s=begin_s + (right + 1) * each_s,
        begin_s=begin_s + (at - _until_below(out, 0.1)) * each_s,
        end_s=begin_s + (at + _until_below(back, 0.1)) * each_s,
        sign=sign,
        base_v=base,
        peak_v=peak,
        width_s=float(right + 1 - left) * each_s,
        fall_s=max(0, _until_below(out, 0.1) - _until_below(out, 0.9)) * each_s,
        return_s=max(0, _until_below(back, 0.1) - _until_below(back, 0.9)) * each_s,
        top_share=float((share[left : right + 1] >= 0.9).mean()),
        tau_s=tau,
        tau_low_s=None if tau is None else max(tau - 2 * error, 0.0),
        tau_high_s=None if tau is None else tau + 2 * error,
        instants=max(1, round((right + 1 - left) * each_s / step_s)),
    )


def _coarse_ends(channel: Channel, first: int, last: int) -> tuple[Row, Row]:
    assert channel.step_s is not None
    each_s = (last - first) * channel.step_s / POINTS
    start_s = channel.start_s + (first - 0.5) * channel.step_s + 0.5 * each_s
    row = averaged(channel, step_s=each_s, start_s=start_s, count=POINTS)
    return row, row


def _smoothed(values: Row) -> Row:
    """Running mean over a few thousandths: a peak is not a grain of noise."""
    from scipy import ndimage

    width = max(1, values.size // 256) | 1
    if width == 1:
        return values
    known = np.isfinite(values)
    filled = ndimage.uniform_filter1d(np.where(known, values, 0.0), width, mode="nearest")
    weight = ndimage.uniform_filter1d(known.astype(np.float64), width, mode="nearest")
    smooth: Row = np.where(weight > 0.1, filled / np.maximum(weight, 1e-9), np.nan)
    return smooth


def _reach(beyond: npt.NDArray[np.bool_], at: int) -> tuple[int, int]:
    """The run of the true around a place, holes of a few points closed."""
    places = np.flatnonzero(beyond)
    if not places.size:
        return at, at
    hole = max(2, beyond.size // 32)
    cuts = np.flatnonzero(np.diff(places) > hole)
    firsts, lasts = places[np.append(0, cuts + 1)], places[np.append(cuts, places.size - 1)]
    run = int(np.argmin(np.maximum(firsts - at, at - lasts)))
    return int(firsts[run]), int(lasts[run])


def _until_below(share: Row, level: float) -> int:
    """Points until a row that starts at its peak is first below a level; its length where it never is."""
    below = np.flatnonzero(share < level)
    return int(below[0]) if below.size else share.size


def _tail(share: Row, each_s: float) -> tuple[float | None, float]:
    """Time constant of an exponential return, by a straight line through the logarithm between 85 and 15 %."""
    begin, stop = _until_below(share, 0.85), _until_below(share, 0.15)
    row = share[begin:stop]
    row_at = np.flatnonzero(row > 0.02)
    if row_at.size < FEWEST_ON_TAIL:
        return None, 0.0
    x, y = row_at * each_s, np.log(row[row_at])
    x0, y0 = x - x.mean(), y - y.mean()
    slope = float((x0 @ y0) / (x0 @ x0))
    rest = y0 - slope * x0
    if slope >= 0 or 1.0 - float(rest @ rest) / max(float(y0 @ y0), 1e-30) < STRAIGHT:
        return None, 0.0
    doubt = float(np.sqrt(rest @ rest / max(x.size - 2, 1) / (x0 @ x0)))
    return -1.0 / slope, doubt / slope**2
