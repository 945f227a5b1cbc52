"""Which lanes show a stage: the same in the window and in pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from loomlight.signal.capture import Channel
from loomlight.signal.difference import difference
from loomlight.signal.envelope_lane import envelope_apart
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import BusReport
from loomlight.signal.finding import Finding
from loomlight.signal.kinds.listing import kind_named
from loomlight.signal.laid_values import laid_channel
from loomlight.signal.local_fit import local_fit
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.proof import Proof
from loomlight.signal.pyramid import Pyramid, pyramid_of
from loomlight.signal.supposal import Fitted
from loomlight.viewer.lanes.marks import Marks
from loomlight.viewer.lanes.specs import Lane, LevelLine, Trace, ValueScale, laid_over
from loomlight.viewer.lanes.words import Words
from loomlight.viewer.roles import RoleKey

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison

DIFFERENCE = "difference"
LOCAL_FIT = "local fit"
LEAST_FIT_RANGE = 0.1
"""The strip of the local fit reaches down to its worst, and at least this far, so that small dips are seen too."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """A comparison with all that is needed to draw it.

    Attributes
    ----------
    apart : tuple or None
        The difference.
    laid : tuple or None
        The known-good in pieces, on the suspect's axis; None where one shift lays it all.
    local : tuple or None
        The local fit.
    besides : tuple
        What stands beside the suspect: role, channel, pyramid.
    ends : tuple
        Lower and upper end of the envelope, less the known-good; empty where there is none.
    marks : Marks
        The findings on the suspect.
    words : Words
        What the suspect's frames say.
    worst_s : tuple of float or None
        The stretch to look at first; None without findings.
    fitted : Fitted or None
        What the verdict's figures predict, where it is a fault that can be drawn.
    """

    comparison: Comparison
    suspect: Pyramid
    good: Pyramid | None
    apart: tuple[Channel, Pyramid] | None
    laid: tuple[Channel, Pyramid] | None = None
    local: tuple[Channel, Pyramid] | None = None
    besides: tuple[tuple[str, Channel, Pyramid], ...] = ()
    ends: tuple[tuple[Channel, Pyramid], ...] = ()
    marks: Marks = field(default_factory=lambda: Marks(()))
    words: Words = field(default_factory=lambda: Words(()))
    worst_s: tuple[float, float] | None = None
    fitted: Fitted | None = None


def drawn(comparison: Comparison, progress: Progress = unwatched) -> Drawn:
    """Build the pyramids and the difference of a comparison, and all that grows with its findings; long work, for aside."""
    roles = comparison.conditions.besides
    share = 0.3 * len(roles) / (len(roles) + 1)
    besides = tuple(
        (one.role, one.channel, pyramid_of(one.channel.samples, part(progress, 0.0, share / len(roles))))
        for one in roles
    )
    looked = comparison.looked
    return replace(
        _drawn(comparison, part(progress, share, 1.0)),
        besides=besides,
        marks=Marks([one for one in comparison.findings if one.channel == comparison.suspect.name]),
        words=Words(looked.frames if looked is not None else ()),
        worst_s=worst_stretch(comparison),
        fitted=_fitted(comparison),
    )


def _fitted(comparison: Comparison) -> Fitted | None:
    supposer = kind_named(comparison.kind).supposer
    if supposer is None or supposer.fitted is None or comparison.looked is None:
        return None
    return supposer.fitted(comparison.looked, comparison.good_looked, comparison.lineup, comparison.verdict)


def _drawn(comparison: Comparison, progress: Progress) -> Drawn:
    suspect = pyramid_of(comparison.suspect.samples, part(progress, 0.0, 0.3))
    if comparison.good is None:
        return Drawn(comparison, suspect, None, None)
    good = pyramid_of(comparison.good.samples, part(progress, 0.3, 0.6))
    lineup = comparison.lineup
    if lineup is None or not lineup.accepted:
        return Drawn(comparison, suspect, good, None)
    apart, laid, local = None, None, None
    ends: tuple[tuple[Channel, Pyramid], ...] = ()
    try:
        channel = difference(comparison.suspect, comparison.good, lineup)
        apart = (channel, pyramid_of(channel.samples, part(progress, 0.6, 0.7)))
        band = envelope_apart(comparison.suspect, comparison.good, lineup, comparison.tolerance_v)
        ends = tuple((one, pyramid_of(one.samples, part(progress, 0.7, 0.75))) for one in band or ())
        if lineup.laid is not None:
            over = laid_channel(comparison.suspect, comparison.good, lineup)
            laid = (over, pyramid_of(over.samples, part(progress, 0.75, 0.9)))
        strip = local_fit(comparison.suspect, comparison.good, lineup, part(progress, 0.9, 1.0)).channel()
        local = (strip, pyramid_of(strip.samples))
    except CannotUse:
        pass  # no time in common: there is nothing to take from each other
    return Drawn(comparison, suspect, good, apart, laid, local, ends=ends)


def compare_lanes(shown: Drawn, *, role: RoleKey = "suspect") -> tuple[Lane, ...]:
    """Suspect over known-good in one lane (in two where the line-up was refused), what stands beside, difference, local fit."""
    first, *rest = _compared_lanes(shown, role)
    first = replace(first, traces=(*_limit_traces(shown.comparison), *first.traces))
    return (first, *_beside_lanes(shown), *rest)


def _limit_traces(comparison: Comparison) -> tuple[Trace, ...]:
    """Own limits that are curves, under what they hold; those that go with the known-good where it is laid."""
    conditions, lineup = comparison.conditions, comparison.lineup
    lag_s, stretch = 0.0, 1.0
    if conditions.curves_on_good:
        if lineup is None or not lineup.accepted:
            return ()
        lag_s, stretch = lineup.lag_s, lineup.stretch
    traces = []
    for name, curve in (("upper limit", conditions.upper_curve), ("lower limit", conditions.lower_curve)):
        if curve is not None:
            channel = curve.as_channel(name, comparison.suspect.unit)
            pyramid = pyramid_of(channel.samples)
            traces.append(Trace(channel, pyramid, "other", name, lag_s=lag_s, stretch=stretch, says_form=False))
    return tuple(traces)


def _beside_lanes(shown: Drawn) -> list[Lane]:
    """One lane for each channel beside; the known-good, where it stands beside, has its lane already."""
    good = shown.comparison.good
    return [
        Lane(channel.name, (Trace(channel, pyramid, "other", f"{role}: {channel.name}"),), unit=channel.unit or "")
        for role, channel, pyramid in shown.besides
        if channel.name != shown.comparison.suspect.name and channel is not good
    ]


def _compared_lanes(shown: Drawn, role: RoleKey) -> tuple[Lane, ...]:
    comparison = shown.comparison
    unit = comparison.suspect.unit or ""
    suspect = Trace(comparison.suspect, shown.suspect, role, comparison.suspect.name)
    lines = limit_lines(comparison, comparison.bus)
    if comparison.good is None or shown.good is None:
        return (Lane(comparison.suspect.name, (suspect,), lines, unit=unit, weight=2.0, words=shown.words),)
    name = _other_name(comparison)
    good = laid_over(comparison.good, shown.good, comparison.lineup, role="known-good", label=name)
    if shown.laid is not None:
        by_cycle = comparison.lineup is not None and comparison.lineup.by == "cycle"
        good = Trace(*shown.laid, "known-good", f"{name}, its average cycle" if by_cycle else name)
    if comparison.lineup is None or not comparison.lineup.accepted:
        return (
            Lane(comparison.suspect.name, (suspect,), lines, unit=unit, words=shown.words),
            Lane(
                f"known-good {comparison.good.name}", (good,), limit_lines(comparison, comparison.good_bus), unit=unit
            ),
        )
    lanes = [Lane(comparison.suspect.name, (good, suspect), lines, unit=unit, weight=2.0, words=shown.words)]
    if shown.apart is not None:
        channel, pyramid = shown.apart
        trace = Trace(channel, pyramid, "difference", "suspect minus known-good")
        lower_upper = tuple(Trace(*one, "difference", one[0].name) for one in shown.ends)
        ends = (lower_upper[0], lower_upper[1]) if lower_upper else None
        lanes.append(Lane(DIFFERENCE, (trace,), band=comparison.tolerance_v, ends=ends, unit=unit))
    if shown.local is not None:
        strip = Trace(*shown.local, "difference", "local fit, 1 where both are alike")
        lanes.append(Lane(LOCAL_FIT, (strip,), unit="", weight=0.5, scale=ValueScale(_fit_range(strip))))
    return tuple(lanes)


def _fit_range(strip: Trace) -> tuple[float, float]:
    """Down to the worst fit, with room for the head above 1."""
    reach = strip.value_range()
    low = min(reach[0] if reach is not None else 1.0, 1.0 - LEAST_FIT_RANGE)
    return low - 0.1 * (1.0 - low), 1.0 + 0.9 * (1.0 - low)


def _other_name(comparison: Comparison) -> str:
    assert comparison.good is not None
    return comparison.good.name


def limit_lines(comparison: Comparison, bus: BusReport | None) -> tuple[LevelLine, ...]:
    """The kind's levels in volts, where the supply of that bus is known; own limits as given."""
    conditions = comparison.conditions
    own = [
        LevelLine(value, f"{word} {value:g} V")
        for value, word in ((conditions.upper_v, "at most"), (conditions.lower_v, "at least"))
        if value is not None
    ]
    looked = comparison.looked if bus is comparison.bus else comparison.good_looked
    if looked is not None and looked.marks:
        return (*own, *(LevelLine(one.value, one.text) for one in looked.marks))
    supply_v = bus.supply_v if bus is not None else None
    if supply_v is None:
        return tuple(own)
    shares = [
        one for one in kind_named(comparison.kind).limits if one.unit == "× supply" and one.name.startswith("receiver")
    ]
    words = {0.40: "dominant below", 0.60: "recessive above"}
    return tuple(
        LevelLine(one.value * supply_v, f"{words.get(one.value, one.name)} {one.value * supply_v:.1f} V")
        for one in shares
    )


