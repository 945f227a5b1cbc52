"""How the lanes are arranged by hand: order, heights, what is hidden, laid over one another, and at which scale."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any, Literal, get_args

from loomlight.viewer.lanes.specs import Lane, ValueScale

ScaleWay = Literal["own", "set", "shared"]
LEAST_WEIGHT, MOST_WEIGHT = 0.1, 20.0


@dataclass(frozen=True)
class LaneSettings:
    """What was changed on one lane.

    Attributes
    ----------
    weight : float or None
        Share of the height; None as given.
    is_hidden : bool
        Not shown.
    over : str
        Key of the lane that it is laid over; empty where it stands alone.
    scale : str
        "own": fitted to the lane; "set": ``low`` to ``high``; "shared": one scale for all lanes of this unit that share.
    low, high : float or None
        Bounds that were set, in the lane's unit.
    prefix : str or None
        Of the unit on the value axis ("m", "", "k"); None as it fits.
    """

    weight: float | None = None
    is_hidden: bool = False
    over: str = ""
    scale: ScaleWay = "own"
    low: float | None = None
    high: float | None = None
    prefix: str | None = None


PLAIN = LaneSettings()


@dataclass(frozen=True)
class Arrangement:
    """Order and settings of the lanes, by key; what is not named stands as given.

    Attributes
    ----------
    order : tuple of str
        Keys, top to bottom; lanes that are not named follow in their own order.
    lanes : mapping
        What was changed.
    """

    order: tuple[str, ...] = ()
    lanes: Mapping[str, LaneSettings] = field(default_factory=dict)

    def of(self, key: str) -> LaneSettings:
        """Settings of a lane."""
        return self.lanes.get(key, PLAIN)

    def changed(self, key: str, **changes: Any) -> "Arrangement":
        """With other settings for one lane."""
        settings = replace(self.of(key), **changes)
        others = {one: kept for one, kept in self.lanes.items() if one != key}
        return replace(self, lanes=others if settings == PLAIN else others | {key: settings})

    def moved(self, keys: Sequence[str], key: str, place: int) -> "Arrangement":
        """With one lane moved to a place among all ``keys``, as they stand."""
        rest = [one for one in keys if one != key]
        place = min(max(place, 0), len(rest))
        return replace(self, order=(*rest[:place], key, *rest[place:]))

    def laid_over(self, key: str, on: str) -> "Arrangement":
        """With one lane, and what is laid over it, laid over another one."""
        found = self.changed(key, over=on)
        for other, settings in self.lanes.items():
            if settings.over == key:
                found = found.changed(other, over=on)
        return found

    def all_shown(self) -> "Arrangement":
        """With nothing hidden."""
        found = self
        for key in self.lanes:
            found = found.changed(key, is_hidden=False)
        return found


def ordered(given: Sequence[Lane], arrangement: Arrangement) -> tuple[Lane, ...]:
    """All lanes in their order, hidden and overlaid ones too."""
    place = {key: number for number, key in enumerate(arrangement.order)}
    return tuple(sorted(given, key=lambda lane: place.get(lane.key, len(place))))


def arranged(given: Sequence[Lane], arrangement: Arrangement) -> tuple[Lane, ...]:
    """The lanes as they are shown; all of them as given rather than none at all."""
    lanes = ordered(given, arrangement)
    shown = [lane for lane in lanes if not arrangement.of(lane.key).is_hidden] or list(lanes)
    keys = {lane.key for lane in shown}
    laid: dict[str, list[Lane]] = {}
    for lane in shown:
        over = arrangement.of(lane.key).over
        # What lies over a lane that is not there, or that lies over another one itself, stands alone.
        if over in keys and over != lane.key and arrangement.of(over).over not in keys:
            laid.setdefault(over, []).append(_set(lane, arrangement))
    over_others = {lane.key for lanes_over in laid.values() for lane in lanes_over}
    return _sharing(
        [
            replace(_set(lane, arrangement), laid=tuple(laid.get(lane.key, ())))
            for lane in shown
            if lane.key not in over_others
        ],
        arrangement,
    )


def _set(lane: Lane, arrangement: Arrangement) -> Lane:
    settings = arrangement.of(lane.key)
    weight = lane.weight if settings.weight is None else min(max(settings.weight, LEAST_WEIGHT), MOST_WEIGHT)
    bounds = lane.scale.bounds
    if settings.scale == "set" and settings.low is not None and settings.high is not None:
        bounds = (settings.low, settings.high) if settings.low < settings.high else None
    return replace(lane, weight=weight, scale=ValueScale(bounds, settings.prefix))


def _sharing(lanes: Sequence[Lane], arrangement: Arrangement) -> tuple[Lane, ...]:
    """Give the lanes that share a scale the reach of all of them together."""
    reach: dict[str, tuple[float, float]] = {}
    for lane in lanes:
        if arrangement.of(lane.key).scale == "shared":
            low, high = lane.value_range()
            known = reach.get(lane.unit, (low, high))
            reach[lane.unit] = min(low, known[0]), max(high, known[1])
    return tuple(
        replace(lane, scale=replace(lane.scale, bounds=reach[lane.unit]))
        if arrangement.of(lane.key).scale == "shared"
        else lane
        for lane in lanes
    )


def as_plain(arrangement: Arrangement) -> dict[str, Any]:
    """For keeping as JSON."""
    return {"order": list(arrangement.order), "lanes": {key: asdict(one) for key, one in arrangement.lanes.items()}}


def from_plain(read: object) -> Arrangement:
    """What was kept; anything that does not fit is left out, for it is but a convenience."""
    if not isinstance(read, dict):
        return Arrangement()
    order, lanes = read.get("order"), read.get("lanes")
    return Arrangement(
        tuple(one for one in order if isinstance(one, str)) if isinstance(order, list) else (),
        {key: _settings(one) for key, one in lanes.items() if isinstance(one, dict)} if isinstance(lanes, dict) else {},
    )


def _settings(read: dict[str, Any]) -> LaneSettings:
    fitting = {
        "weight": lambda one: one is None or _is_number(one),
        "is_hidden": lambda one: isinstance(one, bool),
        "over": lambda one: isinstance(one, str),
        "scale": lambda one: one in get_args(ScaleWay),
        "low": lambda one: one is None or _is_number(one),
        "high": lambda one: one is None or _is_number(one),
        "prefix": lambda one: one in (None, "", "m", "µ", "k"),
    }
    names = [one.name for one in fields(LaneSettings)]
    return LaneSettings(**{name: read[name] for name in names if name in read and fitting[name](read[name])})


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
