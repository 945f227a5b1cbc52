"""The loom as a drawn line of stops, and the stretch of it that the measurements leave under suspicion."""

from dataclasses import dataclass, replace
from typing import Literal

from loomlight.signal.job_records import MeterReading
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Verdict

StopKind = Literal["control unit", "connector", "splice", "component"]

SOUND_OHM = 1.0
"""A wire with its connectors that measures less than this is taken as whole (common practice, no source)."""
POOR_OHM = 10.0
"""A stretch that measures more than this holds a fault (common practice, no source); between the two nothing is said."""
POOR_DROP_V = 0.5
"""A drop over a stretch of wire that no healthy signal wire shows (common practice, no source)."""


@dataclass(frozen=True)
class Stop:
    """One thing that the wire runs through.

    Attributes
    ----------
    kind : {"control unit", "connector", "splice", "component"}
        What it is.
    name, pin : str
        As the wiring diagram calls them: "bulkhead connector", "X14/7".
    """

    kind: StopKind
    name: str
    pin: str = ""


@dataclass(frozen=True)
class ProbePoint:
    """At which stop a captured channel was probed."""

    stop: int
    file: str
    channel: str


@dataclass(frozen=True)
class WireSketch:
    """The suspect wire from one end to the other.

    Attributes
    ----------
    stops : tuple of Stop
        In order along the loom; on a bus with a commander its end comes first.
    probes : tuple of ProbePoint
        Where captures were taken.
    found_at : int or None
        The place where the fault was found: 2·k is stop k, 2·k + 1 the wire after it.
    """

    stops: tuple[Stop, ...] = ()
    probes: tuple[ProbePoint, ...] = ()
    found_at: int | None = None

    @property
    def places(self) -> int:
        """Stops and the wires between them, counted together."""
        return max(2 * len(self.stops) - 1, 0)

    def place_name(self, place: int) -> str:
        """A place in words: a stop by its name and pin, a wire by its two ends."""
        stop = self.stops[place // 2]
        if place % 2:
            return f"wire from {stop.name} to {self.stops[place // 2 + 1].name}"
        return f"{stop.name} {stop.pin}".strip()

    def stop_of(self, file: str, channel: str) -> int | None:
        """Where a channel was probed, or None."""
        found = (one.stop for one in self.probes if (one.file, one.channel) == (file, channel))
        return next((stop for stop in found if 0 <= stop < len(self.stops)), None)


def renumbered(sketch: WireSketch, stops: tuple[Stop, ...], origins: tuple[int | None, ...]) -> WireSketch:
    """The sketch with other stops; probes and the place found go with the stops that they were noted at.

    Parameters
    ----------
    sketch : WireSketch
        As it was.
    stops : tuple of Stop
        As they are now.
    origins : tuple of int or None
        For each of them its number in ``sketch``; None for a new one.
    """
    now = {old: new for new, old in enumerate(origins) if old is not None}
    probes = tuple(replace(one, stop=now[one.stop]) for one in sketch.probes if one.stop in now)
    return WireSketch(stops, probes, None if sketch.found_at is None else _moved_place(sketch.found_at, now))


def renumbered_reading(reading: MeterReading, origins: tuple[int | None, ...]) -> MeterReading:
    """A meter reading whose stops were renumbered as in `renumbered`."""
    now = {old: new for new, old in enumerate(origins) if old is not None}
    ends = (None if end is None else now.get(end) for end in (reading.from_stop, reading.to_stop))
    first, last = ends
    return replace(reading, from_stop=first, to_stop=last)


def _moved_place(place: int, now: dict[int, int]) -> int | None:
    """A stop goes with itself; a wire only where its two ends are still neighbours."""
    first = now.get(place // 2)
    if first is None or place % 2 == 0:
        return None if first is None else 2 * first
    second = now.get(place // 2 + 1)
    if second is None or abs(second - first) != 1:
        return None
    return first + second


@dataclass(frozen=True)
class Sight:
    """What one measurement says of a stretch of the wire.

    Attributes
    ----------
    first, last : int
        Places, both included, counted as in `WireSketch.found_at`.
    holds : bool
        True: the fault lies in there. False: that stretch is sound.
    why : str
        One sentence.
    """

    first: int
    last: int
    holds: bool
    why: str


@dataclass(frozen=True)
class Suspicion:
    """What the measurements leave.

    Attributes
    ----------
    places : tuple of int
        Places still under suspicion, in order; empty where there is nothing to go by or the measurements contradict.
    reasons : tuple of str
        One sentence for each measurement that counted.
    contradicts : bool
        The measurements leave no place: one of them is wrong, or there is more than one fault.
    """

    places: tuple[int, ...] = ()
    reasons: tuple[str, ...] = ()
    contradicts: bool = False


def suspicion(sketch: WireSketch, sights: tuple[Sight, ...]) -> Suspicion:
    """Narrow the wire down: what every "lies in there" shares, without what is sound."""
    if not sights or not sketch.places:
        return Suspicion()
    left = set(range(sketch.places))
    for sight in sights:
        seen = set(range(sight.first, sight.last + 1))
        left = left & seen if sight.holds else left - seen
    reasons = tuple(sight.why for sight in sights)
    return Suspicion(tuple(sorted(left)), reasons, contradicts=not left)


def sight_of_verdict(sketch: WireSketch, verdict: Verdict, probe: int | None, good: int | None) -> Sight | None:
    """What a verdict says of the wire.

    Parameters
    ----------
    sketch : WireSketch
        The wire.
    verdict : Verdict
        Of a capture taken before the repair.
    probe, good : int or None
        Stops where the suspect and the known-good were probed; None where not noted, or not on this wire.

    Returns
    -------
    Sight or None
        None where the verdict names no stretch.
    """
    if probe is None:
        return None
    here = sketch.place_name(2 * probe)
    if verdict.state == "clean":
        if good is None or good == probe:
            return None
        low, high = sorted((probe, good))
        why = f"Both probes, at {here} and at {sketch.place_name(2 * good)}, show the same signal: sound between them then."
        return Sight(2 * low + 1, 2 * high - 1, False, why)
    if verdict.joint == "between the probes" and good is not None and good != probe:
        low, high = sorted((probe, good))
        why = f"The fault lies between the two probes, {here} and {sketch.place_name(2 * good)}."
        return Sight(2 * low, 2 * high, True, why)
    if verdict.joint == "towards the commander":
        return Sight(0, 2 * probe, True, f"From {here} the fault lies towards the commander.")
    if verdict.joint == "away from the commander":
        return Sight(2 * probe, sketch.places - 1, True, f"From {here} the fault lies away from the commander.")
    return None


def sight_of_reading(sketch: WireSketch, reading: MeterReading) -> Sight | None:
    """What a meter reading between two stops says: ohms of the stretch, or the drop over it."""
    quantity = reading.quantity
    if quantity is None or reading.from_stop is None or reading.to_stop is None:
        return None
    low, high = sorted((reading.from_stop, reading.to_stop))
    if not 0 <= low < high < len(sketch.stops):
        return None
    value, unit = quantity
    shown = f"The meter shows {in_words(value, unit)} between {sketch.place_name(2 * low)} and {sketch.place_name(2 * high)}"
    if unit == "Ω" and 0 <= value < SOUND_OHM:
        return Sight(2 * low + 1, 2 * high - 1, False, f"{shown}: whole at rest, with the meter's small current.")
    if (unit == "Ω" and value > POOR_OHM) or (unit == "V" and abs(value) > POOR_DROP_V):
        return Sight(2 * low, 2 * high, True, f"{shown}: the fault lies in that stretch.")
    return None