def findings_by_lane(shown: Drawn, lanes: Sequence[Lane]) -> dict[str, Sequence[Finding]]:
    """The suspect's findings on its lane and on the difference lane."""
    return {lane.key: shown.marks for lane in lanes if lane.key in (shown.comparison.suspect.name, DIFFERENCE)}


def proof_lanes(before: Drawn, after: Drawn, proof: Proof) -> tuple[Lane, ...]:
    """Before above after, the one after laid to the same moment of the bus."""
    unit = before.comparison.suspect.unit or ""
    lineup = proof.lineup if proof.lineup is not None and proof.lineup.accepted else None
    lag_s = lineup.lag_s if lineup is not None else after.comparison.suspect.start_s - before.comparison.suspect.start_s
    old = Trace(
        before.comparison.suspect, before.suspect, "suspect", f"{before.comparison.suspect.name}, before the repair"
    )
    new = Trace(
        after.comparison.suspect,
        after.suspect,
        "after repair",
        f"{after.comparison.suspect.name}, after the repair",
        lag_s=lag_s,
        stretch=lineup.stretch if lineup is not None else 1.0,
    )
    return (
        Lane("before", (old,), limit_lines(before.comparison, before.comparison.bus), unit=unit),
        Lane("after", (new,), limit_lines(after.comparison, after.comparison.bus), unit=unit),
    )


