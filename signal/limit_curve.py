"""Own limits as curves: corner points over time, straight lines between them."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.samples import FloatSamples

Row = npt.NDArray[np.float64]
MOST_POINTS = 2000


@dataclass(frozen=True)
class LimitCurve:
    """A limit that changes over time; before its first point and after its last nothing is held.

    Attributes
    ----------
    points : tuple of (float, float)
        Time in seconds and level in the channel's unit, times rising; at least two.
    """

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if not 2 <= len(self.points) <= MOST_POINTS:
            raise CannotUse(f"A limit curve needs 2 to {MOST_POINTS} points, got {len(self.points)}.")
        pairs = np.array(self.points, dtype=np.float64)
        if not np.all(np.isfinite(pairs)):
            raise CannotUse("A point of a limit curve that is no number keeps nothing. Give numbers.")
        if np.any(np.diff(pairs[:, 0]) <= 0):
            raise CannotUse("The times of a limit curve must rise from point to point.")

    @property
    def times_s(self) -> Row:
        """Times of the points, seconds."""
        return np.array([one for one, _ in self.points], dtype=np.float64)

    @property
    def levels(self) -> Row:
        """Levels of the points."""
        return np.array([one for _, one in self.points], dtype=np.float64)

    def at(self, times_s: Row) -> Row:
        """The limit at these times; not-a-number outside the curve."""
        found: Row = np.interp(times_s, self.times_s, self.levels, left=np.nan, right=np.nan)
        return found

    def as_channel(self, name: str, unit: str | None) -> Channel:
        """For a lane."""
        return Channel(
            name=name,
            unit=unit,
            samples=FloatSamples(self.levels),
            start_s=float(self.times_s[0]),
            step_s=None,
            form="uneven",
            times_s=self.times_s,
        )


@dataclass(frozen=True)
class OwnLimits:
    """Limits under a name, used like those of any signal kind.

    Attributes
    ----------
    name : str
        As it is listed; empty where it was not kept.
    unit : str
        Of the levels.
    upper, lower : LimitCurve or None
        Curves.
    upper_level, lower_level : float or None
        The same at all times.
    within : float or None
        Tolerance around the known-good, either way.
    on_good : bool
        The curves' times are the known-good's, and go where it is laid; else the suspect's own axis, its trigger at 0.
    """

    name: str = ""
    unit: str = "V"
    upper: LimitCurve | None = None
    lower: LimitCurve | None = None
    upper_level: float | None = None
    lower_level: float | None = None
    within: float | None = None
    on_good: bool = False

    @property
    def holds_something(self) -> bool:
        """Whether any limit is given."""
        return any(one is not None for one in (self.upper, self.lower, self.upper_level, self.lower_level, self.within))

    def named(self, name: str) -> "OwnLimits":
        """The same under another name."""
        return replace(self, name=name)


def require_order(upper: LimitCurve | None, lower: LimitCurve | None) -> None:
    """Refuse curves that cross.

    Raises
    ------
    CannotUse
        Naming the time at which the upper one is not above the lower one.
    """
    if upper is None or lower is None:
        return
    corners = np.union1d(upper.times_s, lower.times_s)
    wrong = corners[upper.at(corners) <= lower.at(corners)]
    if wrong.size:
        raise CannotUse(f"The upper limit curve is not above the lower one at {wrong[0]:.6g} s.")


def around(channel: Channel, within: float, *, stretches: int = 200) -> tuple[LimitCurve, LimitCurve]:
    """Upper and lower curve around a channel: its greatest and least value of each stretch, and so much more.

    Parameters
    ----------
    channel : Channel
        Form ``even``.
    within : float
        Above 0, in its unit.
    stretches : int
        Into how many its length is divided.

    Raises
    ------
    CannotUse
        If the channel has no step of its own, or no sample that is a number.
    """
    if channel.step_s is None or channel.form != "even":
        raise CannotUse(f"{channel.name!r} has no step of its own, so no curve can be laid around it.")
    if not within > 0:
        raise CannotUse(f"The tolerance must be above 0, got {within:g}.")
    size = channel.samples.size
    bounds = np.unique(np.linspace(0, size, min(stretches, size) + 1).astype(np.int64))
    tops: list[tuple[float, float]] = []
    feet: list[tuple[float, float]] = []
    for first, last in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
        values = channel.samples.block(first, last)
        finite = values[np.isfinite(values)]
        if finite.size:
            # One level from the stretch's first sample to its last; between two stretches there is no sample.
            for at in dict.fromkeys((first, last - 1)):
                time_s = channel.start_s + at * channel.step_s
                tops.append((time_s, float(finite.max()) + within))
                feet.append((time_s, float(finite.min()) - within))
    if len(tops) < 2:
        raise CannotUse(f"{channel.name!r} has too few samples that are numbers.")
    return LimitCurve(tuple(tops)), LimitCurve(tuple(feet))