def proof_findings(before: Drawn, after: Drawn, lanes: Sequence[Lane]) -> dict[str, Sequence[Finding]]:
    """The findings on both lanes of a proof, those of the capture after on the picture's axis."""
    trace = lanes[1].traces[-1]
    moved = [
        replace(one, start_s=trace.on_picture(one.start_s), stop_s=trace.on_picture(one.stop_s)) for one in after.marks
    ]
    return {lanes[0].key: before.marks, lanes[1].key: Marks(moved)}


def worst_finding(comparison: Comparison) -> Finding | None:
    """The finding to look at first: the largest severe dropout, else the largest finding; None without any."""
    own = [one for one in comparison.findings if one.channel == comparison.suspect.name]

    def rank(one: Finding) -> tuple[bool, bool, float]:
        return one.kind == "dropout", one.severity == "severe", one.stop_s - one.start_s

    return max(own, key=rank, default=None)


def worst_stretch(comparison: Comparison) -> tuple[float, float] | None:
    """The stretch to look at first: around the worst finding; None without any."""
    worst = worst_finding(comparison)
    if worst is None:
        return None
    whole = comparison.suspect.stop_s - comparison.suspect.start_s
    half = max(6.0 * (worst.stop_s - worst.start_s), 0.004 * whole)
    middle = 0.5 * (worst.start_s + worst.stop_s)
    return middle - half, middle + half
